"""The joints of a build laid out: parts as drawn, placed on each other, and what comes of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from holeschedule.audit.rules import RuleSet
from holeschedule.build.intent import NO_RIVET, BuildIntent, PartIntent
from holeschedule.build.joints import JointIntent, LayerIntent
from holeschedule.errors import JointError
from holeschedule.geometry.edges import FloatArray, IntArray
from holeschedule.geometry.placement import IN_PLACE, Placement
from holeschedule.holes.part import Part
from holeschedule.joints.by_pairs import place_by_pairs
from holeschedule.joints.fasteners import choose_rivet
from holeschedule.joints.laid import LaidJoint, Rivet
from holeschedule.joints.layers import Joint, Layer
from holeschedule.joints.places import (
    Place,
    PlaceLayer,
    find_places,
    place_notices,
    place_tolerance,
)
from holeschedule.joints.stack import Sheet, stack_at
from holeschedule.joints.taper import Taper, taper_between
from holeschedule.joints.trimming import trimmed
from holeschedule.selection import label_key
from holeschedule.tables import rivet_size
from holeschedule.views.text import compact_labels
from holeschedule.work.drawn_parts import DrawnParts


class JointsLaid:
    """Lays the joints of a build, each when it is asked for."""

    def __init__(self, intent: BuildIntent, drawn: DrawnParts, rules: RuleSet) -> None:
        self._intent = intent
        self._drawn = drawn
        self._rules = rules

    def lay(self, joint: JointIntent) -> LaidJoint:
        """Lay a joint.

        Raises
        ------
        HoleScheduleError
            A part cannot be read, does not lie as is said, or is a wedge that cannot be judged.
        """
        first, *further = joint.layers
        base = self.layer(joint, first)
        layers = (base, *(self._placed(joint, layer, base) for layer in further))
        rivet = None if joint.rivet is None else rivet_size(joint.rivet)
        laid = Joint(joint.id, layers, rivet, joint.head, joint.title)
        tapers = self._tapers(joint, layers)
        places = find_places(laid)
        found = LaidJoint(
            joint,
            laid,
            tuple(self._rivet(joint, laid, place, tapers) for place in places),
            place_notices(laid, places),
            tapers,
        )
        if tapers:
            found.findings(self._rules)  # what cannot be judged is told before it is built on
        return found

    # Layers --------------------------------------------------------------------------------

    def layer(self, joint: JointIntent, layer: LayerIntent) -> Layer:
        """Make the layer of a part, lying as it is drawn.

        Raises
        ------
        HoleScheduleError
            The part cannot be read, or has none of the holes named.
        """
        intent = self._intent.part_named(layer.part)
        part = self._drawn[layer.part]
        part = trimmed(part) if layer.trimmed else part
        name = layer.part if intent.quantity == 1 else f"{layer.part}#{layer.copy}"
        return Layer(
            name,
            part,
            self._holes(joint, layer, part, intent),
            IN_PLACE,
            intent.thickness,
            layer.treatment,
        )

    def _holes(
        self, joint: JointIntent, layer: LayerIntent, part: Part, intent: PartIntent
    ) -> IntArray:
        labels = [hole.label for hole in part.holes]
        for chosen in layer.selections:
            if not any(LayerIntent("", 1, (chosen,)).takes_in(label) for label in labels):
                raise JointError(
                    f"{joint.id}: {layer.part} has no holes {chosen.text.partition(':')[2]}; it"
                    f" has {_there(labels)}. Correct holes of this layer."
                )
        found = [
            number
            for number, label in enumerate(labels)
            if layer.takes_in(label) and intent.for_hole(label).rivet != NO_RIVET
        ]
        return np.array(found, dtype=np.intp)

    def _placed(self, joint: JointIntent, intent: LayerIntent, base: Layer) -> Layer:
        layer = self.layer(joint, intent)
        if intent.shift is not None:
            return _with(layer, _drawn_at(intent, base.part, layer.part))
        pairs = [
            (hole_centre(f"{joint.id}: by", base, one), hole_centre(f"{joint.id}: by", layer, two))
            for one, two in intent.by
        ]
        on, own = (np.array(side) for side in zip(*pairs, strict=True))
        reach = place_tolerance(Joint(joint.id, (base, layer)))
        if joint.rivet is not None:
            reach = rivet_size(joint.rivet).shank_diameter / 2
        found = place_by_pairs(
            on,
            own,
            flip=intent.flip,
            turn=intent.turn,
            base=base.centres,
            part=layer.part.centres[layer.holes],
            tolerance=reach,
            names=[f"{layer.name}: {one}={two}" for one, two in intent.by],
        )
        if found.is_ambiguous and intent.flip is None:
            raise JointError(
                f"{joint.id}: {layer.name} lies as well on its other face, by {_said(intent)}: say"
                " --flip or --no-flip; in build.toml flip = true or flip = false."
            )
        return _with(layer, found.best.placement)

    # What goes in --------------------------------------------------------------------------

    def _tapers(self, joint: JointIntent, layers: Sequence[Layer]) -> dict[int, Taper]:
        found = {}
        for number, (intent, layer) in enumerate(zip(joint.layers, layers, strict=True)):
            said = self._intent.part_named(intent.part).taper
            if said:
                points = [hole_centre(f"{joint.id}: taper", layer, label) for label, _ in said]
                found[number] = taper_between(points, [thickness for _, thickness in said])
        return found

    def _rivet(
        self, joint: JointIntent, laid: Joint, place: Place, tapers: Mapping[int, Taper]
    ) -> Rivet:
        if place.rivet is None:
            return Rivet(place, None, None)
        sheets = [self._sheet(joint, laid, layer, tapers) for layer in place.layers]
        stack = stack_at(sheets, place.rivet, joint.head, joint.shop_head)
        return Rivet(place, stack, choose_rivet(stack, self._rules, rule=joint.length))

    def _sheet(
        self, joint: JointIntent, laid: Joint, at: PlaceLayer, tapers: Mapping[int, Taper]
    ) -> Sheet:
        layer = laid.layers[at.layer]
        thickness = layer.thickness
        if at.layer in tapers:
            (thickness,) = tapers[at.layer].thickness_at(np.array([at.position])).tolist()
            if thickness <= 0:
                raise JointError(
                    f"{joint.id}: {layer.name} has no thickness left at ({at.position[0]:.3f},"
                    f" {at.position[1]:.3f}) in by its taper; correct taper in build.toml."
                )
        part = self._intent.part_named(joint.layers[at.layer].part)
        said = part.for_hole(at.label).treatment if at.label else None
        return Sheet(layer.name, thickness, said or layer.treatment)


def _with(layer: Layer, placement: Placement) -> Layer:
    return Layer(layer.name, layer.part, layer.holes, placement, layer.thickness, layer.treatment)


def _said(intent: LayerIntent) -> str:
    return ", ".join(f"{one}={two}" for one, two in intent.by)


def hole_centre(said: str, layer: Layer, label: str) -> tuple[float, float]:
    """Centre [in] of a hole, in the part's own frame; `said` is what names it: `J1: by`.

    Raises
    ------
    JointError
        The part has no such hole.
    """
    for number, hole in enumerate(layer.part.holes):
        if hole.label == label:
            x, y = layer.part.centres[number].tolist()
            return x, y
    name = layer.part.name
    there = _there([hole.label for hole in layer.part.holes])
    raise JointError(f"{said} names {name}:{label}, which is not there; {name} has {there}.")


def _there(labels: Sequence[str]) -> str:
    return compact_labels(sorted(labels, key=label_key)) or "no hole"


def _drawn_at(intent: LayerIntent, base: Part, part: Part) -> Placement:
    """Placement by where the zero of one drawing lies on the other's, between the parts' frames."""
    shift = intent.shift or (0.0, 0.0)
    drawn = Placement(intent.turn or 0.0, shift, bool(intent.flip))
    to_drawing = Placement(0.0, _pair(part.zero))
    from_drawing = Placement(0.0, _pair(-base.zero))
    return to_drawing.then(drawn).then(from_drawing)


def _pair(xy: FloatArray) -> tuple[float, float]:
    x, y = xy.tolist()
    return x, y
