"""History and verify: in words for a terminal, and as objects for other programs."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from holeschedule.build.folder import BuildFolder
from holeschedule.errors import RecordError
from holeschedule.record.database import Connection
from holeschedule.record.drawn import Change
from holeschedule.record.events import Entry, Event, Head, read_numbers
from holeschedule.record.plan import selections_of
from holeschedule.record.state import PartState
from holeschedule.record.store import Record
from holeschedule.record.verify import Problem
from holeschedule.selection import (
    HoleSelection,
    JointSelection,
    Pick,
    Selection,
    parse_selection,
    write_selections,
)
from holeschedule.views.text import hanging, plural, printable
from holeschedule.work.in_force import revisions_in_force
from holeschedule.work.opened import OpenBuild
from holeschedule.work.showing import copies_text

# History ---------------------------------------------------------------------------------------


class Line(NamedTuple):
    """One entry of the history, and the entry that takes it back, if one does.

    `holes` say what was done, as `FL-101:C3-C9 deburr`; where a selection is asked about, to
    that alone. `parts` are those asked about, None where it is everything.
    """

    entry: Entry
    undone_by: int | None
    holes: tuple[str, ...]
    parts: frozenset[str] | None = None


def history_of(
    opened: OpenBuild, selection: str, who: str | None, day: str | None
) -> tuple[Line, ...]:
    """Entries about a selection, or all, in order.

    Raises
    ------
    SelectionError, RecordError
        The selection is none or names what never was; the record cannot be read.
    """
    states = opened.record.states()
    void = opened.record.taken_back()
    asked: tuple[_Asked, ...] | None = None
    if selection:
        wanted = _wanted(opened, states, parse_selection(selection))
        asked = tuple(_asked(states, piece) for piece in wanted)
        found = {e.number: e for a in asked for e in _about(opened, a, who, day)}
    else:
        found = {e.number: e for e in opened.record.entries(who=who, day=day)}
    parts = None if asked is None else frozenset(one.part for one in asked)
    return tuple(
        Line(entry, void.get(number), _worked_on(entry, states, opened, asked), parts)
        for number, entry in sorted(found.items())
    )


class _Asked(NamedTuple):
    """Holes of a part that are asked about, by number; the part in every respect with `whole`."""

    part: str
    copies: tuple[int, int] | None
    numbers: frozenset[int]
    whole: bool

    def has_copy(self, copy: int) -> bool:
        return self.copies is None or self.copies[0] <= copy <= self.copies[1]


def _wanted(
    opened: OpenBuild, states: Mapping[str, PartState], pieces: Sequence[Selection]
) -> Iterator[HoleSelection]:
    """What is asked about, a place of a joint as the holes of its layers."""
    picks = [
        pick
        for piece in pieces
        if isinstance(piece, JointSelection)
        for place in opened.intents.places.chosen(piece)
        for pick in place.picks
    ]
    texts = selections_of(picks, states, opened.intents.needs)
    at_places = parse_selection(" ".join(texts)) if texts else ()
    yield from (piece for piece in (*pieces, *at_places) if isinstance(piece, HoleSelection))


def _asked(states: Mapping[str, PartState], wanted: HoleSelection) -> _Asked:
    known = {name.casefold(): name for name in states}
    name = known.get(wanted.part.casefold())
    if name is None:
        there = ", ".join(sorted(states)) or "none"
        raise RecordError(f"{wanted.text}: there is no such part in the record; there are {there}.")
    numbers = _numbers(states[name], wanted)
    if not numbers and wanted.row is not None:
        raise RecordError(f"{wanted.text}: {name} has and had no such holes.")
    return _Asked(name, wanted.copies, numbers, wanted.row is None)


def _about(opened: OpenBuild, asked: _Asked, who: str | None, day: str | None) -> Iterator[Entry]:
    for entry in opened.record.entries(part=asked.part, who=who, day=day):
        if (
            (asked.whole and asked.copies is None)
            or any(_is_about(event, asked) for event in entry.events)
            or any(c.part == asked.part and c.number in asked.numbers for c in entry.holes)
        ):
            yield entry


def _numbers(part: PartState, wanted: HoleSelection) -> frozenset[int]:
    """Numbers of the holes that are meant, those that were retired among them."""
    found = set()
    for number, label in enumerate(part.labels, 1):
        row = label.rstrip("0123456789")
        if wanted.row in (None, row) and label[len(row) :]:
            place = int(label[len(row) :])
            if wanted.places is None or wanted.places[0] <= place <= wanted.places[1]:
                found.add(number)
    return frozenset(found)


def _is_about(event: Event, asked: _Asked) -> bool:
    if event.part != asked.part or not asked.has_copy(event.copy):
        return False
    return not event.holes or not asked.numbers.isdisjoint(_numbers_of(event))


def _numbers_of(event: Event) -> list[int]:
    return [number for held in read_numbers(event.holes) for number in held]


def _worked_on(
    entry: Entry,
    states: Mapping[str, PartState],
    opened: OpenBuild,
    asked: Sequence[_Asked] | None,
) -> tuple[str, ...]:
    """What each event of an entry did, as `FL-101:C3-C9 deburr`: to what is asked about."""
    found = []
    needs = opened.intents.needs
    for event in entry.events:
        about = None if asked is None else [one for one in asked if _is_about(event, one)]
        if about == []:
            continue
        part = states.get(event.part)
        meant = None if about is None else frozenset[int]().union(*(a.numbers for a in about))
        labels = (
            []
            if part is None
            else [
                part.labels[n - 1]
                for n in _numbers_of(event)
                if n <= len(part.labels) and (meant is None or n in meant)
            ]
        )
        quantity = needs[event.part].quantity if event.part in needs else event.copy
        what = " ".join(filter(None, (event.what, event.detail)))
        if event.value is not None:
            what += f" {event.value:.4f} in"
        names = _name(event, labels, part, quantity)
        found.append(f"{names} {what}{' (as found)' if event.as_found else ''}")
    return tuple(found)


def _name(event: Event, labels: list[str], part: PartState | None, quantity: int) -> str:
    picks = [Pick(event.part, event.copy, label) for label in labels if label != "-"]
    if not picks or part is None:
        return event.part + copies_text(event.copy, event.copy, quantity)
    known = [label for label in part.labels if label != "-"]
    return " ".join(write_selections(picks, {event.part: known}, {event.part: quantity}))


def what_was_done(line: Line) -> str:
    """One entry in words, without who, when and the note."""
    entry, undone_by, worked_on, parts = line
    text = "; ".join(worked_on) or entry.command
    if entry.takes_back is not None:
        text = f"undo {entry.takes_back}"
    for revision in entry.revisions:
        if parts is None or revision.part in parts:
            changed = Counter(c.change for c in entry.holes if c.part == revision.part)
            counts = [
                f"{changed[change]:,} {_CHANGED[change]}" for change in Change if changed[change]
            ]
            text += f"; {revision.part} {revision.revision}: {', '.join(counts) or 'no change'}"
    return text + (f" (taken back by {undone_by})" if undone_by else "")


_WHO = 16
"""Columns for who did it; a longer name takes more."""
_CHANGED = {
    Change.ADD: "new",
    Change.MOVE: "moved",
    Change.RESIZE: "resized",
    Change.RETIRE: "retired",
}


def history_text(lines: Sequence[Line]) -> str:
    """The history in words, one entry after another."""
    told: list[str] = []
    widest = max((len(line.entry.who) for line in lines), default=0)
    for line in lines:
        entry = line.entry
        who = entry.who.ljust(min(widest, _WHO))
        head = f"{entry.number:>5}  {entry.at[:16].replace('T', ' ')}  {who}  "
        note = f" - {entry.note}" if entry.note else ""
        told += hanging(printable(head), printable(what_was_done(line) + note))
    told.append(plural(len(lines), "entry", "entries") + ".")
    return "".join(f"{line}\n" for line in told)


def history_object(lines: Sequence[Line]) -> dict[str, Any]:
    """The JSON object `holeschedule.history/1`."""
    return {
        "format": "holeschedule.history/1",
        "entries": [
            {
                "number": entry.number,
                "recorded": entry.recorded,
                "at": entry.at,
                "who": entry.who,
                "command": entry.command,
                "note": entry.note,
                "origin": entry.origin,
                "takes_back": entry.takes_back,
                "taken_back_by": undone_by,
                "work": list(worked_on),
                "drawings": [revision._asdict() for revision in entry.revisions],
                "hash": entry.hash,
            }
            for entry, undone_by, worked_on, _ in lines
        ],
    }


# Verify ----------------------------------------------------------------------------------------


def verify_build(
    folder: BuildFolder, record: Record, db: Connection, noted: Head | None = None
) -> tuple[Problem, ...]:
    """Check the record, and that each drawing in force is there, byte for byte.

    Raises
    ------
    RecordError
        The record cannot be read at all.
    """
    found = list(record.verify(noted))
    if any(problem.code == "unreadable" for problem in found):
        return tuple(found)
    for revision in revisions_in_force(db, folder.record).values():
        path = folder.drawings / revision.drawing
        try:
            held = hashlib.sha256(path.read_bytes()).hexdigest()
        except OSError:
            found.append(Problem("drawing", f"{revision.drawing} of {revision.part} is not there"))
            continue
        if held != revision.sha256:
            text = f"{revision.drawing} of {revision.part} is not as it was brought in"
            found.append(Problem("drawing", text))
    return tuple(found)


def noted_head(text: str | None) -> Head | None:
    """Read a head as `verify` prints it, `12:3fa9…`.

    Raises
    ------
    RecordError
        It is none.
    """
    if text is None:
        return None
    number, _, its_hash = text.strip().partition(":")
    if not number.isdigit() or not its_hash:
        raise RecordError(
            f"--noted {text!r}: write number and hash as verify prints them, 12:3fa9…"
        )
    return Head(int(number), its_hash)


def verify_text(problems: Sequence[Problem], head: Head | None) -> str:
    """What verify found, in words; the head is to be noted down."""
    if problems:
        lines = [f"{problem.code}: {problem.text}." for problem in problems]
        lines.append(f"{plural(len(problems), 'problem')}. Keep the file, and your last good copy.")
    elif head is None:
        lines = ["The record is whole; nothing is recorded yet."]
    else:
        lines = [
            f"The record is whole: {plural(head.number, 'entry', 'entries')}, and every drawing is"
            " as it was brought in.",
            f"To note down: {head.number}:{head.hash}",
        ]
    return "".join(f"{line}\n" for line in lines)


def verify_object(problems: Sequence[Problem], head: Head | None) -> dict[str, Any]:
    """The JSON object `holeschedule.verify/1`."""
    return {
        "format": "holeschedule.verify/1",
        "problems": [problem._asdict() for problem in problems],
        "last": None if head is None else head._asdict(),
    }
