"""What a command may record: for each hole that is asked for, accepted, done already, or refused.

Nothing here changes or stores anything; the record plans within the transaction in which it
writes, so that two programs cannot both rivet one hole.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import NamedTuple

from holeschedule.operations import Operation, PartOperation
from holeschedule.record.events import (
    ACCEPT,
    DRILL_OUT,
    MEASURE,
    REJECT,
    REPLACE,
    Measure,
    Request,
)
from holeschedule.record.judge import GATES, Gate, Judge, Obstacle, Verdict, stopped
from holeschedule.record.needs import Needs, PartNeeds, facts_of
from holeschedule.record.routes import Stage, is_through
from holeschedule.record.state import PartState, States
from holeschedule.selection import Pick, write_selections


class Plan(NamedTuple):
    """What recording a request would do.

    `out_of_order` are those among `accepted` that only go because they are recorded as found.
    `warnings` are lines about what is recorded all the same.
    """

    request: Request
    accepted: tuple[Pick, ...] = ()
    out_of_order: tuple[Pick, ...] = ()
    already: tuple[Pick, ...] = ()
    refused: tuple[tuple[Pick, Obstacle], ...] = ()
    warnings: tuple[str, ...] = ()


def plan_marks(
    states: States,
    needs: Needs,
    picks: Iterable[Pick],
    operation: Operation,
    *,
    as_found: bool = False,
    gates: Sequence[Gate] = GATES,
) -> Plan:
    """What marking holes with an operation would do.

    Parameters
    ----------
    states : mapping of part name to PartState
        What was done so far.
    needs : mapping of part name to PartNeeds
        What is intended; the routes follow from it.
    picks : iterable of Pick
        The holes, each judged once however often it is named.
    operation : Operation
        What is to be recorded.
    as_found : bool
        Take holes out of order as well, unless an obstacle is lasting.
    gates : sequence of Gate
        Judge what lies beyond the hole.
    """
    request = Request(str(operation), tuple(dict.fromkeys(picks)), as_found=as_found)
    verdicts = Judge(states, needs, gates).verdicts(request.picks, operation)
    return _sort_out(request, verdicts)


def plan_request(
    states: States, needs: Needs, request: Request, gates: Sequence[Gate] = GATES
) -> Plan:
    """What recording `request` would do, whatever its kind."""
    if request.what in _OPERATIONS:
        operation = Operation(request.what)
        return plan_marks(
            states, needs, request.picks, operation, as_found=request.as_found, gates=gates
        )
    request = request._replace(picks=tuple(dict.fromkeys(request.picks)))
    unknown = Judge(states, needs).unknown
    judge = _JUDGES.get(request.what, _judge_part_operation)
    asked = gates if request.what == REPLACE else ()
    made = (gate(states, needs, REPLACE) for gate in asked)
    held = [gate for gate in made if gate is not None]
    plan = _sort_out(
        request,
        [
            unknown(p) or stopped(held, p) or judge(states[p.part], needs[p.part], p, request)
            for p in request.picks
        ],
    )
    if request.what == PartOperation.PRIME:
        return plan._replace(warnings=tuple(_prime_warnings(states, needs, plan.accepted)))
    return plan


def _sort_out(request: Request, verdicts: Iterable[Verdict]) -> Plan:
    accepted, out_of_order, already = [], [], []
    refused: list[tuple[Pick, Obstacle]] = []
    for pick, verdict in zip(request.picks, verdicts, strict=True):
        if verdict is True:
            already.append(pick)
        elif verdict is False:
            accepted.append(pick)
        elif request.as_found and not verdict.lasting:
            accepted.append(pick)
            out_of_order.append(pick)
        else:
            refused.append((pick, verdict))
    return Plan(request, tuple(accepted), tuple(out_of_order), tuple(already), tuple(refused))


def _stage(part: PartState, need: PartNeeds, pick: Pick) -> Stage:
    facts = facts_of(part.drawn_of(pick.label), need.hole(pick.label))
    return part.hole(pick.copy, pick.label).stage_of(facts.drawn)


def _judge_reject(part: PartState, need: PartNeeds, pick: Pick, request: Request) -> Verdict:
    if part.hole(pick.copy, pick.label).fault == request.detail:
        return True
    return _needs_hole(part, need, pick)


def _needs_hole(part: PartState, need: PartNeeds, pick: Pick) -> Verdict:
    if _stage(part, need, pick) is Stage.UNDRILLED:
        return Obstacle("is not drilled yet", "first drill", lasting=True)
    return False


def _judge_accept(part: PartState, _: PartNeeds, pick: Pick, __: Request) -> Verdict:
    return part.hole(pick.copy, pick.label).fault is None


def _judge_drill_out(part: PartState, need: PartNeeds, pick: Pick, _: Request) -> Verdict:
    return _needs_rivet(part, need, pick)


def _needs_rivet(part: PartState, need: PartNeeds, pick: Pick) -> Verdict:
    stage = _stage(part, need, pick)
    if stage is not Stage.RIVETED:
        return Obstacle(f"is {stage}, not riveted", "first rivet", lasting=True)
    return False


def _judge_measure(part: PartState, need: PartNeeds, pick: Pick, request: Request) -> Verdict:
    if Measure(request.detail).is_of_rivet:
        return _needs_rivet(part, need, pick)
    return _needs_hole(part, need, pick)


def _judge_replace(_: PartState, __: PartNeeds, ___: Pick, ____: Request) -> Verdict:
    return False  # a part can be spoiled before anything is recorded on it


def _judge_part_operation(
    part: PartState, need: PartNeeds, pick: Pick, request: Request
) -> Verdict:
    operation, done = PartOperation(request.what), part.copy(pick.copy).operations
    if operation in done:
        return True
    before = part_operations_left(need, done)
    if operation in before:
        before = before[: before.index(operation)]
    else:
        before = tuple(o for o in before if _PART_ORDER[o] < _PART_ORDER[operation])
    if before:
        return Obstacle(f"is not ready for {operation}", f"first {', '.join(before)}")
    return False


_PART_ORDER = {operation: place for place, operation in enumerate(PartOperation)}


def part_operations_left(
    need: PartNeeds, done: frozenset[PartOperation]
) -> tuple[PartOperation, ...]:
    """Operations that a copy still needs as a whole, in the order of work."""
    return tuple(o for o in PartOperation if o in need.operations and o not in done)


def _prime_warnings(states: States, needs: Needs, picks: Iterable[Pick]) -> Iterable[str]:
    for pick in picks:
        part, need = states[pick.part], needs[pick.part]
        open_holes = sum(
            not is_through(
                facts_of(part.drawn_of(label), need.hole(label)),
                _stage(part, need, pick._replace(label=label)),
            )
            for label in part.numbers
        )
        if open_holes:
            name = pick.part if need.quantity == 1 else f"{pick.part}#{pick.copy}"
            yield (
                f"{name} is primed before {open_holes} of its holes are through their route: bare"
                " metal will show there"
            )


_OPERATIONS = frozenset(map(str, Operation))
_JUDGES: Mapping[str, Callable[[PartState, PartNeeds, Pick, Request], Verdict]] = {
    REJECT: _judge_reject,
    ACCEPT: _judge_accept,
    DRILL_OUT: _judge_drill_out,
    MEASURE: _judge_measure,
    REPLACE: _judge_replace,
}


def explain(
    refused: Iterable[tuple[Pick, Obstacle]], states: States, needs: Needs
) -> tuple[tuple[str, Obstacle, int], ...]:
    """Refusals with one obstacle together: the holes as one selection, it, and how many."""
    by_obstacle: dict[Obstacle, list[Pick]] = {}
    for pick, obstacle in refused:
        by_obstacle.setdefault(obstacle, []).append(pick)
    return tuple(
        (" ".join(selections_of(picks, states, needs)), obstacle, len(picks))
        for obstacle, picks in by_obstacle.items()
    )


def selections_of(picks: Iterable[Pick], states: States, needs: Needs) -> tuple[str, ...]:
    """Short selections of `picks`, holes that the record does not know among them as well."""
    held = tuple(picks)
    labels: dict[str, dict[str, None]] = {}
    for pick in held:
        if pick.part not in labels:
            part = states.get(pick.part)
            labels[pick.part] = dict.fromkeys(part.numbers if part else ())
        if pick.label:
            labels[pick.part][pick.label] = None
    quantities = {part: need.quantity for part, need in needs.items()}
    return write_selections(held, {p: tuple(found) for p, found in labels.items()}, quantities)
