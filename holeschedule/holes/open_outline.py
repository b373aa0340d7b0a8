"""Refuse a drawing whose outline does not close: a missing edge would let a bad hole pass.

Open lines are traced: each loose end is bridged to the nearest other one, and lines are cut where
they cross. Where that makes faces round the holes of a part, the lines were meant as its outline,
and a closed frame further out must not stand in for it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from holeschedule.drawing.layers import LayerRoles
from holeschedule.drawing.site import Site
from holeschedule.errors import DrawingError
from holeschedule.geometry.edges import Edges, FloatArray
from holeschedule.geometry.loops import Loop
from holeschedule.geometry.outline import OpenChain
from holeschedule.holes.nesting import NO_LOOP, Nesting
from holeschedule.holes.shapes import Shapes
from holeschedule.model import Role

NEARLY_CLOSED = 0.25
"""Lines whose ends are nearer than this share of their length were meant to meet."""
MOST_HOLES = 0.5
"""Share of a part's holes that open lines have to go round to be its outline."""
SHORT = 0.05
"""Share of the way across all holes below which open lines are ticks or centre marks."""
MOST_TRACED = 1_000
"""Open lines looked at, the longest first."""
MOST_CROSSINGS = 1_000
"""Lines that cross more often are hatching or a scribble."""
MEETING = 1e-5
"""Inches. Ends of open lines that are nearer than this meet when they are traced."""
ON_EDGE = 0.005
"""Inches. A line that ends this near to a closed one at both ends crosses the part: a bend line."""


@dataclass(frozen=True, slots=True)
class _Fault:
    """Where open lines miss each other. `far` is None where they cross."""

    layer: str
    at: tuple[float, float]
    far: tuple[float, float] | None
    size: float


@dataclass(frozen=True, slots=True, eq=False)
class _Traced:
    """Faces (shapely polygons) of the open lines once bridged, and what had to be bridged."""

    faces: Sequence[Any]
    faults: tuple[_Fault, ...]

    def inside(self, centres: FloatArray) -> float:
        """Share of the centres that lie in a face."""
        import shapely  # noqa: PLC0415 - only drawings with open lines ask

        held = np.zeros(len(centres), dtype=bool)
        for face in self.faces:
            held |= shapely.contains_xy(face, *centres.T)
        return float(held.mean()) if len(held) else 0.0


def open_gap(chain: OpenChain, length: float) -> float | None:
    """How far apart [in] the ends of a chain are that nearly closes; None for any other chain.

    `length` [in] is that of the chain.
    """
    if len(chain.ends) != 2:
        return None
    gap = math.dist(*chain.ends)
    return gap if gap <= NEARLY_CLOSED * length else None


def refuse_no_outline(shapes: Shapes, centres: FloatArray, site: Site) -> None:
    """Say why no hole has an outline: the open lines round them, or none at all.

    Raises
    ------
    DrawingError
        Always.
    """
    traced = _trace(shapes, _long(shapes, centres))
    if traced.faults and traced.inside(centres) > 0:
        _refuse(traced.faults[0], site)
    x, y = centres[0].tolist()
    raise DrawingError(
        f"{site.where}: no closed line encloses"
        f" {f'the {len(centres):,} holes, the first' if len(centres) > 1 else 'the hole'} at"
        f" {site.place(x, y)}. Draw the outline, or name its layer: --layer NAME=outline."
    )


def refuse_open_outline(
    shapes: Shapes,
    loops: Sequence[Loop],
    centres: FloatArray,
    nesting: Nesting,
    roles: LayerRoles,
    site: Site,
) -> None:
    """Refuse open lines that were plainly meant to close round the holes of a part.

    Raises
    ------
    DrawingError
        With both ends of the gap, its size, and the option that closes it; or with the place
        where lines cross.
    """
    if not shapes.strokes:
        return
    outline = {name for name in shapes.layers if roles.role_of(name) is Role.OUTLINE}
    for chain, length in zip(shapes.strokes, shapes.stroke_lengths.tolist(), strict=True):
        layer = shapes.stroke_layers[int(chain.members[0])]
        gap = open_gap(chain, length) if layer in outline else None
        if gap is not None:
            first, last = chain.ends
            _refuse(_Fault(layer, first, last, gap), site)
    traced = _trace(shapes, _not_across(shapes, _long(shapes, centres), loops))
    if not traced.faults:
        return
    for owner in (NO_LOOP, *nesting.outlines):
        mine = centres[(nesting.owner == owner) & ~nesting.void]
        if traced.inside(mine) >= MOST_HOLES:
            _refuse(traced.faults[0], site)


def _long(shapes: Shapes, centres: FloatArray) -> list[int]:
    """Numbers of the open chains that are long enough to go round the holes, longest first."""
    least = SHORT * float(np.hypot(*np.ptp(centres, axis=0)))
    order = np.argsort(-shapes.stroke_lengths, kind="stable")
    sizes = np.cumsum([len(shapes.strokes[i].members) for i in order.tolist()])
    kept = (shapes.stroke_lengths[order] >= least) & (sizes <= MOST_TRACED)
    return [int(i) for i in order[kept]]


