"""From the ticks in a workbook to an entry of the record: what is new, what is in the way."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import chain
from typing import NamedTuple

from holeschedule.errors import RecordError, SelectionError
from holeschedule.operations import Operation, PartOperation
from holeschedule.record.events import (
    REPLACE,
    Entry,
    EntryDraft,
    Request,
    read_numbers,
)
from holeschedule.record.judge import Obstacle
from holeschedule.record.needs import PartNeeds
from holeschedule.record.places import NO_PLACES, TOGETHER, Places
from holeschedule.record.plan import Plan
from holeschedule.record.state import PartState
from holeschedule.selection import HoleSelection, Pick, label_key, parse_selection
from holeschedule.views.checklist import DONE, NOT_NEEDED, TO_DO, Key, shorten_hash
from holeschedule.views.checklist_read import ReadRow, ReadSheet
from holeschedule.views.checklist_ticks import Mark
from holeschedule.views.text import printable
from holeschedule.work.in_force import revisions_in_force
from holeschedule.work.opened import OpenBuild, time_of
from holeschedule.work.past import Past

NOTE_LENGTH = 200
"""Characters of a note in a row that become part of the entry's note."""

_NOT_DONE = (TO_DO, NOT_NEEDED)
_LATE = (str(PartOperation.PRIME), str(Operation.RIVET))
WORK_ORDER = (*(str(w) for w in (*PartOperation, *Operation) if w not in _LATE), *_LATE)
"""Operations in an order in which whatever can be recorded at all is recorded: work on whole
parts first, but the primer, which is for holes that are through, and then the rivets."""


class Cell(NamedTuple):
    """A cell of a workbook; rows are counted from 1."""

    sheet: str
    letter: str
    row: int


class Tick(NamedTuple):
    """A tick that is new: its cell, what it says was done, where, on which day if it says so."""

    cell: Cell
    what: str
    pick: Pick
    day: date | None
    note: str


class Listed(NamedTuple):
    """A cell that is not recorded, what it is about as far as that is known, and why."""

    cell: Cell
    what: str
    name: Pick | str
    reason: str


@dataclass(frozen=True, eq=False)
class Proposal:
    """What a workbook would have recorded. Compared by identity.

    `accepted` are ticks that can be recorded, `listed` cells that cannot. `already` counts ticks
    that the record has. `unkept` are cells of notes in rows without a new tick. `places` are those
    of the build's joints: what is done at a place is done in every layer, whichever was ticked;
    `done` are those layers of which the record has it, by what was done.
    """

    name: str
    accepted: tuple[Tick, ...]
    listed: tuple[Listed, ...]
    already: int
    unkept: tuple[Cell, ...]
    warnings: tuple[str, ...]
    places: Places = NO_PLACES
    done: frozenset[tuple[str, Pick]] = frozenset()

    def requests(self) -> tuple[Request, ...]:
        """Return what is asked of the record, in the order of work."""
        return tuple(
            asked._replace(picks=tuple(p for p in asked.picks if (asked.what, p) not in self.done))
            for asked in _requests(self.accepted, self.places)
        )


# Comparing -------------------------------------------------------------------------------------


def propose(opened: OpenBuild, name: str, sheets: Sequence[ReadSheet]) -> Proposal:
    """Compare a workbook with the record as it was when it was written, and with what it is now.

    Parameters
    ----------
    opened : OpenBuild
        The build.
    name : str
        Name of the workbook.
    sheets : sequence of ReadSheet
        Its sheets.

    Raises
    ------
    RecordError
        The record cannot be read.
    """
    comparing = _Comparing(opened)
    for sheet in sheets:
        comparing.read(sheet)
    comparing.finish()
    ticks = tuple(comparing.ticks.values())
    accepted, plans = _judged(opened, ticks, comparing)
    return Proposal(
        printable(name),
        tuple(accepted),
        tuple(comparing.listed),
        comparing.already,
        tuple(comparing.unkept),
        tuple(warning for plan in plans for warning in plan.warnings),
        opened.intents.places,
        frozenset((plan.request.what, pick) for plan in plans for pick in plan.already),
    )


