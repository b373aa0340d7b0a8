"""Record work by a line of words: what was asked, what came of it, what remains."""

# What marking a row does not need is imported where it is used.
# ruff: noqa: PLC0415

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

from holeschedule.errors import RecordError, SelectionError
from holeschedule.operations import Operation, PartOperation
from holeschedule.record.events import DRILL_OUT, KINDS, MEASURE, EntryDraft, Measure, Request
from holeschedule.record.kinds import alike_holes
from holeschedule.record.needs import PartNeeds
from holeschedule.record.places import TOGETHER
from holeschedule.record.plan import Plan, explain, selections_of
from holeschedule.record.routes import route
from holeschedule.record.state import PartState
from holeschedule.selection import (
    HoleSelection,
    JointSelection,
    Pick,
    Selection,
    parse_selection,
    pick_holes,
    pick_parts,
)
from holeschedule.work.opened import OpenBuild

if TYPE_CHECKING:
    from holeschedule.work.measuring import HeadJudge

DONE_AS = {
    "drill": "drilled",
    "match-drill": "match-drilled",
    "deburr": "deburred",
    "dimple": "dimpled",
    "countersink": "countersunk",
    "rivet": "riveted",
    "cut": "cut",
    "trim": "trimmed",
    "deburr edges": "deburred at the edges",
    "flute": "fluted",
    "scuff": "scuffed",
    "prime": "primed",
    "reject": "rejected",
    "accept": "accepted",
    "drill out": "drilled out",
    "replace": "replaced",
    "measure": "measured",
}
"""What was done, for each kind of event."""

_MOST_REASONS = 3


class Work(NamedTuple):
    """Work to be recorded: what, on what, and the rest that an entry holds.

    `what` is an operation or another kind of event, `selection` as typed. `detail` is the fault
    or what was measured, `value` [in] the measurement.
    """

    selection: str
    what: str
    who: str
    note: str = ""
    at: datetime | None = None
    as_found: bool = False
    partial: bool = False
    detail: str = ""
    value: float | None = None

    @property
    def command(self) -> str:
        """The command that records it, in short."""
        if self.what in _OPERATIONS:
            return f"mark {self.selection} {self.what}"
        words = [self.what.replace(" ", "-"), self.selection, self.detail]
        words += [] if self.value is None else [f"{self.value:g} in"]
        return " ".join(filter(None, words))


class Marked(NamedTuple):
    """What came of it. `lines` tell it; `left_out` says whether something was refused.

    `misses`: a measurement misses a limit. `entry` is None where nothing was recorded because all
    of it was done already.
    """

    entry: int | None
    lines: tuple[str, ...]
    left_out: bool = False
    misses: bool = False


_OPERATIONS = (*map(str, Operation), *map(str, PartOperation))


def split_words(words: Sequence[str]) -> tuple[str, str]:
    """Selection and operation from the words of a command: the operation stands last.

    Raises
    ------
    RecordError
        The last words are no operation, or nothing stands before them.
    """
    held = [word.strip() for text in words for word in text.split()]
    for size in (2, 1):
        said = " ".join(held[-size:]).lower().replace("deburr-edges", "deburr edges")
        if said in _OPERATIONS:
            if len(held) <= size:
                raise RecordError(
                    f"{said}: on what? Name holes or parts before it: mark FL-101:C3-C9 {said}."
                )
            return " ".join(held[:-size]), said
    from holeschedule.data import choose_from

    last = held[-1] if held else ""
    raise RecordError(
        f"{last!r} is no operation; {choose_from(last, _OPERATIONS)}. It stands last: mark"
        " FL-101:C3-C9 deburr."
    )


def record_work(opened: OpenBuild, work: Work) -> Marked:
    """Record work on holes or parts as one entry.

    Raises
    ------
    SelectionError
        The selection is not written as one, or names what is not there.
    RecordError
        Something stands against the work and it is not `partial`, or nothing of it could be
        recorded; the message says what has to come first. Nothing was recorded.
    """
    picks, before = _picks(opened, work, parse_selection(work.selection))
    request = Request(work.what, picks, work.detail, work.value, work.as_found)
    draft = EntryDraft(
        work.command, work.who, (request,), note=work.note, at=work.at, partial=work.partial
    )
    intents = opened.intents
    judge = _head_judge(opened, work)
    entry, (plan,) = opened.record.append(draft, intents.needs, intents.gates)
    if plan.refused and entry is None:
        raise RecordError(_refusal(plan, before, opened))
    lines = [*_already(plan, before, opened)]
    if entry is not None:
        lines.insert(0, _done(plan, before, opened))
    if plan.refused:
        lines.append(f"Left out: {_reasons(plan, before, opened)}.")
    misses = False
    if judge is not None and entry is not None and work.value is not None:
        judged, misses = judge.judge(plan.accepted, Measure(work.detail), work.value, before)
        lines[1:1] = judged
    number = None if entry is None else entry.number
    return Marked(number, tuple(lines), bool(plan.refused), misses)


