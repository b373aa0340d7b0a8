"""Bend and trim lines: which part they are of, and which holes a trim line cuts off."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from holeschedule.drawing.notices import NoticeBoard
from holeschedule.geometry.edges import BoolArray, Edges, FloatArray
from holeschedule.geometry.loops import Loop
from holeschedule.holes.found import Found
from holeschedule.holes.open_outline import ON_EDGE

_SHARES = np.linspace(0.0, 1.0, 17)
"""Where an arc is looked at to tell what it crosses."""


def lines_of_part(lines: Edges, outlines: Sequence[Loop], number: int) -> Edges:
    """Bend or trim lines [in] of part `number`: those that reach into its outline.

    A line over two parts is of both. One that reaches into none is of the part nearest to its
    middle.
    """
    import shapely  # noqa: PLC0415 - only sheets of several parts ask

    if len(outlines) == 1 or not len(lines):
        return lines
    strokes = _strokes(lines)
    reaches = np.column_stack([shapely.intersects(loop.polygon, strokes) for loop in outlines])
    middles = lines.points_at(0.5)
    away = np.array([[box_distance(loop, at) for loop in outlines] for at in middles])
    nearest = away.argmin(axis=1) == number
    return lines.take(np.where(reaches.any(axis=1), reaches[:, number], nearest))


def box_distance(loop: Loop, at: FloatArray) -> float:
    """Distance [in] of a place from the box of a loop, 0 inside it."""
    x0, y0, x1, y1 = loop.box
    x, y = at
    return float(np.hypot(max(x0 - x, 0, x - x1), max(y0 - y, 0, y - y1)))


def tell_beyond_trim(found: Found, board: NoticeBoard) -> None:
    """Note the holes of each part that lie in what its trim lines cut off.

    Of the pieces that the lines make of a part, the largest is the part.
    """
    nesting, layers, circles = found.nesting, found.shapes.layers, found.circles
    outlines = [found.loops[i] for i in nesting.outlines]
    for number, outline in enumerate(nesting.outlines):
        trim = lines_of_part(found.shapes.trim, outlines, number)
        mine = np.flatnonzero(nesting.owner == outline)
        centres = found.centres[mine]
        for i in mine[_cut_off(outlines[number], trim, centres)].tolist():
            x, y = found.centres[i].tolist()
            layer = layers[int(circles.layer[found.sorted.holes[i]])]
            text = "a hole lies beyond a trim line, in the smaller piece, which is cut off"
            board.add("hole.beyond-trim", text, layer, (x, y))


def _cut_off(outline: Loop, trim: Edges, centres: FloatArray) -> BoolArray:
    """(n,) whether centres lie in a smaller piece of the outline than the largest."""
    import shapely  # noqa: PLC0415 - only drawings with trim lines ask

    beyond = np.zeros(len(centres), dtype=bool)
    if not len(trim):
        return beyond
    lines = shapely.union_all([outline.polygon.exterior, *_strokes(_reaching(trim))])
    pieces = shapely.get_parts(shapely.polygonize([lines]))
    # two lines that cross outside the part make pieces there as well
    inside = shapely.get_coordinates(shapely.point_on_surface(pieces))
    pieces = pieces[shapely.contains_xy(outline.polygon, *inside.T)]
    for piece in sorted(pieces, key=lambda piece: -float(piece.area))[1:]:
        beyond |= shapely.contains_xy(piece, *centres.T)
    return beyond


def _reaching(lines: Edges) -> Edges:
    """Straight lines made longer at both ends, as far as an end counts as on the outline."""
    way = lines.end - lines.start
    length = np.maximum(np.hypot(*way.T), ON_EDGE)
    further = np.where(lines.is_arc, 0.0, ON_EDGE / length)[:, None] * way
    start = lines.start - further
    centre = np.where(lines.is_arc[:, None], lines.centre, start)
    return Edges(start, lines.end + further, centre, lines.radius, lines.sweep)


def _strokes(lines: Edges) -> Any:
    """Array of shapely lines, arcs as chords."""
    import shapely  # noqa: PLC0415 - as above

    return shapely.linestrings(np.stack([lines.points_at(float(s)) for s in _SHARES], axis=1))