def _requests(ticks: Iterable[Tick], places: Places) -> tuple[Request, ...]:
    by_work: dict[str, list[Pick]] = {}
    for tick in ticks:
        by_work.setdefault(tick.what, []).append(tick.pick)
    for what in TOGETHER:
        if what in by_work:
            by_work[what] = [*places.with_layers(by_work[what])]
    return tuple(
        Request(what, tuple(sorted(by_work[what], key=_shop_order)))
        for what in WORK_ORDER
        if what in by_work
    )


def _shop_order(pick: Pick) -> tuple[object, ...]:
    return pick.part, pick.copy, label_key(pick.label) if pick.label else ()


def _judged(
    opened: OpenBuild, ticks: Sequence[Tick], comparing: _Comparing
) -> tuple[list[Tick], Sequence[Plan]]:
    """Ticks that the record would take; the others are listed with what stands against them."""
    if not ticks:
        return [], ()
    draft = EntryDraft("collect", "nobody", _requests(ticks, opened.intents.places))
    plans = opened.record.plan(draft, opened.intents.needs, opened.intents.gates)
    refused: dict[tuple[str, Pick], Obstacle] = {
        (plan.request.what, pick): obstacle for plan in plans for pick, obstacle in plan.refused
    }
    accepted = []
    for tick in ticks:
        obstacle = refused.get((tick.what, tick.pick))
        if obstacle is None:
            accepted.append(tick)
        else:
            reason = f"{obstacle.reason}: {obstacle.unblock}"
            comparing.listed.append(Listed(tick.cell, tick.what, tick.pick, reason))
    return accepted, plans


class _Since(NamedTuple):
    """What was recorded after an entry, whatever became of it: by which entry."""

    work: Mapping[tuple[str, int, int, str], int]
    replaced: Mapping[tuple[str, int], int]


@dataclass(eq=False)
class _Piece:
    """A copy of a part, or a hole of one, that a row is about; `number` is 0 for the whole."""

    pick: Pick
    number: int
    then: tuple[str, ...]
    now: tuple[str, ...]


