"""Which holes come together under a move, and the move refined on them, many moves at a time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.geometry.turning import ComplexArray, least_squares
from holeschedule.holes.pairing import Grid, one_to_one
from holeschedule.joints.votes import Moves, Spots, joined_moves

NEARLY = 2.0
"""Tolerances. A hole that is no farther off than this may have missed by chance."""

_WIDE = (8.0, 4.0)
"""Tolerances within which holes are taken for partners at first: a vote is only nearly right."""
_FIRST = 8
"""Moves refined first, to learn how many holes a good one brings together."""
_MOST_ROUNDS = 12
"""Times a move is refined, if the pairs do not stay before."""
_BLOCK = 1 << 18
"""Holes moved at a time, which bounds the memory used."""


@dataclass(frozen=True, slots=True, eq=False)
class Matches:
    """c moves with the holes each brings together, arrays in step.

    `partner` (c, m) is the hole of the pattern that stands still, -1 for none, one to one and
    within the tolerance. `offset` (c, m) [in] is how far off each is, 0 where there is none.
    `nearly` (c,) counts the pairs within `NEARLY` tolerances.
    """

    moves: Moves
    partner: IntArray
    offset: FloatArray
    nearly: IntArray

    def __len__(self) -> int:
        return len(self.nearly)

    @property
    def count(self) -> IntArray:
        """(c,) array: how many holes each move brings together."""
        return np.asarray((self.partner >= 0).sum(axis=1))

    @property
    def rms(self) -> FloatArray:
        """(c,) array [in]: root mean square of the offsets."""
        squares: FloatArray = np.square(self.offset).sum(axis=1)
        return np.sqrt(squares / np.maximum(self.count, 1))

    def take(self, index: IntArray | BoolArray) -> Matches:
        """The moves at `index`, in that order."""
        return Matches(
            self.moves.take(index), self.partner[index], self.offset[index], self.nearly[index]
        )


def refined_matches(
    few: Spots, many: Spots, moves: Moves, tolerance: float, *, hold_turn: bool = False
) -> Matches:
    """Moves that are right already, refined on the holes they bring together until these stay.

    Parameters are those of `best_matches`; none of the moves is left out.
    """
    search = _Search(few, many, hold_turn=hold_turn)
    return _joined([search.refine(some, tolerance) for some in _blocks(moves, few)])


def best_matches(
    few: Spots, many: Spots, moves: Moves, tolerance: float, *, hold_turn: bool = False
) -> Matches:
    """The moves refined until their pairs stay; those that cannot be among the best are left out.

    Parameters
    ----------
    few, many : Spots
        Pattern that moves, pattern that stands still.
    moves : Moves
        Right to within some tolerances. At least one.
    tolerance : float [in]
        How near is on.
    hold_turn : bool
        Whether the turn is given and only the shift is refined.
    """
    search = _Search(few, many, hold_turn=hold_turn)
    begun = [search.begin(some, tolerance) for some in _blocks(moves, few)]
    moves = joined_moves([some for some, _ in begun])
    loose = np.concatenate([count for _, count in begun])
    order = np.argsort(-loose, kind="stable")
    first = search.settle(moves.take(order[:_FIRST]), tolerance)
    rest = order[_FIRST:]
    rest = rest[loose[rest] >= first.count.max()]
    settled = [search.settle(some, tolerance) for some in _blocks(moves.take(rest), few)]
    return _joined([first, *settled])


def _blocks(moves: Moves, few: Spots) -> Iterator[Moves]:
    step = max(1, _BLOCK // len(few))
    for begin in range(0, len(moves), step):
        yield moves.take(slice(begin, begin + step))


def _joined(matches: list[Matches]) -> Matches:
    return Matches(
        joined_moves([some.moves for some in matches]),
        np.concatenate([some.partner for some in matches]),
        np.concatenate([some.offset for some in matches]),
        np.concatenate([some.nearly for some in matches]),
    )


class _Search:
    """Looks for the partners of moved holes among those that stand still."""

    def __init__(self, few: Spots, many: Spots, *, hold_turn: bool = False) -> None:
        self.few, self.many = few, many
        self.hold_turn = hold_turn
        self._grids: dict[float, Grid] = {}

    def begin(self, moves: Moves, tolerance: float) -> tuple[Moves, IntArray]:
        """Moves refined on holes that are roughly together, and how many these are."""
        for width in _WIDE:
            partner = self._nearest(moves, width * tolerance)
            moves = self._refined(moves, partner)
        return moves, np.asarray((partner >= 0).sum(axis=1))

    def settle(self, moves: Moves, tolerance: float) -> Matches:
        """Moves refined on pairs that are nearly together, then until those within it stay."""
        return self.refine(
            self._refined(moves, self._nearest(moves, NEARLY * tolerance)), tolerance
        )

    def refine(self, moves: Moves, tolerance: float) -> Matches:
        """Moves refined until the pairs within the tolerance stay."""
        partner = self.partners(moves, tolerance)
        for _ in range(_MOST_ROUNDS):
            refined = self._refined(moves, partner)
            again = self.partners(refined, tolerance)
            # a move that would lose a pair by being refined stays as it was
            better = (again >= 0).sum(axis=1) >= (partner >= 0).sum(axis=1)
            changed = better & (again != partner).any(axis=1)
            moves = _chosen(better, refined, moves)
            partner = np.where(better[:, None], again, partner)
            if not changed.any():
                break
        return self.matches(moves, partner, tolerance)

    def matches(self, moves: Moves, partner: IntArray, tolerance: float) -> Matches:
        """Moves with their pairs, measured."""
        off = np.abs(moves.images(self.few.at) - self.many.at[partner])
        nearly = self.partners(moves, NEARLY * tolerance)
        return Matches(
            moves, partner, np.where(partner >= 0, off, 0.0), np.asarray((nearly >= 0).sum(axis=1))
        )

    def _refined(self, moves: Moves, partner: IntArray) -> Moves:
        faced, onto, counted = moves.faced(self.few.at), self.many.at[partner], partner >= 0
        if self.hold_turn:
            factor = moves.factor
            off = np.where(counted, onto - faced * factor[:, None], 0).sum(axis=1)
            shift = off / np.maximum(counted.sum(axis=1), 1)
        else:
            factor, shift = least_squares(faced, onto, counted, moves.factor)
        return _chosen(np.asarray(counted.any(axis=1)), Moves(moves.flip, factor, shift), moves)

    def _near(self, images: ComplexArray, reach: float) -> tuple[IntArray, IntArray, FloatArray]:
        """Pairs within reach: place in the flat images, hole that stands still, distance [in]."""
        if reach not in self._grids:
            self._grids[reach] = Grid(self.many.at, reach)
        place, hole, away = self._grids[reach].near(images.ravel())
        same = self.few.kinds[place % len(self.few)] == self.many.kinds[hole]
        return place[same], hole[same], away[same]

    def _nearest(self, moves: Moves, reach: float) -> IntArray:
        """(c, m) array: the nearest hole within reach of each moved one, -1 for none."""
        place, hole, away = self._near(moves.images(self.few.at), reach)
        if (place[1:] == place[:-1]).any():  # several in reach: the last one written stays
            order = np.argsort(-away, kind="stable")
            place, hole = place[order], hole[order]
        nearest = np.full(len(moves) * len(self.few), -1, dtype=np.intp)
        nearest[place] = hole
        return nearest.reshape(len(moves), len(self.few))

    def partners(self, moves: Moves, reach: float) -> IntArray:
        """(c, m) array: as the nearest, and no hole has two; the nearest pairs go first."""
        nearest = self._nearest(moves, reach)
        ranked = np.sort(nearest, axis=1)
        twice = ((ranked[:, 1:] == ranked[:, :-1]) & (ranked[:, 1:] >= 0)).any(axis=1)
        for c in np.flatnonzero(twice).tolist():
            images = moves.take(slice(c, c + 1)).images(self.few.at)
            place, hole, away = self._near(images, reach)
            order = np.lexsort((hole, place, np.round(away, 9)))
            place, hole = place[order], hole[order]
            taken = one_to_one(place, hole, len(self.few), len(self.many))
            nearest[c] = -1
            nearest[c, place[taken]] = hole[taken]
        return nearest


def _chosen(which: BoolArray, ones: Moves, others: Moves) -> Moves:
    """The ones where `which` says so, else the others."""
    return Moves(
        ones.flip,
        np.where(which, ones.factor, others.factor),
        np.where(which, ones.shift, others.shift),
    )
