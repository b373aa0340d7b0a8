"""Why a drawing has no hole: one line that says what was found instead, and what to do."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from holeschedule.drawing.site import Site
from holeschedule.errors import DrawingError
from holeschedule.holes.find import Circles, SortedCircles
from holeschedule.holes.telling import smallest_drill_told
from holeschedule.model import Notice

TOLD = 3
"""Notices that may say where the holes went."""

_LEFT_OUT = frozenset((
    "block.flat",
    "block.missing",
    "block.stretched",
    "circle.on-line-layer",
    "entity.invisible",
    "entity.not-flat",
    "entity.not-read",
    "layer.hidden",
    "layer.ignored",
    "point.left-out",
))  # fmt: skip
"""Codes of notices that may tell of a hole that was not taken."""

MARGIN = 1.01
"""How much more than the smallest circle is advised, so that rounding takes nothing away."""


def no_holes(
    circles: Circles,
    kinds: SortedCircles,
    largest_hole: float,
    site: Site,
    notices: Sequence[Notice],
) -> DrawingError:
    """Say why there is no hole.

    Parameters
    ----------
    circles, kinds : Circles, SortedCircles
        Every circle of the drawing [in], none of them a hole.
    largest_hole : float [in]
        Larger circles are cutouts.
    site : Site
        The drawing.
    notices : sequence of Notice
        What was told of the drawing so far.
    """
    if not len(circles):
        return DrawingError(
            f"{site.where}: no circle, so no hole, in the model space{_left_out(notices)}."
            " Is it the right sheet, and are its layers switched on?"
        )
    larger = np.delete(circles.diameter, kinds.tiny)
    if not len(larger):
        size, what = _extreme(circles.diameter.max(), len(circles), "largest", site)
        return DrawingError(
            f"{site.where}: no hole: {what} has a diameter of {size}, less than"
            f" {smallest_drill_told(site)}. Say --units in or --units mm if the unit is wrong."
        )
    plain = circles.diameter[kinds.large[~circles.forced[kinds.large]]]
    if not len(plain):
        return DrawingError(
            f"{site.where}: no hole: every circle is on a layer of cutouts. If its circles are"
            " holes, give that layer another role: --layer NAME=holes."
        )
    smallest = float(plain.min())
    size, what = _extreme(smallest, len(plain), "smallest", site)
    return DrawingError(
        f"{site.where}: no hole: {what} has a diameter of {size}, more than the largest hole,"
        f" {site.length(largest_hole)}. If it is a hole, say --largest-hole"
        f" {_advised(smallest, site)}; if the unit is wrong, --units in or --units mm."
    )


def _extreme(diameter: float, count: int, which: str, site: Site) -> tuple[str, str]:
    what = "the only circle" if count == 1 else f"the {which} of {count:,} circles"
    return site.length(diameter), what


def _advised(smallest: float, site: Site) -> str:
    """A length that `--largest-hole` takes, in the kind of unit the drawing has."""
    unit = site.unit.shown
    return f"{unit.from_inches(smallest * MARGIN):.3g}{unit}"


def _left_out(notices: Sequence[Notice]) -> str:
    told = [notice.text for notice in notices if notice.code in _LEFT_OUT][:TOLD]
    return f" ({'; '.join(told)})" if told else ""