def _head_judge(opened: OpenBuild, work: Work) -> HeadJudge | None:
    if not _is_of_head(work):
        return None
    from holeschedule.work.measuring import HeadJudge

    return HeadJudge(opened)


def _is_of_head(work: Work) -> bool:
    return work.what == MEASURE and any(m == work.detail and m.is_of_rivet for m in Measure)


# What is meant ---------------------------------------------------------------------------------


def _states(opened: OpenBuild, parts: Iterable[str]) -> dict[str, PartState]:
    """Parts of the build as they are, by name."""
    found: dict[str, PartState] = {}
    for name in parts:
        if name in opened.intents.needs and name not in found:
            state = opened.record.states(name).get(name)
            if state is None:
                raise RecordError(
                    f"{name}: its holes are not in the record yet. Bring its drawing in: import"
                    f" FILE.dxf --part {name}."
                )
            found[name] = state
    return found


def _picks(
    opened: OpenBuild, work: Work, selections: Sequence[Selection]
) -> tuple[tuple[Pick, ...], dict[str, PartState]]:
    """What is meant, and the parts it is on as they are."""
    needs = opened.intents.needs
    quantities = {name: need.quantity for name, need in needs.items()}
    own = [piece for piece in selections if isinstance(piece, HoleSelection)]
    if not KINDS[work.what].of_hole:
        if len(own) < len(selections):
            raise SelectionError(
                f"{work.selection}: names a joint, where whole parts are meant; write FL-101 or"
                " FL-101#1."
            )
        picks = pick_parts(own, needs, quantities)
        return picks, _states(opened, (pick.part for pick in picks))
    named = {name.casefold(): name for name in needs}
    states = _states(opened, (named.get(piece.part.casefold(), "") for piece in own))
    labels: dict[str, Sequence[str]] = {
        name: tuple(states[name].numbers) if name in states else () for name in needs
    }
    picks = pick_holes(own, labels, quantities) + _at_places(opened, work, selections)
    if work.what in _AT_PLACES:
        picks = opened.intents.places.with_layers(picks)
    return picks, {**states, **_states(opened, (pick.part for pick in picks))}


def _at_places(opened: OpenBuild, work: Work, selections: Iterable[Selection]) -> tuple[Pick, ...]:
    """Holes at the places of joints that are named, sorted by part."""
    places = opened.intents.places
    chosen = [
        place
        for piece in selections
        if isinstance(piece, JointSelection)
        for place in places.chosen(piece)
        if place.picks
    ]
    if not chosen and any(isinstance(piece, JointSelection) for piece in selections):
        raise SelectionError(
            f"selection {work.selection!r}: the holes there belong to other joints. Say by holes in"
            " build.toml to which."
        )
    if _is_of_head(work):
        return tuple(place.picks[-1] for place in chosen)  # the shop head is on the last layer
    return places.with_layers(place.picks[0] for place in chosen)


_AT_PLACES = (*TOGETHER, DRILL_OUT)
"""What is done at a place touches every layer there."""


# What is said ----------------------------------------------------------------------------------


def _done(plan: Plan, states: Mapping[str, PartState], opened: OpenBuild) -> str:
    what, verb = plan.request.what, DONE_AS[plan.request.what]
    names = " ".join(selections_of(plan.accepted, states, opened.intents.needs))
    detail = f" ({plan.request.detail})" if plan.request.detail else ""
    if plan.request.value is not None:
        detail = f" ({plan.request.detail} {plan.request.value:.4f} in)"
    text = f"{names}: {_counted(plan.accepted)} {verb}{detail}"
    if plan.out_of_order:
        text += f", {len(plan.out_of_order)} of them out of order and flagged as found"
    text += "; ".join(["", *_left(what, list(states), opened)])
    warned = "".join(f" Warning: {warning}." for warning in plan.warnings)
    return f"{text}.{warned} Undo: holeschedule undo"


