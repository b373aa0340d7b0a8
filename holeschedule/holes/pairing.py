"""Which hole of a revised drawing lies where a recorded hole was, once the two are aligned."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.geometry.turning import ComplexArray
from holeschedule.tables import SLACK, value_named

MOST_MOVED = 0.25
"""Inches. A hole farther from its old place is not taken for the same one: it would be nearer to
where a neighbour could be, at the closest pitch of a 5/32 rivet (3 D)."""
PITCH_MOVED = 0.5
"""Share of the distance to the nearest other hole. Beyond it a neighbour could be meant."""


@dataclass(frozen=True, eq=False)
class Spots:
    """Holes as arrays in step: `at` complex (n,) [in], x + iy; `diameters` (n,) [in]."""

    at: ComplexArray
    diameters: FloatArray

    def __len__(self) -> int:
        return len(self.at)

    @cached_property
    def neighbours(self) -> FloatArray:
        """(n,) array [in]: distance to the nearest other hole, if below 2 × `MOST_MOVED`."""
        reach = MOST_MOVED / PITCH_MOVED
        which, other, distance = Grid(self.at, reach).near(self.at)
        nearest = np.full(len(self), reach)
        apart = which != other
        np.minimum.at(nearest, which[apart], distance[apart])
        return nearest


class Grid:
    """Points filed by square cells as wide as the reach within which they are looked for."""

    def __init__(self, points: ComplexArray, reach: float) -> None:
        self.points = points
        self.reach = reach + SLACK
        key = self._keys(points)
        self._order = np.argsort(key, kind="stable")
        self._filed = key[self._order]

    def _keys(self, points: ComplexArray) -> NDArray[np.int64]:
        column = np.floor(points.real / self.reach).astype(np.int64)
        line = np.floor(points.imag / self.reach).astype(np.int64)
        # wraps round for far-off points: cells then share a key, and distances tell them apart
        return (column << 31) + line

    def near(self, points: ComplexArray) -> tuple[IntArray, IntArray, FloatArray]:
        """Pairs no farther apart than the reach.

        Returns
        -------
        (k,), (k,), (k,) arrays
            Index into `points`, index into the points filed, and distance [in].
        """
        beside = self._keys(points)[:, None] + (np.arange(-1, 2) << 31)
        first = np.searchsorted(self._filed, beside - 1, "left").ravel()
        size = np.searchsorted(self._filed, beside + 1, "right").ravel() - first
        which = np.repeat(np.arange(len(points)).repeat(3), size)
        run = np.arange(len(which)) - np.repeat(np.cumsum(size) - size, size)
        other = self._order[np.repeat(first, size) + run]
        distance = np.abs(points[which] - self.points[other])
        found = distance <= self.reach
        return which[found], other[found], distance[found]


@dataclass(frozen=True, eq=False)
class Pairing:
    """Pairs of recorded and new holes that are the same hole. Compared by identity.

    `partner` (n,) is the new hole of each recorded one, -1 for none; `distance` (n,) [in] how far
    apart they are. `kept` (n,) is True where that is within the tolerance, `same_size` (n,) where
    a kept hole has its old size.
    """

    partner: IntArray
    distance: FloatArray
    kept: BoolArray
    same_size: BoolArray

    @property
    def score(self) -> tuple[int, int]:
        """How many holes are kept, and how many of these at their size."""
        return int(self.kept.sum()), int(self.same_size.sum())

    @property
    def identified(self) -> int:
        """How many holes are kept or moved."""
        return int(np.count_nonzero(self.partner >= 0))


def same_size(known: FloatArray, new: FloatArray) -> BoolArray:
    """Whether diameters [in] are those of one drill, a metric one in place of an inch one too."""
    return np.abs(known - new) <= value_named("hole_size_tolerance").value + SLACK


def pair_holes(known: Spots, new: Spots, tolerance: float) -> Pairing:
    """Pair holes that lie within `tolerance` [in], then those that moved a little farther.

    Parameters
    ----------
    known : Spots
        Recorded holes, already aligned with the new drawing.
    new : Spots
        Holes of the new drawing.
    tolerance : float [in]
        Up to here it is the same place, whatever the size.

    Returns
    -------
    Pairing
        One to one. Of several holes within the tolerance one of the same size goes first, then
        the nearest. A hole has moved where just one hole of its size that is left over lies
        within `MOST_MOVED` and `PITCH_MOVED`, and that one has no other to come from.
    """
    partner = np.full(len(known), -1, dtype=np.intp)
    distance = np.zeros(len(known))
    which, other, away = Grid(new.at, tolerance).near(known.at)
    sized = same_size(known.diameters[which], new.diameters[other])
    order = np.lexsort((other, which, np.round(away, 9), ~sized))
    taken = one_to_one(which[order], other[order], len(known), len(new))
    pick = order[taken]
    partner[which[pick]], distance[which[pick]] = other[pick], away[pick]
    kept = partner >= 0
    held = np.zeros(len(known), dtype=np.bool_)
    held[which[pick]] = sized[pick]
    _add_moved(known, new, partner, distance)
    return Pairing(partner, distance, kept, held)


def one_to_one(which: IntArray, other: IntArray, known: int, new: int) -> IntArray:
    """Places of the pairs that are taken, the first one first, each hole once."""
    free_known, free_new = [True] * known, [True] * new
    taken = []
    for place, (i, j) in enumerate(zip(which.tolist(), other.tolist(), strict=True)):
        if free_known[i] and free_new[j]:
            free_known[i] = free_new[j] = False
            taken.append(place)
    return np.array(taken, dtype=np.intp)


def _add_moved(known: Spots, new: Spots, partner: IntArray, distance: FloatArray) -> None:
    """Fill in the holes that are not within the tolerance and yet clearly the same."""
    left = np.flatnonzero(partner < 0)
    unclaimed = np.ones(len(new), dtype=np.bool_)
    unclaimed[partner[partner >= 0]] = False
    free = np.flatnonzero(unclaimed)
    i, j, away = Grid(new.at[free], MOST_MOVED).near(known.at[left])
    which, other = left[i], free[j]
    close = away <= PITCH_MOVED * known.neighbours[which] + SLACK
    close &= same_size(known.diameters[which], new.diameters[other])
    which, other, away = which[close], other[close], away[close]
    once = np.bincount(which, minlength=len(known))[which] == 1
    once &= np.bincount(other, minlength=len(new))[other] == 1
    partner[which[once]], distance[which[once]] = other[once], away[once]
