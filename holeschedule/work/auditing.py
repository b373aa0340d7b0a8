"""The audit of parts of a build: rules, heads and rivets as build.toml says, labels for ever."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from holeschedule.audit.measure import Intent
from holeschedule.audit.report import PartAudit, audit_part
from holeschedule.audit.rules import RuleSet, load_rule_set, rule_set_names
from holeschedule.build.intent import NO_RIVET, HoleIntent, PartIntent, read_intent
from holeschedule.errors import BuildError
from holeschedule.holes.part import Part
from holeschedule.selection import HoleSelection, parse_selection, pick_parts
from holeschedule.tables import rivet_size
from holeschedule.work.drawn_parts import DrawnParts
from holeschedule.work.opened import OpenBuild


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
    drawn = DrawnParts(opened.folder, opened.record, opened.db, intent)
    audits = [_audit(drawn[part.id], part, found) for part in _chosen(intent.parts, selection)]
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
