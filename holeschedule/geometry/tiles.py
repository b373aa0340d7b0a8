"""Points in tiles, and the few edges that can be nearest to any point of a tile.

The distance from a point to an edge changes by no more than the point moves. So where every
point of a tile lies within `reach` of the middle of the tile, an edge farther from that middle
than the nearest edge by more than twice the reach is nearest to no point of the tile. Large
tiles drop most edges at once, the smaller tiles in them most of the rest, and single points,
which are tiles of reach 0, have a handful left. That is exact for any curve whose distance can
be measured, needs no boxes and little memory.

Far from many small edges, as in the middle of a round plate with a scalloped rim, that alone
keeps too many. There a second test asks where an edge would have to be: nearer to a point of
the tile than the spot that is nearest to the tile's middle.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from holeschedule.geometry.edges import BoolArray, FloatArray, IntArray
from holeschedule.geometry.nearest import Curves

CodeArray = NDArray[np.uint64]
StepArray = NDArray[np.uint32]

TIE = 1e-9
"""Distances [in] that differ by no more than this count as equal, and the lower index wins: the
answer must not hang on the last digit of a coordinate."""

FANOUT = 4
"""Tiles in one tile of the next level; a square has four quarters."""

LEVELS = 5
"""Levels of tiles, single points included: 256 points in a tile of the last."""

GROUP = 16
"""Edges that are dropped together before any of them is measured."""

PAIRS_AT_ONCE = 1 << 15
"""Pairs measured in one go: enough for numpy, few enough for the cache."""

MANY = 8
"""Edges left to a tile, on average, from which the second test saves more than it costs."""

BITS = 24
"""Bits of x and of y that settle the order along the curve."""


def curve_order(points: FloatArray) -> tuple[IntArray, CodeArray]:
    """Order points along a Hilbert curve: any run of them fills a compact patch.

    Parameters
    ----------
    points : (n, 2) array [in]
        Finite, at least one.

    Returns
    -------
    (n,) array of indices, (n,) array of numbers
        The order, and in that order each point's place on the curve. Points at one place on the
        curve keep their order; equal points are at one place.
    """
    low = points.min(axis=0)
    size = float((points - low).max())
    steps = (points - low) * ((2**BITS - 1) / size if size > 0 else 0.0)
    place = _places_on_curve(*np.ascontiguousarray(steps.T).astype(np.uint32))
    order = np.argsort(place, kind="stable")
    return order, place[order]


def _places_on_curve(x: StepArray, y: StepArray) -> CodeArray:
    """Places on the curve, two bits a step: which quarter, and which quarter of that."""
    one, three = np.uint32(1), np.uint32(3)
    place = np.zeros(len(x), dtype=np.uint64)
    for bit in map(np.uint32, range(BITS - 1, -1, -1)):
        right, upper = (x >> bit) & one, (y >> bit) & one
        place = (place << np.uint64(2)) | ((right * three) ^ upper)
        # the curve is turned over in the two lower quarters: x and y change places there, and
        # in the right one both are counted backwards too (all bits of a mask are alike)
        lower = upper - one
        backwards = lower & (np.uint32(0) - right)
        x, y = x ^ backwards, y ^ backwards
        exchange = (x ^ y) & lower
        x, y = x ^ exchange, y ^ exchange
    return place


def nearest_edges(points: FloatArray, curves: Curves) -> tuple[FloatArray, IntArray]:
    """Nearest edge to each point.

    Parameters
    ----------
    points : (m, 2) array [in]
        Finite, at least one.
    curves : Curves [in]
        At least one.

    Returns
    -------
    (m,) array [in], (m,) array of indices
        Least distance, and the lowest edge within `TIE` of it.
    """
    order, _ = curve_order(points)
    along, _ = curve_order(np.column_stack((curves.mx, curves.my)))
    curves = curves.take(along)
    distance, index = np.empty(len(points)), np.empty(len(points), dtype=np.intp)
    levels = _levels(points[order])
    slack = 2 * TIE + _rounding(points, curves)
    top = len(levels) - 1
    for start in _in_question(levels[top], curves, slack):
        waiting = [(top, start)]
        while waiting:
            level, left = waiting.pop()
            tiles = levels[level].take(left.tiles)
            away = curves.distances(*tiles.middles(left.count), left.edges)
            if level:
                left = _can_be_nearest(left, away, tiles, curves, slack)
                parts = _handed_down(left, len(levels[level - 1]))
                waiting.extend((level - 1, part) for part in parts)
            else:
                at = order[left.tiles]
                distance[at], index[at] = _settled(left, away, along)
    return distance, index


def _rounding(points: FloatArray, curves: Curves) -> float:
    """What rounding may add to a distance [in] at these coordinates."""
    parts = (points, curves.sx, curves.sy, curves.mx, curves.my)
    return 1e-14 * max(float(np.abs(part).max()) for part in parts)


@dataclass(frozen=True, slots=True, eq=False)
class _Tiles:
    """Tiles of one level in curve order: the middle of each, and how far its points reach [in]."""

    x: FloatArray
    y: FloatArray
    reach: FloatArray

    def __len__(self) -> int:
        return len(self.x)

    def take(self, index: IntArray) -> _Tiles:
        return _Tiles(self.x[index], self.y[index], self.reach[index])

    def middles(self, count: IntArray) -> tuple[FloatArray, FloatArray]:
        """The middle of each tile, so many times over."""
        return np.repeat(self.x, count), np.repeat(self.y, count)


def _levels(points: FloatArray) -> list[_Tiles]:
    """Points in curve order as tiles of reach 0, then ever larger tiles."""
    low = high = points
    levels = [_tiles_between(low, high)]
    while len(levels) < LEVELS and len(low) > FANOUT:
        first = np.arange(0, len(low), FANOUT)
        low, high = np.minimum.reduceat(low, first), np.maximum.reduceat(high, first)
        levels.append(_tiles_between(low, high))
    return levels


def _tiles_between(low: FloatArray, high: FloatArray) -> _Tiles:
    x, y = np.ascontiguousarray((low + (high - low) / 2).T)
    return _Tiles(x, y, np.hypot(*(high - low).T) / 2)


@dataclass(frozen=True, slots=True, eq=False)
class _Left:
    """Edges left to tiles of one level: `count` of them to each, one run after another.

    No run is empty: some edge is nearest to the middle of the tile, and passes every test.
    """

    tiles: IntArray
    count: IntArray
    edges: IntArray

    @property
    def first(self) -> IntArray:
        """Where each run begins."""
        return _starts(self.count)

    def only(self, kept: BoolArray) -> _Left:
        """The edges where `kept` is True."""
        count = np.add.reduceat(kept, self.first, dtype=np.intp)
        return _Left(self.tiles, count, self.edges[kept])


def _in_question(tiles: _Tiles, curves: Curves, slack: float) -> Iterator[_Left]:
    """The largest tiles, some at a time, with the edges of every group not out of question.

    A group of edges that follow each other on the curve lies within a circle. Of each circle
    the farthest point says how far the nearest edge is at most, the nearest how far at least.
    """
    mx, my, reach = _circles_about_groups(curves)
    at_once = max(1, PAIRS_AT_ONCE // len(reach))
    for first in range(0, len(tiles), at_once):
        some = np.arange(first, min(first + at_once, len(tiles)))
        near = tiles.take(some)
        x, y = mx - near.x[:, None], my - near.y[:, None]
        away = np.sqrt(x * x + y * y)
        limit = (away + reach).min(axis=1) + 2 * near.reach + slack
        tile, group = np.nonzero(away - reach <= limit[:, None])
        edges = group[:, None] * GROUP + np.arange(GROUP)
        exist = edges < len(curves)
        count = np.bincount(tile, exist.sum(axis=1), len(some)).astype(np.intp)
        yield _Left(some, count, edges[exist])


def _circles_about_groups(curves: Curves) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Middle and radius [in] of a circle about each group."""
    first = np.arange(0, len(curves), GROUP)
    x, y = (
        (
            np.minimum.reduceat(m - curves.extent, first),
            np.maximum.reduceat(m + curves.extent, first),
        )
        for m in (curves.mx, curves.my)
    )
    (left, right), (bottom, top) = x, y
    return (left + right) / 2, (bottom + top) / 2, np.hypot(right - left, top - bottom) / 2


