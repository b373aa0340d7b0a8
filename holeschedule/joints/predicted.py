"""Holes that match-drilling will make: audited before the drill has made them.

A layer that covers a place without a hole is drilled through the hole that guides. Where the hole
comes out is known, and so are its edge distance and spacing: the rules are held against them now,
and against what a layer that lies a little off would make of them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from holeschedule.audit.checks import (
    check_edge_distance,
    check_outside,
    check_spacing,
    edge_rules,
    spacing_limits,
)
from holeschedule.audit.measure import Measured, measure_part
from holeschedule.audit.rules import RuleSet
from holeschedule.geometry.edges import FloatArray
from holeschedule.holes.part import Part
from holeschedule.joints.coverage import in_metal, metal_distances
from holeschedule.joints.layers import Joint, Layer
from holeschedule.joints.misalignment import legal_share
from holeschedule.joints.offsets import final_offset_limit, pilot_offset_limit
from holeschedule.joints.places import Place, PlaceLayer, Point
from holeschedule.joints.room import Room
from holeschedule.joints.shifts import least_shift
from holeschedule.model import Finding, Head, Hole, HoleSize, Verdict
from holeschedule.tables import SLACK
from holeschedule.units import LengthUnit

_DRAWN_AS = "match-drilled"
_WORDS_PLACES = {LengthUnit.INCH: 3, LengthUnit.MILLIMETRE: 2}
_OFF_METAL = (Verdict.BREAKS_OUT, Verdict.OUTSIDE)


@dataclass(frozen=True, slots=True)
class DrilledHole:
    """One hole that match-drilling will make. Equality is by value.

    `name` is `J13:4 in FL-111`. `position` [in] is in the part's own frame, `diameter` [in] that
    of the final drill. `edge_distance` [in] is negative outside the metal, `edge_limit` [in] the
    least one, `worst_edge_distance` [in] what is left if the layer lies off by the whole
    alignment tolerance. `nearest` is None for a lone hole and `nearest_distance` [in] endless.
    `legal_share` is the share of misalignments within the tolerance that miss no limit to an edge
    or to a hole that is there already.
    """

    place: int
    name: str
    position: Point
    diameter: float
    edge_distance: float
    edge: str
    edge_limit: float
    worst_edge_distance: float
    nearest: str | None
    nearest_distance: float
    legal_share: float


@dataclass(frozen=True, slots=True)
class Cure:
    """The least shift of a layer that leaves none of its holes short. Equality is by value.

    `shift` [in] is how the layer moves as its part is drawn, `in_joint` [in] the same in the
    frame of the first layer. `spoils` are holes it has already and that would then be too far
    from their places to clean up.
    """

    shift: Point
    in_joint: Point
    spoils: tuple[str, ...] = ()

    @property
    def amount(self) -> float:
        """How far the layer moves [in]."""
        return math.hypot(*self.shift)


@dataclass(frozen=True, eq=False)
class Drilling:
    """What match-drilling makes of one layer. Compared by identity.

    `tolerance` [in] is the alignment tolerance. `findings` are in the order of the places.
    `cure` is None where nothing is short, or where no shift helps.
    """

    layer: int
    name: str
    tolerance: float
    holes: tuple[DrilledHole, ...]
    findings: tuple[Finding, ...]
    cure: Cure | None

    @property
    def fails(self) -> bool:
        """Whether a rule is missed."""
        return any(finding.verdict.fails for finding in self.findings)


def predict_drilling(
    joint: Joint,
    places: Sequence[Place],
    rules: RuleSet,
    *,
    alignment_tolerance: float | None = None,
) -> tuple[Drilling, ...]:
    """Audit the holes that match-drilling the joint will make, layer by layer.

    Every layer is under the joint's head: with flush rivets each of them has to keep the edge
    distance for flush heads. The part's own holes of this joint count at their final size.

    Parameters
    ----------
    joint : Joint
        The joint.
    places : sequence of Place
        All its places.
    rules : RuleSet
        The limits.
    alignment_tolerance : float [in], optional
        How far a layer may lie off while it is drilled; the layout tolerance of the rules where
        it is left out.

    Returns
    -------
    tuple of Drilling
        Of the layers that are match-drilled anywhere.
    """
    tolerance = rules.layout_tolerance if alignment_tolerance is None else alignment_tolerance
    found = [_drilling(joint, n, places, rules, tolerance) for n in range(len(joint.layers))]
    return tuple(drilling for drilling in found if drilling.holes)


def shift_words(shift: Point, unit: LengthUnit = LengthUnit.INCH) -> str:
    """A shift in words, each way rounded up to what can be set out.

    Parameters
    ----------
    shift : (x, y) [in]
        As the part is drawn.
    unit : LengthUnit
        What to tell it in.

    Examples
    --------
    >>> shift_words((0.0375, 0.0))
    '0.038 in to the right'
    """
    places = _WORDS_PLACES[unit]
    ways = (("to the right", "to the left"), ("up", "down"))
    told = []
    for amount, (plus, minus) in zip(shift, ways, strict=True):
        up = math.ceil(unit.from_inches(abs(amount)) * 10**places - 1e-6) / 10**places
        if up > 0:
            told.append(f"{up:.{places}f} {unit} {plus if amount > 0 else minus}")
    return " and ".join(told) or "not at all"


def drilling_words(drilling: Drilling, unit: LengthUnit = LengthUnit.INCH) -> str | None:
    """What can be done about the short holes of a layer, as a sentence; None if none is short."""
    if not drilling.fails:
        return None
    if drilling.cure is None:
        return f"{drilling.name}: no shift leaves every hole legal."
    cure = drilling.cure
    words = shift_words(cure.shift, unit)
    text = f"{drilling.name} moved {words}, as it is drawn, leaves no hole short"
    if cure.spoils:
        there = ", ".join(cure.spoils)
        return f"{text}; but {there}, drilled already, would then not clean up."
    return f"{text}."


# One layer -------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Work:
    """A layer, the part as it will be, and where its new holes begin among that part's holes."""

    joint: Joint
    number: int
    places: list[Place]
    measured: Measured
    rules: RuleSet

    @property
    def layer(self) -> Layer:
        return self.joint.layers[self.number]

    @property
    def first(self) -> int:
        return len(self.layer.part.holes)

    def room(self) -> Room:
        """The limits of the new holes."""
        limits = np.zeros(len(self.measured.part.holes))
        for _, limit, holes in edge_rules(self.measured, self.rules):
            limits[holes] = limit
        spacing, _ = spacing_limits(self.measured, self.rules)
        new, old = slice(self.first, None), slice(self.first)
        return Room(
            self.layer.part,
            self.measured.part.centres[new],
            np.maximum(limits[new], self.measured.diameter[new] / 2),
            self.measured.part.centres[old],
            np.maximum(spacing[new, None], spacing[None, old]),
        )


