"""A joint of a build with its parts laid on each other, and the rivet for each place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from holeschedule.audit.rules import RuleSet
from holeschedule.build.joints import JointIntent
from holeschedule.joints.fasteners import RivetChoice
from holeschedule.joints.findings import joint_findings
from holeschedule.joints.layers import Joint
from holeschedule.joints.places import Place
from holeschedule.joints.predicted import Drilling, predict_drilling
from holeschedule.joints.stack import Stack
from holeschedule.joints.taper import Taper
from holeschedule.model import Finding, Notice


@dataclass(frozen=True, eq=False)
class Rivet:
    """What goes into one place. Compared by identity.

    `stack` and `choice` are None where no rivet is as thick as the hole.
    """

    place: Place
    stack: Stack | None
    choice: RivetChoice | None

    @property
    def designation(self) -> str:
        """As it is bought; empty where it is not known."""
        chosen = self.choice and self.choice.chosen
        return str(chosen.designation) if chosen else ""


@dataclass(frozen=True, eq=False)
class LaidJoint:
    """A joint of the build with its parts laid on each other. Compared by identity.

    `tapers` has, by index, the layers that are wedges.
    """

    intent: JointIntent
    joint: Joint
    rivets: tuple[Rivet, ...]
    notices: tuple[Notice, ...]
    tapers: Mapping[int, Taper]

    @property
    def places(self) -> tuple[Place, ...]:
        """Every rivet position, numbered from 1."""
        return tuple(rivet.place for rivet in self.rivets)

    def findings(self, rules: RuleSet) -> tuple[Finding, ...]:
        """Offsets, holes that will come out short, countersinks that meet; worst first."""
        return joint_findings(self.joint, self.places, rules, tapers=self.tapers)

    def fails(self, rules: RuleSet) -> bool:
        """Whether a rule is missed, or a stack or a rivet has something wrong."""
        parts = (part for rivet in self.rivets for part in (rivet.stack, rivet.choice))
        return any(part is not None and part.findings for part in parts) or any(
            finding.verdict.fails for finding in self.findings(rules)
        )

    def drillings(self, rules: RuleSet) -> tuple[Drilling, ...]:
        """What match-drilling will make of each layer that has holes to come."""
        return predict_drilling(self.joint, self.places, rules)
