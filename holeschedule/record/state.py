"""From events to the state of each hole: a pure fold, with no file and no clock.

What was done is kept apart from what is intended: a `HoleState` says what the events amount to,
and `HoleState.stage_of` sets it beside the hole as drawn. Treatment, rivet and route are the
build's intentions; the caller brings them (`plan`, `ready`) and nothing here stores them.
"""

from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from itertools import chain
from types import MappingProxyType
from typing import NamedTuple

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


class PartState(NamedTuple):
    """A part as the record has it: its holes, and the work on each copy. Equality is by value.

    `numbers` are the numbers of the holes that are there, by label. `labels` and `drawn` have an
    item for each number from 1 on: the label, and N, P, F (drawn none, pilot, final) or `GONE`. A
    copy that nothing was done to is not in `copies`.
    """

    part: str
    numbers: Mapping[str, int] = MappingProxyType({})
    labels: tuple[str, ...] = ()
    drawn: str = ""
    copies: Mapping[int, CopyState] = MappingProxyType({})

    @property
    def retired(self) -> frozenset[str]:
        """Labels of the holes that a revision took away."""
        held = zip(self.labels, self.drawn, strict=True)
        return frozenset(label for label, letter in held if letter == GONE) - {GONE}

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


def part_state(
    part: str, labels: Sequence[str], drawn: str, copies: Mapping[int, CopyState]
) -> PartState:
    """Put a part together from labels and letters by number, and the work on its copies.

    Raises
    ------
    ValueError
        There are not as many labels as letters, a letter is unknown, or a label is there twice.
    """
    if not set(drawn) <= {*DRAWN, GONE} or len(labels) != len(drawn):
        raise ValueError(drawn)
    numbers = dict(zip(labels, range(1, len(labels) + 1), strict=True))
    if GONE in drawn:
        held = enumerate(zip(labels, drawn, strict=True), 1)
        numbers = {label: number for number, (label, letter) in held if letter != GONE}
    if len(numbers) != len(drawn) - drawn.count(GONE):
        raise ValueError("a label is there twice")
    return PartState(part, numbers, tuple(labels), drawn, copies)


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
