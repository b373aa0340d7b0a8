"""Everything that is wrong with the places of a joint, the worst first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from holeschedule.audit.rules import RuleSet
from holeschedule.joints.layers import Joint
from holeschedule.joints.offsets import offset_findings
from holeschedule.joints.places import Place
from holeschedule.joints.predicted import predict_drilling
from holeschedule.joints.taper import Taper
from holeschedule.joints.wedge import between_countersinks, wedge_findings
from holeschedule.model import Finding


def joint_findings(
    joint: Joint,
    places: Sequence[Place],
    rules: RuleSet,
    *,
    alignment_tolerance: float | None = None,
    tapers: Mapping[int, Taper] | None = None,
) -> tuple[Finding, ...]:
    """Offsets, holes that match-drilling will spoil, and countersinks that meet in a wedge.

    Parameters
    ----------
    joint : Joint
        The joint.
    places : sequence of Place
        Its places.
    rules : RuleSet
        The limits for holes still to be drilled.
    alignment_tolerance : float [in], optional
        As for `predict_drilling`.
    tapers : mapping of layer index to Taper, optional
        The layers that are wedges.

    Returns
    -------
    tuple of Finding
        By verdict, then by how much of D is lacking, then in the order of the places.

    Raises
    ------
    GeometryError
        A dimpled sheet on a wedge has no thickness.
    TableError
        No flush head is known for a rivet through a wedge.
    """
    found = list(offset_findings(places))
    for drilling in predict_drilling(joint, places, rules, alignment_tolerance=alignment_tolerance):
        found += drilling.findings
    for layer, taper in (tapers or {}).items():
        found += wedge_findings(between_countersinks(joint, places, layer, taper))
    return tuple(sorted(found, key=_worst_first))


def _worst_first(finding: Finding) -> tuple[float, float]:
    """Noise of a float decides nothing; what is equal stays in order."""
    return -finding.verdict.severity, round(finding.margin / finding.diameter, 9)
