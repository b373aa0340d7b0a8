"""Rows of holes, as a builder counts them.

A row is found, not declared: holes of one size along a straight or gently curving line at a
regular pitch. Everything here works on holes in reading order (from the bottom left), so the
order in which they were drawn plays no part.
"""

from __future__ import annotations

from itertools import chain

import numpy as np

from holeschedule.errors import GeometryError
from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.holes.chains import (
    Chain,
    Links,
    find_chains,
    find_leftovers,
    find_rings,
    link_holes,
)
from holeschedule.holes.choosing import SHORTEST_ROW, choose_rows
from holeschedule.holes.joining import join_chains, join_rows
from holeschedule.holes.labels import row_letters
from holeschedule.holes.nearest import LINE_HEIGHT, ComplexArray, pairs_within, reading_order
from holeschedule.holes.spans import Spans, regular_pitches
from holeschedule.model import Row

SAME_SIZE = 0.002
"""Inches. Holes whose diameters, sorted, follow each other this closely are of one size."""
SAME_PLACE = 0.002
"""Inches. Of holes nearer to each other than this only one can be in a row."""
SAME_WIDTH = 1e-7
"""Inches by which the limits above give way, so that noise decides nothing."""
LARGEST_SPAN = 1e7
"""Inches between the outermost holes beyond which the drawing is damaged."""
MISSING_FROM = 1.7113
"""Pitches between two holes of a row from which a hole is missing."""
STANDS_THERE = 0.2613
"""Pitches round the place of a missing hole within which any hole, of whatever size or row, stands
in its place."""

_ROUNDS = 3
"""Times the holes left over are searched again, each time without those already in rows."""
_WORTHWHILE = 0.25
"""Share of many holes a round has to place, or the others are taken as scattered."""
_FEW = 500
"""Holes up to which they are searched again in any case."""


def find_rows(centres: FloatArray, diameters: FloatArray) -> tuple[Row, ...]:
    """Rows of holes, lettered from the bottom left.

    Parameters
    ----------
    centres : (n, 2) array [in]
        Hole centres in any order. May be empty.
    diameters : (n,) array [in]
        Hole diameters; a row has holes of one size.

    Returns
    -------
    tuple of Row
        In the order of their letters. `Row.places` are indices into `centres`. A hole is in one
        row at most. Shuffling the holes or shifting them all changes no row and no letter.

        Level rows run from left to right, upright ones upwards; a row drawn nearer to level than
        to upright is level. A row that closes upon itself starts at its lowest hole (of equally
        low ones the left one) and runs counter-clockwise.

        Where rows cross, the hole belongs to the longer one, else to the straighter, else to the
        level one; the other goes on behind it, and the hole is not missing from it. A hole at
        which one row ends and another passes belongs to the one that passes. A corner hole
        belongs to the longer side, of equal ones to the level one; only a side that would have
        fewer than three holes without its corners takes them from sides that can spare them.

    Raises
    ------
    GeometryError
        A coordinate or diameter is not finite, the holes lie absurdly far apart, or the arrays
        are not in step.
    """
    centres, diameters = np.asarray(centres, float), np.asarray(diameters, float)
    _check(centres, diameters)
    order = reading_order(centres)
    points = centres[order] - (centres.min(axis=0) if len(centres) else 0.0)
    found: list[Chain] = []
    for size in _sizes(diameters[order]):
        distinct = size[_distinct(points[size])]
        found += _take(_rows_of_one_size(points[distinct]), distinct)
    return _lettered(points, found, order)