def _can_be_nearest(
    left: _Left, away: FloatArray, tiles: _Tiles, curves: Curves, slack: float
) -> _Left:
    """The edges that can be nearest to a point of the tile, by their distance from its middle."""
    limit = np.minimum.reduceat(away, left.first) + 2 * tiles.reach + slack
    kept = away <= np.repeat(limit, left.count)
    nearer = left.only(kept)
    if len(nearer.edges) < MANY * len(tiles):
        return nearer
    return _not_beaten(nearer, away[kept], tiles, curves, slack)


def _not_beaten(
    left: _Left, away: FloatArray, tiles: _Tiles, curves: Curves, slack: float
) -> _Left:
    """Without the edges that one spot on the nearest edge beats at every point of the tile.

    c is the middle of the tile, h its reach, w the spot nearest to c. For a point p within h of
    c and any q on an edge whose distance from c is e, since |c − q| ≥ e,

        |p − q|² − |p − w|² = |c − q|² − |c − w|² + 2 (p − c)·(w − q) ≥ e² − |c − w|² − 2 h |w − q|

    and |w − q| is no more than the way from w to the edge's own middle and on by its extent.
    """
    nearest = left.edges[_first_least(away, left)]
    w = curves.nearest_points(tiles.x, tiles.y, nearest)
    squared = (w[:, 0] - tiles.x) ** 2 + (w[:, 1] - tiles.y) ** 2
    spare = 2 * slack * (np.sqrt(squared) + tiles.reach + slack)
    wx, wy, limit, twice_reach = (
        np.repeat(column, left.count)
        for column in (w[:, 0], w[:, 1], squared + spare, 2 * tiles.reach)
    )
    x, y = curves.mx[left.edges] - wx, curves.my[left.edges] - wy
    farthest = np.sqrt(x * x + y * y) + curves.extent[left.edges]
    return left.only(away * away <= limit + twice_reach * farthest)


