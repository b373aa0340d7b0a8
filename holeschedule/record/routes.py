"""Operations, the states they lead to, and the route of a hole: the table of docs/record.md.

A route is a pure function of what is known about a hole. A test compares `STEPS` with the table
in the documentation, row by row.

The values here are named tuples rather than dataclasses: a dataclass costs half a millisecond
when its module is imported, and marking a row has to be done before the builder looks up.
"""

from collections.abc import Callable
from enum import StrEnum
from functools import cache
from typing import NamedTuple

from holeschedule.operations import Operation, Treatment


class Drawn(StrEnum):
    """The hole as the drawing has it: none at all, smaller than final size, or at final size."""

    NONE = "none"
    PILOT = "pilot"
    FINAL = "final"


class Stage(StrEnum):
    """The state of a hole: how far along its route it is."""

    UNDRILLED = "undrilled"
    PILOT = "pilot"
    MATCH_DRILLED = "match-drilled"
    DEBURRED = "deburred"
    DIMPLED = "dimpled"
    COUNTERSUNK = "countersunk"
    RIVETED = "riveted"

    @property
    def level(self) -> int:
        """Place in the order of work; dimpled and countersunk share one."""
        return _LEVELS[self]


_LEVELS = {
    Stage.UNDRILLED: 0,
    Stage.PILOT: 1,
    Stage.MATCH_DRILLED: 2,
    Stage.DEBURRED: 3,
    Stage.DIMPLED: 4,
    Stage.COUNTERSUNK: 4,
    Stage.RIVETED: 5,
}


class HoleFacts(NamedTuple):
    """What a route depends on. Equality is by value.

    `guided`: another layer's hole leads the drill through, so that none is drilled beforehand.
    """

    drawn: Drawn
    treatment: Treatment = Treatment.PLAIN
    takes_rivet: bool = True
    guided: bool = False


class Step(NamedTuple):
    """One row of the table: an operation, when a hole needs it, and the state it leads to."""

    operation: Operation
    needed_when: str
    leads_to: Stage
    is_needed: Callable[[HoleFacts], bool]


STEPS = (
    Step(
        Operation.DRILL,
        "no hole is drawn, nor one in another layer of its place",
        Stage.PILOT,
        lambda hole: hole.drawn == Drawn.NONE and not hole.guided,
    ),
    Step(
        Operation.MATCH_DRILL,
        "the hole is not drawn at final size",
        Stage.MATCH_DRILLED,
        lambda hole: hole.drawn != Drawn.FINAL,
    ),
    Step(
        Operation.DEBURR,
        "always",
        Stage.DEBURRED,
        lambda hole: True,  # noqa: ARG005 (every row asks in the same form)
    ),
    Step(
        Operation.DIMPLE,
        "the treatment is dimple",
        Stage.DIMPLED,
        lambda hole: hole.treatment == Treatment.DIMPLE,
    ),
    Step(
        Operation.COUNTERSINK,
        "the treatment is countersink",
        Stage.COUNTERSUNK,
        lambda hole: hole.treatment == Treatment.COUNTERSINK,
    ),
    Step(
        Operation.RIVET,
        "the hole takes a rivet",
        Stage.RIVETED,
        lambda hole: hole.takes_rivet,
    ),
)
"""The table of routes, in the order of work."""

LEADS_TO = {step.operation: step.leads_to for step in STEPS}
"""The state after each operation."""

START = {Drawn.NONE: Stage.UNDRILLED, Drawn.PILOT: Stage.PILOT, Drawn.FINAL: Stage.MATCH_DRILLED}
"""The state of a hole nothing was done to."""


@cache
def route(facts: HoleFacts) -> tuple[Operation, ...]:
    """Operations that a hole needs, in the order of work.

    Examples
    --------
    >>> [str(operation) for operation in route(HoleFacts(Drawn.FINAL, Treatment.DIMPLE))]
    ['deburr', 'dimple', 'rivet']
    """
    return tuple(step.operation for step in STEPS if step.is_needed(facts))


def operations_left(facts: HoleFacts, stage: Stage) -> tuple[Operation, ...]:
    """Operations of the route that are still to be done from `stage` on, the next one first."""
    return tuple(done for done in route(facts) if LEADS_TO[done].level > stage.level)


def is_through(facts: HoleFacts, stage: Stage) -> bool:
    """Whether only riveting is left, or nothing: the hole is ready to be primed."""
    return operations_left(facts, stage) in ((), (Operation.RIVET,))