def _check(centres: FloatArray, diameters: FloatArray) -> None:
    if centres.shape != (len(diameters), 2):
        raise GeometryError(
            f"{centres.shape} numbers for the centres of {len(diameters)} holes; expected"
            f" ({len(diameters)}, 2). Give one centre for each diameter."
        )
    bad = np.flatnonzero(~(np.isfinite(centres).all(axis=1) & np.isfinite(diameters)))
    if len(bad):
        first = int(bad[0])
        x, y = centres[first].tolist()
        raise GeometryError(
            f"hole {first} at ({x:g}, {y:g}) in, diameter {float(diameters[first]):g} in: not"
            " finite; a hole needs a finite centre and diameter. Correct it in the drawing."
        )
    span = float(np.ptp(centres, axis=0).max()) if len(centres) else 0.0
    if span > LARGEST_SPAN:
        raise GeometryError(
            f"holes {span:g} in apart; expected no more than {LARGEST_SPAN:g} in. Remove stray"
            " circles from the drawing."
        )


def _sizes(diameters: FloatArray) -> list[IntArray]:
    """Indices of the holes of each size, smallest size first, indices rising."""
    rising = np.argsort(diameters, kind="stable")
    steps = np.diff(diameters[rising]) > SAME_SIZE + SAME_WIDTH
    return [np.sort(size) for size in np.split(rising, np.flatnonzero(steps) + 1)]


def _distinct(points: FloatArray) -> IntArray:
    """Indices of points of which no two are at the same place; the first of each place stays."""
    kept = np.arange(len(points))
    width = 2 * SAME_PLACE
    # a pair astride the border of two cells shares a cell once the cells are moved by half
    for shift in ((0.0, 0.0), (0.5, 0.0), (0.0, 0.5), (0.5, 0.5)):
        cell = np.floor(points[kept] / width + shift).astype(np.int64)
        filed = cell[:, 0] * (int(cell[:, 1].max(initial=0)) + 1) + cell[:, 1]
        rising = np.sort(filed)
        if (rising[1:] == rising[:-1]).any():
            _, first = np.unique(filed, return_index=True)
            kept = kept[np.sort(first)]
    return kept


def _rows_of_one_size(points: FloatArray) -> list[Chain]:
    """Rows among holes of one size, of which no two are at one place."""
    at = points[:, 0] + 1j * points[:, 1]
    free = np.arange(len(points))
    if len(free) < SHORTEST_ROW:
        return []
    links = link_holes(points)
    rows = _take(find_rings(links), free)
    for _ in range(_ROUNDS):
        free, links = _left(free, rows, links, points)
        if len(free) < SHORTEST_ROW:
            break
        found = choose_rows(at[free], join_chains(at[free], find_chains(links)))
        rows = join_rows(at, rows + _take(found, free))
        placed = sum(len(row.holes) for row in found)
        if len(free) > _FEW and placed < _WORTHWHILE * len(free):
            return rows  # the others are scattered
        if not placed:
            break
    free, links = _left(free, rows, links, points)
    more = _take(find_leftovers(links), free) if len(free) > SHORTEST_ROW else []
    return join_rows(at, rows + more) if more else rows


def _left(
    free: IntArray, rows: list[Chain], links: Links, points: FloatArray
) -> tuple[IntArray, Links]:
    """The holes that are in no row, and the links between them unless they are too few."""
    gone = np.zeros(len(points), dtype=bool)
    gone[np.fromiter(chain.from_iterable(row.holes for row in rows), dtype=np.intp)] = True
    left = free[~gone[free]]
    if len(left) == len(free) or len(left) < SHORTEST_ROW:
        return left, links
    return left, link_holes(points[left])


def _take(rows: list[Chain], some: IntArray) -> list[Chain]:
    """Rows among some of the holes as rows among all."""
    if not rows:
        return []
    name = some.tolist().__getitem__
    return [Chain(tuple(map(name, row.holes)), row.closed) for row in rows]


# order and letters -----------------------------------------------------------------------------


def _lettered(points: FloatArray, found: list[Chain], order: IntArray) -> tuple[Row, ...]:
    at = points[:, 0] + 1j * points[:, 1]
    turned = [_turned(points, row) for row in found]
    leads = np.array([row.holes[0] for row in turned], dtype=np.intp)
    rows = [turned[i] for i in reading_order(points[leads]).tolist()]
    if not rows:
        return ()
    pitches, spans = regular_pitches(at, rows, MISSING_FROM)
    missing = _missing(at, rows, pitches, spans)
    name = order.tolist().__getitem__
    return tuple(
        Row(letter, tuple(map(name, row.holes)), pitch, gaps, row.closed)
        for letter, row, pitch, gaps in zip(
            row_letters(), rows, pitches.tolist(), missing, strict=False
        )
    )


