"""Open a record, read it, and append to it: one command is one entry and one transaction."""

# What marking a row does not need is imported where it is used: it has to be done in no time.
# ruff: noqa: PLC0415

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from types import TracebackType
from typing import TYPE_CHECKING, NamedTuple, Self

from holeschedule.errors import RecordError
from holeschedule.record.database import Connection, connect, reading, writing
from holeschedule.record.events import (
    FIRST_PREVIOUS,
    Entry,
    EntryDraft,
    Event,
    Head,
    check_draft,
    check_words,
    hash_entry,
)
from holeschedule.record.judge import GATES, Gate
from holeschedule.record.kept import read_parts, rewrite_kept, write_kept
from holeschedule.record.live import LiveStates, plan_imports, plan_requests
from holeschedule.record.needs import Needs
from holeschedule.record.plan import Plan
from holeschedule.record.state import PartState
from holeschedule.selection import Pick

if TYPE_CHECKING:
    from pathlib import Path

    from holeschedule.record.drawn import HoleChange
    from holeschedule.record.events import Measure
    from holeschedule.record.verify import Problem

Clock = Callable[[], datetime]


def _local_now() -> datetime:
    return datetime.now().astimezone()


class Appended(NamedTuple):
    """What came of a draft: the entry, None if nothing was recorded, and the plans behind it."""

    entry: Entry | None
    plans: tuple[Plan, ...]


def open_record(path: Path, *, create: bool = False, clock: Clock = _local_now) -> Record:
    """Open the record at `path`.

    Parameters
    ----------
    path : Path
        The file.
    create : bool
        Start a record where there is no file, or an empty one.
    clock : callable
        Returns the present time with its offset from UTC.

    Raises
    ------
    RecordError
        The file is missing, empty, damaged, of another program or of a newer version, or may not
        be read.
    """
    return Record(path, connect(path, create=create), clock)


