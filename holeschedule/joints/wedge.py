"""Wedges that are countersunk on both faces: whether metal is left between the countersinks.

A wedge is thick at one end and thin at the other: a trailing edge, a skeg. Its drawing shows the
plane midway between its faces, and holes stand square to that plane. A countersink follows its
hole, so that its head lies at half the wedge's angle to the face: it goes in until no part of
the rim stands proud. A dimpled skin on top makes it wider and deeper still.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from holeschedule.errors import GeometryError
from holeschedule.joints.layers import Joint, Layer
from holeschedule.joints.places import Place, PlaceLayer
from holeschedule.joints.stack import countersink_depth, widening
from holeschedule.joints.taper import Taper
from holeschedule.model import Finding, Head, Quantity, Verdict
from holeschedule.operations import Treatment
from holeschedule.tables import SLACK, flush_head, rivet_of_dash, value_named


def countersink_diameter(dash: int, dimpled: float = 0.0) -> float:
    """Diameter [in] of the countersink for a flush head, wider under dimpled sheets.

    Parameters
    ----------
    dash : int
        The rivet, in 32nds.
    dimpled : float [in]
        Thickness of the dimpled sheets on top; each side is wider by t·(1/cos 50° − tan 50°).

    Returns
    -------
    float [in]

    Raises
    ------
    TableError
        No flush head is known for the rivet.

    Source
    ------
    Geometry: the far face of a dimpled sheet is its near face moved outwards by the thickness.
    """
    return flush_head(dash).diameter + 2 * widening(dimpled)


def depth_along_hole(dash: int, dimpled: float = 0.0, half_angle: float = 0.0) -> float:
    """Depth [in] of the countersink along its hole, from the face down to where the hole begins.

    Parameters
    ----------
    dash : int
        The rivet, in 32nds.
    dimpled : float [in]
        Thickness of the dimpled sheets on top.
    half_angle : float [deg]
        Between the face and the square of the hole. The face falls away to one side by
        tan(angle) times half the countersink's diameter, and the head has to go in by so much.

    Returns
    -------
    float [in]

    Raises
    ------
    TableError
        No flush head is known for the rivet.

    Source
    ------
    Geometry; on a level face as `stack.countersink_depth` has it, down to the shank.
    """
    wide = countersink_diameter(dash, dimpled)
    level = countersink_depth(wide, rivet_of_dash(dash).shank_diameter)
    return level + wide / 2 * math.tan(math.radians(half_angle))


@dataclass(frozen=True, slots=True)
class BetweenCountersinks:
    """What is left of a wedge at one place. Equality is by value.

    `name` is the hole, `FL-112A:B3`, or the place where there is none yet. `thickness` [in] is
    that of the wedge there, `head_side` and `shop_side` [in] are the depths of the countersinks
    (0 where that face has none), and `left` [in] what stays between them.
    """

    place: int
    name: str
    thickness: float
    head_side: float
    shop_side: float
    shank: float

    @property
    def left(self) -> float:
        """Metal left between the countersinks [in]; 0 or less where they meet."""
        return self.thickness - self.head_side - self.shop_side


def between_countersinks(
    joint: Joint, places: Sequence[Place], layer: int, taper: Taper
) -> tuple[BetweenCountersinks, ...]:
    """What countersinking both faces of a wedge leaves, place by place.

    A face is countersunk for the rivet itself where no layer lies on it, and for the dimple of
    the sheets that do; a sheet on it that is countersunk or plain takes the head in itself. What
    nobody has chosen is taken as dimpled.

    Parameters
    ----------
    joint : Joint
        A joint with flush heads; with protruding ones nothing is countersunk.
    places : sequence of Place
        Its places.
    layer : int
        Which layer is the wedge.
    taper : Taper
        Its thickness, in the part's own frame.

    Returns
    -------
    tuple of BetweenCountersinks
        Of the places where the wedge is; those whose rivet is not known are left out.

    Raises
    ------
    GeometryError
        A dimpled sheet on the wedge has no thickness.
    TableError
        No flush head is known for the rivet.
    """
    if joint.head is not Head.FLUSH:
        return ()
    return tuple(_all_between(joint, places, layer, taper))


def _all_between(
    joint: Joint, places: Sequence[Place], layer: int, taper: Taper
) -> Iterator[BetweenCountersinks]:
    for place in places:
        for found in place.layers:
            if found.layer == layer and place.rivet is not None:
                dash = place.rivet.dash
                outer = [joint.layers[other.layer] for other in place.layers]
                at = place.layers.index(found)
                head_side = _depth(dash, outer[:at][::-1], taper)
                shop_side = _depth(dash, outer[at + 1 :], taper)
                thickness = float(taper.thickness_at(np.array([found.position]))[0])
                name = _hole_name(joint, place, found)
                shank = place.rivet.shank_diameter
                yield BetweenCountersinks(
                    place.number, name, thickness, head_side, shop_side, shank
                )


def _hole_name(joint: Joint, place: Place, found: PlaceLayer) -> str:
    if found.has_hole:
        return found.full_label
    return f"{joint.name}:{place.number} in {found.name}"


def _depth(dash: int, sheets: Sequence[Layer], taper: Taper) -> float:
    """Depth of the countersink of one face, 0 where a sheet on it takes the head in."""
    dimpled = 0.0
    for sheet in sheets:
        if sheet.treatment not in (None, Treatment.DIMPLE):
            return 0.0
        if sheet.thickness is None:
            raise GeometryError(
                f"{sheet.name}: its thickness is not stated; the countersink under a dimpled sheet"
                " cannot be worked out without it. State it in build.toml."
            )
        dimpled += sheet.thickness
    return depth_along_hole(dash, dimpled, taper.half_angle)


def wedge_findings(
    left: Sequence[BetweenCountersinks], *, least: float | None = None
) -> tuple[Finding, ...]:
    """Places where countersinks meet, or leave less metal than the least.

    Parameters
    ----------
    left : sequence of BetweenCountersinks
        What is left at each place.
    least : float [in], optional
        The least metal; `least_metal_between_countersinks` of values.csv where it is left out.

    Returns
    -------
    tuple of Finding
        In the order given.
    """
    stated = value_named("least_metal_between_countersinks")
    limit = stated.value if least is None else least
    source = f"{stated.source}; {stated.basis}" if least is None else "as stated"
    return tuple(
        Finding(
            found.name,
            "countersink.between",
            Quantity.METAL_BETWEEN,
            limit,
            found.left,
            found.left - limit,
            Verdict.THIN if found.left > SLACK else Verdict.BREAKS_THROUGH,
            source,
            found.shank,
        )
        for found in left
        if found.left < limit - SLACK or found.left <= SLACK
    )
