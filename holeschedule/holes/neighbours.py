"""How far apart the holes of a row are, and which rows run side by side."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np

from holeschedule.errors import GeometryError
from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.holes.nearest import points_in_boxes
from holeschedule.model import Row

PARALLEL = 10.0
"""Degrees by which two rows may differ in direction and still run side by side."""
LEAST_OVERLAP = 0.5
"""Share of the shorter row's length over which two rows have to run side by side."""
BEYOND_END = 0.1031
"""Pitches beyond the end of a row up to which a hole still stands beside it."""
CLOSER = 0.9113
"""A row hides another behind it when it is closer than this share of the other's distance."""

_SLACK = 1e-9
"""Inches. What is looked for up to a distance is found exactly there too."""
_HALF_WAY = 0.5 + 1e-6
_EQUAL = 1e-6
"""Inches. Transverse pitches that differ by less are equal; the first place is named then."""


class RowPair(NamedTuple):
    """Two rows that run side by side.

    `row_a` < `row_b` are indices into the rows given. `transverse_pitch` [in] is the smallest
    distance from a hole of one row square to the line of the other. There `hole_a` and `hole_b`,
    indices into the centres, are that hole and the hole of the other row nearest to it.
    """

    row_a: int
    row_b: int
    transverse_pitch: float
    hole_a: int
    hole_b: int


def pitches(centres: FloatArray, row: Row) -> FloatArray:
    """Distances from each hole of a row to the next.

    Parameters
    ----------
    centres : (n, 2) array [in]
        Hole centres, as given to `rows.find_rows`.
    row : Row
        A row of k of these holes.

    Returns
    -------
    (k - 1,) array [in]
        In the order of the places. A closed row has k: the last one closes it. Where a hole is
        missing, or belongs to a row that crosses, the distance spans several pitches.

    Examples
    --------
    >>> pitches(np.array([[0.0, 0.0], [0.75, 0.0], [1.5, 0.0]]), Row("A", (0, 1, 2), 0.75))
    array([0.75, 0.75])
    """
    places = [*row.places, row.places[0]] if row.closed else list(row.places)
    return np.asarray(np.hypot(*np.diff(centres[places], axis=0).T))


def neighbouring_rows(
    centres: FloatArray, rows: Sequence[Row], within: FloatArray
) -> list[RowPair]:
    """Rows that run side by side, with the transverse pitch between them.

    Two rows are neighbours when holes of one stand beside the other's line, no more than
    `PARALLEL` degrees out of its direction there, along at least `LEAST_OVERLAP` of the shorter
    row, with no third row between them.

    Parameters
    ----------
    centres : (n, 2) array [in]
        Hole centres, as given to `rows.find_rows`.
    rows : sequence of Row
        May be empty.
    within : (r,) array [in]
        For each row how far to look. A pair is looked at up to the larger distance of its rows.

    Returns
    -------
    list of RowPair
        Sorted by `row_a`, then `row_b`.

    Raises
    ------
    GeometryError
        `within` is not finite or not in step with `rows`.

    Examples
    --------
    >>> centres = np.array([[0, 0], [1, 0], [2, 0], [0.5, 0.4], [1.5, 0.4], [2.5, 0.4]])
    >>> double = [Row("A", (0, 1, 2), 1.0), Row("B", (3, 4, 5), 1.0)]
    >>> neighbouring_rows(centres, double, np.array([0.5, 0.5]))
    [RowPair(row_a=0, row_b=1, transverse_pitch=0.4, hole_a=1, hole_b=3)]
    """
    if within.shape != (len(rows),) or not np.isfinite(within).all():
        raise GeometryError(
            f"distances {within.tolist()} in for {len(rows)} rows; expected one finite distance"
            " for each row. Give as many as there are rows."
        )
    if len(rows) < 2:
        return []
    lines = _Lines.of(np.asarray(centres, float), rows)
    beside = _hide(_beside(lines, within))
    return _pairs(lines, beside)


@dataclass(frozen=True, slots=True, eq=False)
class _Lines:
    """Rows as lines. First holes, then gaps, arrays in step; `length` [in] is one a row.

    `at` [in] is a hole's centre, `along` [in] how far along its row it stands, `ahead` the unit
    direction of the row there, `into` and `out` [in] the gaps before and after it, 0 at an end.
    A gap `runs` [in] from its first hole `start` (a place in the arrays of holes) to `end`; it is
    `first` or `last` where an open row begins or ends with it.
    """

    hole: IntArray
    row: IntArray
    at: FloatArray
    along: FloatArray
    ahead: FloatArray
    into: FloatArray
    out: FloatArray
    start: IntArray
    end: IntArray
    runs: FloatArray
    first: BoolArray
    last: BoolArray
    length: FloatArray

    @classmethod
    def of(cls, centres: FloatArray, rows: Sequence[Row]) -> _Lines:
        size = np.array([len(r.places) for r in rows])
        row = np.repeat(np.arange(len(rows)), size)
        hole = np.concatenate([np.array(r.places, dtype=np.intp) for r in rows])
        own = np.arange(len(hole))
        begin = (np.cumsum(size) - size)[row]
        place, count = own - begin, size[row]
        opened = ~np.array([r.closed for r in rows], dtype=bool)[row]
        starts, ends = opened & (place == 0), opened & (place + 1 == count)
        at = centres[hole]
        into = at - at[np.where(starts, own, begin + (place - 1) % count)]
        following = np.where(ends, own, begin + (place + 1) % count)
        out = at[following] - at
        ahead = into + out
        gap = np.hypot(*out.T)
        before = np.cumsum(gap) - gap
        start = np.flatnonzero(~ends)
        return cls(
            hole=hole,
            row=row,
            at=at,
            along=before - before[begin],
            ahead=ahead / np.hypot(*ahead.T)[:, None],
            into=into,
            out=out,
            start=start,
            end=following[start],
            runs=out[start],
            first=starts[start],
            last=ends[following[start]],
            length=np.asarray(np.bincount(row, gap, minlength=len(rows)), dtype=np.float64),
        )


