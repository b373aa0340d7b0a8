"""The state of the parts within the transaction that writes, and what a draft makes of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from operator import itemgetter
from typing import TYPE_CHECKING

from holeschedule.errors import RecordError
from holeschedule.record.database import Connection
from holeschedule.record.events import EntryDraft, Event, write_numbers
from holeschedule.record.judge import Gate
from holeschedule.record.kept import read_parts
from holeschedule.record.needs import Needs
from holeschedule.record.plan import Plan, plan_request
from holeschedule.record.state import PartState, copies_after

if TYPE_CHECKING:
    from holeschedule.record.drawn import HoleChange


class LiveStates(Mapping[str, PartState]):
    """Parts as they are within a transaction, each read when it is first asked for.

    `changed` holds those that something is planned for, as they would be then.
    """

    def __init__(self, db: Connection) -> None:
        self._db = db
        self._loaded: dict[str, PartState | None] = {}
        self.changed: dict[str, PartState] = {}

    def __getitem__(self, part: str) -> PartState:
        if part in self.changed:
            return self.changed[part]
        if part not in self._loaded:
            self._loaded[part] = read_parts(self._db, part).get(part)
        found = self._loaded[part]
        if found is None:
            raise KeyError(part)
        return found

    def before(self, part: str) -> PartState | None:
        """Return a part as the record has it, without what is planned."""
        return self._loaded.get(part)

    def numbers_given(self, part: str) -> int:
        """Highest number that a hole of a part was ever given, 0 for none."""
        query = "SELECT coalesce(max(number), 0) FROM hole WHERE part = ?"
        (number,) = self._db.execute(query, (part,)).fetchone()
        return int(number)

    def __iter__(self) -> Iterator[str]:
        return (name for (name,) in self._db.execute("SELECT part FROM kept_part ORDER BY part"))

    def __len__(self) -> int:
        return sum(1 for _ in self)


def plan_imports(draft: EntryDraft, states: LiveStates) -> tuple[HoleChange, ...]:
    """Plan the revisions of a draft, and put the parts as they would be into `states`.

    Raises
    ------
    RecordError
        A revision is not complete, or does not fit its part.
    """
    if not draft.imports:
        return ()
    from holeschedule.record.revisions import part_with, plan_import  # noqa: PLC0415 (as in store)

    found: list[HoleChange] = []
    for imported in draft.imports:
        name = imported.revision.part
        if name in states.changed:
            raise RecordError(f"{name}: is imported twice in one entry; import it once.")
        part = states.get(name) or PartState(name)
        given = states.numbers_given(name)
        changes = plan_import(imported, part, given, [*states, *states.changed])
        states.changed[name] = part_with(part, changes)
        found += changes
    return tuple(found)


def plan_requests(
    draft: EntryDraft, states: LiveStates, needs: Needs, gates: Sequence[Gate]
) -> tuple[tuple[Plan, ...], tuple[Event, ...]]:
    """Plan each request on top of what those before it do; `states` then has all of it."""
    plans: list[Plan] = []
    events: list[Event] = []
    for request in draft.requests:
        plan = plan_request(states, needs, request, gates)
        plans.append(plan)
        found = _events_of(plan, states)
        for part in {event.part for event in found}:
            own = [event for event in found if event.part == part]
            copies = copies_after(states[part].copies, own)
            states.changed[part] = states[part].with_copies(copies)
        events += found
    return tuple(plans), tuple(events)


def _events_of(plan: Plan, states: Mapping[str, PartState]) -> tuple[Event, ...]:
    """Events of what a plan accepts: one for each copy, and one for what is out of order there."""
    late = frozenset(plan.out_of_order)
    numbers: dict[tuple[str, int, bool], list[int]] = {}
    for (part, copy), picks in groupby(plan.accepted, key=itemgetter(0, 1)):
        known, held = states[part].numbers, tuple(picks)
        for as_found in (False, True) if late else (False,):
            chosen = [pick for pick in held if (pick in late) is as_found] if late else held
            if chosen:
                found = numbers.setdefault((part, copy, as_found), [])
                found += [known[pick.label] for pick in chosen if pick.label]
    what, _, detail, value, _ = plan.request
    value = None if value is None else float(value)  # as the table returns it
    return tuple(
        Event(part, copy, write_numbers(held), what, as_found, detail, value)
        for (part, copy, as_found), held in numbers.items()
    )
