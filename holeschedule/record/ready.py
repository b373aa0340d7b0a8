"""What can be done next, by tool; what blocks the rest; how far everything is.

`ready_work` asks the same judge as marking does: what it offers, marking takes, and what it does
not offer has a reason.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from holeschedule.operations import Operation, PartOperation
from holeschedule.record.judge import GATES, NOT_IN_BUILD, Gate, Judge, Obstacle, fault_obstacle
from holeschedule.record.kinds import Alike, Some, alike_holes
from holeschedule.record.needs import HoleNeeds, Needs
from holeschedule.record.places import (
    NO_PLACES,
    TOGETHER,
    JointPlace,
    Places,
    write_places,
)
from holeschedule.record.plan import part_operations_left
from holeschedule.record.routes import operations_left, route
from holeschedule.record.state import GONE, PartState, States
from holeschedule.selection import Pick, write_by_copy

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
    """Work that waits, and for what. `operation` is None where no operation is left.

    `total` is the number of holes, or of copies where it is not `of_holes`.
    """

    operation: Work | None
    obstacle: Obstacle
    selections: tuple[str, ...]
    total: int
    of_holes: bool


class ReadyWork(NamedTuple):
    """Everything there is to do, in the order of work; `finished` counts the holes at the end."""

    ready: tuple[ReadyGroup, ...]
    blocked: tuple[BlockedGroup, ...]
    finished: int


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
            sorting.block(None, NOT_IN_BUILD, part.part, 1)
            continue
        for copy in range(1, need.quantity + 1):
            left = part_operations_left(need, part.copy(copy).operations)
            if left:  # the first of those left waits for nothing; those after it, for it
                sorting.offer(left[0], "", part.part, copy)
            _sort_holes(sorting, judge, part, copy)
        for copy in sorted(number for number in part.copies if number > need.quantity):
            unknown = judge.unknown(Pick(part.part, copy))
            sorting.block(None, unknown or NOT_IN_BUILD, part.part, copy)
    return sorting.result()


def _sort_holes(sorting: _Sorting, judge: Judge, part: PartState, copy: int) -> None:
    for holes in alike_holes(part, sorting.needs[part.part], copy):
        left, fault = operations_left(holes.facts, holes.stage), holes.state.fault
        if fault is not None:
            operation = left[0] if left else None
            sorting.block(operation, fault_obstacle(fault), part.part, copy, holes)
        elif not left:
            sorting.finished += holes.total
        else:
            tool = tool_of(left[0], holes.need)
            for obstacle, those in judge.waiting(part.part, copy, left[0], holes):
                if obstacle is None:
                    sorting.offer_holes(left[0], tool, part.part, copy, those)
                else:
                    sorting.block(left[0], obstacle, part.part, copy, those)


_Holes = dict[str, dict[int, list[Alike | Some]]]  # by part and copy; none: the copy as a whole


class _Sorting:
    """Work while it is being sorted into groups."""

    def __init__(self, states: States, needs: Needs, places: Places) -> None:
        self.states = states
        self.needs = needs
        self.finished = 0
        self._places = places
        self._at_places: dict[tuple[Operation, str], dict[JointPlace, None]] = {}
        self._quantities = {part: need.quantity for part, need in needs.items()}
        self._ready: dict[tuple[Work, str], _Holes] = {}
        self._blocked: dict[tuple[Work | None, Obstacle], _Holes] = {}

    def offer(
        self, operation: Work, tool: str, part: str, copy: int, holes: Alike | Some | None = None
    ) -> None:
        _add(self._ready.setdefault((operation, tool), {}), part, copy, holes)

    def offer_holes(
        self, operation: Operation, tool: str, part: str, copy: int, holes: Alike | Some
    ) -> None:
        if not self._places or operation not in TOGETHER:
            self.offer(operation, tool, part, copy, holes)
            return
        alone: list[str] = []
        for label in holes.labels:
            place = self._places.of(Pick(part, copy, label))
            if place is None:
                alone.append(label)
            else:
                key = operation, (place.rivet or tool) if operation is Operation.RIVET else tool
                self._at_places.setdefault(key, {})[place] = None
        if alone:
            self.offer(operation, tool, part, copy, Some(alone))

    def block(
        self,
        operation: Work | None,
        obstacle: Obstacle,
        part: str,
        copy: int,
        holes: Alike | Some | None = None,
    ) -> None:
        _add(self._blocked.setdefault((operation, obstacle), {}), part, copy, holes)

    def result(self) -> ReadyWork:
        ready = [
            ReadyGroup(operation, tool, self._written(holes), _count(holes))
            for (operation, tool), holes in self._ready.items()
        ]
        ready += [
            ReadyGroup(operation, tool, write_places(places), len(places), at_places=True)
            for (operation, tool), places in self._at_places.items()
        ]
        blocked = [
            BlockedGroup(operation, obstacle, self._written(holes), _count(holes), _any(holes))
            for (operation, obstacle), holes in self._blocked.items()
        ]
        return ReadyWork(
            tuple(sorted(ready, key=lambda group: (_ORDER[group.operation], group.tool))),
            tuple(sorted(blocked, key=lambda group: (_ORDER[group.operation], group.obstacle))),
            self.finished,
        )

    def _written(self, holes: _Holes) -> tuple[str, ...]:
        chosen = {
            part: {copy: self._labels(part, kinds) for copy, kinds in by_copy.items()}
            for part, by_copy in holes.items()
        }
        known = {part: self._known(part) for part in chosen if any(chosen[part].values())}
        return write_by_copy(chosen, known, self._quantities)

    def _labels(self, part: str, kinds: Sequence[Alike | Some]) -> Sequence[str]:
        """Labels of holes; none where all of the part's are meant."""
        if sum(kind.total for kind in kinds) == self.states[part].total:
            return ()
        return [label for kind in kinds for label in kind.labels]

    def _known(self, name: str) -> tuple[str, ...]:
        part = self.states[name]
        return tuple(part.numbers) if GONE in part.drawn else part.labels


def _add(holes: _Holes, part: str, copy: int, some: Alike | Some | None) -> None:
    holes.setdefault(part, {}).setdefault(copy, []).extend(() if some is None else (some,))


def _any(holes: _Holes) -> bool:
    """Whether holes are meant, not copies as a whole."""
    return any(kinds for by_copy in holes.values() for kinds in by_copy.values())


def _count(holes: _Holes) -> int:
    """How many holes there are, or copies where those are meant as a whole."""
    return sum(
        sum(some.total for some in kinds) if kinds else 1
        for by_copy in holes.values()
        for kinds in by_copy.values()
    )


_ORDER: dict[Work | None, int] = {
    work: place for place, work in enumerate((*PartOperation, *Operation, None))
}


def count_operations(kinds: Iterable[Alike]) -> dict[Operation, tuple[int, int]]:
    """How many holes are through each operation, and how many need it; in the order of work.

    An operation that no hole needs is left out.
    """
    needed: Counter[Operation] = Counter()
    done: Counter[Operation] = Counter()
    for holes in kinds:
        for operation in route(holes.facts):
            needed[operation] += holes.total
            done[operation] += holes.total * holes.is_past(operation)
    return {o: (done[o], needed[o]) for o in Operation if needed[o]}