def _counted(picks: Sequence[Pick]) -> str:
    thing = "hole" if picks and picks[0].label else "part"
    return f"{len(picks):,} {thing}{'s' if len(picks) != 1 else ''}"


def _left(what: str, parts: Iterable[str], opened: OpenBuild) -> list[str]:
    """How much of an operation is left on the parts that were worked on."""
    if what not in _OPERATIONS:
        return []
    needs = opened.intents.needs
    done = needed = 0
    for name in parts:
        (part,) = opened.record.states(name).values()
        need = needs[name]
        if what in tuple(PartOperation):
            operation = PartOperation(what)
            if operation in need.operations:
                needed += need.quantity
                copies = range(1, need.quantity + 1)
                done += sum(operation in part.copy(copy).operations for copy in copies)
            continue
        for copy in range(1, need.quantity + 1):
            its_done, its_needed = _counts(part, need, copy, Operation(what))
            done, needed = done + its_done, needed + its_needed
    if not needed:
        return []
    left = f"{needed - done:,}" if needed > done else "none"
    return [f"{left} of {needed:,} left to {what}"]


def _counts(part: PartState, need: PartNeeds, copy: int, operation: Operation) -> tuple[int, int]:
    """Holes of a copy that are through an operation, and that need it: `ready.progress` in small.

    That module answers more, and takes longer to load than a row takes to be marked.
    """
    concerned = [h for h in alike_holes(part, need, copy) if operation in route(h.facts)]
    done = sum(holes.total for holes in concerned if holes.is_past(operation))
    return done, sum(holes.total for holes in concerned)


def _already(plan: Plan, states: Mapping[str, PartState], opened: OpenBuild) -> Iterable[str]:
    if plan.already:
        names = " ".join(selections_of(plan.already, states, opened.intents.needs))
        verb = DONE_AS[plan.request.what]
        nothing = "" if plan.accepted else " Nothing was recorded."
        are = "is" if len(plan.already) == 1 else "are"
        yield f"{names}: {_counted(plan.already)} {are} {verb} already.{nothing}"


def _refusal(plan: Plan, states: Mapping[str, PartState], opened: OpenBuild) -> str:
    text = f"{_reasons(plan, states, opened)}. Nothing was recorded"
    if plan.accepted:
        text += f"; {_counted(plan.accepted)} could be, with --partly"
    return f"{text}."


def _reasons(plan: Plan, states: Mapping[str, PartState], opened: OpenBuild) -> str:
    groups = explain(plan.refused, states, opened.intents.needs)
    said = [f"{names} {why.said_of(count)}" for names, why, count in groups[:_MOST_REASONS]]
    if len(groups) > _MOST_REASONS:
        said.append(f"and {len(groups) - _MOST_REASONS} reasons more")
    return "; ".join(said)


# Undo ------------------------------------------------------------------------------------------


def undo_work(opened: OpenBuild, who: str, number: int | None, note: str = "") -> tuple[str, ...]:
    """Take an entry back by a further one; without `number` the last one of work in force.

    The drawings that build.toml names are brought in line where the entry was an import.

    Raises
    ------
    RecordError
        There is no such entry, it is taken back already, or a later one builds on it.
    BuildError
        build.toml cannot be changed.
    """
    entry = opened.record.undo(who, number, note=note)
    from holeschedule.record.database import reading
    from holeschedule.record.rows import read_entries

    target = entry
    with reading(opened.db, opened.folder.record) as db:
        while target.takes_back is not None:  # an undo may take back an undo
            (target,) = read_entries(db, [target.takes_back])
    direct = entry.takes_back == target.number
    verb = "is taken back" if direct else f"stands as if entry {entry.takes_back} were not made"
    lines = [
        f"Entry {target.number} ({target.command}) of {target.at[:16].replace('T', ' ')} by"
        f" {target.who}: {verb}.",
        f"Undo that: holeschedule undo {entry.number}",
    ]
    if target.revisions:
        from holeschedule.work.bring_in import align_build_file

        told = align_build_file(opened.folder, opened.db)
        lines += [told[part.part] for part in target.revisions if part.part in told]
    if target.command.startswith("join"):
        lines.append(
            "What build.toml says of joints stays: change it there, and then run `join`, which"
            " enters holes to come."
        )
    return tuple(lines)
