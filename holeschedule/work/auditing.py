"""The audit of parts of a build: rules, heads and rivets as build.toml says, labels for ever."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache

from holeschedule.audit.measure import Intent, OnPart
from holeschedule.audit.report import PartAudit, audit_part
from holeschedule.audit.rules import RuleSet, load_rule_set
from holeschedule.build.intent import NO_RIVET, HoleIntent, PartIntent, read_intent
from holeschedule.errors import BuildError, JointError
from holeschedule.holes.part import Part
from holeschedule.joints.drilled import LabelOf, MatchDrilled, match_drilled
from holeschedule.joints.laid import LaidJoint
from holeschedule.model import Head
from holeschedule.record.events import Measure
from holeschedule.selection import (
    HoleSelection,
    JointSelection,
    Selection,
    parse_selection,
    pick_parts,
)
from holeschedule.tables import rivet_size
from holeschedule.units import LengthUnit
from holeschedule.work.drawn_parts import DrawnParts
from holeschedule.work.joining import lay_joints, rules_of
from holeschedule.work.opened import OpenBuild


@dataclass(frozen=True, eq=False)
class BuildAudit:
    """The audit of parts and joints of a build. Compared by identity.

    `unlaid` says by name why a joint could not be laid. `named`: joints were asked for by name.
    `units` are those of the build, None where each drawing is shown in its own. `laid` are all
    joints that could be laid, by name; `joints` those that were asked for. `drilled` are the holes
    that match-drilling makes in the parts.
    """

    parts: tuple[PartAudit, ...]
    joints: tuple[LaidJoint, ...]
    unlaid: Mapping[str, str]
    rules: RuleSet
    named: bool = False
    units: LengthUnit | None = None
    laid: Mapping[str, LaidJoint] = field(default_factory=dict)
    drilled: tuple[MatchDrilled, ...] = ()

    def part_named(self, name: str) -> PartAudit:
        """Return the audit of a part.

        Raises
        ------
        KeyError
            It is not in this audit.
        """
        for part in self.parts:
            if part.part.name == name:
                return part
        raise KeyError(name)

    @property
    def fails(self) -> bool:
        """Whether a rule is missed anywhere."""
        joints = any(joint.fails(self.rules) for joint in self.joints)
        drilled = any(hole.verdict.fails for hole in self.drilled)
        return joints or drilled or bool(self.unlaid) or any(part.fails for part in self.parts)


def audit_all(opened: OpenBuild, selection: str, rules: str | None = None) -> BuildAudit:
    """Audit parts and joints of a build as it is drawn and intended.

    Parameters
    ----------
    opened : OpenBuild
        The build.
    selection : str
        Parts by id, joints by name; empty for all.
    rules : str, optional
        A rule set by name or path; the build's own where None.

    Raises
    ------
    HoleScheduleError
        A part or joint is not there, a drawing cannot be read, or the rule set is none.
    """
    intent = read_intent(opened.folder)
    found = load_rule_set(rules) if rules else rules_of(opened.folder, intent)
    drawn = DrawnParts(opened.folder, opened.record, opened.db, intent)
    laid, unlaid = lay_joints(drawn, intent, found)
    pieces = parse_selection(selection) if selection else ()
    parts = tuple(_chosen(intent.parts, pieces))
    said = _said_in_joints(laid)
    taken = _measured_on_parts(opened)
    audits = tuple(
        _audit(drawn[part.id], part, said.get(part.id, {}), found, taken.get(part.id))
        for part in parts
    )
    names = [piece.joint for piece in pieces if isinstance(piece, JointSelection)]
    if not (audits or names):
        raise BuildError("there are no parts in this build yet. Bring a drawing in with `import`.")
    if selection:
        unlaid = {name: why for name, why in unlaid.items() if name in names}
        joints = tuple(_joint_named(laid, name) for name in names if name not in unlaid)
    else:
        joints = tuple(laid.values())
    ids = {part.id for part in parts}
    drilled = tuple(
        hole for hole in match_drilled(laid.values(), found, _labels_at(opened)) if hole.part in ids
    )
    return BuildAudit(audits, joints, unlaid, found, bool(names), intent.units, laid, drilled)


def _labels_at(opened: OpenBuild) -> LabelOf:
    """What the record calls the holes at the places of joints."""
    labels = {
        (place.joint, place.number, pick.part, pick.copy): pick.label
        for held in opened.intents.places.joints.values()
        for place in held
        for pick in place.picks
    }
    return lambda *at: labels.get(at)


def _joint_named(laid: Mapping[str, LaidJoint], name: str) -> LaidJoint:
    if name not in laid:
        there = ", ".join(laid) or "none yet; define one with `join`"
        raise JointError(f"{name}: there is no such joint; the joints are {there}.")
    return laid[name]


def _said_in_joints(laid: Mapping[str, LaidJoint]) -> dict[str, dict[str, HoleIntent]]:
    """Head and rivet of the holes that are in joints, by part and label."""
    found: dict[str, dict[str, HoleIntent]] = {}
    for joint in laid.values():
        heads = {joint.intent.head, joint.intent.shop_head}
        head = Head.FLUSH if Head.FLUSH in heads else Head.PROTRUDING
        for place in joint.places:
            rivet = place.rivet.name if place.rivet else None
            for at in place.layers:
                if at.label:
                    part = joint.intent.layers[at.layer].part
                    found.setdefault(part, {})[at.label] = HoleIntent(None, head, rivet)
    return found


def _chosen(parts: Sequence[PartIntent], pieces: Sequence[Selection]) -> Iterable[PartIntent]:
    if not pieces:
        return parts
    wanted = [piece for piece in pieces if isinstance(piece, HoleSelection)]
    by_id = {part.id: part for part in parts}
    quantities = {part.id: part.quantity for part in parts}
    return dict.fromkeys(by_id[pick.part] for pick in pick_parts(wanted, by_id, quantities))


def _measured_on_parts(opened: OpenBuild) -> dict[str, OnPart]:
    """What was measured on the parts and still holds; of several copies the worse counts."""
    edges: dict[str, dict[str, float]] = {}
    sizes: dict[str, dict[str, float]] = {}
    for pick, values in opened.record.measures().items():
        if Measure.EDGE_DISTANCE in values:
            held = edges.setdefault(pick.part, {})
            value = values[Measure.EDGE_DISTANCE]
            held[pick.label] = min(value, held.get(pick.label, value))
        if Measure.HOLE_DIAMETER in values:
            held = sizes.setdefault(pick.part, {})
            value = values[Measure.HOLE_DIAMETER]
            held[pick.label] = max(value, held.get(pick.label, value))
    return {part: OnPart(edges.get(part, {}), sizes.get(part, {})) for part in {*edges, *sizes}}


def _audit(
    drawn: Part,
    part: PartIntent,
    in_joints: Mapping[str, HoleIntent],
    rules: RuleSet,
    on_part: OnPart | None,
) -> PartAudit:
    """The audit of a part, each hole with the head and rivet that are meant for it."""
    said = {
        hole.label: _intent(in_joints.get(hole.label) or part.for_hole(hole.label))
        for hole in drawn.holes
    }
    return audit_part(drawn, rules, said, on_part)


@cache
def _intent(said: HoleIntent) -> Intent:
    rivet = None if said.rivet in (None, NO_RIVET) else rivet_size(str(said.rivet))
    return Intent(rivet, said.head)
