"""Status and next: in words for a terminal, and as objects for other programs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby
from typing import Any, NamedTuple

from holeschedule.operations import Operation, PartOperation
from holeschedule.record.kinds import alike_holes
from holeschedule.record.needs import PartNeeds
from holeschedule.record.plan import part_operations_left
from holeschedule.record.ready import BlockedGroup, ReadyGroup, count_operations, ready_work
from holeschedule.record.state import PartState
from holeschedule.views.text import WIDTH, hanging, plural, table
from holeschedule.work.opened import OpenBuild

_BAR = 10
TOOLS = {
    "drill": "drill",
    "match-drill": "drill",
    "deburr": "deburring tool",
    "dimple": "dimple dies",
    "countersink": "countersink cutter",
    "rivet": "squeezer or gun, rivet",
}


# Status ----------------------------------------------------------------------------------------


class CopyStatus(NamedTuple):
    """How far one copy of a part is: holes done and needed by operation, and work on the whole.

    `whole` are the operations done on the copy as a whole, `whole_left` those it still needs.
    """

    part: str
    copy: int
    operations: dict[str, tuple[int, int]]
    whole: tuple[str, ...]
    whole_left: tuple[str, ...]
    rejected: int
    as_found: int
    moved: int


class Status(NamedTuple):
    """How far a build is, and on which days it was worked on."""

    copies: tuple[CopyStatus, ...]
    quantities: dict[str, int]
    holes: int
    days: tuple[str, ...]
    missing: tuple[str, ...]
    notices: tuple[str, ...]


def status_of(opened: OpenBuild) -> Status:
    """How far a build is.

    Raises
    ------
    RecordError
        The record cannot be read.
    """
    states, needs = opened.record.states(), opened.intents.needs
    copies = tuple(
        _copy_status(states[name], needs[name], copy)
        for name in needs
        if name in states
        for copy in range(1, needs[name].quantity + 1)
    )
    return Status(
        copies,
        {name: need.quantity for name, need in needs.items()},
        sum(states[name].total * needs[name].quantity for name in needs if name in states),
        opened.record.work_days(),
        tuple(name for name in needs if name not in states),
        opened.intents.notices,
    )


def _copy_status(part: PartState, need: PartNeeds, copy: int) -> CopyStatus:
    work = part.copy(copy)
    kinds = alike_holes(part, need, copy)
    return CopyStatus(
        part.part,
        copy,
        {str(operation): counts for operation, counts in count_operations(kinds).items()},
        tuple(str(o) for o in PartOperation if o in work.operations),
        tuple(map(str, part_operations_left(need, work.operations))),
        sum(holes.total for holes in kinds if holes.state.fault is not None),
        sum(holes.total for holes in kinds if holes.state.as_found),
        sum(holes.total for holes in kinds if holes.state.moved),
    )


def status_text(status: Status, name: str) -> str:
    """The status in words: a table of parts and operations, what is flagged, days of work."""
    columns = [str(o) for o in Operation if any(str(o) in c.operations for c in status.copies)]
    rows = []
    for _, run in groupby(status.copies, key=lambda c: (c.part, *c[2:])):
        held = list(run)
        first, last = held[0], held[-1]
        title = first.part + copies_text(first.copy, last.copy, status.quantities[first.part])
        cells = [_cell(first.operations.get(column)) for column in columns]
        rows.append([title, *cells, _bar(first.operations.values()), _whole(first)])
    lines = [
        f"{name}: {plural(len(status.quantities), 'part')},"
        f" {plural(sum(status.quantities.values()), 'piece')}, {plural(status.holes, 'hole')}",
    ]
    if rows:
        heads = ["part", *columns, "done", "whole part"]
        lines += ["", *table(heads, rows, "l" + "r" * len(columns))]
    lines += ["", *_flags(status)]
    return "".join(f"{line}\n" for line in lines)


def copies_text(first: int, last: int, quantity: int) -> str:
    """`#1-3` behind a part's name; nothing where there is one copy alone."""
    if quantity == 1:
        return ""
    return f"#{first}" if first == last else f"#{first}-{last}"


def _cell(counts: tuple[int, int] | None) -> str:
    return "-" if counts is None else f"{counts[0]}/{counts[1]}"


def _whole(copy: CopyStatus) -> str:
    left = f"to {', '.join(copy.whole_left)}" if copy.whole_left else ""
    return "; ".join(filter(None, (", ".join(copy.whole), left)))


def _bar(counts: Iterable[tuple[int, int]]) -> str:
    held = list(counts)
    done, needed = sum(a for a, _ in held), sum(b for _, b in held)
    share = done / needed if needed else 1.0
    full = int(share * _BAR)
    return f"[{'#' * full}{'.' * (_BAR - full)}] {int(share * 100):3d} %"