def _not_across(shapes: Shapes, chains: Sequence[int], loops: Sequence[Loop]) -> list[int]:
    """Chains with an end in the air, not on a closed line."""
    import shapely  # noqa: PLC0415 - as above

    tree = shapely.STRtree([loop.polygon.exterior for loop in loops])
    free = []
    for i in chains:
        ends = shapely.points(np.array(shapes.strokes[i].ends).reshape(-1, 2))
        on_edge = tree.query(ends, predicate="dwithin", distance=ON_EDGE)[0]
        if len(set(on_edge.tolist())) < len(ends):
            free.append(i)
    return free


# tracing ---------------------------------------------------------------------------------------


def _trace(shapes: Shapes, chains: Sequence[int]) -> _Traced:
    """Bridge and cut the open lines of these chains, and find the faces they make."""
    import shapely  # noqa: PLC0415 - as above

    if not chains:
        return _Traced((), ())
    members = np.concatenate([shapes.strokes[i].members for i in chains])
    edges = shapes.stroke_edges.take(members)
    shares = np.linspace(0.0, 1.0, 17)
    points = np.stack([edges.points_at(float(share)) for share in shares], axis=1)
    strokes = shapely.linestrings(points)
    crossings = _crossings(strokes, edges, [shapes.stroke_layers[i] for i in members.tolist()])
    if len(crossings) > MOST_CROSSINGS:
        return _Traced((), ())
    bridges = _bridges(shapes, chains)
    spans = [shapely.LineString([f.at, f.far]) for f in bridges if f.far and f.size > 0]
    lines = shapely.union_all([*strokes, *spans], grid_size=MEETING)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    faults = (fault for fault in (*crossings, *bridges) if _bounds(fault, faces))
    return _Traced(faces, tuple(faults))


def _bridges(shapes: Shapes, chains: Sequence[int]) -> list[_Fault]:
    """From each loose end to the nearest other one, where that is near; the widest first."""
    ends = np.array([end for i in chains for end in shapes.strokes[i].ends]).reshape(-1, 2)
    owner = np.repeat(chains, [len(shapes.strokes[i].ends) for i in chains])
    length = shapes.stroke_lengths
    found = {}
    for i, end in enumerate(ends):
        away = np.hypot(*(ends - end).T)
        away[i] = np.inf
        j = int(np.argmin(away))
        both = length[owner[i]] + (length[owner[j]] if owner[i] != owner[j] else 0.0)
        if away[j] <= NEARLY_CLOSED * both:
            layer = shapes.stroke_layers[int(shapes.strokes[owner[i]].members[0])]
            (x0, y0), (x1, y1) = ends[[min(i, j), max(i, j)]].tolist()
            found[min(i, j), max(i, j)] = _Fault(layer, (x0, y0), (x1, y1), float(away[j]))
    return sorted(found.values(), key=lambda fault: -fault.size)


def _crossings(strokes: Any, edges: Edges, layers: Sequence[str]) -> list[_Fault]:
    """Where lines meet that do not both end there."""
    import shapely  # noqa: PLC0415 - as above

    first, second = shapely.STRtree(strokes).query(strokes, predicate="intersects")
    first, second = first[first < second], second[first < second]
    meet = shapely.point_on_surface(shapely.intersection(strokes[first], strokes[second]))
    at = np.column_stack((shapely.get_x(meet), shapely.get_y(meet)))
    both_end = np.ones(len(at), dtype=bool)
    for each in (edges.take(first), edges.take(second)):
        away = [np.hypot(*(at - end).T) for end in (each.start, each.end)]
        both_end &= np.minimum(*away) <= 2 * MEETING
    return [
        _Fault(layers[i], (x, y), None, 0.0)
        for i, (x, y) in zip(first[~both_end].tolist(), at[~both_end].tolist(), strict=True)
    ]


def _bounds(fault: _Fault, faces: Any) -> bool:
    """Whether a fault lies on the boundary of a face."""
    import shapely  # noqa: PLC0415 - as above

    x, y = fault.at if fault.far is None else np.mean((fault.at, fault.far), axis=0)
    here = shapely.Point(x, y)
    return any(shapely.dwithin(face.boundary, here, 2 * MEETING) for face in faces)


def _refuse(fault: _Fault, site: Site) -> None:
    where = f"{site.where}, layer {fault.layer}"
    no_outline = f"if it is no outline, --layer {fault.layer!r}=ignored."
    at = site.place(*fault.at)
    if fault.far is None:
        raise DrawingError(
            f"{where}: the outline does not close: lines cross or meet at {at} without ending"
            f" there. Trim them to one corner and export again; {no_outline}"
        )
    raise DrawingError(
        f"{where}: the outline is open between {at} and {site.place(*fault.far)}, a gap of"
        f" {site.length(fault.size)}. Close it in the drawing, or join gaps up to that size with"
        f" --gap {_rounded_up(max(fault.size, MEETING))}in; {no_outline}"
    )


def _rounded_up(size: float) -> str:
    """Two digits that are no less than `size`."""
    step = 10.0 ** (math.floor(math.log10(size)) - 1)
    return f"{math.ceil(size / step + 0.01) * step:.6g}"
