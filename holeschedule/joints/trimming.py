"""A part as it will be once it is cut along its trim lines."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from holeschedule.errors import GeometryError
from holeschedule.geometry.distance import edge_distances, nearest_points
from holeschedule.geometry.edges import BoolArray, Edges, FloatArray, IntArray, join_edges
from holeschedule.geometry.loops import POLYGON_SAG, Loop, chord_points
from holeschedule.geometry.outline import chain_edges
from holeschedule.holes.part import Part
from holeschedule.joints.coverage import boundary, in_metal

Point = tuple[float, float]

REACH = 0.002
"""Inches. A trim line that ends this near to an edge is meant to reach it."""
_GRID = 1e-7
"""Inches. Cut ends this near are one point: which pieces there are is asked of flattened edges."""
_SAME = 1e-9
_ON_EDGE = 2 * POLYGON_SAG


def trimmed(part: Part, keep: Point | None = None) -> Part:
    """Cut a part along its trim lines and keep one piece.

    The trim line becomes an edge of the outline, what lies beyond it drops out, and every edge
    that is left is the exact line or arc that was drawn. Holes keep their numbers: one beyond the
    trim line stays in the list, as not in metal. A trim line that does not cut through stays.

    Parameters
    ----------
    part : Part
        The part as drawn.
    keep : (x, y) [in], optional
        A point of the piece to keep, in the part's own frame; the largest piece where it is left
        out.

    Returns
    -------
    Part
        The same part where no trim line cuts it.

    Raises
    ------
    GeometryError
        The point lies in no piece, or two pieces are equally large and none is chosen.
    """
    if not len(part.trim):
        return part
    metal = boundary(part)
    metal, trim = _cut(metal, _reaching(part.trim, metal))
    pieces = _pieces(part, metal, trim)
    if len(pieces) < 2:
        return part
    piece = _chosen(part, pieces, keep)
    edges = join_edges([metal.take(_bounds(piece, metal)), trim.take(_bounds(piece, trim))])
    loops = _loops(edges)
    inner = ~_bounds(piece, trim) & _within(piece, trim)
    rest = replace(
        part,
        outline=Loop(loops[0], part.outline.layer, part.outline.drawn_as),
        cutouts=tuple(Loop(loop, part.outline.layer, "trimmed") for loop in loops[1:]),
        trim=trim.take(inner),
    )
    return replace(rest, in_metal=part.in_metal & in_metal(rest, part.centres))


def _pieces(part: Part, metal: Edges, trim: Edges) -> list[Any]:
    """What the metal falls into, as shapely polygons, the largest first."""
    import shapely  # noqa: PLC0415 - not every command asks

    strokes = [_stroke(edges.take(np.array([i]))) for edges in (metal, trim) for i in _all(edges)]
    faces = shapely.polygonize([shapely.union_all(strokes, grid_size=_GRID)])
    found = [
        face
        for face in shapely.get_parts(faces)
        if in_metal(part, np.array(face.representative_point().coords))[0]
    ]
    return sorted(found, key=lambda face: -face.area)


def _all(edges: Edges) -> range:
    return range(len(edges))


def _stroke(edge: Edges) -> Any:
    import shapely  # noqa: PLC0415 - as above

    return shapely.LineString(np.concatenate((chord_points(edge, POLYGON_SAG), edge.end)))


def _chosen(part: Part, pieces: list[Any], keep: Point | None) -> Any:
    import shapely  # noqa: PLC0415 - as above

    if keep is not None:
        for piece in pieces:
            if shapely.intersects_xy(piece, *keep):
                return piece
        raise GeometryError(
            f"{part.name}: the point ({keep[0]:g}, {keep[1]:g}) in lies in none of the"
            f" {len(pieces)} pieces that its trim lines make; expected a point of the piece to"
            " keep. Correct the point."
        )
    if math.isclose(pieces[0].area, pieces[1].area, rel_tol=1e-3):
        raise GeometryError(
            f"{part.name}: its trim lines make two pieces of {pieces[0].area:.3g} square inches"
            " alike; which is kept is not clear. Give a point of the piece to keep."
        )
    return pieces[0]


def _bounds(piece: Any, edges: Edges) -> BoolArray:
    """Edges that lie on the boundary of a piece."""
    return _near(piece.boundary, edges)


def _within(piece: Any, edges: Edges) -> BoolArray:
    """Edges that lie in a piece or on its boundary."""
    return _near(piece, edges)


def _near(shape: Any, edges: Edges) -> BoolArray:
    """Edges whose quarter points all lie on a shape: neighbours meet it with one end alone."""
    import shapely  # noqa: PLC0415 - as above

    near = np.ones(len(edges), dtype=bool)
    for share in (0.25, 0.5, 0.75):
        points = shapely.points(edges.points_at(share))
        near &= np.asarray(shapely.dwithin(shape, points, _ON_EDGE))
    return near


def _loops(edges: Edges) -> list[Edges]:
    """The closed loops of these edges, the outline first."""
    chained = chain_edges(edges, REACH)
    loops = [chained.loop_edges(edges, number) for number in range(len(chained.loops))]
    return sorted(loops, key=lambda loop: -Loop(loop, "", "").area)


# Cutting edges where they cross ----------------------------------------------------------------


def _cut(metal: Edges, trim: Edges) -> tuple[Edges, Edges]:
    """Both sets of edges, parted where they cross."""
    metal_cuts: dict[int, list[float]] = {}
    trim_cuts: dict[int, list[float]] = {}
    for i, line in enumerate(_each(trim)):
        for others, cuts in ((metal, metal_cuts), (trim, trim_cuts)):
            for j, other in enumerate(_each(others)):
                for point in _crossings(line, other) if line != other else ():
                    trim_cuts.setdefault(i, []).append(_share(line, point))
                    cuts.setdefault(j, []).append(_share(other, point))
    return _parted(metal, metal_cuts), _parted(trim, trim_cuts)


def _reaching(trim: Edges, metal: Edges) -> Edges:
    """The trim lines; ends of straight ones that all but reach an edge are put on it."""
    moved = []
    for ends in (trim.start, trim.end):
        distance, index = edge_distances(ends, metal)
        near = ((distance <= REACH) & ~trim.is_arc)[:, None]
        moved.append(np.where(near, nearest_points(ends, metal, index), ends))
    start, end = moved
    centre = np.where(trim.is_arc[:, None], trim.centre, start)
    return Edges(start, end, centre, trim.radius, trim.sweep)


@dataclass(frozen=True, slots=True)
class _Edge:
    start: Point
    end: Point
    centre: Point
    radius: float
    sweep: float


def _each(edges: Edges) -> list[_Edge]:
    columns = (edges.start, edges.end, edges.centre)
    points = (map(tuple, column.tolist()) for column in columns)
    numbers = (column.tolist() for column in (edges.radius, edges.sweep))
    return [_Edge(*values) for values in zip(*points, *numbers, strict=True)]


def _crossings(one: _Edge, other: _Edge) -> list[Point]:
    """Where two edges meet; edges that run along each other meet nowhere."""
    if one.radius and other.radius:
        found = _circle_circle(one, other)
    elif one.radius or other.radius:
        line, arc = (other, one) if one.radius else (one, other)
        found = _line_circle(line, arc)
    else:
        found = _line_line(one, other)
    return [p for p in found if _is_on(one, p) and _is_on(other, p)]


def _line_line(one: _Edge, other: _Edge) -> list[Point]:
    ax, ay = one.end[0] - one.start[0], one.end[1] - one.start[1]
    bx, by = other.end[0] - other.start[0], other.end[1] - other.start[1]
    turn = ax * by - ay * bx
    if abs(turn) <= _SAME * math.hypot(ax, ay) * math.hypot(bx, by):
        return []
    cx, cy = other.start[0] - one.start[0], other.start[1] - one.start[1]
    share = (cx * by - cy * bx) / turn
    return [(one.start[0] + share * ax, one.start[1] + share * ay)]


def _line_circle(line: _Edge, arc: _Edge) -> list[Point]:
    long = math.dist(line.start, line.end)
    ux, uy = (line.end[0] - line.start[0]) / long, (line.end[1] - line.start[1]) / long
    cx, cy = arc.centre[0] - line.start[0], arc.centre[1] - line.start[1]
    along, aside = cx * ux + cy * uy, cx * uy - cy * ux
    half = arc.radius**2 - aside**2
    if half < 0:
        return []
    steps = (along - math.sqrt(half), along + math.sqrt(half))
    return [(line.start[0] + s * ux, line.start[1] + s * uy) for s in steps]


def _circle_circle(one: _Edge, other: _Edge) -> list[Point]:
    apart = math.dist(one.centre, other.centre)
    if not abs(one.radius - other.radius) <= apart <= one.radius + other.radius or not apart:
        return []
    along = (apart**2 + one.radius**2 - other.radius**2) / (2 * apart)
    aside = math.sqrt(max(one.radius**2 - along**2, 0.0))
    ux, uy = ((b - a) / apart for a, b in zip(one.centre, other.centre, strict=True))
    x, y = one.centre[0] + along * ux, one.centre[1] + along * uy
    return [(x - aside * uy, y + aside * ux), (x + aside * uy, y - aside * ux)]


def _is_on(edge: _Edge, point: Point) -> bool:
    long = abs(edge.sweep) * edge.radius or math.dist(edge.start, edge.end)
    slack = _GRID / long
    return -slack <= _share(edge, point) <= 1 + slack


def _share(edge: _Edge, point: Point) -> float:
    """Where along an edge a point of it lies: 0 the start, 1 the end."""
    if not edge.radius:
        ax, ay = edge.end[0] - edge.start[0], edge.end[1] - edge.start[1]
        bx, by = point[0] - edge.start[0], point[1] - edge.start[1]
        return (ax * bx + ay * by) / (ax**2 + ay**2)
    first = math.atan2(edge.start[1] - edge.centre[1], edge.start[0] - edge.centre[0])
    here = math.atan2(point[1] - edge.centre[1], point[0] - edge.centre[0])
    way = math.copysign(1.0, edge.sweep)
    turn = (way * (here - first)) % (2 * math.pi)
    if turn > math.pi + abs(edge.sweep) / 2:
        turn -= 2 * math.pi  # a little before the start, not nearly all the way round
    return turn / abs(edge.sweep)


def _parted(edges: Edges, cuts: dict[int, list[float]]) -> Edges:
    """The edges, each parted at its shares."""
    pieces = [_stretches(edges, i, cuts.get(i, [])) for i in _all(edges)]
    return join_edges(pieces)


def _stretches(edges: Edges, i: int, shares: list[float]) -> Edges:
    edge = edges.take(np.array([i]))
    slack = _GRID / float(edge.lengths()[0])
    marks = [0.0]
    for share in sorted(shares):
        if share - marks[-1] > slack and 1.0 - share > slack:
            marks.append(share)
    marks.append(1.0)
    many: IntArray = np.zeros(len(marks) - 1, dtype=np.intp)
    whole = edge.take(many)
    at: FloatArray = np.array(marks)
    start, end = whole.points_at(at[:-1]), whole.points_at(at[1:])
    start[0], end[-1] = edge.start[0], edge.end[0]
    end[:-1] = start[1:]
    centre = np.where(whole.is_arc[:, None], whole.centre, start)
    return Edges(start, end, centre, whole.radius, whole.sweep * np.diff(at))