def _drilling(
    joint: Joint, number: int, places: Sequence[Place], rules: RuleSet, tolerance: float
) -> Drilling:
    name = joint.layers[number].name
    chosen = [place for place in places if any(d.layer == number for d in place.to_drill)]
    if not chosen:
        return Drilling(number, name, tolerance, (), (), None)
    work = _Work(joint, number, chosen, _measured(joint, number, places, chosen), rules)
    findings = _findings(work)
    room = work.room()
    cure = None
    if any(finding.verdict.fails for finding in findings):
        cure = _cure(work, room, places, findings)
    return Drilling(number, name, tolerance, _holes(work, room, tolerance), findings, cure)


def _measured(joint: Joint, number: int, places: Sequence[Place], chosen: list[Place]) -> Measured:
    layer = joint.layers[number]
    measured = measure_part(_drilled_part(joint, number, places, chosen))
    flush = measured.flush.copy()
    flush[len(layer.part.holes) :] = joint.head is Head.FLUSH
    return replace(measured, flush=flush)


def _drilled_part(joint: Joint, number: int, places: Sequence[Place], chosen: list[Place]) -> Part:
    """The part with the new holes behind its own; all are named as findings of a joint are."""
    layer = joint.layers[number]
    part = layer.part
    final = {
        found.hole: place.final_diameter
        for place in places
        for found in place.layers
        if found.layer == number and found.has_hole
    }
    own = [
        replace(
            hole,
            label=f"{layer.name}:{hole.label}",
            diameter=max(hole.diameter, final.get(i, 0.0)),
        )
        for i, hole in enumerate(part.holes)
    ]
    spots = np.array([_at(place, number).position for place in chosen])
    drawn = spots + part.zero
    new = [
        Hole(_name(joint, place, layer), x, y, place.final_diameter, "", _DRAWN_AS)
        for place, (x, y) in zip(chosen, drawn.tolist(), strict=True)
    ]
    return replace(
        part,
        holes=(*own, *new),
        centres=np.concatenate((part.centres, spots)),
        in_metal=np.concatenate((part.in_metal, in_metal(part, spots))),
    )


def _at(place: Place, number: int) -> PlaceLayer:
    return next(layer for layer in place.layers if layer.layer == number)


def _name(joint: Joint, place: Place, layer: Layer) -> str:
    return f"{joint.name}:{place.number} in {layer.name}"


