"""Questions to a record: which entries are in force, what the parts are, which entries are meant.

Everything here works within a transaction that its caller holds.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from operator import itemgetter

from holeschedule.errors import RecordError
from holeschedule.record.database import Connection
from holeschedule.record.drawn import Change, HoleChange
from holeschedule.record.events import Event, read_numbers
from holeschedule.record.revisions import moves, part_with
from holeschedule.record.rows import damaged, event_of, hole_of, revision_of
from holeschedule.record.state import PartState, copies_after


def taken_back(db: Connection) -> dict[int, int]:
    """Entries that are taken back, each with the entry that does so and is itself in force."""
    found: dict[int, int] = {}
    # sorted here: asked for in order, SQLite would rather go through every entry than the index
    undos = db.execute("SELECT number, takes_back FROM entry WHERE takes_back IS NOT NULL")
    for number, target in sorted(undos, key=itemgetter(0), reverse=True):
        if number not in found:
            found[target] = number
    return found


# Parts -----------------------------------------------------------------------------------------


def fold_parts(
    db: Connection, void: Collection[int], part: str | None = None
) -> dict[str, PartState]:
    """Parts with their holes and the work on them, from everything recorded; one part or all.

    `void` are the entries that were taken back; the kept tables are not looked at. A part of
    which every revision was taken back is not there.

    Raises
    ------
    RecordError
        A row is damaged, or an event is about holes that its part never had.
    """
    drawn: dict[str, list[HoleChange]] = {}
    for entry, *row in db.execute(
        "SELECT entry, part, revision, drawing, sha256 FROM revision"
        " WHERE ?1 IS NULL OR part = ?1 ORDER BY entry, place",
        (part,),
    ):
        if entry not in void:
            drawn[revision_of(entry, row).part] = []
    steps: dict[str, list[tuple[int, Event]]] = {name: [] for name in drawn}
    had: dict[str, int] = {}
    for entry, change in changes(db, part):
        had[change.part] = max(had.get(change.part, 0), change.number)
        if entry not in void:
            drawn.setdefault(change.part, []).append(change)
            steps.setdefault(change.part, []).extend((entry, move) for move in moves([change]))
    for entry, event in events_in_force(db, void, part):
        _check_holes(entry, event, had.get(event.part, 0))
        steps.setdefault(event.part, []).append((entry, event))
    return {
        name: _folded(part_with(PartState(name), found), steps[name])
        for name, found in drawn.items()
    }


def _folded(part: PartState, steps: list[tuple[int, Event]]) -> PartState:
    # the sort is stable: within an entry, what moves holes comes before the work
    in_order = [event for _, event in sorted(steps, key=lambda step: step[0])]
    return part.with_copies(copies_after({}, in_order))


def _check_holes(entry: int, event: Event, numbers: int) -> None:
    held = read_numbers(event.holes)
    if held and held[-1].stop - 1 > numbers:
        raise RecordError(
            f"entry {entry}: {event.what} on holes {event.holes} of {event.part}, which has had"
            f" {numbers}. Run verify."
        )


def read_holes(db: Connection, void: Collection[int], part: str) -> dict[str, HoleChange]:
    """Holes that a part has now, by label, each as its last change left it."""
    found: dict[str, HoleChange] = {}
    for entry, change in changes(db, part):
        if entry in void:
            continue
        if change.change == Change.RETIRE:
            found.pop(change.label, None)
        else:
            found[change.label] = change
    return found


def changes(db: Connection, part: str | None) -> Iterator[tuple[int, HoleChange]]:
    """Changes of holes with their entry numbers, in order, taken back or not; of a part, or all."""
    for entry, *row in db.execute(
        "SELECT entry, part, number, label, change, x, y, diameter, drawn FROM hole"
        " WHERE ?1 IS NULL OR part = ?1 ORDER BY entry, place",
        (part,),
    ):
        yield entry, hole_of(entry, row)


def events_in_force(
    db: Connection, void: Collection[int], part: str | None
) -> Iterator[tuple[int, Event]]:
    """Events that were not taken back with their entry numbers, in order; of a part, or all."""
    for entry, *row in db.execute(
        "SELECT entry, part, copy, holes, what, as_found, detail, value FROM event"
        " WHERE ?1 IS NULL OR part = ?1 ORDER BY entry, place",
        (part,),
    ):
        if entry not in void:
            yield entry, event_of(entry, row)


def work_days(db: Connection, void: Collection[int]) -> set[str]:
    """Dates on which work that was not taken back was done."""
    return {str(day) for (day,) in db.execute(_DAYS) if _is_worked_on(db, void, day)}


_DAYS = """
WITH RECURSIVE days(day) AS (
    SELECT min(substr(at, 1, 10)) FROM entry
    UNION ALL
    SELECT (SELECT min(substr(at, 1, 10)) FROM entry WHERE substr(at, 1, 10) > day) FROM days
    WHERE day IS NOT NULL
)
SELECT day FROM days WHERE day IS NOT NULL
"""
"""Steps from day to day along the index: looking at every entry takes far longer."""


def _is_worked_on(db: Connection, void: Collection[int], day: str) -> bool:
    numbers = db.execute(
        "SELECT number FROM entry WHERE substr(at, 1, 10) = ? AND takes_back IS NULL"
        " AND EXISTS (SELECT 1 FROM event WHERE entry = number)",
        (day,),
    )
    return any(number not in void for (number,) in numbers)


# History ---------------------------------------------------------------------------------------


def find_entries(
    db: Connection,
    about: tuple[str | None, int | None, str | None],
    day: str | None,
    who: str | None,
) -> list[int]:
    """Numbers of entries, in order: about a part, copy and label, of a day, by a person.

    Names of persons are compared in any case.
    """
    part, copy, label = about
    wanted = None if part is None else _entries_about(db, part, copy, label)
    wanted_who = None if who is None else who.casefold()
    found = []
    for number, target, its_day, person in db.execute(
        "SELECT number, takes_back, substr(at, 1, 10), who FROM entry ORDER BY number"
    ):
        if not isinstance(number, int):
            raise damaged(number, "entry", (number, target, person))
        if wanted is not None and target in wanted:
            wanted.add(number)  # an undo is about what it takes back
        if (
            (wanted is None or number in wanted)
            and day in (None, its_day)
            and (wanted_who is None or str(person).casefold() == wanted_who)
        ):
            found.append(number)
    return found


def _entries_about(db: Connection, part: str, copy: int | None, label: str | None) -> set[int]:
    """Entries of work on a part or a hole of it, and of revisions; undos are not among them."""
    if label is None:
        rows = db.execute("SELECT entry FROM revision WHERE part = ?", (part,))
        found, numbers = {entry for (entry,) in rows}, frozenset[int]()
    else:
        its = [
            (entry, change.number) for entry, change in changes(db, part) if change.label == label
        ]
        found, numbers = {entry for entry, _ in its}, frozenset(number for _, number in its)
    for entry, event in events_in_force(db, (), part):
        held = read_numbers(event.holes)
        is_about = label is None or not held or any(n in r for n in numbers for r in held)
        if is_about and copy in (None, event.copy):
            found.add(entry)
    return found
