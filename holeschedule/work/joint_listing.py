"""Joints and rivets of a build as rows of its checklist."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping

from holeschedule.audit.rules import RuleSet
from holeschedule.joints.laid import LaidJoint, Rivet
from holeschedule.joints.places import PlaceLayer
from holeschedule.joints.schedule import rivet_schedule, shopping_list
from holeschedule.model import Finding
from holeschedule.record.places import Places
from holeschedule.units import LengthUnit
from holeschedule.views.checklist import FindingRow, JointPlaceRow, RivetRow
from holeschedule.views.explain import explain
from holeschedule.views.joint_text import number_ranges, stack_findings, treatment_text

IN_ALL = "in all"
"""Stands for the joint in the rows of the totals."""


def place_rows(
    joints: Iterable[LaidJoint], places: Places, rules: RuleSet, unit: LengthUnit
) -> Iterator[JointPlaceRow]:
    """Rows of the places of joints; holes under the labels of the record.

    Parameters
    ----------
    joints : iterable of LaidJoint
        The joints.
    places : Places
        The same places as the record has them.
    rules : RuleSet
        What their holes are held against.
    unit : LengthUnit
        Of lengths in texts.
    """
    for laid in joints:
        name = laid.joint.name
        recorded = {place.number: place for place in places.joints.get(name, ())}
        layers = zip(laid.intent.layers, laid.joint.layers, strict=True)
        names = {(said.part, said.copy): layer.name for said, layer in layers}
        wrong: dict[str, list[str]] = {}
        for finding in laid.findings(rules):
            wrong.setdefault(finding.hole, []).append(str(finding.verdict))
        for rivet in laid.rivets:
            number = rivet.place.number
            picks = recorded[number].picks if number in recorded else ()
            yield JointPlaceRow(
                name,
                number,
                " + ".join(at.name for at in rivet.place.layers),
                ", ".join(f"{names[part, copy]}:{label}" for part, copy, label in picks),
                rivet.stack.grip if rivet.stack else None,
                rivet.designation,
                _treatments(rivet, unit),
                "; ".join(_remarks(name, rivet, wrong)),
            )


def _treatments(rivet: Rivet, unit: LengthUnit) -> str:
    if rivet.stack is None:
        return ""
    return ", ".join(treatment_text(layer, unit) or "plain" for layer in rivet.stack.layers)


def _remarks(joint: str, rivet: Rivet, wrong: Mapping[str, list[str]]) -> Iterator[str]:
    for at in rivet.place.layers:
        name = _finding_name(joint, rivet, at)
        yield from (f"{name} {verdict}" for verdict in wrong.get(name, ()))
        if not at.has_hole:
            yield f"match-drill {at.name}"


def _finding_name(joint: str, rivet: Rivet, at: PlaceLayer) -> str:
    return at.full_label if at.has_hole else f"{joint}:{rivet.place.number} in {at.name}"


def joint_finding_rows(
    joints: Iterable[LaidJoint], rules: RuleSet, unit: LengthUnit
) -> Iterator[FindingRow]:
    """Rows of what is wrong with joints, in words, each with its source."""
    for laid in joints:
        for finding in laid.findings(rules):
            yield _finding_row(laid.joint.name, finding, unit)
        for text, source, numbers in stack_findings(laid):
            where = f"{laid.joint.name}:{number_ranges(numbers)}"
            yield FindingRow(laid.joint.name, where, "stack", text, "stack", source)


def _finding_row(joint: str, finding: Finding, unit: LengthUnit) -> FindingRow:
    return FindingRow(
        joint,
        finding.hole,
        str(finding.verdict),
        explain(finding, unit),
        finding.rule,
        finding.source,
    )


def rivet_rows(
    joints: Iterable[LaidJoint], spares: int | None, stock: Mapping[str, int]
) -> Iterator[RivetRow]:
    """Rows of the rivet schedule: by joint, then the totals with spares, stock and what to buy.

    `spares` is a percentage, the usual one where None; `stock` is by designation.
    """
    choices = {
        laid.joint.name: [rivet.choice for rivet in laid.rivets if rivet.choice is not None]
        for laid in joints
    }
    schedule = rivet_schedule(choices, spares=spares)
    for row in schedule.rows:
        weight = _rounded(row.weight)
        yield RivetRow(row.joint, str(row.designation), row.count, weight=weight)
    bought = {shop.designation: shop for shop in shopping_list(schedule, stock)}
    for total in schedule.totals:
        shop = bought[total.designation]
        yield RivetRow(
            IN_ALL,
            str(total.designation),
            total.count,
            total.spares,
            total.needed,
            _rounded(total.weight),
            shop.stock,
            shop.to_buy,
        )


def _rounded(weight: float | None) -> float | None:
    """Pounds to what a scale tells; a handful of rivets is not nothing."""
    return None if weight is None or not math.isfinite(weight) else round(weight, 4)