@dataclass(frozen=True, slots=True, eq=False)
class _Beside:
    """Holes that stand beside a gap of another row, arrays in step.

    `place` is the hole's place in the arrays of holes, `other` that of the nearer hole of the
    gap, `foot` [in] how far along its row the gap is met. `left` tells on which side it lies.
    """

    place: IntArray
    other: IntArray
    distance: FloatArray
    foot: FloatArray
    own: IntArray
    met: IntArray
    left: BoolArray

    def take(self, index: IntArray | BoolArray) -> _Beside:
        return _Beside(*(getattr(self, f.name)[index] for f in fields(self)))


def _beside(lines: _Lines, within: FloatArray) -> _Beside:
    reach = float(within.max()) * (1 + _EQUAL) + _EQUAL
    found = [_met(lines, within, place, gap) for place, gap in _near(lines, reach)]
    if not found:
        return _met(lines, within, *np.zeros((2, 0), dtype=np.intp))
    return _Beside(*(np.concatenate([getattr(b, f.name) for b in found]) for f in fields(_Beside)))


def _met(lines: _Lines, within: FloatArray, place: IntArray, gap: IntArray) -> _Beside:
    """Those of some pairs of a hole and a gap that stand beside each other."""
    start, end, runs = lines.start[gap], lines.end[gap], lines.runs[gap]
    size = np.hypot(*runs.T)
    away = lines.at[place] - lines.at[start]
    share = _dot(away, runs) / size**2
    low = np.where(lines.first[gap], -BEYOND_END, 0.0)
    high = np.where(lines.last[gap], 1 + BEYOND_END, 1.0)
    met = np.clip(share, low, high)
    # outside a bend no gap is met square: the hole stands beside the corner between two gaps
    corner = (share < 0) & (_dot(away, lines.into[start]) > 0)
    corner |= (share > 1) & (_dot(lines.at[place] - lines.at[end], lines.out[end]) < 0)
    off = lines.at[start] + met[:, None] * runs - lines.at[place]
    distance = np.hypot(*off.T)
    ahead = lines.ahead[place]
    parallel = np.abs(_dot(ahead, runs)) >= np.cos(np.radians(PARALLEL)) * size
    own, other = lines.row[place], lines.row[start]
    keep = (
        parallel
        & ((met == share) | corner)
        & (distance <= np.maximum(within[own], within[other]) + _SLACK)
    )
    found = _Beside(
        place,
        np.where(share <= _HALF_WAY, start, end),
        distance,
        lines.along[start] + np.clip(met, 0, 1) * size,
        own,
        other,
        ahead[:, 0] * off[:, 1] > ahead[:, 1] * off[:, 0],
    )
    return found.take(keep)


def _dot(one: FloatArray, other: FloatArray) -> FloatArray:
    return np.asarray(np.einsum("ij,ij->i", one, other))


def _near(lines: _Lines, reach: float) -> Iterator[tuple[IntArray, IntArray]]:
    """Pairs of a hole and a gap of another row that may be within reach, many at a time."""
    start, end = lines.at[lines.start], lines.at[lines.end]
    low, high = np.minimum(start, end) - reach, np.maximum(start, end) + reach
    row = lines.row[lines.start]
    for gap, place in points_in_boxes(lines.at, low, high):
        other = lines.row[place] != row[gap]
        yield place[other], gap[other]


def _hide(beside: _Beside) -> _Beside:
    """Of the rows on one side of a hole only the nearest, and of each row its nearest gap."""
    group = 2 * beside.place + beside.left
    nearest = np.full(int(group.max(initial=0)) + 1, np.inf)
    np.minimum.at(nearest, group, beside.distance)
    return beside.take(beside.distance * CLOSER <= nearest[group])


def _pairs(lines: _Lines, beside: _Beside) -> list[RowPair]:
    """The pairs of rows that overlap enough, and where they are nearest."""
    low, high = np.minimum(beside.own, beside.met), np.maximum(beside.own, beside.met)
    shorter = np.where(lines.length[low] <= lines.length[high], low, high)
    along = np.where(beside.own == shorter, lines.along[beside.place], beside.foot)
    order = np.lexsort((beside.place, beside.own != low, high, low))
    begins = np.flatnonzero(np.diff(low[order] * len(lines.length) + high[order], prepend=-1))
    found = []
    for some in np.split(order, begins[1:]) if len(order) else []:
        row = int(shorter[some[0]])
        if np.ptp(along[some]) >= LEAST_OVERLAP * lines.length[row] - _SLACK:
            found.append(_closest(lines, beside, some))
    return found


def _closest(lines: _Lines, beside: _Beside, some: IntArray) -> RowPair:
    distance = beside.distance[some]
    at = int(some[np.flatnonzero(distance <= distance.min() + _EQUAL)[0]])
    ends = ((int(beside.own[at]), beside.place[at]), (int(beside.met[at]), beside.other[at]))
    (row_a, hole_a), (row_b, hole_b) = sorted(ends)
    return RowPair(
        row_a, row_b, float(distance.min()), int(lines.hole[hole_a]), int(lines.hole[hole_b])
    )
