"""What an undo may take back: an entry that nothing later builds on."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import NamedTuple

from holeschedule.errors import RecordError
from holeschedule.record.database import Connection
from holeschedule.record.events import REPLACE, Entry, Event, read_numbers
from holeschedule.record.queries import taken_back
from holeschedule.record.rows import read_entries


class Undoing(NamedTuple):
    """An entry that can be taken back, and the parts whose state that changes."""

    target: int
    parts: frozenset[str]


def plan_undo(db: Connection, number: int | None) -> Undoing:
    """Find the entry to take back: `number`, or the last one of work that is still in force.

    Raises
    ------
    RecordError
        There is no such entry, it is taken back already, or a later one builds on it.
    """
    void = taken_back(db)
    target = _entry(db, _last_in_force(db, void) if number is None else number)
    if target.number in void:
        by = void[target.number]
        raise RecordError(
            f"entry {target.number} is taken back already, by entry {by}; undo {by} to have it"
            " again."
        )
    work = _work_of(db, target)
    parts = frozenset(_parts(work))
    for entry in _later(db, target.number, parts, void):
        # what came after the target and was taken back again leaves nothing that builds on it
        is_neutral = entry.takes_back is not None and entry.takes_back > target.number
        if not is_neutral and _builds_on(_work_of(db, entry), work):
            raise RecordError(
                f"entry {target.number} cannot be taken back: entry {entry.number}"
                f" ({entry.command}) builds on it. Undo {entry.number} first."
            )
    return Undoing(target.number, parts)


def _last_in_force(db: Connection, void: Collection[int]) -> int:
    for (number,) in db.execute(
        "SELECT number FROM entry WHERE takes_back IS NULL ORDER BY number DESC"
    ):
        if number not in void:
            return int(number)
    raise RecordError("there is nothing to take back: no entry of work is in force.")


def _entry(db: Connection, number: int) -> Entry:
    found = read_entries(db, [number])
    if not found:
        (last,) = db.execute("SELECT max(number) FROM entry").fetchone()
        there = f"the entries are 1 to {last}" if last else "the record has none yet"
        raise RecordError(f"there is no entry {number}; {there}.")
    return found[0]


def _work_of(db: Connection, entry: Entry) -> Entry:
    """Return the entry whose work is in question: an undo stands for what it takes back."""
    while entry.takes_back is not None:
        entry = _entry(db, entry.takes_back)
    return entry


def _later(
    db: Connection, number: int, parts: Collection[str], void: Collection[int]
) -> tuple[Entry, ...]:
    """Entries in force after `number` that are about one of the parts, and every undo."""
    marks = ",".join("?" * len(parts))
    rows = db.execute(
        f"SELECT entry FROM event WHERE entry > ? AND part IN ({marks})"  # noqa: S608 (own words)
        f" UNION SELECT entry FROM revision WHERE entry > ? AND part IN ({marks})"
        " UNION SELECT number FROM entry WHERE number > ? AND takes_back IS NOT NULL",
        (number, *parts, number, *parts, number),
    )
    return read_entries(db, [later for (later,) in rows if later not in void])


def _parts(entry: Entry) -> Iterator[str]:
    yield from (revision.part for revision in entry.revisions)
    yield from (event.part for event in entry.events)


def _builds_on(later: Entry, earlier: Entry) -> bool:
    drawn = {revision.part for revision in (*later.revisions, *earlier.revisions)}
    if drawn & set(_parts(later)) & set(_parts(earlier)):
        return True
    return any(_follows(new, old) for new in later.events for old in earlier.events)


def _follows(later: Event, earlier: Event) -> bool:
    """Whether an event needs an earlier one, or could have been refused without it."""
    if (later.part, later.copy) != (earlier.part, earlier.copy):
        return False
    if REPLACE in (later.what, earlier.what) or not earlier.holes:
        return True
    return any(
        new.start < old.stop and old.start < new.stop
        for new in read_numbers(later.holes)
        for old in read_numbers(earlier.holes)
    )
