"""From events to the state of each hole: a pure fold, with no file and no clock.

What was done is kept apart from what is intended: a `HoleState` says what the events amount to,
and `HoleState.stage_of` sets it beside the hole as drawn. Treatment, rivet and route are the
build's intentions; the caller brings them (`plan`, `ready`) and nothing here stores them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from itertools import chain
from types import MappingProxyType
from typing import NamedTuple

from holeschedule.errors import RecordError
from holeschedule.operations import Operation, PartOperation
from holeschedule.record.events import (
    ACCEPT,
    DRILL_OUT,
    MEASURE,
    REJECT,
    REPLACE,
    Event,
    Fault,
    read_numbers,
)
from holeschedule.record.routes import LEADS_TO, START, Drawn, Stage

MOVED = "moved"
"""Stands in the fold for a revision that moved a hole; never recorded as an event."""

EVERY_COPY = 0
"""The copy of such an event."""


class HoleState(NamedTuple):
    """What the events of one hole amount to since its part was new. Equality is by value.

    `reached` is the state the last operation led to, None where none is recorded; `before_rivet`
    what it was before the rivet in it now. `fault` is the open reject. `as_found` tells that an
    operation was recorded out of order, `moved` that a revision moved the hole after work on it.
    """

    reached: Stage | None = None
    before_rivet: Stage | None = None
    fault: Fault | None = None
    as_found: bool = False
    moved: bool = False

    def stage_of(self, drawn: Drawn) -> Stage:
        """State of the hole if it is drawn so: what was done, or what it was punched with."""
        start = START[drawn]
        if self.reached is None or self.reached.level < start.level:
            return start
        return self.reached


_STAGES: tuple[Stage | None, ...] = (None, *Stage)
_FAULTS: tuple[Fault | None, ...] = (None, *Fault)


@cache
def encode_state(state: HoleState) -> int:
    """Number of a state, as the kept table has it; 0 is a new hole."""
    code = _STAGES.index(state.reached)
    code = code * len(_STAGES) + _STAGES.index(state.before_rivet)
    code = code * len(_FAULTS) + _FAULTS.index(state.fault)
    return (code * 2 + state.as_found) * 2 + state.moved


@cache
def decode_state(code: int) -> HoleState:
    """State of that number; every call with one number returns the same object.

    Raises
    ------
    IndexError
        No state has the number.
    """
    if code < 0:
        raise IndexError(code)
    rest, moved = divmod(code, 2)
    rest, as_found = divmod(rest, 2)
    rest, fault = divmod(rest, len(_FAULTS))
    reached, before = divmod(rest, len(_STAGES))
    return HoleState(_STAGES[reached], _STAGES[before], _FAULTS[fault], bool(as_found), bool(moved))


class CopyState(NamedTuple):
    """Work on one copy of a part: operations done on it, and a state number for each hole.

    The state of hole number n is `codes[n - 1]`; holes after the last one are new, and the last
    one is not. Equality is by value.
    """

    operations: frozenset[PartOperation] = frozenset()
    codes: tuple[int, ...] = ()

    def code_of(self, number: int) -> int:
        """State number of hole `number`."""
        return self.codes[number - 1] if number <= len(self.codes) else 0


NEW_COPY = CopyState()


LETTERS = {Drawn.NONE: "N", Drawn.PILOT: "P", Drawn.FINAL: "F"}
"""A letter for how a hole is drawn, in `PartState.drawn`."""

DRAWN = {letter: drawn for drawn, letter in LETTERS.items()}
"""How a hole is drawn, by its letter."""

GONE = "-"
"""In `PartState.drawn` a hole that is not there any more, in `labels` one that never was."""


class PartState:
    """A part as the record has it: its holes, and the work on each copy. Equality is by value.

    `labels` and `drawn` have an item for each number of a hole from 1 on: the label, and N, P, F
    (drawn none, pilot, final) or `GONE`. A copy that nothing was done to is not in `copies`.

    Labels may be handed over as one text, parted by spaces, and are taken apart when they are
    first asked for: of a large build most commands never ask.

    Raises
    ------
    RecordError
        There are not as many labels as letters, a letter is unknown, or a label is there twice;
        of labels in one text, perhaps not before they are asked for.
    """

    __slots__ = ("_labels", "_numbers", "copies", "drawn", "part")

    def __init__(
        self,
        part: str,
        labels: Sequence[str] | str = (),
        drawn: str = "",
        copies: Mapping[int, CopyState] = MappingProxyType({}),
    ) -> None:
        self.part = part
        self.drawn = drawn
        self.copies = copies
        self._labels = labels if isinstance(labels, str) else tuple(labels)
        self._numbers: Mapping[str, int] | None = None
        if drawn.strip("".join((*DRAWN, GONE))):
            raise damaged_kept(part)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, PartState):
            return NotImplemented
        mine = self.part, self.drawn, self.copies, self.labels
        return mine == (other.part, other.drawn, other.copies, other.labels)

    __hash__ = None  # type: ignore[assignment]  # as for every value that holds a mapping

    @property
    def labels(self) -> tuple[str, ...]:
        """Label of each number; `GONE` for one that never was."""
        if isinstance(self._labels, str):
            self._labels = tuple(self._labels.split())
        if len(self._labels) != len(self.drawn):
            raise damaged_kept(self.part)
        return self._labels

    @property
    def numbers(self) -> Mapping[str, int]:
        """Numbers of the holes that are there, by label."""
        if self._numbers is None:
            numbers = dict(zip(self.labels, range(1, len(self.drawn) + 1), strict=True))
            if GONE in self.drawn:
                held = enumerate(zip(self.labels, self.drawn, strict=True), 1)
                numbers = {label: number for number, (label, letter) in held if letter != GONE}
            if len(numbers) != self.total:
                raise damaged_kept(self.part)
            self._numbers = numbers
        return self._numbers

    @property
    def total(self) -> int:
        """How many holes are there."""
        return len(self.drawn) - self.drawn.count(GONE)

    @property
    def retired(self) -> frozenset[str]:
        """Labels of the holes that a revision took away."""
        held = zip(self.labels, self.drawn, strict=True)
        return frozenset(label for label, letter in held if letter == GONE) - {GONE}

    def with_copies(self, copies: Mapping[int, CopyState]) -> PartState:
        """The same part with other work on its copies."""
        other = PartState(self.part, self._labels, self.drawn, copies)
        other._numbers = self._numbers
        return other

    def drawn_of(self, label: str) -> Drawn:
        """How a hole is drawn; a KeyError if the part does not have it now."""
        return DRAWN[self.drawn[self.numbers[label] - 1]]

    def copy(self, number: int) -> CopyState:
        """Work on copy `number`."""
        return self.copies.get(number, NEW_COPY)

    def hole(self, copy: int, label: str) -> HoleState:
        """State of one hole; a KeyError if the part does not have it now."""
        return decode_state(self.copy(copy).code_of(self.numbers[label]))

    def stage(self, copy: int, label: str) -> Stage:
        """How far along one hole is, from what was drawn and what was done."""
        return self.hole(copy, label).stage_of(self.drawn_of(label))


def damaged_kept(part: object) -> RecordError:
    """The error for a part of which what is kept cannot be."""
    return RecordError(
        f"part {part!r}: what is kept about it for speed is damaged. Run verify, then rebuild."
    )


States = Mapping[str, PartState]
"""Parts by name, as the record has them."""


# The fold --------------------------------------------------------------------------------------


def hole_after(state: HoleState, event: Event) -> HoleState:
    """State of a hole after an event on it; whether it was in order is not asked again here."""
    if event.what == REJECT:
        return state._replace(fault=Fault(event.detail))
    if event.what == ACCEPT:
        return state._replace(fault=None)
    if event.what == DRILL_OUT:
        return state._replace(reached=state.before_rivet, before_rivet=None)
    if event.what == MEASURE:
        return state
    if event.what == MOVED:
        return state._replace(moved=state.moved or state.reached is not None)
    operation = Operation(event.what)
    if operation is Operation.RIVET:
        state = state._replace(before_rivet=state.reached)
    return state._replace(reached=LEADS_TO[operation], as_found=state.as_found or event.as_found)


@cache
def _code_after(code: int, what: str, detail: str, as_found: bool) -> int:  # noqa: FBT001 (a key)
    event = Event("", 1, "", what, as_found, detail)
    return encode_state(hole_after(decode_state(code), event))


def copy_after(state: CopyState, events: Iterable[Event]) -> CopyState:
    """State of a copy after events on it and on its holes, in their order."""
    operations, codes = set(state.operations), list(state.codes)
    for event in events:
        if event.what == REPLACE:
            operations.clear()
            codes.clear()
        elif not event.holes:
            operations.add(PartOperation(event.what))
        else:
            held = read_numbers(event.holes)
            codes.extend([0] * (held[-1].stop - 1 - len(codes)))
            what, detail, as_found = event.what, event.detail, event.as_found
            for number in chain.from_iterable(held):
                codes[number - 1] = _code_after(codes[number - 1], what, detail, as_found)
    while codes and codes[-1] == 0:
        codes.pop()
    return CopyState(frozenset(operations), tuple(codes))


def copies_after(copies: Mapping[int, CopyState], events: Iterable[Event]) -> dict[int, CopyState]:
    """Work on each copy of one part after further events, in the order of the record.

    An event of `EVERY_COPY` is about each copy that work was done on before it. A copy that
    nothing was done to is left out.
    """
    by_copy: dict[int, list[Event]] = {number: [] for number in copies}
    for event in events:
        if event.copy != EVERY_COPY:
            by_copy.setdefault(event.copy, []).append(event)
            continue
        for found in by_copy.values():
            found.append(event)
    after = {n: copy_after(copies.get(n, NEW_COPY), found) for n, found in by_copy.items()}
    return {number: copy for number, copy in after.items() if copy != NEW_COPY}
