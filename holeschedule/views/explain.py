"""Findings in words: what was measured, what the rule wants, what is lacking."""

from __future__ import annotations

from holeschedule.model import Finding, Quantity, Verdict
from holeschedule.units import LengthUnit, format_length

CAUTION = (
    "For planning only. The kit's plans, the drawing, the local authority and a licensed inspector"
    " decide; measure the part before you drill it."
)
"""Stands under everything this program puts out."""


_PLACES = {LengthUnit.INCH: 4, LengthUnit.MILLIMETRE: 3}
"""Decimals: with fewer, a limit of 3/16 and a margin of 1/64 would not add up as printed."""


def _fine(inches: float, unit: LengthUnit) -> str:
    return format_length(inches, unit, _PLACES[unit])


def explain(finding: Finding, unit: LengthUnit) -> str:
    """One finding as a sentence without its source: 'edge distance 0.159 in (1.70 D) to …'."""

    def show(inches: float) -> str:
        return _fine(inches, unit)

    if finding.quantity is Quantity.RIM:
        return _off_metal(finding, unit)
    if finding.quantity is Quantity.DIAMETER:
        return (
            f"the hole is {show(finding.measured)}, the {finding.other} rivet's largest is"
            f" {show(finding.limit)}: {show(-finding.margin)} too large"
        )
    ratio = finding.measured / finding.diameter
    least = "at most" if finding.verdict is Verdict.WIDE else "at least"
    wanted = f"{least} {finding.limit / finding.diameter:.3g} D = {show(finding.limit)}"
    return (
        f"{finding.quantity} {show(finding.measured)} ({ratio:.2f} D) {_to(finding)}; {wanted}:"
        f" {_lacking(finding, unit)}"
    )


def _off_metal(finding: Finding, unit: LengthUnit) -> str:
    away = _fine(abs(finding.measured), unit)
    if finding.verdict is Verdict.BREAKS_OUT:
        return (
            f"the hole ({_fine(finding.diameter, unit)}) crosses {_named(finding)}:"
            f" its centre is {away} from it"
        )
    if finding.other == "outline":
        return f"the hole is not in metal: its centre is outside the outline, {away} from it"
    return f"the hole is not in metal: its centre is in {finding.other}, {away} from its edge"


def _to(finding: Finding) -> str:
    if finding.quantity is Quantity.EDGE_DISTANCE and finding.verdict is not Verdict.WIDE:
        return f"to {_named(finding)}"
    if finding.verdict is Verdict.WIDE:
        return f"in {finding.other}"
    return f"to {finding.other}"


def _named(finding: Finding) -> str:
    """The edge: 'the outline', 'cutout 2', 'a trim line'."""
    names = {"outline": "the outline", "trim line": "a trim line"}
    return names.get(str(finding.other), str(finding.other))


def _lacking(finding: Finding, unit: LengthUnit) -> str:
    away = _fine(abs(finding.margin), unit)
    match finding.verdict:
        case Verdict.TIGHT:
            return f"met with {away} to spare"
        case Verdict.WIDE:
            return f"{away} more"
        case _:
            return f"{away} {finding.verdict}"
