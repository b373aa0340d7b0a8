"""What can be done next, by tool; what blocks the rest; how far everything is.

`ready_work` asks the same judge as marking does: what it offers, marking takes, and what it does
not offer has a reason.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from holeschedule.operations import Operation, PartOperation
from holeschedule.record.judge import GATES, NOT_IN_BUILD, Gate, Judge, Obstacle, fault_obstacle
from holeschedule.record.needs import HoleNeeds, Needs, PartNeeds, facts_of
from holeschedule.record.places import (
    NO_PLACES,
    TOGETHER,
    JointPlace,
    Places,
    write_places,
)
from holeschedule.record.plan import part_operations_left, selections_of
from holeschedule.record.routes import LEADS_TO, route
from holeschedule.record.state import DRAWN, PartState, States, decode_state
from holeschedule.selection import Pick

Work = Operation | PartOperation


class ReadyGroup(NamedTuple):
    """Work for one set-up of tools: an operation, and the size of drill, die or rivet for it.

    `tool` is empty where the build does not say, or the operation needs no size. `selections`
    can be pasted into a mark of `operation`; `total` is the number of holes, of copies, or of
    places where the work is done `at_places` of joints, on all layers at once.
    """

    operation: Work
    tool: str
    selections: tuple[str, ...]
    total: int
    at_places: bool = False


class BlockedGroup(NamedTuple):
    """Work that waits, and for what. `operation` is None where no operation is left."""

    operation: Work | None
    obstacle: Obstacle
    selections: tuple[str, ...]
    total: int


class ReadyWork(NamedTuple):
    """Everything there is to do, in the order of work; `finished` counts the holes at the end."""

    ready: tuple[ReadyGroup, ...]
    blocked: tuple[BlockedGroup, ...]
    finished: int


class Progress(NamedTuple):
    """How many holes of one copy of a part are through an operation, of those that need it."""

    part: str
    copy: int
    operation: Operation
    done: int
    needed: int


def tool_of(operation: Operation, need: HoleNeeds) -> str:
    """Size of the tool that an operation needs at a hole, as the build calls it."""
    if operation is Operation.DRILL:
        return need.pilot_drill
    if operation is Operation.MATCH_DRILL:
        return need.final_drill
    return "" if operation is Operation.DEBURR else need.rivet


def ready_work(
    states: States,
    needs: Needs,
    gates: Sequence[Gate] = GATES,
    places: Places = NO_PLACES,
) -> ReadyWork:
    """Sort all work by what can be done now, with which tool, and what the rest waits for.

    Parameters
    ----------
    states : mapping of part name to PartState
        What was done so far; hand over fewer parts to ask about fewer.
    needs : mapping of part name to PartNeeds
        What they need. Parts that it does not name are blocked, and so are copies too many.
    gates : sequence of Gate
        As for marking.
    places : Places
        Of the joints: match-drilling and riveting are sorted by them.
    """
    sorting = _Sorting(states, needs, places)
    judge = Judge(states, needs, gates)
    for part in states.values():
        need = needs.get(part.part)
        if need is None:
            sorting.block(None, Pick(part.part, 1), NOT_IN_BUILD)
            continue
        for copy in range(1, need.quantity + 1):
            left = part_operations_left(need, part.copy(copy).operations)
            if left:  # the first of those left waits for nothing; those after it, for it
                sorting.offer(left[0], "", Pick(part.part, copy))
            _sort_holes(sorting, judge, part, copy)
        for copy in sorted(number for number in part.copies if number > need.quantity):
            pick = Pick(part.part, copy)
            sorting.block(None, pick, judge.unknown(pick) or NOT_IN_BUILD)
    return sorting.result()


def _sort_holes(sorting: _Sorting, judge: Judge, part: PartState, copy: int) -> None:
    by_operation: dict[Operation, list[Pick]] = {}
    for label in part.numbers:
        pick = Pick(part.part, copy, label)
        operation = judge.next_operation(pick)
        if operation is not None:
            by_operation.setdefault(operation, []).append(pick)
        elif (fault := part.hole(copy, label).fault) is None:
            sorting.finished += 1
        else:
            sorting.block(None, pick, fault_obstacle(fault))
    for operation, picks in by_operation.items():
        for pick, verdict in zip(picks, judge.verdicts(picks, operation), strict=True):
            if isinstance(verdict, Obstacle):
                sorting.block(operation, pick, verdict)
            else:
                need = sorting.needs[part.part].hole(pick.label)
                sorting.offer_hole(operation, tool_of(operation, need), pick)


class _Sorting:
    """Work while it is being sorted into groups."""

    def __init__(self, states: States, needs: Needs, places: Places) -> None:
        self.states = states
        self.needs = needs
        self.finished = 0
        self._places = places
        self._at_places: dict[tuple[Operation, str], dict[JointPlace, None]] = {}
        self._ready: dict[tuple[Work, str], list[Pick]] = {}
        self._blocked: dict[tuple[Work | None, Obstacle], list[Pick]] = {}

    def offer(self, operation: Work, tool: str, pick: Pick) -> None:
        self._ready.setdefault((operation, tool), []).append(pick)

    def offer_hole(self, operation: Operation, tool: str, pick: Pick) -> None:
        place = self._places.of(pick) if operation in TOGETHER and self._places else None
        if place is None:
            self.offer(operation, tool, pick)
        else:
            key = operation, (place.rivet or tool) if operation is Operation.RIVET else tool
            self._at_places.setdefault(key, {})[place] = None

    def block(self, operation: Work | None, pick: Pick, obstacle: Obstacle) -> None:
        self._blocked.setdefault((operation, obstacle), []).append(pick)

    def result(self) -> ReadyWork:
        ready = [
            ReadyGroup(operation, tool, self._written(picks), len(picks))
            for (operation, tool), picks in self._ready.items()
        ]
        ready += [
            ReadyGroup(operation, tool, write_places(places), len(places), at_places=True)
            for (operation, tool), places in self._at_places.items()
        ]
        blocked = [
            BlockedGroup(operation, obstacle, self._written(picks), len(picks))
            for (operation, obstacle), picks in self._blocked.items()
        ]
        return ReadyWork(
            tuple(sorted(ready, key=lambda group: (_ORDER[group.operation], group.tool))),
            tuple(sorted(blocked, key=lambda group: (_ORDER[group.operation], group.obstacle))),
            self.finished,
        )

    def _written(self, picks: Iterable[Pick]) -> tuple[str, ...]:
        return selections_of(picks, self.states, self.needs)


_ORDER: dict[Work | None, int] = {
    work: place for place, work in enumerate((*PartOperation, *Operation, None))
}


def progress(states: States, needs: Needs) -> tuple[Progress, ...]:
    """How far each copy of each part is, operation by operation; parts not intended left out.

    An operation that no hole of the part needs is left out.
    """
    return tuple(
        found
        for part in states.values()
        if part.part in needs
        for copy in range(1, needs[part.part].quantity + 1)
        for found in _progress_of(part, needs[part.part], copy)
    )


def _progress_of(part: PartState, need: PartNeeds, copy: int) -> Iterator[Progress]:
    work = part.copy(copy)
    kinds = Counter(
        (part.drawn[number - 1], work.code_of(number), need.hole(label))
        for label, number in part.numbers.items()
    )
    needed: Counter[Operation] = Counter()
    done: Counter[Operation] = Counter()
    for (letter, code, hole_need), holes in kinds.items():
        facts = facts_of(DRAWN[letter], hole_need)
        level = decode_state(code).stage_of(facts.drawn).level
        for operation in route(facts):
            needed[operation] += holes
            done[operation] += holes * (LEADS_TO[operation].level <= level)
    for operation in Operation:
        if needed[operation]:
            yield Progress(part.part, copy, operation, done[operation], needed[operation])
