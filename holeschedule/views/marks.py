"""Marks of holes: a shape, a fill and a colour for each state and each verdict, and their words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

import numpy as np

from holeschedule.geometry.edges import (
    Edges,
    FloatArray,
    arc_edges,
    join_edges,
    line_edges,
    polygon_edges,
)
from holeschedule.views.page import Circles, Item, Path

LEAST = 3.0 / 72.0
"""Inches on the paper: radius of a mark, however small its hole is drawn."""
_ROUND_HOLE = 1.65
"""Radii of the hole that its mark has …"""
_OF_SPACING = 0.45
"""… but no more than this share of the way to the next hole."""


class Mark(StrEnum):
    """What a picture says of a hole; the value is what the legend calls it."""

    UNDRILLED = "not drilled yet"
    PILOT = "pilot"
    MATCH_DRILLED = "at final size"
    DEBURRED = "deburred"
    DIMPLED = "dimpled"
    COUNTERSUNK = "countersunk"
    RIVETED = "riveted"
    FINISHED = "finished, takes no rivet"
    REJECTED = "rejected"
    OK = "ok"
    TIGHT = "tight"
    CLOSE = "close"
    SHORT = "short"
    OVERSIZE = "oversize"
    BREAKS_OUT = "breaks out"
    OUTSIDE = "outside"


@dataclass(frozen=True, slots=True)
class _Look:
    """Shapes under the hole, each with its style, and the style of the hole; None: no hole."""

    under: tuple[tuple[str, str], ...]
    hole: str | None = "hole"


_LOOKS = MappingProxyType(
    {
        Mark.UNDRILLED: _Look((("plus", "cross"),), None),
        Mark.PILOT: _Look((("circle", "pilot"),)),
        Mark.MATCH_DRILLED: _Look(()),
        Mark.DEBURRED: _Look((("circle", "deburred"), ("left half", "deburred fill"))),
        Mark.DIMPLED: _Look((("point down", "dimpled"),)),
        Mark.COUNTERSUNK: _Look((("square", "countersunk"), ("half square", "countersunk fill"))),
        Mark.RIVETED: _Look((("circle", "riveted"),), "in riveted"),
        Mark.FINISHED: _Look((("circle", "finished"),), "in finished"),
        Mark.REJECTED: _Look((("saltire", "trouble line"), ("ring", "trouble line"))),
        Mark.OK: _Look(()),
        Mark.TIGHT: _Look((("circle", "tight"), ("low half", "tight fill"))),
        Mark.CLOSE: _Look((("diamond", "trouble open"),)),
        Mark.SHORT: _Look((("point up", "trouble"),)),
        Mark.OVERSIZE: _Look((("square", "trouble open"),)),
        Mark.BREAKS_OUT: _Look((("square", "trouble"),)),
        Mark.OUTSIDE: _Look((("saltire", "trouble line"),)),
    }
)


def mark_radii(holes: FloatArray, spacing: FloatArray) -> FloatArray:
    """(n,) array [in on the paper]: how large the mark of each hole is.

    `holes` are the radii of the holes and `spacing` the distances to the next one, on the paper.
    """
    wanted = np.maximum(holes * _ROUND_HOLE, LEAST)
    least = np.maximum(holes, 0.1 * LEAST)
    return np.maximum(np.minimum(wanted, _OF_SPACING * spacing), least)


def mark_reach(mark: Mark, sizes: FloatArray, holes: FloatArray) -> FloatArray:
    """(n,) array [in on the paper]: how far what is drawn of some holes reaches from the centre.

    `sizes` and `holes` are the radii of the marks and of the holes.
    """
    under = _LOOKS[mark].under
    if not under:
        return holes
    most = max(1.0 if shape == "circle" else _extent(_SHAPES[shape]) for shape, _ in under)
    return np.maximum(sizes * most, holes)


def _extent(shape: Edges) -> float:
    return float(np.hypot(*shape.start.T).max())


def mark_items(
    mark: Mark,
    centres: FloatArray,
    sizes: FloatArray,
    holes: FloatArray,
    says: tuple[str, ...] = (),
) -> list[Item]:
    """What draws `mark` at each of some holes.

    Parameters
    ----------
    mark : Mark
        The same for all.
    centres : (n, 2) array [in on the paper]
        Of the holes.
    sizes, holes : (n,) arrays [in on the paper]
        Radii of the marks, and of the holes, which are drawn to scale.
    says : tuple of str
        What is told of each hole.
    """
    look = _LOOKS[mark]
    items: list[Item] = []
    for shape, style in look.under:
        if shape == "circle":
            items.append(Circles(centres, sizes, style))
        else:
            items.append(Path(_repeated(_SHAPES[shape], centres, sizes), style))
    if look.hole is not None:
        items.append(Circles(centres, holes, look.hole, says))
    return items


def _repeated(shape: Edges, centres: FloatArray, sizes: FloatArray) -> Edges:
    """A shape round zero, drawn at each centre in each size."""
    n, count = len(sizes), len(shape)
    scale = np.repeat(sizes, count)[:, None]
    at = np.repeat(centres, count, axis=0)
    points = [np.tile(p, (n, 1)) * scale + at for p in (shape.start, shape.end, shape.centre)]
    radius = np.tile(shape.radius, n) * scale[:, 0]
    return Edges(points[0], points[1], points[2], radius, np.tile(shape.sweep, n))


def _polygon(*corners: tuple[float, float]) -> Edges:
    return polygon_edges(np.array(corners))


def _strokes(*lines: tuple[float, float, float, float]) -> Edges:
    ends = np.array(lines)
    return line_edges(ends[:, :2], ends[:, 2:])


def _arc(first: float, sweep: float, radius: float = 1.0) -> Edges:
    one = np.array([radius])
    return arc_edges(np.zeros((1, 2)), one, np.array([first]), np.array([sweep]))


def _half(first: float) -> Edges:
    arc = _arc(first, math.pi)
    return join_edges([arc, line_edges(arc.end, arc.start)])


_S, _P, _D = 0.95, 1.45, 1.3
_SHAPES = MappingProxyType(
    {
        "plus": _strokes((-1, 0, 1, 0), (0, -1, 0, 1)),
        "saltire": _strokes((-1.2, -1.2, 1.2, 1.2), (-1.2, 1.2, 1.2, -1.2)),
        "ring": _arc(0.0, 2 * math.pi, 1.25),
        "left half": _half(math.pi / 2),
        "low half": _half(math.pi),
        "square": _polygon((-_S, -_S), (_S, -_S), (_S, _S), (-_S, _S)),
        "half square": _polygon((-_S, -_S), (_S, -_S), (-_S, _S)),
        "diamond": _polygon((0, -_D), (_D, 0), (0, _D), (-_D, 0)),
        "point up": _polygon(
            *((_P * math.cos(a), _P * math.sin(a)) for a in np.radians((90, 210, 330)))
        ),
        "point down": _polygon(
            *((_P * math.cos(a), _P * math.sin(a)) for a in np.radians((270, 30, 150)))
        ),
    }
)
"""Shapes round zero for a mark of radius 1."""
