"""The audit of parts of a build: rules, heads and rivets as build.toml says, labels for ever."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from holeschedule.audit.measure import Intent
from holeschedule.audit.report import PartAudit, audit_part
from holeschedule.audit.rules import RuleSet, load_rule_set, rule_set_names
from holeschedule.build.intent import NO_RIVET, HoleIntent, PartIntent, read_intent
from holeschedule.errors import BuildError, RecordError
from holeschedule.holes.identity import KnownHole, match_revision
from holeschedule.holes.part import Part
from holeschedule.holes.parts import read_parts
from holeschedule.model import Row
from holeschedule.options import read_options
from holeschedule.selection import HoleSelection, parse_selection, pick_parts
from holeschedule.tables import rivet_size
from holeschedule.work.opened import OpenBuild, revisions_in_force
from holeschedule.work.readings import read_reading

_ALIKE = 1e-6
"""Inches. What a drawing and the record of it may differ by."""


def audit_build(
    opened: OpenBuild, selection: str, rules: str | None = None
) -> tuple[list[PartAudit], RuleSet]:
    """Audit parts of a build as it is drawn and intended.

    Parameters
    ----------
    opened : OpenBuild
        The build.
    selection : str
        Parts by id; empty for all.
    rules : str, optional
        A rule set by name or path; the build's own where None.

    Raises
    ------
    HoleScheduleError
        A part is not there, its drawing cannot be read, or the rule set is none.
    """
    intent = read_intent(opened.folder)
    found = load_rule_set(rules) if rules else _own_rules(opened, intent.rules)
    in_force = revisions_in_force(opened.db, opened.folder.record)
    audits = []
    for part in _chosen(intent.parts, selection):
        if part.id not in in_force:
            raise RecordError(
                f"{part.id}: is not in the record yet. Bring its drawing in: import FILE.dxf"
                f" --part {part.id}."
            )
        drawn = _read(opened, part, in_force[part.id].drawing)
        audits.append(_audit(drawn, part, found))
    if not audits:
        raise BuildError("there are no parts in this build yet. Bring a drawing in with `import`.")
    return audits, found


def _own_rules(opened: OpenBuild, rules: str) -> RuleSet:
    is_packaged = rules.lower() in rule_set_names()
    return load_rule_set(rules if is_packaged else opened.folder.path / rules)


def _chosen(parts: Sequence[PartIntent], selection: str) -> Iterable[PartIntent]:
    if not selection:
        return parts
    wanted = [piece for piece in parse_selection(selection) if isinstance(piece, HoleSelection)]
    by_id = {part.id: part for part in parts}
    quantities = {part.id: part.quantity for part in parts}
    return dict.fromkeys(by_id[pick.part] for pick in pick_parts(wanted, by_id, quantities))


def _read(opened: OpenBuild, part: PartIntent, drawing: str) -> Part:
    """A part as drawn, its holes and rows under the labels that the record has."""
    path = opened.folder.drawings / drawing
    held = read_reading(path)
    options = {key: held.get(key) for key in ("units", "gap", "largest_hole")}
    parts = read_parts(path, read_options({**options, "layers": held.get("layers", ())}))
    if part.number > len(parts):
        raise BuildError(
            f"{part.id}: number is {part.number} in build.toml, and {drawing} shows"
            f" {len(parts)} parts. Correct it."
        )
    read = parts[part.number - 1]
    known = [
        KnownHole(hole.label, hole.x, hole.y, hole.diameter)
        for hole in opened.record.holes(part.id).values()
        if hole.diameter is not None
    ]
    state = opened.record.states(part.id)[part.id]
    labels = {hole.label for hole in read.holes}
    if labels == {hole.label for hole in known} and _lie_alike(read, known):
        return replace(read, name=part.id)
    return _relabelled(
        replace(read, name=part.id),
        match_revision(known, state.retired, read.holes, read.rows).labels,
    )


def _lie_alike(read: Part, known: Iterable[KnownHole]) -> bool:
    """Whether each hole lies where the record has the hole of that label."""
    places = {hole.label: (hole.x, hole.y) for hole in read.holes}
    return all(
        max(abs(places[hole.label][0] - hole.x), abs(places[hole.label][1] - hole.y)) < _ALIKE
        for hole in known
    )


def _relabelled(part: Part, labels: Sequence[str]) -> Part:
    holes = tuple(
        replace(hole, label=label) for hole, label in zip(part.holes, labels, strict=True)
    )
    return replace(part, holes=holes, rows=tuple(_renamed(row, labels) for row in part.rows))


def _renamed(row: Row, labels: Sequence[str]) -> Row:
    letters = [labels[place].rstrip("0123456789") for place in row.places]
    return replace(row, letter=max(letters, key=letters.count))


def _audit(drawn: Part, part: PartIntent, rules: RuleSet) -> PartAudit:
    """The audit of a part; where its holes are meant in different ways, each way's own findings."""
    ways: dict[tuple[object, object], list[str]] = {}
    for hole in drawn.holes:
        said = part.for_hole(hole.label)
        ways.setdefault((said.head, said.rivet), []).append(hole.label)
    audits = {
        way: audit_part(drawn, rules, _intent(part.for_hole(holes[0])))
        for way, holes in ways.items()
    }
    if len(audits) == 1:
        return next(iter(audits.values()))
    return _joined(audits, ways)


def _joined(
    audits: dict[tuple[object, object], PartAudit], ways: dict[tuple[object, object], list[str]]
) -> PartAudit:
    """One audit of several, each of which counts for its own holes."""
    usual = audits[max(ways, key=lambda way: len(ways[way]))]
    order = {hole.label: place for place, hole in enumerate(usual.part.holes)}
    verdicts = list(usual.verdicts)
    findings = []
    for way, audit in audits.items():
        own = set(ways[way])
        findings += [finding for finding in audit.findings if finding.hole in own]
        for label in own:
            verdicts[order[label]] = audit.verdicts[order[label]]
    findings.sort(key=lambda f: (-f.verdict.severity, f.margin / f.diameter, order[f.hole]))
    return replace(usual, findings=tuple(findings), verdicts=tuple(verdicts))


def _intent(said: HoleIntent) -> Intent:
    rivet = None if said.rivet in (None, NO_RIVET) else rivet_size(str(said.rivet))
    return Intent(rivet, said.head)
