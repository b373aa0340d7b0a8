"""Run the checks on a part, sort what they find, worst first, and count."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cached_property

from holeschedule.audit.checks import CHECKS, short_if_flush
from holeschedule.audit.measure import Intent, Measured, measure_part
from holeschedule.audit.rules import RuleSet
from holeschedule.holes.part import Part
from holeschedule.model import Finding, Quantity, Verdict
from holeschedule.selection import label_key

_OFF_METAL = (Verdict.BREAKS_OUT, Verdict.OUTSIDE)


@dataclass(frozen=True, eq=False)
class PartAudit:
    """The audit of one part. Compared by identity.

    `findings` are sorted worst first; `verdicts` are in step with `measured.part.holes`, the
    worst finding of each hole. `short_if_flush` counts the holes that would be short as well if
    every head were flush.
    """

    measured: Measured
    rules: RuleSet
    findings: tuple[Finding, ...]
    verdicts: tuple[Verdict, ...]
    short_if_flush: int

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


def audit_part(part: Part, rules: RuleSet, intent: Intent | None = None) -> PartAudit:
    """Audit every hole of `part` against `rules`.

    Parameters
    ----------
    intent : Intent, optional
        The rivet and head of all holes where the user says so.
    """
    measured = measure_part(part, intent)
    found = [finding for check in CHECKS for finding in check(measured, rules)]
    off_metal = {f.hole for f in found if f.verdict in _OFF_METAL}
    # a hole in the air has no edge distance to be short: that it is there is the finding
    kept = [
        f for f in found if f.verdict in _OFF_METAL or not _is_edge(f) or f.hole not in off_metal
    ]
    kept.sort(key=_worst_first)
    order = {hole.label: i for i, hole in enumerate(part.holes)}
    return PartAudit(
        measured,
        rules,
        tuple(kept),
        _verdicts(part, kept, order),
        short_if_flush(measured, rules),
    )


def _worst_first(finding: Finding) -> tuple[object, ...]:
    """By verdict, then by how much of D is lacking; noise of a float decides nothing."""
    lacking = round(finding.margin / finding.diameter, 9)
    return -finding.verdict.severity, lacking, label_key(finding.hole), finding.rule


def _is_edge(finding: Finding) -> bool:
    return finding.quantity is Quantity.EDGE_DISTANCE


def _verdicts(part: Part, findings: list[Finding], order: dict[str, int]) -> tuple[Verdict, ...]:
    verdicts = [Verdict.OK] * len(part.holes)
    for finding in reversed(findings):  # worst last, so that it stays
        if finding.verdict is Verdict.WIDE:
            continue  # told of a row, not of the hole it is told at
        for label in (finding.hole, finding.other):
            if label in order:
                verdicts[order[label]] = finding.verdict
    return tuple(verdicts)
