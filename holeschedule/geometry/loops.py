"""Closed loops of edges: true area, and a polygon for containment questions.

The polygon is for asking which loop holds what, never for a distance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from holeschedule.geometry.edges import BoolArray, Edges, FloatArray, IntArray, join_edges

POLYGON_SAG = 0.0005
"""Inches between an arc and its chord in the polygon."""
_MOST_CHORDS = 256


@dataclass(frozen=True, eq=False)
class Loop:
    """Edges in order, each starting where the one before ends. Compared by identity.

    `layer` and `drawn_as` say where it came from.
    """

    edges: Edges
    layer: str
    drawn_as: str

    @cached_property
    def area(self) -> float:
        """Area [in²] inside the loop, arcs exact; never negative."""
        return abs(signed_area(self.edges))

    @cached_property
    def polygon(self) -> Any:
        """A shapely Polygon of the loop, arcs within `POLYGON_SAG`."""
        from shapely import Polygon  # noqa: PLC0415 - not every command asks

        return Polygon(chord_points(self.edges, POLYGON_SAG))

    @cached_property
    def box(self) -> tuple[float, float, float, float]:
        """(min x, min y, max x, max y) [in] of the true edges."""
        low, high = edge_boxes(self.edges)
        return (*low.min(axis=0).tolist(), *high.max(axis=0).tolist())

    def holds(self, points: FloatArray) -> BoolArray:
        """(n,) whether the polygon contains each of `points`, an (n, 2) array [in]."""
        import shapely  # noqa: PLC0415 - not every command asks

        x0, y0, x1, y1 = self.box
        x, y = points.T
        near = np.flatnonzero((x >= x0) & (x <= x1) & (y >= y0) & (y <= y1))
        held = np.zeros(len(points), dtype=bool)
        if len(near):
            shapely.prepare(self.polygon)
            held[near] = shapely.contains_xy(self.polygon, x[near], y[near])
        return held


def measure_loops(loops: Sequence[Loop]) -> None:
    """Work out area and box of many loops at once, as each would by itself, but faster.

    A drawing may have thousands of cutouts of a few edges each.
    """
    if not loops:
        return
    edges, first = _joined(loops)
    low, high = edge_boxes(edges)
    boxes = np.column_stack(
        (np.minimum.reduceat(low, first, axis=0), np.maximum.reduceat(high, first, axis=0))
    )
    origin = np.repeat(edges.start[first], np.diff(np.append(first, len(edges))), axis=0)
    areas = np.abs(np.add.reduceat(_area_terms(edges, origin), first))
    for loop, box, area in zip(loops, boxes.tolist(), areas.tolist(), strict=True):
        # where functools.cached_property looks first
        loop.__dict__.update(box=tuple(box), area=area)


def draw_polygons(loops: Sequence[Loop]) -> None:
    """Make the polygons of many loops at once, as each would by itself, but faster."""
    import shapely  # noqa: PLC0415 - not every command asks

    loops = [loop for loop in loops if "polygon" not in loop.__dict__]
    if not loops:
        return
    edges, first = _joined(loops)
    points, edge = _chords(edges, POLYGON_SAG)
    ring = np.searchsorted(first, edge, side="right") - 1
    polygons = shapely.polygons(shapely.linearrings(points, indices=ring))
    for loop, polygon in zip(loops, polygons, strict=True):
        loop.__dict__["polygon"] = polygon


def _joined(loops: Sequence[Loop]) -> tuple[Edges, IntArray]:
    """All edges, and where those of each loop begin."""
    sizes = [len(loop.edges) for loop in loops]
    return join_edges([loop.edges for loop in loops]), np.cumsum([0, *sizes[:-1]])


def signed_area(edges: Edges) -> float:
    """Area [in²] of a closed loop, positive when it runs counter-clockwise.

    The shoelace sum over the chords plus, for each arc, the segment between chord and arc
    r²/2 · (θ − sin θ).
    """
    return float(np.sum(_area_terms(edges, edges.start[:1]))) if len(edges) else 0.0


def _area_terms(edges: Edges, origin: FloatArray) -> FloatArray:
    """(n,) what each edge adds to the signed area [in²], seen from `origin`."""
    a, b = edges.start - origin, edges.end - origin
    chords = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    segments = edges.radius**2 * (edges.sweep - np.sin(edges.sweep))
    return np.asarray(0.5 * (chords + segments))


def chord_points(edges: Edges, sag: float) -> FloatArray:
    """(n, 2) array [in]: the corners of a closed loop, arcs cut into chords within `sag`."""
    return _chords(edges, sag)[0]


def _chords(edges: Edges, sag: float) -> tuple[FloatArray, IntArray]:
    """Where each chord starts, and of which edge it is."""
    counts = _chord_counts(edges, sag)
    index = np.repeat(np.arange(len(edges)), counts)
    step = np.arange(len(index)) - np.repeat(np.cumsum(counts) - counts, counts)
    return edges.take(index).points_at(step / counts[index]), index


def _chord_counts(edges: Edges, sag: float) -> np.ndarray[Any, np.dtype[np.intp]]:
    with np.errstate(divide="ignore", invalid="ignore"):
        half = np.arccos(np.clip(1.0 - sag / edges.radius, -1.0, 1.0))
        wanted = np.ceil(np.abs(edges.sweep) / (2.0 * half))
    counts = np.where(edges.is_arc, np.clip(np.nan_to_num(wanted), 2, _MOST_CHORDS), 1)
    full = np.abs(edges.sweep) > 1.5 * np.pi
    return np.where(full & (counts < 8), 8, counts).astype(np.intp)


def edge_boxes(edges: Edges) -> tuple[FloatArray, FloatArray]:
    """Lower and upper corners (n, 2) [in] of the box of each edge, arcs exact."""
    low = np.minimum(edges.start, edges.end)
    high = np.maximum(edges.start, edges.end)
    radial = edges.start - edges.centre
    first = np.arctan2(radial[:, 1], radial[:, 0])
    for quarter, (dx, dy) in enumerate(((1, 0), (0, 1), (-1, 0), (0, -1))):
        turn = quarter * np.pi / 2 - first
        ahead = np.where(edges.sweep >= 0, turn, -turn) % (2 * np.pi)
        reached = edges.is_arc & (ahead <= np.abs(edges.sweep))
        tip = edges.centre + edges.radius[:, None] * np.array([dx, dy])
        low = np.where(reached[:, None], np.minimum(low, tip), low)
        high = np.where(reached[:, None], np.maximum(high, tip), high)
    return low, high