class Record:
    """A record that is open; close it, or use it in a `with` statement. Compared by identity.

    Reading methods write nothing, and each sees the record as it is at that moment. Every method
    raises RecordError where the file cannot be read or written.
    """

    def __init__(self, path: Path, db: Connection, clock: Clock) -> None:
        self._path = path
        self._db = db
        self._clock = clock

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    # Appending ---------------------------------------------------------------------------------

    def append(self, draft: EntryDraft, needs: Needs, gates: Sequence[Gate] = GATES) -> Appended:
        """Record a draft as one entry, judged by the state at the moment of writing.

        Parameters
        ----------
        draft : EntryDraft
            What is asked for.
        needs : mapping of part name to PartNeeds
            What the build intends; the routes follow from it.
        gates : sequence of Gate
            Judge what lies beyond a hole.

        Returns
        -------
        Appended
            Without an entry if there was nothing to record: everything was done already, or a
            hole was refused and the draft is not `partial`. The plans say which.

        Raises
        ------
        RecordError
            The draft is not complete, or its revision does not fit the part. Nothing is recorded.
        """
        check_draft(draft)
        with writing(self._db, self._path) as db:
            states = LiveStates(db)
            changes = plan_imports(draft, states)
            plans, events = plan_requests(draft, states, needs, gates)
            stopped = not draft.partial and any(plan.refused for plan in plans)
            if stopped or not (draft.imports or events):
                return Appended(None, plans)
            entry = self._write(db, draft, (changes, events), None)
            for part in states.changed:
                write_kept(db, states.before(part), states[part])
        return Appended(entry, plans)

    def plan(
        self, draft: EntryDraft, needs: Needs, gates: Sequence[Gate] = GATES
    ) -> tuple[Plan, ...]:
        """What `append` would make of a draft now, request by request; nothing is recorded.

        Raises
        ------
        RecordError
            The draft is not complete.
        """
        check_draft(draft)
        with reading(self._db, self._path) as db:
            plans, _ = plan_requests(draft, LiveStates(db), needs, gates)
        return plans

    def undo(
        self,
        who: str,
        number: int | None = None,
        *,
        note: str = "",
        at: datetime | None = None,
        origin: str = "command line",
    ) -> Entry:
        """Take an entry back by a further one; without `number` the last one of work in force.

        An undo is taken back by its own number, and then counts as never made.

        Raises
        ------
        RecordError
            There is no such entry, it is taken back already, or a later one builds on it; the
            message says which.
        """
        draft = EntryDraft("undo", who, note=note, at=at, origin=origin)
        check_words(draft)
        from holeschedule.record import queries
        from holeschedule.record.undo import plan_undo

        with writing(self._db, self._path) as db:
            undoing = plan_undo(db, number)
            entry = self._write(db, draft, ((), ()), undoing.target)
            void = queries.taken_back(db)
            for part in undoing.parts:
                rewrite_kept(db, part, queries.fold_parts(db, void, part).get(part))
        return entry

    def rebuild(self) -> tuple[str, ...]:
        """Recompute the kept tables from everything recorded; nothing recorded is touched.

        Returns
        -------
        tuple of str
            Names of the parts, all of them now as the fold has them.
        """
        from holeschedule.record import queries

        with writing(self._db, self._path) as db:
            folded = queries.fold_parts(db, queries.taken_back(db))
            db.execute("DELETE FROM kept_part")
            db.execute("DELETE FROM kept_copy")
            for part in folded.values():
                write_kept(db, None, part)
        return tuple(folded)

    def _write(
        self,
        db: Connection,
        draft: EntryDraft,
        work: tuple[tuple[HoleChange, ...], tuple[Event, ...]],
        target: int | None,
    ) -> Entry:
        recorded, at = self._times(draft.at)
        last = _head(db) or Head(0, FIRST_PREVIOUS)
        entry = Entry(
            last.number + 1,
            recorded,
            at,
            draft.who,
            draft.command,
            draft.note,
            draft.origin,
            target,
            tuple(imported.revision for imported in draft.imports),
            *work,
            last.hash,
        )
        entry = entry._replace(hash=hash_entry(_fields_of(entry)))
        _write_entry(db, entry)
        return entry

    def _times(self, at: datetime | None) -> tuple[str, str]:
        now = self._clock()
        work = now if at is None else at
        if work.tzinfo is None:
            work = work.astimezone()
        if work > now:
            raise RecordError(
                f"{work.isoformat(sep=' ', timespec='minutes')} is still to come; work is"
                " recorded when it is done. Correct the time."
            )
        utc = now.astimezone(UTC).isoformat(timespec="milliseconds")
        return utc.replace("+00:00", "Z"), work.isoformat(timespec="seconds")

    # Reading -----------------------------------------------------------------------------------

    def states(self, part: str | None = None) -> dict[str, PartState]:
        """Parts with their holes and the work on them; one part, or all.

        A part that the record does not know is not in the answer.
        """
        with reading(self._db, self._path) as db:
            return read_parts(db, part)

    def holes(self, part: str) -> dict[str, HoleChange]:
        """Holes that a part has now, by label, with place and diameter [in] as last drawn."""
        from holeschedule.record import queries

        with reading(self._db, self._path) as db:
            return queries.read_holes(db, queries.taken_back(db), part)

    def entries(
        self,
        *,
        part: str | None = None,
        copy: int | None = None,
        label: str | None = None,
        day: str | None = None,
        who: str | None = None,
        last: int | None = None,
    ) -> tuple[Entry, ...]:
        """History: entries in order, those that were taken back and their undos among them.

        Parameters
        ----------
        part, copy, label : str, int, str
            Entries about this part, this copy of it, this hole. Work on the part as a whole and
            revisions that changed the hole are about the hole as well.
        day : str
            Entries of work done on that date, as 2026-03-05, where it was done.
        who : str
            Entries by this person, in any case.
        last : int
            Only so many, the latest.
        """
        from holeschedule.record import queries, rows

        with reading(self._db, self._path) as db:
            found = queries.find_entries(db, (part, copy, label), day, who)
            return rows.read_entries(db, found if last is None else found[-last:] if last else [])

    def taken_back(self) -> dict[int, int]:
        """Entries that are taken back, each with the undo that is in force for it."""
        from holeschedule.record import queries

        with reading(self._db, self._path) as db:
            return queries.taken_back(db)

    def events(self, part: str | None = None) -> tuple[tuple[int, Event], ...]:
        """Events in force with their entry numbers, in order; of one part, or all."""
        from holeschedule.record import queries

        with reading(self._db, self._path) as db:
            return tuple(queries.events_in_force(db, queries.taken_back(db), part))

    def measures(self) -> dict[Pick, dict[Measure, float]]:
        """Measurements [in] that still hold, by hole; holes that were retired left out."""
        from holeschedule.record import queries
        from holeschedule.record.measures import latest_measures

        with reading(self._db, self._path) as db:
            void = queries.taken_back(db)
            found = latest_measures(event for _, event in queries.events_in_force(db, void, None))
            labels = {
                (part, number): label
                for part, state in read_parts(db).items()
                for label, number in state.numbers.items()
            }
        return {
            Pick(part, copy, labels[part, number]): values
            for (part, copy, number), values in found.items()
            if (part, number) in labels
        }

    def work_days(self) -> tuple[str, ...]:
        """Dates on which work in force was done, as 2026-03-05, in order."""
        from holeschedule.record import queries

        with reading(self._db, self._path) as db:
            return tuple(sorted(queries.work_days(db, queries.taken_back(db))))

    def head(self) -> Head | None:
        """Return number and hash of the last entry; None where there is none."""
        with reading(self._db, self._path) as db:
            return _head(db)

    def verify(self, noted: Head | None = None) -> tuple[Problem, ...]:
        """Check the whole record; every problem found is returned, none means it is whole.

        Parameters
        ----------
        noted : Head
            A head noted down earlier, which the record then has to contain. Without it, entries
            cut off at the end cannot be told from entries never made.
        """
        from holeschedule.record.verify import find_problems

        with reading(self._db, self._path) as db:
            return find_problems(db, noted)


def _head(db: Connection) -> Head | None:
    row = db.execute("SELECT number, hash FROM entry ORDER BY number DESC LIMIT 1").fetchone()
    if row is None:
        return None
    number, its_hash = row
    if not (isinstance(number, int) and isinstance(its_hash, str)):
        raise RecordError(f"entry {number!r}: is damaged. Run verify.")
    return Head(number, its_hash)


def _fields_of(entry: Entry) -> list[object]:
    """Everything in an entry that its hash is over, as the tables will hold it."""
    events = [(*event[:4], int(event.as_found), *event[5:]) for event in entry.events]
    return [*entry[:8], entry.revisions, entry.holes, events, entry.previous]


_INSERTS = (
    "INSERT INTO revision VALUES (?,?,?,?,?,?)",
    "INSERT INTO hole VALUES (?,?,?,?,?,?,?,?,?,?)",
    "INSERT INTO event VALUES (?,?,?,?,?,?,?,?,?)",
)


def _write_entry(db: Connection, entry: Entry) -> None:
    """Add an entry; its rows first, because it is closed as soon as it is there itself."""
    children = (entry.revisions, entry.holes, entry.events)
    for insert, rows in zip(_INSERTS, children, strict=True):
        db.executemany(insert, [(entry.number, n, *row) for n, row in enumerate(rows)])
    row = (*entry[:8], entry.previous, entry.hash)
    db.execute("INSERT INTO entry VALUES (?,?,?,?,?,?,?,?,?,?)", row)
