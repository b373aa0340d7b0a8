"""Which circles are holes, which are marks round a hole, which are cutouts."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from holeschedule.geometry.distance import coincident_pairs
from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.tables import SLACK, Drill, drills, mark_fits

CONCENTRIC = 0.002
"""Inches. Circles whose centres are this close are drawn round one centre."""
SAME_SIZE = 0.002
"""Inches. Concentric circles whose diameters differ by less are one circle drawn twice."""


@dataclass(frozen=True, slots=True, eq=False)
class Circles:
    """n circles [in], however they were drawn, arrays in step. Compared by identity.

    `layer` are indices into the drawing's layer names; `forced` is True where the layer's role
    says that the circle is a cutout, whatever its size.
    """

    centre: FloatArray
    diameter: FloatArray
    layer: IntArray
    residual: FloatArray
    drawn_as: tuple[str, ...]
    forced: BoolArray

    def __len__(self) -> int:
        return len(self.diameter)


@dataclass(frozen=True, slots=True, eq=False)
class SortedCircles:
    """Circles by what they are; indices into `Circles`.

    `mark` [in] has, in step with `holes`, the diameter of the countersink or dimple mark round
    the hole, NaN for none. `round_hole` are larger circles round a hole that fit no head: cutouts.
    `tiny` are smaller than any drill, and nothing.
    """

    holes: IntArray
    mark: FloatArray
    doubled: IntArray
    marks: IntArray
    large: IntArray
    round_hole: IntArray
    tiny: IntArray


@cache
def smallest_drill() -> Drill:
    """Look up the drill that no hole is smaller than.

    Raises
    ------
    TableError
        The packaged table is damaged.
    """
    return min(drills(), key=lambda drill: drill.diameter)


def sort_circles(circles: Circles, largest_hole: float) -> SortedCircles:
    """Tell holes from marks and cutouts.

    Parameters
    ----------
    circles : Circles
        All circles of the drawing [in]. May be empty.
    largest_hole : float [in]
        Larger circles are cutouts (or outlines).
    """
    n = len(circles)
    tiny = ~circles.forced & (circles.diameter < smallest_drill().diameter - SLACK)
    first, second = coincident_pairs(circles.centre, CONCENTRIC)
    solid = ~tiny[first] & ~tiny[second]
    first, second = first[solid], second[solid]
    doubled = _doubled(circles, first, second)
    small = ~circles.forced & ~tiny & (circles.diameter <= largest_hole + 1e-9)
    kept = ~doubled[first] & ~doubled[second]
    hole, ring = _nested(circles, first[kept], second[kept])
    over_hole = small[hole]
    hole, ring = hole[over_hole], ring[over_hole]
    fits = _fits_a_head(circles.diameter[ring])
    is_ring = np.zeros(n, dtype=bool)
    is_ring[ring] = True
    is_mark = np.zeros(n, dtype=bool)
    is_mark[ring[fits]] = True
    is_hole = small & ~doubled & ~is_ring
    mark = np.full(n, np.nan)
    # the smallest ring that fits a head is the mark of the hole
    order = np.argsort(-circles.diameter[ring[fits]], kind="stable")
    mark[hole[fits][order]] = circles.diameter[ring[fits]][order]
    holes = np.flatnonzero(is_hole)
    return SortedCircles(
        holes=holes,
        mark=mark[holes],
        doubled=np.flatnonzero(doubled),
        marks=np.flatnonzero(is_mark),
        large=np.flatnonzero(~is_hole & ~is_mark & ~doubled & ~tiny),
        round_hole=np.flatnonzero(is_ring & ~is_mark & ~doubled),
        tiny=np.flatnonzero(tiny),
    )


def _doubled(circles: Circles, first: IntArray, second: IntArray) -> BoolArray:
    """Circles that repeat one drawn before them (pairs have first < second)."""
    doubled = np.zeros(len(circles), dtype=bool)
    same = np.abs(circles.diameter[first] - circles.diameter[second]) <= SAME_SIZE
    doubled[second[same]] = True
    return doubled


def _nested(circles: Circles, first: IntArray, second: IntArray) -> tuple[IntArray, IntArray]:
    """(smaller, larger) of each concentric pair."""
    swap = circles.diameter[first] > circles.diameter[second]
    return np.where(swap, second, first), np.where(swap, first, second)


def _fits_a_head(diameters: FloatArray) -> BoolArray:
    sizes, which = np.unique(diameters, return_inverse=True)
    fits = np.array([mark_fits(float(size)) is not None for size in sizes], dtype=bool)
    return fits[which]
