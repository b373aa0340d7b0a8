"""Refuse a drawing whose outline does not close: a missing edge would let a bad hole pass."""

from __future__ import annotations

import numpy as np

from holeschedule.drawing.layers import LayerRoles
from holeschedule.drawing.site import Site
from holeschedule.errors import DrawingError
from holeschedule.geometry.edges import BoolArray, FloatArray
from holeschedule.geometry.outline import OpenChain
from holeschedule.holes.nesting import NO_LOOP, Nesting
from holeschedule.holes.shapes import Shapes
from holeschedule.model import Role

FEWEST_EDGES = 3
"""A shorter chain round a hole is a thread mark or a centre mark, not an outline."""
NEARLY_CLOSED = 0.25
"""A chain whose ends are nearer than this share of its length was meant to close."""


def refuse_no_outline(shapes: Shapes, centres: FloatArray, site: Site) -> None:
    """Say why no hole has an outline: the open chain round most holes, or none at all.

    Raises
    ------
    DrawingError
        Always.
    """
    counts: list[int] = [int(_inside(c, shapes, centres).sum()) for c in shapes.strokes]
    if counts and max(counts):
        _refuse(shapes, shapes.strokes[int(np.argmax(counts))], site)
    x, y = centres[0].tolist()
    raise DrawingError(
        f"{site.where}: no closed line encloses the {len(centres):,} holes (the first at"
        f" {site.place(x, y)}). Draw the outline, or name its layer: --layer NAME=outline."
    )


def refuse_open_outline(
    shapes: Shapes, centres: FloatArray, nesting: Nesting, roles: LayerRoles, site: Site
) -> None:
    """Refuse an open chain that was plainly meant to close round holes of a part.

    A closed frame must not stand in for an outline with a gap in it.

    Raises
    ------
    DrawingError
        With both ends of the gap, its size, and the option that closes it.
    """
    for chain in shapes.strokes:
        stated = roles.role_of(shapes.stroke_layers[int(chain.members[0])]) is Role.OUTLINE
        if len(chain.members) < FEWEST_EDGES and not stated:
            continue
        inside = _inside(chain, shapes, centres)
        if not inside.any() and not stated:
            continue
        if stated or _is_nearly_closed(chain, shapes, nesting, inside):
            _refuse(shapes, chain, site)


def _is_nearly_closed(
    chain: OpenChain, shapes: Shapes, nesting: Nesting, inside: BoolArray
) -> bool:
    if len(chain.ends) != 2:
        return bool((nesting.owner[inside] == NO_LOOP).any())
    length = float(shapes.stroke_edges.take(chain.members).lengths().sum())
    return _gap(chain) <= NEARLY_CLOSED * length


def _gap(chain: OpenChain) -> float:
    (x0, y0), (x1, y1) = chain.ends[:2]
    return float(np.hypot(x1 - x0, y1 - y0))


def _inside(chain: OpenChain, shapes: Shapes, centres: FloatArray) -> BoolArray:
    """Which centres the chain goes round: inside its hull."""
    import shapely  # noqa: PLC0415 - only drawings with open lines ask

    edges = shapes.stroke_edges.take(chain.members)
    points = np.concatenate([edges.points_at(s) for s in (0.0, 0.25, 0.5, 0.75, 1.0)])
    hull = shapely.MultiPoint(points).convex_hull
    return np.asarray(shapely.contains_xy(hull, *centres.T))


def _refuse(shapes: Shapes, chain: OpenChain, site: Site) -> None:
    layer = shapes.stroke_layers[int(chain.members[0])]
    if len(chain.ends) == 2:
        gap = _gap(chain)
        first, last = (site.place(*end) for end in chain.ends)
        raise DrawingError(
            f"{site.where}, layer {layer}: the outline is open between {first} and {last}, a gap"
            f" of {site.length(gap)}. Close it in the drawing, or join gaps up to that size with"
            f" --gap {gap * 1.01:.2g}in; if it is no outline, --layer {layer!r}=ignored."
        )
    ends = ", ".join(site.place(*end) for end in chain.ends[:4])
    raise DrawingError(
        f"{site.where}, layer {layer}: the outline does not close: {len(chain.ends)} loose ends"
        f" ({ends}). Close it in the drawing; if it is no outline, --layer {layer!r}=ignored."
    )
