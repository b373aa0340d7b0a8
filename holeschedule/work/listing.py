"""What a checklist of a build holds: its tables, gathered from drawings, intentions and record."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime

from holeschedule.audit.report import PartAudit
from holeschedule.build.intent import PartIntent, read_intent
from holeschedule.errors import RecordError, SelectionError
from holeschedule.operations import Operation
from holeschedule.record.events import Entry
from holeschedule.record.needs import PartNeeds
from holeschedule.record.ready import tool_of
from holeschedule.record.state import PartState
from holeschedule.selection import (
    HoleSelection,
    Pick,
    label_key,
    parse_selection,
    pick_holes,
)
from holeschedule.units import LengthUnit, format_length
from holeschedule.views.checklist import (
    NOT_NEEDED,
    TO_DO,
    Checklist,
    FindingRow,
    HoleRow,
    Key,
    PartList,
    ToolRow,
    findings_table,
    part_operations_table,
    progress_table,
    shorten_hash,
    tools_table,
)
from holeschedule.views.explain import explain
from holeschedule.views.joint_text import stack_findings
from holeschedule.views.text import plural
from holeschedule.work.auditing import audit_all
from holeschedule.work.in_force import revisions_in_force
from holeschedule.work.joint_listing import (
    joint_finding_rows,
    place_rows,
    rivet_rows,
)
from holeschedule.work.opened import OpenBuild
from holeschedule.work.past import Past
from holeschedule.work.showing import TOOLS
from holeschedule.work.to_come import holes_to_come


def checklist_of(opened: OpenBuild, selection: str = "") -> Checklist:
    """Gather the checklist of a build.

    Parameters
    ----------
    opened : OpenBuild
        The build.
    selection : str
        Holes or parts; empty for all.

    Raises
    ------
    HoleScheduleError
        The selection names what is not there, no drawing was brought in yet, or a drawing in
        force cannot be read.
    """
    return _Listing(opened, selection).checklist()


class _Listing:
    """What is known of a build while its checklist is being gathered."""

    def __init__(self, opened: OpenBuild, selection: str) -> None:
        self._opened = opened
        self._intent = read_intent(opened.folder)
        self._needs: Mapping[str, PartNeeds] = opened.intents.needs
        self._states = opened.record.states()
        self._chosen = _chosen(selection, self._states, self._needs)
        names = " ".join(self._chosen)
        audited = audit_all(opened, names)
        self._audits = {audit.part.name: audit for audit in audited.parts}
        self._rules = audited.rules
        chosen = {name.casefold() for name in self._chosen}
        self._joints = [
            laid
            for laid in audited.laid.values()
            if any(layer.part.casefold() in chosen for layer in laid.intent.layers)
        ]
        entries = opened.record.entries()
        places = opened.intents.places
        self._to_come = holes_to_come(audited.laid.values(), places, self._rules)
        self._past = Past(entries, self._states, self._needs)
        self._key = key_of(entries)
        self._revisions = revisions_in_force(opened.db, opened.folder.record)

    def checklist(self) -> Checklist:
        parts = tuple(self._part(name, picks) for name, picks in self._chosen.items())
        now = datetime.now().astimezone()
        unit = self._intent.units or _usual_unit(parts)
        after = f", after entry {self._key.entry} of the record" if self._key.entry else ""
        return Checklist(
            self._opened.title,
            f"{now:%Y-%m-%d %H:%M}{after}",
            self._key,
            unit,
            parts,
            progress_table([self._progress(part) for part in parts]),
            part_operations_table(list(self._part_operations())),
            findings_table(
                [
                    *(row for part in parts for row in self._findings(part)),
                    *joint_finding_rows(self._joints, self._rules, unit),
                ]
            ),
            tools_table(list(self._tools(parts))),
            tuple(self._cautions(parts)),
            tuple(place_rows(self._joints, self._opened.intents.places, self._rules, unit)),
            tuple(rivet_rows(self._joints, self._intent.spares, self._intent.stock)),
        )

    # Holes -------------------------------------------------------------------------------------

    def _part(self, name: str, picks: Sequence[Pick]) -> PartList:
        audit, revision = self._audits[name], self._revisions[name]
        intent = self._intent.part_named(name)
        unit = self._intent.units or (
            LengthUnit.MILLIMETRE if audit.part.unit.is_metric else LengthUnit.INCH
        )
        key = Key(self._key.build, self._key.entry, self._key.hash, name, revision.revision)
        facts = ", ".join(_facts(intent, audit, unit, f"{revision.drawing}"))
        rows = tuple(self._rows(name, picks, audit))
        return PartList(key, facts, unit, self._needs[name].quantity, rows)

    def _rows(self, name: str, picks: Sequence[Pick], audit: PartAudit) -> Iterator[HoleRow]:
        holes, state, needs = self._opened.record.holes(name), self._states[name], self._needs[name]
        measured = _measured(audit)
        for pick in picks:
            _, copy, label = pick
            need, hole = needs.hole(label), holes[label]
            e, ratio, verdict = measured.get(label, (None, None, ""))
            if e is None and pick in self._to_come:
                come = self._to_come[pick]
                e, ratio, verdict = come.edge_distance, come.edge_ratio, str(come.verdict)
            yield HoleRow(
                copy,
                label,
                hole.x,
                hole.y,
                hole.diameter,
                need.final_drill if need.takes_rivet else "",
                need.rivet if need.takes_rivet else "none",
                e,
                ratio,
                verdict,
                self._past.work(name, copy, label),
                _remarks(state, copy, label),
            )

    def _part_operations(self) -> Iterator[tuple[str, tuple[str, ...]]]:
        for name in self._chosen:
            quantity = self._needs[name].quantity
            for copy in sorted({pick.copy for pick in self._chosen[name]}):
                yield piece_name(name, copy, quantity), self._past.part_work(name, copy)

    # Tables ------------------------------------------------------------------------------------

    def _progress(self, part: PartList) -> tuple[str, int, int, tuple[str, ...]]:
        cells = []
        for place in range(len(Operation)):
            texts = [row.work[place] for row in part.rows if row.work[place] != NOT_NEEDED]
            done = sum(text != TO_DO for text in texts)
            cells.append(f"{done} of {len(texts)}" if texts else "")
        copies = len({row.copy for row in part.rows})
        return part.name, copies, len(part.rows) // max(copies, 1), tuple(cells)

    def _findings(self, part: PartList) -> Iterator[FindingRow]:
        shown = {row.label for row in part.rows}
        for finding in self._audits[part.name].findings:
            if finding.hole in shown:
                yield FindingRow(
                    part.name,
                    finding.hole,
                    str(finding.verdict),
                    explain(finding, part.unit),
                    finding.rule,
                    finding.source,
                )

    def _tools(self, parts: Iterable[PartList]) -> Iterator[ToolRow]:
        counted: dict[tuple[int, str], dict[str, int]] = {}
        for part in parts:
            needs = self._needs[part.name]
            for row in part.rows:
                need = needs.hole(row.label)
                for place, operation in enumerate(Operation):
                    if row.work[place] == TO_DO:
                        held = counted.setdefault((place, tool_of(operation, need)), {})
                        held[part.name] = held.get(part.name, 0) + 1
        for (place, size), by_part in sorted(counted.items()):
            what = str(tuple(Operation)[place])
            yield ToolRow(
                what, TOOLS.get(what, ""), size, sum(by_part.values()), ", ".join(by_part)
            )

    def _cautions(self, parts: Sequence[PartList]) -> Iterator[str]:
        missed = {
            part.name: sum(f.verdict.fails for f in self._audits[part.name].findings)
            for part in parts
        }
        for laid in self._joints:
            stacks = sum(1 for _ in stack_findings(laid))
            own = sum(finding.verdict.fails for finding in laid.findings(self._rules))
            missed[laid.joint.name] = own + stacks
        if any(missed.values()):
            names = ", ".join(name for name, count in missed.items() if count)
            told = plural(sum(missed.values()), "finding misses", "findings miss")
            yield f"{told} a rule, in {names}: see the sheet findings."
        for notice in self._opened.intents.notices:
            yield f"To see to: {notice}"
        for name in self._needs:
            if name not in self._states:
                yield f"{name}: its drawing is not brought in yet; it is not in this checklist."


def key_of(entries: Sequence[Entry]) -> Key:
    """What a checklist is written from: the build, and the last of its entries."""
    if not entries:
        return Key("none", 0, "none")
    first, last = entries[0], entries[-1]
    return Key(shorten_hash(first.hash), last.number, shorten_hash(last.hash))


def piece_name(part: str, copy: int, quantity: int) -> str:
    """How a copy is called: `FL-101`, or `FL-107#2` where there are several."""
    return part if quantity == 1 else f"{part}#{copy}"


def _chosen(
    selection: str, states: Mapping[str, PartState], needs: Mapping[str, PartNeeds]
) -> dict[str, list[Pick]]:
    """Holes by part, copy by copy, in shop order; parts without holes as well."""
    known = {name: states[name] for name in needs if name in states}
    if not known:
        raise RecordError("there are no parts in the record yet. Bring a drawing in with `import`.")
    labels = {name: tuple(state.numbers) for name, state in known.items()}
    quantities = {name: needs[name].quantity for name in known}
    if selection:
        picks = pick_holes(_holes_meant(selection), labels, quantities)
    else:
        picks = tuple(
            Pick(name, copy, label)
            for name in known
            for copy in range(1, quantities[name] + 1)
            for label in labels[name]
        )
    found: dict[str, list[Pick]] = {} if selection else {name: [] for name in known}
    for pick in picks:
        found.setdefault(pick.part, []).append(pick)
    for held in found.values():
        held.sort(key=lambda pick: (pick.copy, label_key(pick.label)))
    return found


def _holes_meant(selection: str) -> list[HoleSelection]:
    found = []
    for piece in parse_selection(selection):
        if not isinstance(piece, HoleSelection):
            raise SelectionError(
                f"selection {piece.text!r}: a checklist is of parts. Name parts, as in FL-101 or"
                " FL-101:C."
            )
        found.append(piece)
    return found


def _measured(audit: PartAudit) -> dict[str, tuple[float, float, str]]:
    """Edge distance [in], the same over D, and verdict of each hole by label."""
    measured = audit.measured
    ratios = measured.edge_distance / measured.shank
    return {
        hole.label: (e, ratio, str(verdict))
        for hole, e, ratio, verdict in zip(
            audit.part.holes,
            measured.edge_distance.tolist(),
            ratios.tolist(),
            audit.verdicts,
            strict=True,
        )
    }


def _remarks(state: PartState, copy: int, label: str) -> str:
    hole = state.hole(copy, label)
    said = [f"rejected: {hole.fault}"] if hole.fault is not None else []
    said += ["recorded as found"] if hole.as_found else []
    said += ["moved by a revision after work on it"] if hole.moved else []
    return ", ".join(said)


def _facts(intent: PartIntent, audit: PartAudit, unit: LengthUnit, drawing: str) -> Iterator[str]:
    yield f"drawing {drawing}"
    if intent.mirror:
        yield "made as its mirror image"
    if intent.material:
        yield intent.material
    if intent.thickness is not None:
        places = 3 if unit is LengthUnit.INCH else 2
        yield f"{format_length(intent.thickness, unit, places)} thick"
    yield f"finish {intent.finish}"
    if intent.quantity > 1:
        yield f"{intent.quantity} copies"
    yield f"rules {audit.rules.name}"
    yield "x, y from the origin of the drawing"


def _usual_unit(parts: Sequence[PartList]) -> LengthUnit:
    units = {part.unit for part in parts}
    return units.pop() if len(units) == 1 else LengthUnit.INCH