def _turned(points: FloatArray, row: Chain) -> Chain:
    """The row from its proper start in its proper direction."""
    along = points[list(row.holes)]
    if not row.closed:
        dx, dy = (along[-1] - along[0]).tolist()
        level = abs(dx) >= abs(dy) * (1 - 1e-6)
        forward = dx > 0 if level else dy > 0
        return row if forward else Chain(row.holes[::-1])
    x, y = (along - along.mean(axis=0)).T
    area = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    low = np.flatnonzero(along[:, 1] <= along[:, 1].min() + LINE_HEIGHT)
    start = int(low[reading_order(along[low])[0]])
    holes = row.holes[start:] + row.holes[:start]
    return Chain(holes if area > 0 else (holes[0], *holes[:0:-1]), closed=True)


# missing holes ---------------------------------------------------------------------------------


def _missing(
    at: ComplexArray, rows: list[Chain], pitches: FloatArray, spans: Spans
) -> list[tuple[int, ...]]:
    """For each row the places after which a hole is missing."""
    before, after = _beside(rows, spans)
    pitch = pitches[spans.row]
    least = np.maximum(pitch, np.minimum(spans.gap[before], spans.gap[after]))
    leap = np.flatnonzero(spans.gap >= MISSING_FROM * least)
    count = np.maximum(2, np.rint(spans.gap[leap] / pitch[leap])).astype(np.intp)
    step = at[spans.end] - at[spans.start]
    inside = (before != after)[leap]
    turn = np.where(inside, np.angle(step[after[leap]] / step[before[leap]]), 0.0) / (count + 1)
    of, places = _places_between(at[spans.start[leap]], step[leap], count, turn)
    empty = of[~_stands_at(at, places, STANDS_THERE * pitch[leap[of]])]
    missing: list[tuple[int, ...]] = [() for _ in rows]
    for gap in leap[sorted(set(empty.tolist()))].tolist():
        row = int(spans.row[gap])
        missing[row] = (*missing[row], int(spans.place[gap]) + 1)
    return missing


def _beside(rows: list[Chain], spans: Spans) -> tuple[IntArray, IntArray]:
    """The gap before and the gap after each gap of its row; at an end both are the one beside."""
    closed = np.array([row.closed for row in rows], dtype=bool)[spans.row]
    size = np.bincount(spans.row, minlength=len(rows))[spans.row]
    first = np.arange(len(spans.row)) - spans.place
    previous, following = (spans.place - 1) % size, (spans.place + 1) % size
    starts, ends = ~closed & (spans.place == 0), ~closed & (spans.place + 1 == size)
    before = np.where(starts, following, previous)
    after = np.where(ends, previous, following)
    return first + before, first + after


def _places_between(
    start: ComplexArray, step: ComplexArray, count: IntArray, turn: FloatArray
) -> tuple[IntArray, ComplexArray]:
    """Where `count` - 1 holes would stand in each gap, on a curve that turns as its row does.

    The first array says which gap a place belongs to.
    """
    of = np.repeat(np.arange(len(count)), count)
    nth = np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count)
    way = np.exp(1j * turn[of] * nth)
    along = np.cumsum(way)
    last = np.cumsum(count) - 1
    before = along[last - count + 1] - 1
    share = (along - before[of]) / (along[last] - before)[of]
    inner = nth + 1 < count[of]
    return of[inner], (start[of] + step[of] * share)[inner]


def _stands_at(at: ComplexArray, places: ComplexArray, reach: FloatArray) -> BoolArray:
    """Whether any hole stands within reach of each place."""
    stands = np.zeros(len(places), dtype=bool)
    found, _ = pairs_within(places, at, reach)
    stands[found] = True
    return stands
