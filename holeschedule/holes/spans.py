"""The distances between the holes of rows, for many rows at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain

import numpy as np

from holeschedule.geometry.edges import FloatArray, IntArray
from holeschedule.holes.chains import Chain
from holeschedule.holes.nearest import ComplexArray


@dataclass(frozen=True, slots=True, eq=False)
class Spans:
    """The gaps of rows, one after the other, arrays in step. Compared by identity.

    Parameters
    ----------
    row, place : (g,) arrays
        Row the gap belongs to, and the place in it after which it comes, counted from 0.
    start, end : (g,) arrays
        Holes on both sides.
    gap : (g,) array [in]
        Centre to centre.
    """

    row: IntArray
    place: IntArray
    start: IntArray
    end: IntArray
    gap: FloatArray


def spans_of(points: ComplexArray, rows: Sequence[Chain]) -> Spans:
    """All gaps of all rows, with the one that closes a closed row as its last."""
    size = np.array([len(row.holes) for row in rows], dtype=np.intp)
    closed = np.array([row.closed for row in rows], dtype=bool)
    holes = np.fromiter(chain.from_iterable(row.holes for row in rows), dtype=np.intp)
    row = np.repeat(np.arange(len(rows)), size)
    first = np.cumsum(size) - size
    place = np.arange(len(holes)) - first[row]
    following = np.where(place + 1 < size[row], np.arange(len(holes)) + 1, first[row])
    real = (place + 1 < size[row]) | closed[row]
    start, end = holes[real], holes[following[real]]
    return Spans(row[real], place[real], start, end, np.abs(points[end] - points[start]))


def median_gaps(points: ComplexArray, rows: Sequence[Chain]) -> tuple[FloatArray, Spans]:
    """The median gap of each row [in], and the gaps themselves."""
    spans = spans_of(points, rows)
    return _medians(spans.row, spans.gap, len(rows)), spans


def regular_pitches(
    points: ComplexArray, rows: Sequence[Chain], leap: float
) -> tuple[FloatArray, Spans]:
    """The median of those gaps of each row that are no leaps [in], and all the gaps.

    Parameters
    ----------
    leap : float
        Times the median of all gaps from which a gap is a leap.
    """
    median, spans = median_gaps(points, rows)
    plain = spans.gap < leap * median[spans.row]
    return _medians(spans.row[plain], spans.gap[plain], len(rows)), spans


def _medians(group: IntArray, value: FloatArray, groups: int) -> FloatArray:
    """Median of the values of each group; every group has one at least."""
    rising = value[np.lexsort((value, group))]
    count = np.bincount(group, minlength=groups)
    first = np.cumsum(count) - count
    middle: FloatArray = (rising[first + (count - 1) // 2] + rising[first + count // 2]) / 2
    return middle