def _findings(work: _Work) -> tuple[Finding, ...]:
    """What the rules say of the new holes: off the metal, edge distance, spacing."""
    new = {hole.label: i for i, hole in enumerate(work.measured.part.holes[work.first :])}
    off = check_outside(work.measured, work.rules)
    off_metal = {finding.hole for finding in off}
    edge = check_edge_distance(work.measured, work.rules)
    found = [
        *off,
        *(finding for finding in edge if finding.hole not in off_metal),
        *check_spacing(work.measured, work.rules),
    ]
    mine = [_new_first(f, new) for f in found if f.hole in new or f.other in new]
    return tuple(sorted(mine, key=lambda finding: new[finding.hole]))


def _new_first(finding: Finding, new: dict[str, int]) -> Finding:
    """The hole to be drilled is the one the finding is about."""
    if finding.hole in new or finding.other is None:
        return finding
    return replace(finding, hole=finding.other, other=finding.hole)


def _holes(work: _Work, room: Room, tolerance: float) -> tuple[DrilledHole, ...]:
    measured = work.measured
    margins = room.margins(np.zeros(2))
    holes = []
    for i, place in enumerate(work.places):
        at = work.first + i
        edge = float(measured.edge_distance[at])
        nearest = int(measured.nearest[at])
        holes.append(
            DrilledHole(
                place.number,
                measured.part.holes[at].label,
                _at(place, work.number).position,
                float(measured.diameter[at]),
                edge,
                measured.part.edge_name(int(measured.edge_index[at])),
                float(room.edge_limits[i]),
                edge - tolerance,
                measured.part.holes[nearest].label if nearest >= 0 else None,
                float(measured.nearest_distance[at]),
                _share(room, i, float(margins[i]), tolerance),
            )
        )
    return tuple(holes)


def _share(room: Room, hole: int, margin: float, tolerance: float) -> float:
    """A margin beyond the tolerance settles it: a distance changes no faster than the shift."""
    if abs(margin) >= tolerance:
        return float(margin >= -SLACK)
    return legal_share(lambda shifts: room.margins_of(hole, shifts, tolerance), tolerance)


# The shift that cures --------------------------------------------------------------------------


def _cure(
    work: _Work, room: Room, places: Sequence[Place], findings: tuple[Finding, ...]
) -> Cure | None:
    """The least shift, if the holes are not too close to each other and it drills no new place."""
    new = {hole.label for hole in work.measured.part.holes[work.first :]}
    if any(f.verdict.fails and f.hole in new and f.other in new for f in findings):
        return None
    most = float(room.edge_limits.max() + work.measured.diameter[work.first :].max())
    near = np.flatnonzero(room.margins(np.zeros(2)) <= 2 * most)
    moved = least_shift(room.take(near), most)
    if moved is None or _covers_more(work, places, moved):
        return None
    # the holes stay where the guide is: the part moves the other way under them
    shift = 0.0 - moved
    in_joint = work.layer.placement.matrix @ shift
    return Cure(_pair(shift), _pair(in_joint), _spoilt(work, places, in_joint))


def _covers_more(work: _Work, places: Sequence[Place], moved: FloatArray) -> bool:
    """Whether the layer would come under a place that it does not reach now."""
    absent = [p for p in places if all(found.layer != work.number for found in p.layers)]
    if not absent:
        return False
    at = work.layer.placement.inverse().move(np.array([place.at for place in absent]))
    radius = np.array([place.final_diameter / 2 for place in absent])
    distance, _ = metal_distances(work.layer.part, at + moved)
    return bool((distance > -radius + SLACK).any())


def _spoilt(work: _Work, places: Sequence[Place], shift: FloatArray) -> tuple[str, ...]:
    """Holes of the layer that would not clean up any more after a shift (2,) [in]."""
    spoilt = []
    for place in places:
        for own in place.layers:
            others = [o for o in place.layers if o.has_hole and o.layer != own.layer]
            if own.layer != work.number or not own.has_hole or not others:
                continue
            other = place.guide_layer if own != place.guide_layer else others[0]
            offset = np.subtract(own.offset, other.offset) + shift
            if math.hypot(*offset) > _offset_limit(place, own, other) + SLACK:
                spoilt.append(own.full_label)
    return tuple(spoilt)


def _offset_limit(place: Place, own: PlaceLayer, other: PlaceLayer) -> float:
    one, two = own.diameter or 0.0, other.diameter or 0.0
    if place.rivet is not None and own.size is other.size is HoleSize.FINAL:
        return final_offset_limit(one, two, place.rivet.shank_diameter)
    return pilot_offset_limit(min(one, two), place.final_diameter)


def _pair(xy: FloatArray) -> Point:
    x, y = (xy + 0.0).tolist()
    return x, y
