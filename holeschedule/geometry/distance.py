"""Exact distances: holes to lines and arcs, holes to holes. Nothing is flattened.

Holes are cut into wide tiles and these into tiles. For a tile an edge counts only if its box is no
farther from the holes' box than that box's farthest corner is from some point that surely lies on
an edge. What remains is tested analytically, all holes of a tile against all remaining edges at
once. Holes among themselves go the same way, tile against tile.

Source
------
Distances from a centre: NAVEDTRA 14018, "Spacing and Edge Distance".
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from holeschedule.errors import GeometryError
from holeschedule.geometry.edges import BoolArray, Edges, FloatArray, IntArray
from holeschedule.geometry.loops import edge_boxes

WIDE_TILE = 2048
"""Holes for which edges are sorted out a first time."""
EDGE_TILE = 64
"""Holes a tile, against edges: fewer cost calls, more cost tests of edges that are far away."""
HOLE_TILE = 64
"""Holes a tile, against holes."""
SLACK = 1e-9
"""Inches. Room for rounding where candidates are chosen, never in a distance."""


def edge_distances(centres: FloatArray, edges: Edges) -> tuple[FloatArray, IntArray]:
    """Distance from each centre to the nearest point of the nearest edge.

    Parameters
    ----------
    centres : (m, 2) array [in]
        Hole centres. May be empty.
    edges : Edges
        Lines and arcs [in]; arcs are measured as arcs.

    Returns
    -------
    distance : (m,) array [in]
        Never negative, never NaN.
    index : (m,) array
        The edge it was measured to; the lowest of those equally near.

    Raises
    ------
    GeometryError
        There are no edges, or a number is not finite.
    """
    _require_finite("a hole centre", centres)
    for numbers in (edges.start, edges.end, edges.centre, edges.radius, edges.sweep):
        _require_finite("an edge", numbers)
    if not len(edges):
        raise GeometryError("no edges to measure a distance to: the part has no outline.")
    distance, index = np.zeros(len(centres)), np.zeros(len(centres), dtype=np.intp)
    box = _Boxes(*edge_boxes(edges))
    everything = np.arange(len(edges))
    for wide in _tiles(centres, np.arange(len(centres)), WIDE_TILE):
        near = _candidates(centres[wide], edges, box, everything)
        for holes in _tiles(centres[wide], wide, EDGE_TILE):
            points = centres[holes]
            few = _candidates(points, edges, box, near)
            squared = _squared_to_each(points, edges.take(few))
            best = squared.argmin(axis=1)
            distance[holes] = np.sqrt(squared[np.arange(len(holes)), best])
            index[holes] = few[best]
    return distance, index


@dataclass(frozen=True, slots=True, eq=False)
class _Boxes:
    low: FloatArray
    high: FloatArray


def _candidates(points: FloatArray, edges: Edges, box: _Boxes, among: IntArray) -> IntArray:
    """The edges of `among` that can be nearest to one of `points`, in rising order."""
    low, high = points.min(axis=0), points.max(axis=0)
    bound = np.inf
    for on_edge in (edges.start[among], edges.end[among]):
        far = np.maximum(np.abs(on_edge - low), np.abs(on_edge - high))
        bound = min(bound, float(np.hypot(far[:, 0], far[:, 1]).min()))
    gap = np.maximum(0.0, np.maximum(low - box.high[among], box.low[among] - high))
    return np.asarray(among[np.hypot(gap[:, 0], gap[:, 1]) <= bound + SLACK])


def _squared_to_each(points: FloatArray, edges: Edges) -> FloatArray:
    """(m, n) squared distances [in²] of m points from each of n edges."""
    squared = np.empty((len(points), len(edges)))
    arc = edges.is_arc
    for which, measure in ((~arc, _squared_to_lines), (arc, _squared_to_arcs)):
        columns = np.flatnonzero(which)
        if len(columns) == len(edges):
            return measure(points, edges)
        if len(columns):
            squared[:, columns] = measure(points, edges.take(columns))
    return squared


def _squared_to_lines(points: FloatArray, lines: Edges) -> FloatArray:
    """To the foot of the perpendicular where it falls on the line, else to the nearer end."""
    dx, dy = (lines.end - lines.start).T
    length = dx * dx + dy * dy
    length[length == 0] = 1.0  # a line of no length is a point: the share below is 0 then
    x = points[:, :1] - lines.start[:, 0]
    y = points[:, 1:] - lines.start[:, 1]
    along = x * (dx / length)
    along += y * (dy / length)
    np.clip(along, 0.0, 1.0, out=along)
    x -= along * dx
    y -= along * dy
    return _squares(x, y)


def _squared_to_arcs(points: FloatArray, arcs: Edges) -> FloatArray:
    """In the arc's sector ||v| − r|, else to the nearer end.

    v runs from the centre to the point, m to the middle of the arc; v is in the sector where
    v·m ≥ |v| r cos(sweep / 2).
    """
    px, py = points[:, :1], points[:, 1:]
    x, y = px - arcs.centre[:, 0], py - arcs.centre[:, 1]
    mx, my = (arcs.points_at(0.5) - arcs.centre).T
    toward = x * mx
    toward += y * my
    away = np.sqrt(_squares(x, y))
    reach = arcs.radius * np.cos(np.minimum(np.abs(arcs.sweep), 2 * np.pi) / 2)
    inside = toward >= away * reach
    away -= arcs.radius
    away *= away
    if inside.all():
        return away
    start = _squares(px - arcs.start[:, 0], py - arcs.start[:, 1])
    end = _squares(px - arcs.end[:, 0], py - arcs.end[:, 1])
    return np.where(inside, away, np.minimum(start, end))


def _squares(x: FloatArray, y: FloatArray) -> FloatArray:
    """x² + y², in the place of x and y."""
    x *= x
    y *= y
    x += y
    return x


def nearest_points(centres: FloatArray, edges: Edges, index: IntArray) -> FloatArray:
    """(m, 2) array [in]: the point of edge `index[i]` that is nearest to centre i."""
    chosen = edges.take(index)
    way = chosen.end - chosen.start
    squared = np.sum(way * way, axis=1)
    along = np.sum((centres - chosen.start) * way, axis=1) / np.where(squared > 0, squared, 1.0)
    on_line = chosen.start + np.clip(along, 0.0, 1.0)[:, None] * way
    v = centres - chosen.centre
    away = np.hypot(v[:, 0], v[:, 1])
    middle = chosen.points_at(0.5)
    m = middle - chosen.centre
    inside = np.sum(v * m, axis=1) >= away * chosen.radius * np.cos(chosen.sweep / 2)
    unit = v / np.where(away > 0, away, 1.0)[:, None]
    on_arc = np.where((away > 0)[:, None], chosen.centre + chosen.radius[:, None] * unit, middle)
    to_start, to_end = (np.hypot(*(centres - p).T) for p in (chosen.start, chosen.end))
    end = np.where((to_start <= to_end)[:, None], chosen.start, chosen.end)
    arc = np.where(inside[:, None], on_arc, end)
    return np.where(chosen.is_arc[:, None], arc, on_line)


def coincident_pairs(centres: FloatArray, within: float) -> tuple[IntArray, IntArray]:
    """Every pair of points within a hair of each other; quick where there are few.

    Parameters
    ----------
    centres : (n, 2) array [in]
        Points.
    within : float [in]
        Small against the usual distance of points.

    Returns
    -------
    first, second : (k,) arrays
        first < second, sorted by first, then second.
    """
    pairs: set[tuple[int, int]] = set()
    # two points within a quarter of a cell share a cell of one of four grids half a cell apart
    cell = 4 * within
    for offset in ((0.0, 0.0), (0.5, 0.0), (0.0, 0.5), (0.5, 0.5)):
        places = np.floor(centres / cell + offset).astype(np.int64)
        order = np.lexsort(places.T)
        same = np.all(places[order][1:] == places[order][:-1], axis=1)
        if not same.any():
            continue
        starts = np.flatnonzero(np.concatenate(([True], ~same)))
        for group in np.split(order, starts[1:]):
            if len(group) > 1:
                pairs.update(_close_in(centres, np.sort(group), within))
    found = np.array(sorted(pairs), dtype=np.intp).reshape(-1, 2)
    return found[:, 0], found[:, 1]


def _close_in(centres: FloatArray, group: IntArray, within: float) -> Iterator[tuple[int, int]]:
    first, second, _ = pairs_within(centres[group], within)
    return zip(group[first].tolist(), group[second].tolist(), strict=True)


def nearest_holes(centres: FloatArray) -> tuple[IntArray, FloatArray]:
    """The nearest other hole of each.

    Parameters
    ----------
    centres : (n, 2) array [in]
        Hole centres. May be empty.

    Returns
    -------
    index : (n,) array
        The lowest of those equally near; -1 where there is no other hole.
    distance : (n,) array [in]
        Infinite where there is no other hole, 0 for coincident centres.

    Raises
    ------
    GeometryError
        A coordinate is not finite.
    """
    _require_finite("a hole centre", centres)
    n = len(centres)
    index, distance = np.full(n, -1, dtype=np.intp), np.full(n, np.inf)
    if n < 2:
        return index, distance
    tiles = _Tiles(centres)
    for tile, members in enumerate(tiles.members):
        own = _between(centres, members, members)
        bound = float(np.sqrt(own.min(axis=1).max())) if len(members) > 1 else np.inf
        near = tiles.within(tile, bound)
        squared = _between(centres, members, near)
        best = squared.argmin(axis=1)
        index[members] = near[best]
        distance[members] = np.sqrt(squared[np.arange(len(members)), best])
    return index, distance


def pairs_within(
    centres: FloatArray, radius: FloatArray | float
) -> tuple[IntArray, IntArray, FloatArray]:
    """Every pair of holes no farther apart than the larger of their radii.

    Parameters
    ----------
    centres : (n, 2) array [in]
        Hole centres.
    radius : (n,) array or float [in]
        How far each hole looks.

    Returns
    -------
    first, second : (k,) arrays
        first < second, sorted by first, then second.
    distance : (k,) array [in]
        Centre to centre.

    Raises
    ------
    GeometryError
        A number is not finite.
    """
    _require_finite("a hole centre", centres)
    reach = np.broadcast_to(np.asarray(radius, dtype=float), (len(centres),))
    _require_finite("a radius", reach)
    found: list[tuple[IntArray, IntArray, FloatArray]] = []
    if len(centres) > 1:
        tiles = _Tiles(centres)
        for tile, members in enumerate(tiles.members):
            most = float(reach[members].max())
            near = tiles.within(tile, most + SLACK)
            apart = np.sqrt(_between(centres, members, near))
            a, b = np.nonzero(apart <= reach[members][:, None] + SLACK)
            found.append((members[a], near[b], apart[a, b]))
    if not found:
        return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp), np.zeros(0)
    a, b, d = (np.concatenate(column) for column in zip(*found, strict=True))
    first, second = np.minimum(a, b), np.maximum(a, b)
    # a pair that both holes see is found twice
    _, once = np.unique(first * len(centres) + second, return_index=True)
    return first[once], second[once], d[once]


class _Tiles:
    """Holes in tiles, and the boxes of the tiles."""

    def __init__(self, centres: FloatArray) -> None:
        self.members = _tiles(centres, np.arange(len(centres)), HOLE_TILE)
        self.low = np.array([centres[m].min(axis=0) for m in self.members])
        self.high = np.array([centres[m].max(axis=0) for m in self.members])

    def within(self, tile: int, bound: float) -> IntArray:
        """Holes of all tiles whose boxes are within `bound` of that of `tile`, in rising order."""
        gap = np.maximum(self.low[tile] - self.high, self.low - self.high[tile])
        np.maximum(gap, 0.0, out=gap)
        near = np.flatnonzero((gap * gap).sum(axis=1) <= (bound + SLACK) ** 2)
        return np.sort(np.concatenate([self.members[i] for i in near.tolist()]))


def _tiles(points: FloatArray, holes: IntArray, size: int) -> list[IntArray]:
    """`holes` (at `points`) in tiles of `size` or fewer: strips from left to right, cut upwards.

    Each tile is in rising order.

    Source
    ------
    Leutenegger, Lopez, Edgington, "STR: a simple and efficient algorithm for R-tree packing",
    ICDE 1997.
    """
    n = len(holes)
    if n <= size:
        return [np.sort(holes)] if n else []
    wide, high = np.ptp(points, axis=0)
    tiles = -(-n // size)
    strips = int(np.clip(round(np.sqrt(tiles * wide / max(high, 1e-300))), 1, tiles))
    strip = np.empty(n, dtype=np.intp)
    strip[np.argsort(points[:, 0], kind="stable")] = np.arange(n) * strips // n
    order = np.lexsort((points[:, 1], strip))
    first = np.searchsorted(strip[order], np.arange(strips + 1))
    cuts = [c for a, b in pairwise(first.tolist()) for c in range(a, b, size)]
    return [np.sort(part) for part in np.split(holes[order], cuts[1:])]


def _between(centres: FloatArray, first: IntArray, second: IntArray) -> FloatArray:
    """(a, b) squared distances [in²] between holes; infinite from a hole to itself.

    `second` is in rising order and holds all of `first`.
    """
    x, y = centres.T
    squared = _squares(x[first][:, None] - x[second], y[first][:, None] - y[second])
    squared[np.arange(len(first)), np.searchsorted(second, first)] = np.inf
    return squared


def _require_finite(what: str, numbers: FloatArray) -> None:
    fine: BoolArray = np.isfinite(numbers)
    if not fine.all():
        raise GeometryError(f"{what} has a coordinate that is not a finite number.")
