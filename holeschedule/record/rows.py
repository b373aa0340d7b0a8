"""What is recorded, read from the tables; a damaged row ends in one clear line.

Everything here works within a transaction that its caller holds.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import Any, NamedTuple

from holeschedule.errors import RecordError
from holeschedule.record.database import Connection
from holeschedule.record.drawn import Change, HoleChange, Revision
from holeschedule.record.events import KINDS, MOST_HOLES, Entry, Event, read_numbers
from holeschedule.record.routes import Drawn

Row = Sequence[Any]

_ENTRIES = (
    "SELECT number, recorded, at, who, command, note, origin, takes_back, previous, hash"
    " FROM entry WHERE number BETWEEN ? AND ? ORDER BY number"
)
_CHILDREN = (
    "SELECT entry, part, revision, drawing, sha256 FROM revision"
    " WHERE entry BETWEEN ? AND ? ORDER BY entry, place",
    "SELECT entry, part, number, label, change, x, y, diameter, drawn FROM hole"
    " WHERE entry BETWEEN ? AND ? ORDER BY entry, place",
    "SELECT entry, part, copy, holes, what, as_found, detail, value FROM event"
    " WHERE entry BETWEEN ? AND ? ORDER BY entry, place",
)
_EVERY_NUMBER = (-(1 << 63), (1 << 63) - 1)
_INT, _TEXT, _REAL, _REAL_OR_NULL = int, str, float, (float, type(None))
_TYPES: dict[str, tuple[Any, ...]] = {
    "entry": (_INT, *(_TEXT,) * 6, (int, type(None)), _TEXT, _TEXT),
    "revision": (_TEXT,) * 4,
    "hole": (_TEXT, _INT, _TEXT, _TEXT, _REAL, _REAL, _REAL_OR_NULL, _TEXT),
    "event": (_TEXT, _INT, _TEXT, _TEXT, _INT, _TEXT, _REAL_OR_NULL),
}
_CHANGES = {str(change): change for change in Change}
_DRAWN = {str(drawn): drawn for drawn in Drawn}


# Rows as values --------------------------------------------------------------------------------


def hole_of(entry: int, row: Row) -> HoleChange:
    """Read a row of table hole from its column part on; a damaged one is a RecordError."""
    part, number, label, change, x, y, diameter, drawn = row
    if not (
        isinstance(entry, int)
        and all(map(isinstance, row, _TYPES["hole"]))
        and 1 <= number <= MOST_HOLES
        and change in _CHANGES
        and drawn in _DRAWN
    ):
        raise damaged(entry, "hole", row)
    return HoleChange(part, number, label, _CHANGES[change], x, y, diameter, _DRAWN[drawn])


def event_of(entry: int, row: Row) -> Event:
    """Read a row of table event from its column part on; a damaged one is a RecordError."""
    part, copy, holes, what, as_found, detail, value = row
    kind = KINDS.get(what)
    if not (
        isinstance(entry, int)
        and all(map(isinstance, row, _TYPES["event"]))
        and kind is not None
        and copy >= 1
        and bool(holes) is kind.of_hole
        and detail in (kind.details or ("",))
        and kind.has_value is not (value is None)
        and _are_numbers(holes)
    ):
        raise damaged(entry, "event", row)
    return Event(part, copy, holes, what, bool(as_found), detail, value)


def _are_numbers(holes: str) -> bool:
    try:
        return all(read_numbers(holes))
    except ValueError:
        return False


def revision_of(entry: int, row: Row) -> Revision:
    """Read a row of table revision from its column part on; a damaged one is a RecordError."""
    if not all(map(isinstance, row, _TYPES["revision"])):
        raise damaged(entry, "revision", row)
    return Revision(*row)


def damaged(entry: int, table: str, row: Row) -> RecordError:
    """Make the error for a row that cannot be."""
    return RecordError(
        f"entry {entry}: the row {ascii(row)[:120]} of table {table} is damaged. Run verify."
    )


class RawEntry(NamedTuple):
    """An entry as the tables hold it, unread: its row, and the rows that belong to it."""

    row: Row
    revisions: list[Row]
    holes: list[Row]
    events: list[Row]

    def fields(self) -> list[object]:
        """Everything that the entry's hash is over, in its order."""
        return [*self.row[:8], self.revisions, self.holes, self.events, self.row[8]]

    def read(self) -> Entry:
        """Read the entry.

        Raises
        ------
        RecordError
            A row is damaged.
        """
        number, recorded, at, who, command, note, origin, target, previous, own = self.row
        if not all(map(isinstance, self.row, _TYPES["entry"])):
            raise damaged(number, "entry", self.row)
        return Entry(
            number,
            recorded,
            at,
            who,
            command,
            note,
            origin,
            target,
            tuple(revision_of(number, row) for row in self.revisions),
            tuple(hole_of(number, row) for row in self.holes),
            tuple(event_of(number, row) for row in self.events),
            previous,
            own,
        )


def raw_entries(
    db: Connection, numbers: Iterable[int] | None = None, strays: set[int] | None = None
) -> Iterator[RawEntry]:
    """Entries of the given numbers, or all, in order.

    Entry numbers of rows that belong to no entry are added to `strays`.
    """
    lost: set[int] = set() if strays is None else strays
    spans = [_EVERY_NUMBER] if numbers is None else _spans(numbers)
    for span in spans:
        children = [_Children(db.execute(query, span), lost) for query in _CHILDREN]
        for row in db.execute(_ENTRIES, span):
            if not isinstance(row[0], int):
                raise damaged(row[0], "entry", row)
            yield RawEntry(row, *(child.of(row[0]) for child in children))
        for child in children:
            child.end()


def _spans(numbers: Iterable[int]) -> Iterator[tuple[int, int]]:
    """First and last of each run of neighbouring numbers."""
    placed = enumerate(sorted(set(numbers)))
    for _, run in groupby(placed, key=lambda item: item[1] - item[0]):
        members = [number for _, number in run]
        yield members[0], members[-1]


class _Children:
    """Rows of one table by entry, read once from front to back."""

    def __init__(self, rows: Iterable[Row], strays: set[int]) -> None:
        self._groups = groupby(rows, key=lambda row: row[0])
        self._strays = strays
        self._next: tuple[int, list[Row]] | None = None
        self._read_next()

    def _read_next(self) -> None:
        found = next(self._groups, None)
        self._next = None if found is None else (found[0], [row[1:] for row in found[1]])
        if found is not None and not isinstance(found[0], int):
            raise damaged(found[0], "rows", found)

    def of(self, number: int) -> list[Row]:
        while self._next is not None and self._next[0] < number:
            self._strays.add(self._next[0])
            self._read_next()
        if self._next is None or self._next[0] != number:
            return []
        rows = self._next[1]
        self._read_next()
        return rows

    def end(self) -> None:
        while self._next is not None:
            self._strays.add(self._next[0])
            self._read_next()


def read_entries(db: Connection, numbers: Iterable[int] | None = None) -> tuple[Entry, ...]:
    """Entries of the given numbers, or all, in order."""
    return tuple(raw.read() for raw in raw_entries(db, numbers))
