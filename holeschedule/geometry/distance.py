"""Exact distances: holes to lines and arcs, holes to holes. Nothing is flattened.

Holes are put in Morton order and cut into tiles, tiles into super tiles. For a tile, an edge
counts only if its box is no farther from the tile than the tile's farthest corner is from some
point that surely lies on an edge. What remains is tested analytically, all holes of a tile against
all remaining edges at once. Holes among themselves go the same way, tile against tile.

Source
------
Morton order: G. M. Morton, "A computer oriented geodetic data base", IBM, 1966. Distances from a
centre: NAVEDTRA 14018, "Spacing and Edge Distance".
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from holeschedule.errors import GeometryError
from holeschedule.geometry.edges import BoolArray, Edges, FloatArray, IntArray
from holeschedule.geometry.loops import edge_boxes

TILE = 64
"""Holes a tile: fewer cost calls, more cost tests of edges that are far away."""
SUPER_TILE = 32
"""Tiles a super tile."""
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
    order = morton_order(centres)
    everything = np.arange(len(edges))
    for wide in _cut(order, TILE * SUPER_TILE):
        near = _candidates(centres[wide], edges, box, everything)
        for tile in _cut(wide, TILE):
            chosen = _candidates(centres[tile], edges, box, near)
            apart = distances_to_each(centres[tile], edges.take(chosen))
            best = apart.argmin(axis=1)
            distance[tile] = apart[np.arange(len(tile)), best]
            index[tile] = chosen[best]
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
    return among[np.hypot(gap[:, 0], gap[:, 1]) <= bound + SLACK]


def distances_to_each(points: FloatArray, edges: Edges) -> FloatArray:
    """(m, n) distances [in] of m points from each of n edges."""
    ax, ay = edges.start.T
    dx, dy = (edges.end - edges.start).T
    px, py = points[:, :1], points[:, 1:]
    squared = dx * dx + dy * dy
    with np.errstate(divide="ignore", invalid="ignore"):
        along = ((px - ax) * dx + (py - ay) * dy) / np.where(squared > 0, squared, 1.0)
    along = np.clip(along, 0.0, 1.0)
    distance = np.hypot(px - (ax + along * dx), py - (ay + along * dy))
    arcs = np.flatnonzero(edges.is_arc)
    if len(arcs):
        distance[:, arcs] = _distances_to_arcs(points, edges.take(arcs))
    return distance


def _distances_to_arcs(points: FloatArray, arcs: Edges) -> FloatArray:
    """In the arc's sector ||v| − r|, else to the nearer end.

    v runs from the centre to the point, m to the middle of the arc; v is in the sector where
    v·m ≥ |v| r cos(sweep / 2).
    """
    px, py = points[:, :1], points[:, 1:]
    vx, vy = px - arcs.centre[:, 0], py - arcs.centre[:, 1]
    away = np.hypot(vx, vy)
    mx, my = (arcs.points_at(0.5) - arcs.centre).T
    reach = arcs.radius * np.cos(np.minimum(np.abs(arcs.sweep), 2 * np.pi) / 2)
    inside = vx * mx + vy * my >= away * reach
    start = np.hypot(px - arcs.start[:, 0], py - arcs.start[:, 1])
    end = np.hypot(px - arcs.end[:, 0], py - arcs.end[:, 1])
    return np.where(inside, np.abs(away - arcs.radius), np.minimum(start, end))


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
    on_arc = np.where(
        (away > 0)[:, None], chosen.centre + chosen.radius[:, None] * unit, middle
    )
    to_start, to_end = (np.hypot(*(centres - p).T) for p in (chosen.start, chosen.end))
    end = np.where((to_start <= to_end)[:, None], chosen.start, chosen.end)
    arc = np.where(inside[:, None], on_arc, end)
    return np.where(chosen.is_arc[:, None], arc, on_line)


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
        bound = float(own.min(axis=1).max()) if len(members) > 1 else np.inf
        others = tiles.within(tile, bound)
        near = np.sort(others)
        apart = _between(centres, members, near)
        best = apart.argmin(axis=1)
        index[members] = near[best]
        distance[members] = apart[np.arange(len(members)), best]
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
            apart = _between(centres, members, near)
            close = apart <= np.minimum(reach[members][:, None], np.inf) + SLACK
            a, b = np.nonzero(close)
            found.append((members[a], near[b], apart[a, b]))
    if not found:
        return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp), np.zeros(0)
    a, b, d = (np.concatenate(column) for column in zip(*found, strict=True))
    first, second = np.minimum(a, b), np.maximum(a, b)
    # a pair that both holes see is found twice
    _, once = np.unique(first * len(centres) + second, return_index=True)
    return first[once], second[once], d[once]


class _Tiles:
    """Holes in tiles of Morton order, and the boxes of the tiles."""

    def __init__(self, centres: FloatArray) -> None:
        self.members = list(_cut(morton_order(centres), TILE))
        self.low = np.array([centres[m].min(axis=0) for m in self.members])
        self.high = np.array([centres[m].max(axis=0) for m in self.members])

    def within(self, tile: int, bound: float) -> IntArray:
        """Holes of all tiles whose boxes are within `bound` of that of `tile`."""
        gap = np.maximum(
            0.0, np.maximum(self.low[tile] - self.high, self.low - self.high[tile])
        )
        near = np.flatnonzero(np.hypot(gap[:, 0], gap[:, 1]) <= bound + SLACK)
        return np.concatenate([self.members[i] for i in near.tolist()])


def _between(centres: FloatArray, first: IntArray, second: IntArray) -> FloatArray:
    """(a, b) distances [in] between two sets of holes; infinite from a hole to itself."""
    x, y = centres.T
    apart = np.hypot(x[first][:, None] - x[second], y[first][:, None] - y[second])
    apart[first[:, None] == second] = np.inf
    return apart


def morton_order(points: FloatArray) -> IntArray:
    """(n,) order in which points that follow each other lie close together."""
    if not len(points):
        return np.zeros(0, dtype=np.intp)
    low = points.min(axis=0)
    size = float((points - low).max()) or 1.0
    cells = ((points - low) / size * 0xFFFF).astype(np.uint64)
    return np.argsort(_spread(cells[:, 0]) | (_spread(cells[:, 1]) << np.uint64(1)), kind="stable")


def _spread(numbers: np.ndarray) -> np.ndarray:  # type: ignore[type-arg] # bits, of any shape
    """The 16 bits of each number with a 0 between every two."""
    bits = numbers
    for shift, mask in ((8, 0x00FF00FF), (4, 0x0F0F0F0F), (2, 0x33333333), (1, 0x55555555)):
        bits = (bits | (bits << np.uint64(shift))) & np.uint64(mask)
    return bits


def _cut(order: IntArray, size: int) -> Iterator[IntArray]:
    for first in range(0, len(order), size):
        yield order[first : first + size]


def _require_finite(what: str, numbers: FloatArray) -> None:
    fine: BoolArray = np.isfinite(numbers)
    if not fine.all():
        raise GeometryError(f"{what} has a coordinate that is not a finite number.")
