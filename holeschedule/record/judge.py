"""Whether an operation may be done on a hole now: the one judgement that marking and `ready` share.

What depends on the hole alone is judged by `obstacle_of`. What depends on anything beyond it, such
as primer on the part or the other layers of a joint, is a gate: a function in `GATES`, or one that
the caller adds.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import groupby, repeat
from operator import itemgetter
from typing import NamedTuple

from holeschedule.operations import Operation, PartOperation
from holeschedule.record.events import Fault
from holeschedule.record.kinds import Alike, Some
from holeschedule.record.needs import Needs, PartNeeds, facts_of
from holeschedule.record.routes import LEADS_TO, HoleFacts, Stage, operations_left, route
from holeschedule.record.state import HoleState, PartState, States, decode_state
from holeschedule.selection import Pick


class Obstacle(NamedTuple):
    """Why a hole or part is not to be worked on now, and what would change that.

    Both texts follow the name of what they are about: "FL-101:C7 is pilot; ... first". An
    obstacle that is `lasting` holds against work recorded as found as well. Equality is by value.
    """

    reason: str
    unblock: str
    lasting: bool = False

    def said_of(self, count: int) -> str:
        """Both texts as they follow the names of one thing, or of several."""
        verb, _, rest = self.reason.partition(" ")
        return f"{verb if count == 1 else _SEVERAL.get(verb, verb)} {rest}: {self.unblock}"


_SEVERAL = {"is": "are", "waits": "wait", "has": "have", "was": "were"}

HoleGate = Callable[[Pick], Obstacle | None]
"""Judges one hole by what lies beyond it; None lets it pass."""


class OfCopy:
    """A judge of holes whose answer is the same for every hole of a copy: it is asked once."""

    def __init__(self, ask: HoleGate) -> None:
        self._ask = ask

    def __call__(self, pick: Pick) -> Obstacle | None:
        """Judge one hole."""
        return self._ask(pick)


Gate = Callable[[States, Needs, str], HoleGate | None]
"""Makes the judge of holes for an operation, or of copies for their replacement; None if it has
nothing to say about that."""


NOT_IN_BUILD = Obstacle("is not a part of the build", "add the part to the build", lasting=True)
"""Against everything on a part that nothing is intended for."""


# What the hole itself says ---------------------------------------------------------------------


def is_done(operation: Operation, facts: HoleFacts, stage: Stage) -> bool:
    """Whether there is nothing left to do of an operation, so that marking it is harmless."""
    result = LEADS_TO[operation]
    if stage is result:
        return True
    is_drilling = result.level <= Stage.MATCH_DRILLED.level
    return stage.level > result.level and (is_drilling or operation in route(facts))


def obstacle_of(operation: Operation, facts: HoleFacts, state: HoleState) -> Obstacle | None:
    """What in the hole itself stands against an operation that is not done; None if nothing."""
    if state.fault is not None:
        return fault_obstacle(state.fault)
    stage = state.stage_of(facts.drawn)
    if stage is Stage.RIVETED:
        return Obstacle(f"is riveted; {operation} comes before", "first drill-out", lasting=True)
    if operation not in route(facts):
        return Obstacle(
            f"has no {operation} in the route ({_why_not(operation, facts)})",
            "change what the build intends, or record it as found",
        )
    left = operations_left(facts, stage)
    if operation not in left:
        return Obstacle(
            f"is {stage} already, and not to be {LEADS_TO[operation]}",
            "undo the entry that is wrong, or record it as found",
        )
    before = left[: left.index(operation)]
    if before:
        return Obstacle(f"is {stage}; {operation} comes later", f"first {', '.join(before)}")
    return None


def fault_obstacle(fault: Fault) -> Obstacle:
    """What an open reject stands for."""
    return Obstacle(
        f"is rejected ({fault})",
        "accept with a note of what was decided, or replace the part",
        lasting=True,
    )


def _why_not(operation: Operation, facts: HoleFacts) -> str:
    # drilling that a route leaves out is done by the drawing: it never comes here
    is_rivet = operation is Operation.RIVET
    return "no rivet goes in" if is_rivet else f"the treatment is {facts.treatment}"


# Gates -----------------------------------------------------------------------------------------


def gate_primed(states: States, needs: Needs, operation: str) -> HoleGate | None:
    """Let a rivet in only when the part is primed, where its finish says so."""
    primed = (PartOperation.PRIME in need.operations for need in needs.values())
    if operation != Operation.RIVET or not any(primed):
        return None

    def waits(pick: Pick) -> Obstacle | None:
        need = needs[pick.part]
        if PartOperation.PRIME not in need.operations:
            return None
        if PartOperation.PRIME in states[pick.part].copy(pick.copy).operations:
            return None
        name = pick.part if need.quantity == 1 else f"{pick.part}#{pick.copy}"
        return Obstacle("waits for the primer on the part", f"first prime {name}")

    return OfCopy(waits)


GATES: tuple[Gate, ...] = (gate_primed,)
"""Gates of every build; those of joints are added by the caller."""


# Judging ---------------------------------------------------------------------------------------

Verdict = Obstacle | bool
"""An obstacle, True for done already, False for free to go."""

_COPY = itemgetter(0, 1)
_Kind = tuple[str, int, int]  # letter of `drawn`, state number, id of the need


class _CopyJudge:
    """Judges by the holes alone, on one copy of a part; each kind of hole only once."""

    def __init__(self, state: PartState, need: PartNeeds, copy: int) -> None:
        self._state = state
        self._numbers = state.numbers
        self._need = need
        codes = state.copy(copy).codes
        self._codes = codes + (0,) * (len(state.drawn) - len(codes))
        self._kinds = list(zip(state.drawn, self._codes, repeat(id(need.holes))))
        for label, own in need.by_label.items():
            number = self._numbers.get(label)
            if number is not None:
                self._kinds[number - 1] = (*self._kinds[number - 1][:2], id(own))
        self._next: dict[_Kind, Operation | None] = {}

    def for_operation(self, operation: Operation) -> Callable[[str], Verdict]:
        """Return the judge of holes, by label, for one operation."""
        judged: dict[_Kind, Verdict] = {}

        def verdict(label: str) -> Verdict:
            kind = self._kind(label)
            if kind is None:
                return _not_there(label in self._state.retired)
            found = judged.get(kind)
            if found is None:
                state, facts = self._facts(label)
                done = is_done(operation, facts, state.stage_of(facts.drawn))
                found = done or obstacle_of(operation, facts, state) or False
                judged[kind] = found
            return found

        return verdict

    def next_operation(self, label: str) -> Operation | None:
        kind = self._kind(label)
        if kind is None:
            return None
        if kind not in self._next:
            state, facts = self._facts(label)
            left = operations_left(facts, state.stage_of(facts.drawn))
            self._next[kind] = left[0] if left else None
        return self._next[kind]

    def _kind(self, label: str) -> _Kind | None:
        number = self._numbers.get(label)
        return None if number is None else self._kinds[number - 1]

    def _facts(self, label: str) -> tuple[HoleState, HoleFacts]:
        facts = facts_of(self._state.drawn_of(label), self._need.hole(label))
        return decode_state(self._codes[self._numbers[label] - 1]), facts


class Judge:
    """Judges operations on the holes of one build."""

    def __init__(self, states: States, needs: Needs, gates: Sequence[Gate] = GATES) -> None:
        self._states = states
        self._needs = needs
        self._gates = gates
        self._hole_gates: dict[Operation, tuple[HoleGate, ...]] = {}
        self._copies: dict[tuple[str, int], _CopyJudge | Obstacle] = {}

    def verdicts(self, picks: Iterable[Pick], operation: Operation) -> list[Verdict]:
        """Whether an operation on each hole is done, free to go, or what stands against it."""
        gates = self._gates_for(operation)
        found: list[Verdict] = []
        for (part, copy), group in groupby(picks, key=_COPY):
            known = self._copy(part, copy)
            if isinstance(known, Obstacle):
                found += [known for _ in group]
                continue
            own = known.for_operation(operation)
            if gates:
                found += [_worst(own(pick.label), gates, pick) for pick in group]
            else:
                found += [own(pick.label) for pick in group]
        return found

    def next_operation(self, pick: Pick) -> Operation | None:
        """Operation of the route that is next on a hole; None if it is at the end, or unknown."""
        copy = self._copy(pick.part, pick.copy)
        return None if isinstance(copy, Obstacle) else copy.next_operation(pick.label)

    def waiting(
        self, part: str, copy: int, operation: Operation, holes: Alike
    ) -> Iterator[tuple[Obstacle | None, Alike | Some]]:
        """Sort holes for which an operation is next by what beyond them it waits for.

        Yields holes together with the obstacle, None for those that are free to go.
        """
        gates = self._gates_for(operation)
        pick = Pick(part, copy)
        found = stopped([gate for gate in gates if isinstance(gate, OfCopy)], pick)
        each = [gate for gate in gates if not isinstance(gate, OfCopy)]
        if found or not each:
            yield found, holes
            return
        by_obstacle: dict[Obstacle | None, list[str]] = {}
        for label in holes.labels:
            found = stopped(each, pick._replace(label=label))
            by_obstacle.setdefault(found, []).append(label)
        for obstacle, labels in by_obstacle.items():
            yield obstacle, Some(labels)

    def unknown(self, pick: Pick) -> Obstacle | None:
        """What is wrong with the name of a hole or, with an empty label, of a copy."""
        copy = self._copy(pick.part, pick.copy)
        if isinstance(copy, Obstacle):
            return copy
        part = self._states[pick.part]
        if pick.label and pick.label not in part.numbers:
            return _not_there(pick.label in part.retired)
        return None

    def _copy(self, part: str, copy: int) -> _CopyJudge | Obstacle:
        if (part, copy) not in self._copies:
            self._copies[part, copy] = self._new_copy(part, copy)
        return self._copies[part, copy]

    def _new_copy(self, name: str, copy: int) -> _CopyJudge | Obstacle:
        part, need = self._states.get(name), self._needs.get(name)
        if part is None:
            return Obstacle("is not in the record", "import the drawing", lasting=True)
        if need is None:
            return NOT_IN_BUILD
        if not 1 <= copy <= need.quantity:
            return Obstacle(
                f"is not among the copies built (there are {need.quantity})",
                "correct the copy, or the quantity in the build",
                lasting=True,
            )
        return _CopyJudge(part, need, copy)

    def _gates_for(self, operation: Operation) -> tuple[HoleGate, ...]:
        if operation not in self._hole_gates:
            made = (gate(self._states, self._needs, operation) for gate in self._gates)
            self._hole_gates[operation] = tuple(gate for gate in made if gate is not None)
        return self._hole_gates[operation]


def _worst(own: Verdict, gates: Sequence[HoleGate], pick: Pick) -> Verdict:
    """What the hole itself says, unless something beyond it holds even against work as found."""
    if own is True:
        return True
    beyond = stopped(gates, pick)
    if beyond is not None and (beyond.lasting or not own):
        return own if own and own.lasting else beyond
    return own


def stopped(gates: Iterable[HoleGate], pick: Pick) -> Obstacle | None:
    """What the first of several gates that does not let a hole pass has against it."""
    for gate in gates:
        found = gate(pick)
        if found is not None:
            return found
    return None


def _not_there(is_retired: bool) -> Obstacle:  # noqa: FBT001 (a yes or no about one hole)
    if is_retired:
        return Obstacle("was retired by a revision", "leave out what is retired", lasting=True)
    return Obstacle("is not on the part", "correct the label", lasting=True)
