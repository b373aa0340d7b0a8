"""What is called out on a picture: findings and rejected holes, in short lines with a leader."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from holeschedule.model import Finding, Quantity, Verdict
from holeschedule.selection import label_key
from holeschedule.units import LengthUnit
from holeschedule.views.explain import PAIRS, row_of, shown_numbers
from holeschedule.views.labels import Leaders, Room, leader_end
from holeschedule.views.page import (
    Box,
    Item,
    Text,
    box_path,
    cut_to,
    line_height,
    line_path,
    text_width,
)
from holeschedule.views.text import compact_labels

_PAD = 0.05
_WIDEST = 2.4
_ALIKE = 6
"""Decimals of an inch to which measured values are told to be the same."""
_MOST_NAMED = 3
_CLEAR = 0.03
"""Inches left free round a box."""
_GAP = 0.17
"""Inches on the paper from a hole to the box about it, at least: a number fits between."""


@dataclass(frozen=True, slots=True)
class Callout:
    """Something told of a hole of a picture. Equality is by value.

    `hole` is its label. `head` says which holes and what, `body` what was measured. `is_calm`: it
    fails no rule.
    """

    hole: str
    head: str
    body: tuple[str, ...]
    is_calm: bool = False


def finding_callouts(findings: Iterable[Finding], unit: LengthUnit) -> list[Callout]:
    """A callout for each finding, the worst first; alike ones of a row are told together."""
    groups: dict[tuple[object, ...], list[Finding]] = {}
    for finding in findings:
        groups.setdefault(_alike(finding), []).append(finding)
    return [_callout(group, unit) for group in groups.values()]


def _alike(finding: Finding) -> tuple[object, ...]:
    """What findings have in common that are told in one callout."""
    if finding.verdict is Verdict.WIDE:  # told of rows, and many rows may have the same pitch
        return finding.verdict, finding.rule, round(finding.measured, _ALIKE)
    pair = finding.other if finding.quantity in PAIRS else ""
    return finding.verdict, finding.rule, row_of(finding.hole), row_of(pair or "")


def _callout(group: Sequence[Finding], unit: LengthUnit) -> Callout:
    worst = min(group, key=lambda finding: finding.margin)
    measured, limit, _ = shown_numbers(worst, unit)
    is_most = worst.verdict is Verdict.WIDE or worst.quantity is Quantity.DIAMETER
    head = f"{_names(group, worst)}  {str(worst.verdict).upper()}"
    first = f"{worst.quantity} {measured}"
    if worst.quantity is Quantity.RIM:
        return Callout(worst.hole, head, (f"centre {measured} from {worst.other}",))
    if len({round(finding.measured, _ALIKE) for finding in group}) > 1:
        first += " or less" if is_most else " or more"
    bound = f"{'at most' if is_most else 'at least'} {limit}"
    return Callout(worst.hole, head, (first, bound), not worst.verdict.fails)


def _names(group: Sequence[Finding], worst: Finding) -> str:
    if worst.quantity is Quantity.TRANSVERSE_PITCH:
        return f"rows {row_of(worst.hole)} and {row_of(str(worst.other))}"
    if worst.verdict is Verdict.WIDE:
        rows = sorted({row_of(finding.hole) for finding in group}, key=lambda r: (len(r), r))
        more = f" and {len(rows) - _MOST_NAMED} more" if len(rows) > _MOST_NAMED else ""
        return f"row{'s' if len(rows) > 1 else ''} {', '.join(rows[:_MOST_NAMED])}{more}"
    labels = {finding.hole for finding in group}
    if worst.quantity in PAIRS:
        labels |= {str(finding.other) for finding in group}
    return compact_labels(sorted(labels, key=label_key))


def callout_size(callout: Callout) -> tuple[float, float]:
    """Width and height [in] of the box of a callout."""
    wide = max(
        text_width(_head(callout), "finding"),
        *(text_width(line, "measured") for line in callout.body),
    )
    high = line_height("finding") + line_height("measured") * len(callout.body)
    return wide + 2 * _PAD, high + 2 * _PAD - 0.02


def _head(callout: Callout) -> str:
    return cut_to(callout.head, "finding", _WIDEST)


def place_callout(
    room: Room, lines: Leaders, callout: Callout, at: tuple[float, float], radius: float
) -> list[Item]:
    """Find room for a callout about a hole at `at` with a mark of `radius` [in]; [] for none."""
    wide, high = callout_size(callout)
    room_for = wide + 2 * _CLEAR, high + 2 * _CLEAR
    found = room.nearest_free(room_for, at, radius + _GAP - _CLEAR, lines)
    if found is None:
        return []
    box = (found[0] + _CLEAR, found[1] + _CLEAR, found[2] - _CLEAR, found[3] - _CLEAR)
    end = leader_end(box, at)
    away = max(((end[0] - at[0]) ** 2 + (end[1] - at[1]) ** 2) ** 0.5, 1e-9)
    start = tuple(a + (b - a) * radius / away for a, b in zip(at, end, strict=True))
    calm = "calm " if callout.is_calm else ""
    return [
        line_path([(start[0], start[1]), end], f"{calm}leader"),
        box_path(box, f"{calm}callout"),
        *_words(callout, box, f"{calm}finding"),
    ]


def _words(callout: Callout, box: Box, style: str) -> list[Item]:
    y = box[3] - _PAD - 0.085
    items: list[Item] = [Text(box[0] + _PAD, y, _head(callout), style)]
    for line in callout.body:
        y -= line_height("measured")
        items.append(Text(box[0] + _PAD, y, line, "measured"))
    return items
