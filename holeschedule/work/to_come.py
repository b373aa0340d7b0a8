"""Holes that match-drilling will make, as they will stand to the rules."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import NamedTuple

from holeschedule.audit.rules import RuleSet
from holeschedule.joints.laid import LaidJoint
from holeschedule.joints.predicted import Drilling
from holeschedule.model import Finding, Verdict
from holeschedule.record.places import Places
from holeschedule.selection import Pick


class HoleToCome(NamedTuple):
    """What match-drilling will make of one hole. Equality is by value.

    `edge_distance` is in inches, `edge_ratio` the same over the diameter of the rivet. `findings`
    name the hole by its label, as those of its part do.
    """

    edge_distance: float
    edge_ratio: float
    findings: tuple[Finding, ...]

    @property
    def verdict(self) -> Verdict:
        """Its worst finding; what is wide is told of a row, not of a hole."""
        found = (f.verdict for f in self.findings if f.verdict is not Verdict.WIDE)
        return max(found, key=lambda verdict: verdict.severity, default=Verdict.OK)


def holes_to_come(
    joints: Iterable[LaidJoint], places: Places, rules: RuleSet
) -> dict[Pick, HoleToCome]:
    """What match-drilling the joints of a build will make.

    Parameters
    ----------
    joints : iterable of LaidJoint
        The joints.
    places : Places
        The same places as the record has them; a hole that it has not yet is left out.
    rules : RuleSet
        What the holes are held against.
    """
    found: dict[Pick, HoleToCome] = {}
    for laid in joints:
        recorded = {place.number: place.picks for place in places.joints.get(laid.joint.name, ())}
        shanks = {p.number: p.rivet.shank_diameter for p in laid.places if p.rivet is not None}
        for drilling in laid.drillings(rules):
            layer = laid.intent.layers[drilling.layer]
            picks = {
                hole.name: pick
                for hole in drilling.holes
                for pick in recorded.get(hole.place, ())
                if (pick.part, pick.copy) == (layer.part, layer.copy)
            }
            for hole in drilling.holes:
                if hole.name in picks and hole.place in shanks:
                    ratio = hole.edge_distance / shanks[hole.place]
                    told = _findings(drilling, hole.name, picks)
                    found[picks[hole.name]] = HoleToCome(hole.edge_distance, ratio, told)
    return found


def _findings(drilling: Drilling, name: str, picks: Mapping[str, Pick]) -> tuple[Finding, ...]:
    """The findings of a hole, under the labels of its part."""

    def label(of: str) -> str:
        return picks[of].label if of in picks else of.removeprefix(f"{drilling.name}:")

    return tuple(
        replace(finding, hole=label(name), other=finding.other and label(finding.other))
        for finding in drilling.findings
        if finding.hole == name
    )
