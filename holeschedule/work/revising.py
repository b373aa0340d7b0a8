"""A drawing against the holes that the record has, those among them that nobody has drawn yet.

What match-drilling is to make is in the record as a hole without a diameter. When a revised drawing
shows such a hole it is that hole, under its label, and not a new one beside it.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import replace

from holeschedule.holes.identity import (
    SAME_PLACE,
    ChangeKind,
    HoleChange,
    KnownHole,
    Revision,
    match_revision,
)
from holeschedule.holes.part import Part
from holeschedule.record.drawn import HoleChange as RecordedHole
from holeschedule.tables import SLACK

REACH = 0.05
"""Inches. A hole this near to where one was planned for match-drilling is that one."""


def match_drawing(
    recorded: Mapping[str, RecordedHole], retired: Collection[str], part: Part
) -> tuple[Revision, frozenset[str]]:
    """Say which hole of a revised drawing is which recorded hole.

    Parameters
    ----------
    recorded : mapping
        Holes of the part by label, as the record has them.
    retired : collection of str
        Labels that are never given again.
    part : Part
        The part as it is drawn now.

    Returns
    -------
    Revision, frozenset of str
        The drawing against the record, and the labels of planned holes that it shows. Such a hole
        is resized if it is drawn where it was planned, else moved. Planned holes that it does not
        show are no part of the answer.
    """
    known = [
        KnownHole(hole.label, hole.x, hole.y, hole.diameter)
        for hole in recorded.values()
        if hole.diameter is not None
    ]
    planned = {hole.label: hole for hole in recorded.values() if hole.diameter is None}
    taken = {*retired, *planned}
    revision = match_revision(known, taken, part.holes, part.rows)
    met = _met(planned, revision)
    if not met:
        return revision, frozenset()
    # once more with them among the known, so that they lend their letters to the holes beside them
    again = match_revision(
        [*known, *met.values()], taken, part.holes, part.rows, alignment=revision.alignment
    )
    changes = tuple(
        _now_drawn(change, planned[change.label]) if change.label in met else change
        for change in again.changes
    )
    found = replace(again, changes=changes, rivals=revision.rivals, notices=revision.notices)
    return found, frozenset(met)


def _met(planned: Mapping[str, RecordedHole], revision: Revision) -> dict[str, KnownHole]:
    """Planned holes that the drawing shows, each where it is drawn, on recorded axes."""
    new = {
        change.label: KnownHole(
            change.label,
            *revision.on_recorded_axes(change.after.x, change.after.y),
            change.after.diameter,
        )
        for change in revision.of_kind(ChangeKind.NEW)
        if change.after is not None
    }
    pairs = sorted(
        (distance, label, own)
        for label, hole in planned.items()
        for own, drawn in new.items()
        if (distance := math.hypot(drawn.x - hole.x, drawn.y - hole.y)) <= REACH + SLACK
    )
    found: dict[str, KnownHole] = {}
    for _, label, own in pairs:
        if label not in found and own in new:
            found[label] = replace(new.pop(own), label=label)
    return found


def _now_drawn(change: HoleChange, planned: RecordedHole) -> HoleChange:
    """The change of a planned hole into a drawn one; `change` has it kept where it is drawn."""
    assert change.before is not None  # noqa: S101 (it is among the known)
    drawn = change.before
    distance = math.hypot(drawn.x - planned.x, drawn.y - planned.y)
    kind = ChangeKind.RESIZED if distance <= SAME_PLACE + SLACK else ChangeKind.MOVED
    return replace(change, kind=kind, distance=distance)