class _Comparing:
    """The sheets of one workbook while they are compared with the record."""

    def __init__(self, opened: OpenBuild) -> None:
        self._states: Mapping[str, PartState] = opened.record.states()
        self._needs: Mapping[str, PartNeeds] = opened.intents.needs
        self._entries = opened.record.entries()
        self._revisions = revisions_in_force(opened.db, opened.folder.record)
        self._now = Past(self._entries, self._states, self._needs)
        self._pasts: dict[int, tuple[Past, _Since]] = {}
        self._today = datetime.now().astimezone().date()
        self._ticked: set[tuple[Pick, str]] = set()
        self._emptied: dict[tuple[Pick, str], Listed] = {}
        self.ticks: dict[tuple[Pick, str], Tick] = {}
        self.listed: list[Listed] = []
        self.unkept: list[Cell] = []
        self.already = 0

    def read(self, sheet: ReadSheet) -> None:
        """Compare one sheet."""
        problem = self._stranger(sheet.key)
        if problem:
            self._list_all(sheet, problem)
            return
        old = self._outdated(sheet.key)
        past, since = self._past(sheet.key.entry)
        order = tuple(map(str, Operation if sheet.key.part else PartOperation))
        places = tuple(order.index(what) for what in sheet.operations)
        for row in sheet.rows:
            found = self._find(sheet, row, past)
            if isinstance(found, str):
                self._list_row(sheet, row, row.name, found)
            else:
                self._compare(sheet, row, found, places, (old, since))

    def finish(self) -> None:
        """List the ticks that were taken away, unless another row has them."""
        gone = [listed for key, listed in self._emptied.items() if key not in self._ticked]
        self.listed += gone

    # What a sheet was written from -------------------------------------------------------------

    def _stranger(self, key: Key) -> str:
        """Why a sheet cannot be compared at all; empty if it can."""
        entries = self._entries
        if key.build != (shorten_hash(entries[0].hash) if entries else "none"):
            return "the checklist was written from another build"
        held = entries[key.entry - 1] if 0 < key.entry <= len(entries) else None
        if held is None or shorten_hash(held.hash) != key.hash:
            return (
                f"the checklist was written after an entry {key.entry} that this record does not"
                " have; write it anew"
            )
        if key.part and not (key.part in self._states and key.part in self._needs):
            return f"{key.part} is not a part of this build"
        return ""

    def _outdated(self, key: Key) -> str:
        revision = self._revisions[key.part].revision if key.part else ""
        if revision == key.revision:
            return ""
        return (
            f"the checklist has revision {key.revision} of {key.part}, and {revision} is in force;"
            " write it anew"
        )

    def _past(self, entry: int) -> tuple[Past, _Since]:
        if entry not in self._pasts:
            past = Past(self._entries[:entry], self._states, self._needs)
            self._pasts[entry] = past, _since(self._entries[entry:])
        return self._pasts[entry]

    # Rows --------------------------------------------------------------------------------------

    def _find(self, sheet: ReadSheet, row: ReadRow, past: Past) -> _Piece | str:
        """What a row is about, or why that cannot be told."""
        if not sheet.key.part:
            return self._find_copy(row, past)
        part = sheet.key.part
        label = row.name.rpartition(":")[2].upper()
        state, quantity = self._states[part], self._needs[part].quantity
        number = state.numbers.get(label)
        if number is None:
            gone = "was retired by a revision" if label in state.retired else "is not a hole"
            return f"{gone} of {part}"
        copy = row.copy
        if copy is None:
            if quantity > 1 or sheet.has_copies:
                return f"which copy of {part} it is does not stand in the row"
            copy = 1
        if not 1 <= copy <= quantity:
            return f"copy {copy} of {part} is not built"
        then, now = past.work(part, copy, label), self._now.work(part, copy, label)
        return _Piece(Pick(part, copy, label), number, then, now)

    def _find_copy(self, row: ReadRow, past: Past) -> _Piece | str:
        try:
            named = parse_selection(row.name) if row.name else ()
        except SelectionError:
            named = ()
        known = {name.casefold(): name for name in self._needs if name in self._states}
        one = named[0] if len(named) == 1 else None
        if not isinstance(one, HoleSelection) or one.row is not None:
            return "is not a part of this build"
        part, copies = known.get(one.part.casefold()), one.copies or (1, 1)
        if part is None or copies[0] != copies[1]:
            return "is not a part of this build"
        quantity = self._needs[part].quantity
        if copies[0] > quantity or (one.copies is None and quantity > 1):
            return f"is none of the {quantity} copies of {part}"
        pick = Pick(part, copies[0])
        then, now = past.part_work(*pick[:2]), self._now.part_work(*pick[:2])
        return _Piece(pick, 0, then, now)

    def _list_all(self, sheet: ReadSheet, problem: str) -> None:
        for row in sheet.rows:
            self._list_row(sheet, row, "", problem)

    def _list_row(self, sheet: ReadSheet, row: ReadRow, name: str, problem: str) -> None:
        for letter, mark in zip(sheet.letters, row.marks, strict=True):
            if mark is not None:
                cell = Cell(sheet.title, letter, row.number)
                self.listed.append(Listed(cell, "", name, problem))

    def _compare(
        self,
        sheet: ReadSheet,
        row: ReadRow,
        piece: _Piece,
        places: tuple[int, ...],
        against: tuple[str, _Since],
    ) -> None:
        is_about = False
        columns = zip(sheet.operations, sheet.letters, places, row.marks, strict=True)
        for what, letter, place, mark in columns:
            then, now = piece.then[place], piece.now[place]
            key = piece.pick, what
            if mark is None:
                if then not in (*_NOT_DONE, DONE) and now not in _NOT_DONE:
                    reason = f"the tick of {then} was taken away; the record has it, see undo"
                    cell = Cell(sheet.title, letter, row.number)
                    self._emptied[key] = Listed(cell, what, piece.pick, reason)
                continue
            self._ticked.add(key)
            problem = self._problem(mark, then, now, piece, what, against)
            cell = Cell(sheet.title, letter, row.number)
            if problem:
                is_about = True
                self.listed.append(Listed(cell, what, piece.pick, problem))
            elif then in _NOT_DONE:
                is_about = True
                if now not in _NOT_DONE:
                    self.already += 1
                elif key not in self.ticks:
                    self.ticks[key] = Tick(cell, what, piece.pick, mark.day, row.note)
        if row.note and not is_about:
            self.unkept.append(Cell(sheet.title, "", row.number))

    def _problem(
        self,
        mark: Mark,
        then: str,
        now: str,
        piece: _Piece,
        what: str,
        against: tuple[str, _Since],
    ) -> str:
        """Why the mark of a cell is not recorded; empty if it is new, or nothing new."""
        if mark.problem:
            return mark.problem
        if then not in _NOT_DONE:
            is_other = mark.day is not None and then not in (DONE, mark.day.isoformat())
            return f"the record has {then}, and keeps it" if is_other else ""
        if now not in _NOT_DONE:
            return ""
        old, since = against
        return old or _overtaken(piece, what, since) or self._future(mark)

    def _future(self, mark: Mark) -> str:
        is_to_come = mark.day is not None and mark.day > self._today
        return f"{mark.day} is still to come" if is_to_come else ""


