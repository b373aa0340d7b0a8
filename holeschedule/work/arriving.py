"""What an import did, or would do: in words, and as an object for other programs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from holeschedule.holes.identity import ChangeKind
from holeschedule.units import LengthUnit, format_length
from holeschedule.views.text import compact_labels, hanging, plural
from holeschedule.work.bring_in import Arrival, ImportResult

_MOST_TOLD = 12


def import_text(result: ImportResult, *, dry_run: bool) -> str:
    """The import in words: a line for each part, and for each hole that did not stay."""
    lines: list[str] = []
    for arrival in result.arrivals:
        lines += _arrival_lines(arrival)
    for notice in result.notices:
        lines += hanging("To do: ", f"{notice}.")
    if dry_run:
        lines.append("Nothing was changed: this was --dry-run.")
    elif result.entry is None:
        lines.append("Nothing to record: these drawings are in the build already.")
    else:
        lines.append(f"Recorded as entry {result.entry}. Undo: holeschedule undo {result.entry}")
    return "".join(f"{line}\n" for line in lines)


def _arrival_lines(arrival: Arrival) -> Iterator[str]:
    unit = LengthUnit.MILLIMETRE if arrival.read.unit.is_metric else LengthUnit.INCH
    held = {kind: arrival.of_kind(kind) for kind in ChangeKind}
    if arrival.is_new:
        count = plural(len(arrival.changes), "hole")
        rows = plural(len(arrival.read.rows), "row")
        yield f"{arrival.part} {arrival.revision}: {count} in {rows}; drawings/{arrival.drawing}"
    elif arrival.is_same:
        yield f"{arrival.part} {arrival.revision}: is this drawing already"
    else:
        counts = ", ".join(f"{len(found)} {kind}" for kind, found in held.items())
        yield f"{arrival.part} {arrival.revision}: {counts}; drawings/{arrival.drawing}"
        for kind in (ChangeKind.NEW, ChangeKind.RETIRED):
            if held[kind]:
                labels = compact_labels([change.label for change in held[kind]])
                yield from hanging(f"  {kind}: ", labels)
        if arrival.planned:
            labels = compact_labels(arrival.planned)
            yield from hanging("  drawn now, to be match-drilled before: ", labels)
        resized = [c for c in held[ChangeKind.RESIZED] if c.label not in arrival.planned]
        moved = sorted((*held[ChangeKind.MOVED], *resized), key=_by_distance)
        for change in moved[:_MOST_TOLD]:
            yield f"  {change.kind}: {change.label}  {format_length(change.distance, unit)}"
        if len(moved) > _MOST_TOLD:
            yield f"  and {len(moved) - _MOST_TOLD} more, none of them farther"
    for notice in arrival.notices:
        yield from hanging("  notice: ", f"{notice}.")
    for lost in arrival.work_lost:
        yield from hanging("  FINDING: ", f"{lost}: see to the metal, or replace the part.")


def _by_distance(change: Any) -> float:
    return -round(float(change.distance), 6)


def import_object(result: ImportResult) -> dict[str, Any]:
    """The JSON object `holeschedule.import/1`; lengths in inches."""
    return {
        "format": "holeschedule.import/1",
        "entry": result.entry,
        "parts": [
            {
                "part": arrival.part,
                "revision": arrival.revision,
                "drawing": arrival.drawing,
                "is_new": arrival.is_new,
                "holes": [
                    {
                        "hole": change.label,
                        "change": str(change.kind),
                        "distance": change.distance,
                    }
                    for change in arrival.changes
                ],
                "drawn_now": list(arrival.planned),
                "findings": list(arrival.work_lost),
                "notices": list(arrival.notices),
            }
            for arrival in result.arrivals
        ],
        "notices": list(result.notices),
    }
