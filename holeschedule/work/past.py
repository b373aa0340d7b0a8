"""The work as it stood after an entry: what was done then, and on which day."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain

from holeschedule.operations import Operation, PartOperation
from holeschedule.record.events import DRILL_OUT, REPLACE, Entry, Event, read_numbers
from holeschedule.record.needs import HoleNeeds, PartNeeds, facts_of
from holeschedule.record.routes import LEADS_TO, route
from holeschedule.record.state import (
    DRAWN,
    NEW_COPY,
    CopyState,
    PartState,
    copies_after,
    decode_state,
)
from holeschedule.views.checklist import DONE, NOT_NEEDED, TO_DO

_LEVEL = {operation: LEADS_TO[operation].level for operation in Operation}


def in_force(entries: Sequence[Entry]) -> Iterator[Entry]:
    """Entries that none of these takes back, in order."""
    void: set[int] = set()
    for entry in reversed(entries):
        if entry.takes_back is not None and entry.number not in void:
            void.add(entry.takes_back)
    return (entry for entry in entries if entry.number not in void)


class Past:
    """What was done by the entries given, all of them up to some moment.

    Parameters
    ----------
    entries : sequence of Entry
        The record up to that moment, from its first entry on.
    states : mapping of part name to PartState
        The parts with the holes they have now.
    needs : mapping of part name to PartNeeds
        What is intended now: it says which operations are needed.
    """

    def __init__(
        self,
        entries: Sequence[Entry],
        states: Mapping[str, PartState],
        needs: Mapping[str, PartNeeds],
    ) -> None:
        self._states = states
        self._needs = needs
        self._events: dict[str, list[Event]] = {}
        self._days: dict[tuple[str, int], dict[tuple[int, str], str]] = {}
        for entry in in_force(entries):
            for event in entry.events:
                self._events.setdefault(event.part, []).append(event)
                days = self._days.setdefault((event.part, event.copy), {})
                _note_day(days, event, entry.day)
        self._copies: dict[str, dict[int, CopyState]] = {}
        self._texts: dict[tuple[str, int, HoleNeeds], tuple[str, ...]] = {}

    def work(self, part: str, copy: int, label: str) -> tuple[str, ...]:
        """For each `Operation` at a hole: the day it was done, or a word of `views.checklist`."""
        state, copy_state = self._states[part], self._copy(part, copy)
        number = state.numbers[label]
        kind = (
            state.drawn[number - 1],
            copy_state.code_of(number),
            self._needs[part].hole(label),
        )
        texts = self._texts.get(kind)
        if texts is None:
            texts = self._texts[kind] = tuple(_texts(*kind))
        days = self._days.get((part, copy))
        if not days or DONE not in texts:
            return texts
        return tuple(
            days.get((number, operation), DONE) if text == DONE else text
            for operation, text in zip(Operation, texts, strict=True)
        )

    def part_work(self, part: str, copy: int) -> tuple[str, ...]:
        """For each `PartOperation` on a copy: the day it was done, or such a word."""
        done, days = self._copy(part, copy).operations, self._days.get((part, copy), {})
        needed = self._needs[part].operations
        return tuple(
            days.get((0, operation), DONE)
            if operation in done
            else (TO_DO if operation in needed else NOT_NEEDED)
            for operation in PartOperation
        )

    def _copy(self, part: str, copy: int) -> CopyState:
        if part not in self._copies:
            self._copies[part] = copies_after({}, self._events.get(part, ()))
        return self._copies[part].get(copy, NEW_COPY)


def _note_day(days: dict[tuple[int, str], str], event: Event, day: str) -> None:
    if event.what == REPLACE:
        days.clear()
        return
    numbers: Iterable[int] = chain.from_iterable(read_numbers(event.holes)) if event.holes else (0,)
    if event.what == DRILL_OUT:
        for number in numbers:
            days.pop((number, Operation.RIVET), None)
        return
    days.update(dict.fromkeys(((number, event.what) for number in numbers), day))


def _texts(letter: str, code: int, need: HoleNeeds) -> Iterator[str]:
    facts = facts_of(DRAWN[letter], need)
    needed, level = route(facts), decode_state(code).stage_of(facts.drawn).level
    for operation in Operation:
        if operation not in needed:
            yield NOT_NEEDED
        else:
            yield DONE if _LEVEL[operation] <= level else TO_DO
