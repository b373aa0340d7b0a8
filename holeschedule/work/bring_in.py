"""Bring drawings into a build: new parts, and revisions of parts that are there.

The order of writing leaves a build that can be worked on wherever it is cut off:

1. the drawing, under its own name, in `drawings/`: nothing refers to it yet;
2. new parts in build.toml: their holes are not recorded yet, and importing again completes them;
3. one entry of the record: from here on the revision counts;
4. the drawing that build.toml names for a revised part: a later import brings it in line, and
   nothing that is worked on depends on it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from holeschedule.build.edit import PartValue, add_part, change_part
from holeschedule.build.folder import BuildFolder, absolute, locked, reason, write_whole
from holeschedule.build.intent import BuildIntent, PartIntent, parse_part, read_intent
from holeschedule.errors import BuildError
from holeschedule.holes.identity import ChangeKind, HoleChange, Revision
from holeschedule.holes.part import Part
from holeschedule.model import Head
from holeschedule.record.database import Connection
from holeschedule.record.drawn import Change, HoleAsDrawn, Import
from holeschedule.record.drawn import Revision as RecordedRevision
from holeschedule.record.events import EntryDraft
from holeschedule.record.state import PartState
from holeschedule.record.store import Record
from holeschedule.work.in_force import revisions, revisions_in_force
from holeschedule.work.intents import drawn_as, load_intents
from holeschedule.work.opened import open_folder, open_record_at
from holeschedule.work.readings import Reading, write_reading
from holeschedule.work.revising import match_drawing
from holeschedule.work.sheets import (
    ImportRequest,
    Sheet,
    Target,
    base_name,
    existing_part,
    read_sheets,
    targets_of,
)

PATIENCE = 60.0
"""Seconds that an import waits for another one; reading the drawings is done before."""
_CHANGES = {
    ChangeKind.NEW: Change.ADD,
    ChangeKind.MOVED: Change.MOVE,
    ChangeKind.RESIZED: Change.RESIZE,
    ChangeKind.RETIRED: Change.RETIRE,
}


@dataclass(frozen=True, slots=True)
class Arrival:
    """One part of a drawing that was brought in, or would be.

    `drawing` is its file in drawings/. `changes` has every hole once. `work_lost` says of holes
    that were worked on and are not where, or what, they were. `is_same`: the drawing is the one
    that the record has. `planned` are labels of holes that were to be match-drilled and that are
    drawn now.
    """

    part: str
    revision: str
    drawing: str
    read: Part
    is_new: bool
    is_same: bool
    changes: tuple[HoleChange, ...]
    notices: tuple[str, ...]
    work_lost: tuple[str, ...]
    planned: tuple[str, ...] = ()

    def of_kind(self, kind: ChangeKind) -> tuple[HoleChange, ...]:
        """The changes of one kind, in the order of the labels."""
        return tuple(change for change in self.changes if change.kind == kind)


@dataclass(frozen=True, slots=True)
class ImportResult:
    """What came of an import. `entry` is None where there was nothing to record.

    `notices` say what is still to be chosen or to be mended.
    """

    arrivals: tuple[Arrival, ...]
    entry: int | None = None
    notices: tuple[str, ...] = ()


def bring_in(
    folder: BuildFolder,
    files: Sequence[Path],
    request: ImportRequest,
    who: str,
    *,
    dry_run: bool = False,
) -> ImportResult:
    """Bring drawings into a build as one entry of its record.

    Parameters
    ----------
    folder : BuildFolder
        The build.
    files : sequence of Path
        DXF files, from anywhere; they are copied.
    request : ImportRequest
        What is said of the parts.
    who : str
        Who brings them in.
    dry_run : bool
        Only say what would change.

    Raises
    ------
    HoleScheduleError
        A drawing cannot be read, a value cannot be used, two drawings are of one part, or the disk
        refuses. Nothing is recorded, and importing again is all there is to mend.
    """
    if request.part is not None and len(files) > 1:
        raise BuildError("--part names one part, and there are several drawings. Import it alone.")
    if dry_run:
        intent = read_intent(folder)
        sheets = read_sheets(folder, files, request, intent)
        with _open(folder, dry_run=True) as (record, db):
            return ImportResult(_Planning(folder, record, db, request, intent).arrivals(sheets)[0])
    sheets = read_sheets(folder, files, request, read_intent(folder))
    with _one_at_a_time(folder), _open(folder) as (record, db):
        return _carry_out(folder, record, db, request, sheets, who)


def _carry_out(
    folder: BuildFolder,
    record: Record,
    db: Connection,
    request: ImportRequest,
    sheets: Sequence[Sheet],
    who: str,
) -> ImportResult:
    planning = _Planning(folder, record, db, request, read_intent(folder))
    arrivals, imports = planning.arrivals(sheets)
    for sheet, drawing in zip(sheets, planning.drawings, strict=True):
        _keep_drawing(folder, sheet, drawing, request.reading)
    for target, arrival in zip(targets_of(sheets), arrivals, strict=True):
        planning.write_values(target, arrival)
    entry = None
    if imports:
        names = " ".join(sheet.path.name for sheet in sheets)
        draft = EntryDraft(f"import {names}", who, imports=tuple(imports))
        entry = record.append(draft, {}).entry
    notices = tuple(align_build_file(folder, db).values())
    notices += load_intents(str(folder.path), record, db).notices
    return ImportResult(arrivals, entry.number if entry else None, notices)


@contextmanager
def _one_at_a_time(folder: BuildFolder) -> Iterator[None]:
    """Keep other imports out; marking goes on meanwhile."""
    try:
        folder.drawings.mkdir(exist_ok=True)
    except OSError as error:
        raise BuildError(
            f"{folder.drawings}: cannot be made ({reason(error)}). See that the build can be"
            " written to."
        ) from error
    # the same lock as build.toml has, in a folder of its own: that one is taken meanwhile
    with locked(BuildFolder(folder.drawings), PATIENCE):
        for left in folder.drawings.glob(".*.part"):
            left.unlink(missing_ok=True)
        yield


@contextmanager
def _open(folder: BuildFolder, *, dry_run: bool = False) -> Iterator[tuple[Record, Connection]]:
    """Open the record; a build whose parts are all still to come may have none yet."""
    may_start = not folder.record.exists() and not any(folder.drawings.glob("*-r*.dxf"))
    if dry_run and may_start:
        with open_record_at(Path(":memory:"), create=True) as opened:
            yield opened
        return
    with open_folder(folder, create=may_start) as opened:
        yield opened


# Planning --------------------------------------------------------------------------------------


class _Planning:
    """What an import would do to a build as it is now."""

    def __init__(
        self,
        folder: BuildFolder,
        record: Record,
        db: Connection,
        request: ImportRequest,
        intent: BuildIntent,
    ) -> None:
        self._folder = folder
        self._record = record
        self._request = request
        self._intent = intent
        self._recorded = revisions(db, folder.record)
        self._states = record.states()
        self._in_force = {
            held.revision.part: held.revision for held in self._recorded if held.in_force
        }
        self.drawings: list[str] = []

    def arrivals(self, sheets: Sequence[Sheet]) -> tuple[tuple[Arrival, ...], list[Import]]:
        arrivals: list[Arrival] = []
        imports: list[Import] = []
        for sheet in sheets:
            drawing = self._drawing_for(sheet)
            self.drawings.append(drawing)
            for target in sheet.targets:
                arrival, imported = self._arrival(sheet, target, drawing)
                arrivals.append(arrival)
                imports += [imported] if imported else []
        return tuple(arrivals), imports

    def _drawing_for(self, sheet: Sheet) -> str:
        """Name of a drawing in drawings/: the one it has there, else a new one."""
        if absolute(sheet.path).parent == self._folder.drawings:
            return sheet.path.name
        for held in reversed(self._recorded):
            name = held.revision.drawing
            is_same = held.revision.sha256 == sheet.sha256
            if is_same and self._request.reading.is_kept(self._folder.drawings / name):
                return name
        base = base_name(sheet)
        taken = {held.revision.drawing.casefold() for held in self._recorded}
        taken |= {part.drawing.casefold() for part in self._intent.parts if part.id in self._states}
        taken |= {name.casefold() for name in self.drawings}
        number = max(self._count(target.id) for target in sheet.targets) + 1
        while f"{base}-r{number}.dxf".casefold() in taken:
            number += 1
        return f"{base}-r{number}.dxf"

    def _count(self, part: str) -> int:
        """Revisions that a part has had; planned holes are entered under the one in force."""
        named = (held.revision for held in self._recorded)
        return len({revision.revision for revision in named if revision.part == part})

    def _arrival(self, sheet: Sheet, target: Target, drawing: str) -> tuple[Arrival, Import | None]:
        state = self._states.get(target.id, PartState(target.id))
        known = self._record.holes(target.id)
        held = self._in_force.get(target.id)
        is_same = held is not None and (held.sha256, held.drawing) == (sheet.sha256, drawing)
        revision, planned = match_drawing(known, state.retired, target.part)
        if not (known or state.retired):
            revision = _as_drawn(revision, target.part)
        name = held.revision if held and is_same else f"r{self._count(target.id) + 1}"
        arrival = Arrival(
            target.id,
            name,
            drawing,
            target.part,
            held is None,
            is_same,
            revision.changes,
            tuple(notice.text for notice in revision.notices),
            tuple(_work_lost(target.id, state, revision, planned)),
            tuple(change.label for change in revision.changes if change.label in planned),
        )
        if is_same:
            return arrival, None
        rivets = self._rivets(target)
        holes = [
            _hole_of(change, revision, rivets, is_planned=change.label in planned)
            for change in revision.changes
            if change.kind in _CHANGES
        ]
        return arrival, Import(
            RecordedRevision(target.id, name, drawing, sheet.sha256), tuple(holes)
        )

    def _rivets(self, target: Target) -> PartIntent:
        """The part as it is going to be intended, as far as its rivets go."""
        given = parse_part(
            {"id": target.id, "drawing": "x.dxf", **self._request.values}, self._intent.units
        )
        if target.existing is None:
            return given
        return replace(target.existing, rivet=given.rivet or target.existing.rivet)

    def write_values(self, target: Target, arrival: Arrival) -> None:
        """Write what is said of a part into build.toml; a new part as a whole."""
        values = dict(self._request.values)
        existing = existing_part(read_intent(self._folder), target.id)
        if existing is not None:
            if existing.number != target.number:
                values["number"] = target.number
            if values:
                change_part(self._folder, existing.id, values)
            return
        marks = [hole.mark_diameter is not None for hole in target.part.holes]
        if marks and all(marks):
            values.setdefault("head", str(Head.FLUSH))
        number: dict[str, PartValue] = {"number": target.number} if target.many else {}
        add_part(self._folder, {"id": target.id, "drawing": arrival.drawing, **number, **values})


def _as_drawn(revision: Revision, part: Part) -> Revision:
    """A first revision keeps the labels that the reader gave."""
    changes = tuple(HoleChange(ChangeKind.NEW, hole.label, 0.0, None, hole) for hole in part.holes)
    return replace(revision, changes=changes, labels=tuple(h.label for h in part.holes))


def _hole_of(
    change: HoleChange, revision: Revision, part: PartIntent, *, is_planned: bool
) -> HoleAsDrawn:
    """A change as the record keeps it: on the axes of the first revision.

    A hole that was only planned takes its place from the drawing.
    """
    kind = _CHANGES[change.kind]
    if change.after is None:
        assert change.before is not None  # noqa: S101 (a change has one of them)
        x, y, diameter = change.before.x, change.before.y, change.before.diameter
    else:
        x, y = revision.on_recorded_axes(change.after.x, change.after.y)
        diameter = change.after.diameter
        if kind is Change.RESIZE and change.before is not None and not is_planned:
            x, y = change.before.x, change.before.y
    rivet = part.for_hole(change.label).rivet
    return HoleAsDrawn(kind, change.label, x, y, diameter, drawn_as(diameter, rivet))


def _work_lost(
    part: str, state: PartState, revision: Revision, planned: Collection[str]
) -> Iterator[str]:
    """Holes that were worked on and that the revision moves, resizes or retires."""
    for change in revision.changes:
        if change.kind in (ChangeKind.KEPT, ChangeKind.NEW):
            continue
        if change.kind is ChangeKind.RESIZED and change.label in planned:
            continue  # drilled where it is drawn now
        for copy in sorted(state.copies):
            stage = state.hole(copy, change.label).reached
            if stage is not None:
                name = part if copy == 1 and len(state.copies) == 1 else f"{part}#{copy}"
                yield f"{name}:{change.label} is {stage} already and {change.kind} by the revision"


# Writing ---------------------------------------------------------------------------------------


def _keep_drawing(folder: BuildFolder, sheet: Sheet, drawing: str, reading: Reading) -> None:
    path = folder.drawings / drawing
    write_reading(path, reading)
    try:
        is_there = path.is_file() and path.read_bytes() == sheet.content
    except OSError:
        is_there = False
    if not is_there:
        write_whole(path, sheet.content)


def align_build_file(folder: BuildFolder, db: Connection) -> dict[str, str]:
    """Let build.toml name the drawing of each part that the record has in force.

    Returns
    -------
    dict
        By part, a line for each of which no revision is in force, and that build.toml still has.

    Raises
    ------
    BuildError
        build.toml cannot be read or changed.
    """
    in_force = revisions_in_force(db, folder.record)
    lines = {}
    for part in read_intent(folder).parts:
        held = in_force.get(part.id)
        if held is None:
            lines[part.id] = (
                f"{part.id} is in build.toml, and its holes are not in the record: import its"
                " drawing, or take it out of build.toml"
            )
        elif held.drawing != part.drawing:
            change_part(folder, part.id, {"drawing": held.drawing})
    return lines
