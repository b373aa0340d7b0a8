"""Run the checks on a part, sort what they find, worst first, and count."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from holeschedule.audit.checks import CHECKS, short_if_flush
from holeschedule.audit.measure import Intent, Measured, OnPart, measure_part
from holeschedule.audit.rules import RuleSet
from holeschedule.holes.part import Part
from holeschedule.model import Finding, Quantity, Verdict
from holeschedule.selection import label_key

_OFF_METAL = (Verdict.BREAKS_OUT, Verdict.OUTSIDE)


@dataclass(frozen=True, eq=False)
class PartAudit:
    """The audit of one part. Compared by identity.

    `findings` are sorted worst first; `verdicts` are in step with `measured.part.holes`, the
    worst finding of each hole; rows too near each other are so with all their holes.
    `short_if_flush` counts the holes that would be short as well if
    every head were flush. `on_part` are labels of holes of which something was measured on the
    part itself.
    """

    measured: Measured
    rules: RuleSet
    findings: tuple[Finding, ...]
    verdicts: tuple[Verdict, ...]
    short_if_flush: int
    on_part: frozenset[str] = frozenset()

    @property
    def part(self) -> Part:
        """The part audited."""
        return self.measured.part

    @property
    def fails(self) -> bool:
        """Whether a rule is missed."""
        return any(finding.verdict.fails for finding in self.findings)

    @cached_property
    def counts(self) -> Counter[Verdict]:
        """How many holes have each verdict."""
        return Counter(self.verdicts)


def audit_part(
    part: Part,
    rules: RuleSet,
    intent: Intent | Mapping[str, Intent] | None = None,
    on_part: OnPart | None = None,
) -> PartAudit:
    """Audit every hole of `part` against `rules`.

    Parameters
    ----------
    part : Part
        As drawn.
    rules : RuleSet
        The limits.
    intent : Intent or mapping, optional
        The rivet and head of all holes, or of each by its label, where the user says so.
    on_part : OnPart, optional
        What was measured on the part itself, which counts from then on.
    """
    measured = measure_part(part, intent, on_part)
    found = [finding for check in CHECKS for finding in check(measured, rules)]
    off_metal = {f.hole for f in found if f.verdict in _OFF_METAL}
    # a hole in the air has no edge distance to be short: that it is there is the finding
    kept = [
        f for f in found if f.verdict in _OFF_METAL or not _is_edge(f) or f.hole not in off_metal
    ]
    kept.sort(key=_worst_first)
    return PartAudit(
        measured,
        rules,
        tuple(kept),
        _verdicts(measured, kept),
        short_if_flush(measured, rules),
        frozenset(hole.label for hole in part.holes) & (on_part.labels if on_part else set()),
    )


def _worst_first(finding: Finding) -> tuple[object, ...]:
    """By verdict, then by how much of D is lacking; noise of a float decides nothing."""
    lacking = round(finding.margin / finding.diameter, 9)
    return -finding.verdict.severity, lacking, label_key(finding.hole), finding.rule


def _is_edge(finding: Finding) -> bool:
    return finding.quantity is Quantity.EDGE_DISTANCE


def _verdicts(measured: Measured, findings: list[Finding]) -> tuple[Verdict, ...]:
    order = {hole.label: i for i, hole in enumerate(measured.part.holes)}
    verdicts = [Verdict.OK] * len(order)
    for finding in reversed(findings):  # worst last, so that it stays
        if finding.verdict is Verdict.WIDE:
            continue  # told of a row, not of the hole it is told at
        holes = [order[label] for label in (finding.hole, finding.other) if label in order]
        if finding.quantity is Quantity.TRANSVERSE_PITCH:
            holes = _rows_with(measured, holes)
        for hole in holes:
            verdicts[hole] = finding.verdict
    return tuple(verdicts)


def _rows_with(measured: Measured, holes: list[int]) -> list[int]:
    """Every hole of the rows that these holes are in: level rows are nearest all along."""
    rows = {int(measured.row_of[hole]) for hole in holes}
    return [place for row in sorted(rows) for place in measured.part.rows[row].places]