def _first_least(away: FloatArray, left: _Left) -> IntArray:
    """Where in each run the least distance stands first."""
    least = np.minimum.reduceat(away, left.first)
    hits = np.flatnonzero(away == np.repeat(least, left.count))
    return hits[np.searchsorted(hits, left.first)]


def _settled(left: _Left, away: FloatArray, label: IntArray) -> tuple[FloatArray, IntArray]:
    """Least distance of each point, and the lowest edge that ties with it."""
    least = np.minimum.reduceat(away, left.first)
    tied = away <= np.repeat(least + TIE, left.count)
    lowest = np.where(tied, label[left.edges], np.iinfo(np.intp).max)
    return least, np.minimum.reduceat(lowest, left.first)


def _handed_down(left: _Left, n_tiles: int) -> Iterator[_Left]:
    """The tiles one level below, each with the edges of the tile it lies in, part by part."""
    child = (left.tiles[:, None] * FANOUT + np.arange(FANOUT)).ravel()
    parent = np.repeat(np.arange(len(left.tiles)), FANOUT)
    parent, child = parent[child < n_tiles], child[child < n_tiles]
    begin, count = left.first[parent], left.count[parent]
    for part in _parts(count):
        n = count[part]
        place = np.arange(n.sum()) + np.repeat(begin[part] - _starts(n), n)
        yield _Left(child[part], n, left.edges[place])


def _starts(count: IntArray) -> IntArray:
    return np.cumsum(count) - count


def _parts(count: IntArray) -> Iterator[slice]:
    """Cut runs into parts that are measured in one go."""
    part = _starts(count) // PAIRS_AT_ONCE
    cuts = [0, *(np.flatnonzero(np.diff(part)) + 1).tolist(), len(count)]
    return (slice(a, b) for a, b in pairwise(cuts))