def _flags(status: Status) -> Iterator[str]:
    for what, count in (
        ("rejected", sum(c.rejected for c in status.copies)),
        ("recorded as found, out of order", sum(c.as_found for c in status.copies)),
        ("moved by a revision after work on them", sum(c.moved for c in status.copies)),
    ):
        if count:
            yield f"{plural(count, 'hole')} {what}."
    for part in status.missing:
        yield f"{part}: not in the record yet. Bring its drawing in: import FILE.dxf --part {part}"
    for notice in status.notices:
        yield from hanging("To see to: ", notice)
    days = status.days
    span = f" ({days[0]})" if len(days) == 1 else f" ({days[0]} to {days[-1]})" if days else ""
    yield f"{plural(len(days), 'day')} of work so far{span}."


def status_object(status: Status, name: str) -> dict[str, Any]:
    """The JSON object `holeschedule.status/1`."""
    return {
        "format": "holeschedule.status/1",
        "build": name,
        "holes": status.holes,
        "days": list(status.days),
        "parts": [
            {
                "part": copy.part,
                "copy": copy.copy,
                "operations": {
                    what: {"done": done, "needed": needed}
                    for what, (done, needed) in copy.operations.items()
                },
                "whole": list(copy.whole),
                "whole_left": list(copy.whole_left),
                "rejected": copy.rejected,
                "as_found": copy.as_found,
                "moved": copy.moved,
            }
            for copy in status.copies
        ],
        "not_in_record": list(status.missing),
        "notices": list(status.notices),
    }


# Next ------------------------------------------------------------------------------------------


def next_text(opened: OpenBuild) -> str:
    """What can be done now, by tool, then what is blocked and by what."""
    work = _next(opened)
    lines: list[str] = []
    # work on whole parts, such as priming, mostly waits for the holes: it stands last
    ready = sorted(work.ready, key=lambda group: isinstance(group.operation, PartOperation))
    for group in ready:
        lines += [f"{_title(group)}: {_total(group)}"]
        lines += [f"  {piece}" for text in group.selections for piece in _pieces(text)]
    if not ready:
        lines.append("Nothing can be done now.")
    if work.blocked:
        lines += ["", "Blocked:"]
        for blocked in work.blocked:
            what = f"{blocked.operation}: " if blocked.operation else ""
            said = f"{what}{_total(blocked)} {blocked.obstacle.said_of(blocked.total)}"
            lines += hanging("  ", said)
            lines += [f"    {piece}" for text in blocked.selections for piece in _pieces(text)]
    if work.finished:
        lines += ["", f"{plural(work.finished, 'hole')} finished."]
    if ready:
        first = ready[0]
        (piece, *_) = _pieces(first.selections[0])
        lines += ["", f"To record: holeschedule mark {piece} {first.operation}"]
    return "".join(f"{line}\n" for line in lines)


def _next(opened: OpenBuild) -> Any:
    intents = opened.intents
    return ready_work(opened.record.states(), intents.needs, intents.gates, intents.places)


def _title(group: ReadyGroup) -> str:
    tool = TOOLS.get(str(group.operation), "")
    sized = " ".join(filter(None, (tool, group.tool)))
    return f"{group.operation} ({sized})" if sized else str(group.operation)


def _total(group: ReadyGroup | BlockedGroup) -> str:
    if isinstance(group, ReadyGroup) and group.at_places:
        return plural(group.total, "place")
    if isinstance(group, BlockedGroup):
        return plural(group.total, "hole" if group.of_holes else "part")
    is_whole = isinstance(group.operation, PartOperation)
    return plural(group.total, "part" if is_whole else "hole")


def _pieces(selection: str) -> list[str]:
    """A selection in pieces that fit a line, each of which can be pasted by itself."""
    part, _, holes = selection.partition(":")
    pieces: list[str] = []
    for hole in holes.split(",") if holes else ():
        if pieces and len(pieces[-1]) + len(hole) < WIDTH - 6:
            pieces[-1] += f",{hole}"
        else:
            pieces.append(f"{part}:{hole}")
    return pieces or [part]


def next_object(opened: OpenBuild) -> dict[str, Any]:
    """The JSON object `holeschedule.next/1`."""
    work = _next(opened)
    return {
        "format": "holeschedule.next/1",
        "ready": [
            {
                "operation": str(group.operation),
                "tool": group.tool,
                "total": group.total,
                "at_places": group.at_places,
                "selections": list(group.selections),
            }
            for group in work.ready
        ],
        "blocked": [
            {
                "operation": str(group.operation) if group.operation else None,
                "reason": group.obstacle.reason,
                "unblock": group.obstacle.unblock,
                "total": group.total,
                "selections": list(group.selections),
            }
            for group in work.blocked
        ],
        "finished": work.finished,
    }
