"""What pictures are drawn from: a part of a build or of a bare drawing, and marks of its holes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date
from itertools import groupby
from pathlib import Path
from typing import NamedTuple

import numpy as np

from holeschedule.audit.files import AuditRequest, audit_file
from holeschedule.audit.report import PartAudit
from holeschedule.build.intent import BuildIntent, PartIntent, read_intent
from holeschedule.errors import DrawingError, SelectionError
from holeschedule.geometry.edges import FloatArray
from holeschedule.holes.labels import SINGLE
from holeschedule.holes.part import Part
from holeschedule.model import Hole, Row
from holeschedule.operations import Operation
from holeschedule.record.drawn import HoleChange
from holeschedule.record.needs import PartNeeds, facts_of
from holeschedule.record.ready import tool_of
from holeschedule.record.routes import Stage, operations_left, route
from holeschedule.record.state import PartState
from holeschedule.selection import HoleSelection, label_key, parse_selection, pick_parts
from holeschedule.tables import rivet_size, rivet_sizes
from holeschedule.units import PLACES, LengthUnit, format_length
from holeschedule.views.callouts import Callout
from holeschedule.views.frame import TitleBlock
from holeschedule.views.marks import Mark
from holeschedule.views.part_picture import PartView
from holeschedule.views.shop_sheet import CheckLine, Tick
from holeschedule.work.auditing import BuildAudit, audit_all
from holeschedule.work.in_force import revisions_in_force
from holeschedule.work.opened import OpenBuild
from holeschedule.work.to_come import HoleToCome, holes_to_come

STAGE_MARKS = {
    Stage.UNDRILLED: Mark.UNDRILLED,
    Stage.PILOT: Mark.PILOT,
    Stage.MATCH_DRILLED: Mark.MATCH_DRILLED,
    Stage.DEBURRED: Mark.DEBURRED,
    Stage.DIMPLED: Mark.DIMPLED,
    Stage.COUNTERSUNK: Mark.COUNTERSUNK,
    Stage.RIVETED: Mark.RIVETED,
}


class Copy(NamedTuple):
    """One copy of a part of a build, as a selection names it. Equality is by value."""

    part: PartIntent
    number: int

    @property
    def name(self) -> str:
        """`FL-107`, or `FL-107#2` where there are several copies."""
        return f"{self.part.id}#{self.number}" if self.part.quantity > 1 else self.part.id


def copy_named(intent: BuildIntent, text: str, number: int | None = None) -> Copy:
    """Find the copy of a part that a selection names: `FL-101`, `FL-107#2`; the first of several.

    Parameters
    ----------
    intent : BuildIntent
        The build.
    text : str
        The selection.
    number : int, optional
        The copy, where the selection does not say.

    Raises
    ------
    SelectionError
        The selection is none, names holes or several parts, or a copy that is not there.
    """
    written = text if number is None else f"{text}#{number}"
    wanted = [piece for piece in parse_selection(written) if isinstance(piece, HoleSelection)]
    by_id = {part.id: part for part in intent.parts}
    picks = pick_parts(wanted, by_id, {part.id: part.quantity for part in intent.parts})
    if not picks or len({pick.part for pick in picks}) > 1:
        raise SelectionError(f"selection {text!r}: one part is meant; write FL-101 or FL-107#2.")
    return Copy(by_id[picks[0].part], picks[0].copy)


# A part of a build -----------------------------------------------------------------------------


def part_view(
    opened: OpenBuild,
    copy: Copy,
    today: date,
    *,
    verdicts: bool = False,
    flip: bool = False,
    audited: BuildAudit | None = None,
) -> PartView:
    """The view of one copy of a part: what was done to its holes, or how they stand to the rules.

    `audited` is an audit in which the part is, where there is one already.

    Raises
    ------
    HoleScheduleError
        The part is not in the record, or its drawing or rule set cannot be read.
    """
    found = audited or audit_all(opened, copy.part.id)
    audit, rules = found.part_named(copy.part.id), found.rules
    unit = read_intent(opened.folder).units or drawn_unit(audit.part)
    state = opened.record.states(copy.part.id)[copy.part.id]
    need = opened.intents.needs[copy.part.id]
    part = with_holes_to_come(audit.part, opened.record.holes(copy.part.id), need)
    facts = (*_facts_of_copy(opened, copy, unit), *_facts_of_holes(part, rules.name, today))
    block = TitleBlock(copy.name, opened.title, facts)
    to_come = _to_come(opened, copy, found)
    findings = (*audit.findings, *(f for hole in to_come.values() for f in hole.findings))
    marks = hole_marks(part, state, need, copy.number)
    if verdicts:
        late = [
            mark if mark is Mark.UNDRILLED else _verdict_mark(to_come.get(hole.label))
            for hole, mark in list(zip(part.holes, marks, strict=True))[len(audit.verdicts) :]
        ]
        view = _verdict_view(audit, block, unit, part, late)
        return replace(view, findings=findings, is_mirrored=copy.part.mirror, is_flipped=flip)
    return PartView(
        part,
        block,
        marks,
        _says(part, marks, unit),
        unit,
        tuple(finding for finding in findings if finding.verdict.fails),
        tuple(_rejected(state, copy.number)),
        is_mirrored=copy.part.mirror,
        is_flipped=flip,
    )


def _to_come(opened: OpenBuild, copy: Copy, audited: BuildAudit) -> dict[str, HoleToCome]:
    """What match-drilling makes of holes of a copy, by label."""
    found = holes_to_come(audited.laid.values(), opened.intents.places, audited.rules)
    own = (copy.part.id, copy.number)
    return {pick.label: hole for pick, hole in found.items() if (pick.part, pick.copy) == own}


def _verdict_mark(hole: HoleToCome | None) -> Mark:
    return Mark.OK if hole is None else Mark(str(hole.verdict))


def with_holes_to_come(part: Part, recorded: Mapping[str, HoleChange], need: PartNeeds) -> Part:
    """Make a part with the holes that match-drilling will make, where the record has them.

    Parameters
    ----------
    part : Part
        As drawn.
    recorded : mapping
        Holes by label, as the record has them; those to come without a diameter.
    need : PartNeeds
        Tells the rivets, and so how large those holes will be.
    """
    to_come = [hole for hole in recorded.values() if hole.diameter is None]
    if not to_come:
        return part
    holes = [
        Hole(hole.label, hole.x, hole.y, _final_diameter(need.hole(hole.label).rivet), "", "")
        for hole in sorted(to_come, key=lambda hole: label_key(hole.label))
    ]
    places = np.array([(hole.x, hole.y) for hole in holes]) - part.zero
    return replace(
        part,
        holes=(*part.holes, *holes),
        centres=np.concatenate((part.centres, places)),
        in_metal=np.concatenate((part.in_metal, np.ones(len(holes), dtype=bool))),
        rows=(*part.rows, *_rows_of(holes, len(part.holes), places)),
    )


def _final_diameter(rivet: str) -> float:
    """Inches; of the smallest rivet where none is known."""
    size = rivet_size(rivet) if rivet else rivet_sizes()[0]
    return min(size.final_diameters)


def _rows_of(holes: Sequence[Hole], first: int, places: FloatArray) -> Iterator[Row]:
    """Rows among holes to come, by their labels; `first` is the index of the first of them."""
    letters = [hole.label.rstrip("0123456789") for hole in holes]
    for letter, run in groupby(range(len(holes)), key=letters.__getitem__):
        row = list(run)
        if letter != SINGLE and len(row) > 1:
            pitch = float(np.hypot(*(places[row[1]] - places[row[0]])))
            yield Row(letter, tuple(first + place for place in row), pitch)


def hole_marks(part: Part, state: PartState, need: PartNeeds, copy: int) -> tuple[Mark, ...]:
    """The mark of each hole of one copy, in step with `part.holes`."""
    return tuple(_mark(state, need, copy, hole.label) for hole in part.holes)


def _mark(state: PartState, need: PartNeeds, copy: int, label: str) -> Mark:
    hole = state.hole(copy, label)
    if hole.fault is not None:
        return Mark.REJECTED
    facts = facts_of(state.drawn_of(label), need.hole(label))
    stage = hole.stage_of(facts.drawn)
    if stage is not Stage.RIVETED and not operations_left(facts, stage):
        return Mark.FINISHED
    return STAGE_MARKS[stage]


def _rejected(state: PartState, copy: int) -> Iterator[Callout]:
    for label in state.numbers:
        fault = state.hole(copy, label).fault
        if fault is not None:
            yield Callout(label, f"{label}  REJECTED", (str(fault),))


def _facts_of_copy(opened: OpenBuild, copy: Copy, unit: LengthUnit) -> Iterator[tuple[str, str]]:
    revision = revisions_in_force(opened.db, opened.folder.record)[copy.part.id]
    yield "drawing", revision.drawing
    part = copy.part
    thickness = "" if part.thickness is None else format_length(part.thickness, unit)
    if part.taper:
        ends = sorted(thick for _, thick in part.taper)
        places = PLACES[unit]
        first = f"{unit.from_inches(ends[0]):.{places}f}"
        thickness = f"{first} to {format_length(ends[-1], unit)}, tapered"
    yield "sheet", " ".join(filter(None, (thickness, part.material)))
    yield "finish", "" if not part.finish.is_primed else str(part.finish)
    if part.quantity > 1:
        yield "copy", f"{copy.number} of {part.quantity}"


def _facts_of_holes(part: Part, rules: str, today: date) -> Iterator[tuple[str, str]]:
    yield "holes", f"{len(part.holes):,}"
    yield "rules", rules
    yield "date", today.isoformat()


# Boxes to tick ---------------------------------------------------------------------------------


def check_lines(opened: OpenBuild, copy: Copy) -> tuple[CheckLine, ...]:
    """Boxes for the work on one copy: on the part as a whole, then row by row, in its order.

    What the punched or drawn hole spares is left out; what is done is ticked.
    """
    state = opened.record.states(copy.part.id)[copy.part.id]
    need = opened.intents.needs[copy.part.id]
    done = state.copy(copy.number).operations
    lines = [
        CheckLine("", str(operation), (Tick("", operation in done),))
        for operation in need.operations
    ]
    boxes: dict[tuple[str, Operation, str], list[Tick]] = {}
    for label in sorted(state.numbers, key=label_key):
        hole = state.hole(copy.number, label)
        hole_need = need.hole(label)
        facts = facts_of(state.drawn_of(label), hole_need)
        left = operations_left(facts, hole.stage_of(facts.drawn))
        row = label.rstrip("0123456789")
        for operation in route(facts):
            key = (row, operation, tool_of(operation, hole_need))
            tick = Tick(label[len(row) :], operation not in left, hole.fault is not None)
            boxes.setdefault(key, []).append(tick)
    order = list(Operation)
    keys = sorted(boxes, key=lambda k: (k[0] == SINGLE, len(k[0]), k[0], order.index(k[1]), k[2]))
    lines += [
        CheckLine(row, " ".join(filter(None, (str(operation), tool))), tuple(boxes[key]))
        for key in keys
        for row, operation, tool in (key,)
    ]
    return tuple(lines)


# A bare drawing --------------------------------------------------------------------------------


def drawing_view(path: Path, request: AuditRequest, today: date, *, flip: bool = False) -> PartView:
    """The view of a part of a drawing that is in no build: how its holes stand to the rules.

    Raises
    ------
    HoleScheduleError
        The drawing cannot be read, or shows several parts and the request names none.
    """
    found = audit_file(path, request)
    if found.error is not None:
        raise found.error
    if len(found.parts) != 1:
        raise DrawingError(
            f"{path}: shows {len(found.parts)} parts. Say which with --part, 1 from the left."
        )
    (audit,) = found.parts
    unit = drawn_unit(audit.part)
    facts = (("drawing", path.name), *_facts_of_holes(audit.part, request.rules.name, today))
    view = _verdict_view(audit, TitleBlock(audit.part.name, "", facts), unit, audit.part)
    return replace(view, is_flipped=flip)


def drawn_unit(part: Part) -> LengthUnit:
    """The unit that lengths of a part are shown in where nothing else is said."""
    return LengthUnit.MILLIMETRE if part.unit.is_metric else LengthUnit.INCH


def _verdict_view(
    audit: PartAudit, block: TitleBlock, unit: LengthUnit, part: Part, late: Sequence[Mark] = ()
) -> PartView:
    """The view of a part by verdict; `late` are the marks of holes to come, its last ones."""
    marks = (*(Mark(str(verdict)) for verdict in audit.verdicts), *late)
    says = _says(part, marks, unit)
    return PartView(part, block, marks, says, unit, audit.findings, tuple(_missing(audit.part)))


def _missing(part: Part) -> Iterator[Callout]:
    """Rows with a gap of two pitches or more: perhaps a hole was forgotten."""
    for row in part.rows:
        for place in row.missing:
            before = part.holes[row.places[place - 1]].label
            after = part.holes[row.places[place % len(row.places)]].label
            yield Callout(
                before, f"{before}-{after}  GAP", ("a hole may be missing",), is_calm=True
            )


def _says(part: Part, marks: tuple[Mark, ...], unit: LengthUnit) -> tuple[str, ...]:
    sizes: Mapping[float, str] = {
        size: format_length(size, unit, 4 if unit is LengthUnit.INCH else 2)
        for size in {hole.diameter for hole in part.holes}
    }
    return tuple(
        f"{hole.label}: {mark}, {sizes[hole.diameter]}"
        for hole, mark in zip(part.holes, marks, strict=True)
    )