def _since(entries: Sequence[Entry]) -> _Since:
    work: dict[tuple[str, int, int, str], int] = {}
    replaced: dict[tuple[str, int], int] = {}
    for entry in entries:
        for event in entry.events:
            if event.what == REPLACE:
                replaced[event.part, event.copy] = entry.number
                continue
            numbers: Iterable[int] = chain.from_iterable(read_numbers(event.holes))
            for number in numbers if event.holes else (0,):
                work[event.part, event.copy, number, event.what] = entry.number
    return _Since(work, replaced)


def _overtaken(piece: _Piece, what: str, since: _Since) -> str:
    """Whether the record went another way since: the tick may be one that was dealt with."""
    part, copy, _ = piece.pick
    if (part, copy) in since.replaced:
        entry = since.replaced[part, copy]
        return f"the part was replaced in entry {entry}, after the checklist was written"
    recorded = since.work.get((part, copy, piece.number, what))
    if recorded is None:
        return ""
    return (
        f"was recorded in entry {recorded}, and was undone or drilled out since; use mark, or write"
        " the checklist anew"
    )


# Recording -------------------------------------------------------------------------------------


def record_proposal(
    opened: OpenBuild,
    proposal: Proposal,
    who: str,
    note: str = "",
    at: datetime | None = None,
) -> int:
    """Record what was accepted as one entry; returns its number.

    Parameters
    ----------
    opened : OpenBuild
        The build.
    proposal : Proposal
        As `propose` made it; something has to be accepted.
    who : str
        Who worked.
    note : str
        A line to keep, before the notes of the rows.
    at : datetime, optional
        When it was done; else the latest day ticked if each tick has one, else now.

    Raises
    ------
    RecordError
        The record changed since the comparison; nothing was recorded.
    """
    draft = EntryDraft(
        f"collect {proposal.name}",
        who,
        proposal.requests(),
        note=_note(proposal, note),
        at=at or _time(proposal),
        origin=_origin(proposal),
    )
    entry, _ = opened.record.append(draft, opened.intents.needs, opened.intents.gates)
    if entry is None:
        raise RecordError(
            f"{proposal.name}: the record changed meanwhile. Nothing was recorded; collect again."
        )
    return entry.number


def _days(proposal: Proposal) -> list[date]:
    return sorted({tick.day for tick in proposal.accepted if tick.day is not None})


def _time(proposal: Proposal) -> datetime | None:
    if any(tick.day is None for tick in proposal.accepted):
        return None
    return time_of(_days(proposal)[-1].isoformat())


def _note(proposal: Proposal, note: str) -> str:
    return printable("; ".join(filter(None, (note, *dict.fromkeys(_row_notes(proposal))))))


def _row_notes(proposal: Proposal) -> Iterator[str]:
    days = _days(proposal)
    if len(days) > 1:
        yield f"ticked for {days[0]} to {days[-1]}"
    for tick in proposal.accepted:
        if tick.note:
            where = f"{tick.pick.part}#{tick.pick.copy}" if tick.pick.copy > 1 else tick.pick.part
            hole = f":{tick.pick.label}" if tick.pick.label else ""
            yield f"{where}{hole} {tick.note[:NOTE_LENGTH]}"


_MOST_SHEETS = 8


def _origin(proposal: Proposal) -> str:
    sheets = list(dict.fromkeys(tick.cell.sheet for tick in proposal.accepted))
    more = f" and {len(sheets) - _MOST_SHEETS} more" if len(sheets) > _MOST_SHEETS else ""
    return printable(f"checklist {proposal.name}, sheet {', '.join(sheets[:_MOST_SHEETS])}{more}")
