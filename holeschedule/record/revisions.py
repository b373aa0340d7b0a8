"""The holes of a part through the revisions of its drawing: labels are given once and for ever."""

import math
from collections.abc import Iterable

from holeschedule.errors import RecordError
from holeschedule.record.drawn import Change, HoleAsDrawn, HoleChange, Import, Revision
from holeschedule.record.events import Event, one_line
from holeschedule.record.routes import Drawn
from holeschedule.record.state import (
    EVERY_COPY,
    GONE,
    LETTERS,
    MOVED,
    PartState,
    copies_after,
)
from holeschedule.selection import check_part_name, label_key


def plan_import(
    imported: Import, part: PartState, given: int, parts: Iterable[str]
) -> tuple[HoleChange, ...]:
    """Give the changes that a revision makes to the holes of its part, with their numbers.

    Parameters
    ----------
    imported : Import
        The revision and the holes it changes.
    part : PartState
        The part as it is now; without holes if it is new.
    given : int
        Highest number that a hole of the part was ever given; those taken back count.
    parts : iterable of str
        Names of the parts that there are.

    Raises
    ------
    RecordError
        A label is used twice or was used before, a hole that is moved, resized or retired does
        not exist, or the part's name differs from another's only in case.
    """
    check_import(imported)
    name = imported.revision.part
    for other in parts:
        if other != name and other.casefold() == name.casefold():
            raise RecordError(
                f"{name}: there is a part {other}, and names that differ in case only cannot be"
                " told apart. Use another name."
            )
    seen: set[str] = set()
    found = []
    number = given + 1
    for hole in imported.holes:
        _check_label(name, hole, part, seen)
        seen.add(hole.label)
        if hole.change == Change.ADD:
            found.append(_change(name, number, hole))
            number += 1
        else:
            found.append(_change(name, part.numbers[hole.label], hole))
    return tuple(found)


def _check_label(part: str, hole: HoleAsDrawn, state: PartState, seen: set[str]) -> None:
    where = f"{part}:{hole.label}"
    if hole.label in seen:
        raise RecordError(f"{where}: is in the revision twice; give each hole its own label.")
    is_there = hole.label in state.numbers
    if hole.change != Change.ADD and not is_there:
        raise RecordError(f"{where}: cannot {hole.change} a hole that the part does not have.")
    if hole.change == Change.ADD and (is_there or hole.label in state.retired):
        raise RecordError(f"{where}: the label was given before and is never given again.")


def _change(part: str, number: int, hole: HoleAsDrawn) -> HoleChange:
    diameter = None if hole.diameter is None else float(hole.diameter)
    return HoleChange(
        part, number, hole.label, hole.change, float(hole.x), float(hole.y), diameter, hole.drawn
    )


def part_with(part: PartState, changes: Iterable[HoleChange]) -> PartState:
    """State of a part after changes of its holes, in the order of the record."""
    held = tuple(changes)
    labels, drawn = list(part.labels), list(part.drawn)
    for change in held:
        missing = change.number - len(labels)
        labels.extend([GONE] * missing)
        drawn.extend([GONE] * missing)
        labels[change.number - 1] = change.label
        is_gone = change.change == Change.RETIRE
        drawn[change.number - 1] = GONE if is_gone else LETTERS[change.drawn]
    copies = copies_after(part.copies, moves(held))
    return PartState(part.part, labels, "".join(drawn), copies)


def moves(changes: Iterable[HoleChange]) -> Iterable[Event]:
    """What changes of holes mean to the work on each copy, as the fold takes it."""
    return (
        Event(change.part, EVERY_COPY, str(change.number), MOVED)
        for change in changes
        if change.change == Change.MOVE
    )


def check_import(imported: Import) -> None:
    """See that a revision is complete, whatever holes its part has.

    Raises
    ------
    RecordError, SelectionError
        A name, label or length is not one.
    """
    revision = imported.revision
    check_part_name(revision.part)
    for name, text in zip(Revision._fields, revision, strict=True):
        if not one_line(name, text):
            raise RecordError(f"{revision.part}: {name} of the drawing is empty; name it.")
    for hole in imported.holes:
        _, row, place = label_key(hole.label)
        if hole.label != f"{row}{place}":
            raise RecordError(f"{revision.part}:{hole.label}: write the label {row}{place}.")
        _check_lengths(f"{revision.part}:{hole.label}", hole)


def _check_lengths(name: str, hole: HoleAsDrawn) -> None:
    lengths = [hole.x, hole.y] + ([] if hole.diameter is None else [hole.diameter])
    if not all(map(math.isfinite, lengths)):
        raise RecordError(f"{name}: {lengths} in are not all finite; correct the drawing.")
    if (hole.diameter is None) is not (hole.drawn == Drawn.NONE):
        raise RecordError(
            f"{name}: the diameter is {hole.diameter}, but the hole is drawn {hole.drawn};"
            " a hole that is drawn has a diameter, one that is not has none."
        )
    if hole.diameter is not None and hole.diameter <= 0:
        raise RecordError(f"{name}: the diameter is {hole.diameter} in; a hole needs one above 0.")
