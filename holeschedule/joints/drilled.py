"""Holes that match-drilling makes, as holes of their parts: each with its label and verdict."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from holeschedule.audit.rules import RuleSet
from holeschedule.joints.laid import LaidJoint
from holeschedule.joints.predicted import DrilledHole
from holeschedule.model import Finding, Verdict


@dataclass(frozen=True, slots=True)
class MatchDrilled:
    """A hole that match-drilling makes in a part. Equality is by value.

    `piece` is the part, `FL-107#2` where there are several; `label` that of the record, None
    where the hole is not entered. `nearest` is the label of the hole next to it, its place where
    that one has no label, None for a lone hole. `findings` are those about it.
    """

    part: str
    piece: str
    label: str | None
    joint: str
    hole: DrilledHole
    nearest: str | None
    findings: tuple[Finding, ...]

    @property
    def verdict(self) -> Verdict:
        """The worst of its findings; ok without any."""
        told = (finding.verdict for finding in self.findings)
        return max(told, key=lambda verdict: verdict.severity, default=Verdict.OK)


LabelOf = Callable[[str, int, str, int], str | None]
"""Label of the hole of a joint, at a place, in a part, of a copy; None where there is none."""


def match_drilled(
    laid: Iterable[LaidJoint], rules: RuleSet, label_of: LabelOf
) -> Iterator[MatchDrilled]:
    """Holes that match-drilling makes, joint by joint and layer by layer.

    Parameters
    ----------
    laid : LaidJoint, several
        The joints.
    rules : RuleSet
        What the holes are held against.
    label_of : callable
        Finds what the record calls a hole.
    """
    for joint in laid:
        for drilling in joint.drillings(rules):
            layer = joint.intent.layers[drilling.layer]
            where = layer.part, layer.copy
            labels = {h.name: label_of(joint.intent.id, h.place, *where) for h in drilling.holes}
            for hole in drilling.holes:
                near = hole.nearest and labels.get(hole.nearest)
                yield MatchDrilled(
                    layer.part,
                    drilling.name,
                    labels[hole.name],
                    joint.intent.id,
                    hole,
                    near or (hole.nearest and hole.nearest.removeprefix(f"{drilling.name}:")),
                    tuple(f for f in drilling.findings if hole.name in {f.hole, f.other}),
                )
