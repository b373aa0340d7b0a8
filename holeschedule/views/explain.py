"""Findings in words: what was measured, what the rule wants, what is lacking."""

from __future__ import annotations

from holeschedule.model import Finding, Quantity, Verdict
from holeschedule.units import LengthUnit, format_length

CAUTION = (
    "For planning only. The kit's plans, the drawing, the local authority and a licensed inspector"
    " decide; measure the part before you drill it."
)
"""Stands under everything this program puts out."""

PAIRS = (Quantity.PITCH, Quantity.TRANSVERSE_PITCH, Quantity.SPACING)
"""What is measured between two holes; a finding's `other` is then a hole."""

_PLACES = {LengthUnit.INCH: 4, LengthUnit.MILLIMETRE: 3}
"""Decimals: with fewer, a limit of 3/16 and a margin of 1/64 would not add up as printed."""
_RATIO_PLACES = 2
_MOST_PLACES = 9
_NUDGE = 1e-10
"""Added before rounding, so that noise does not part two halves: 0.28125 is 0.2813 each time."""

_TOO_FAR = {
    Verdict.MISALIGNED: "too far for the rivet to go in",
    Verdict.FIGURE_EIGHT: "too far, the drill leaves a figure-eight",
}
_LEFT = {
    Verdict.THIN: "{} too thin",
    Verdict.BREAKS_THROUGH: "they meet",
}


def explain(finding: Finding, unit: LengthUnit) -> str:
    """One finding as a sentence without its source: 'edge distance 0.159 in (1.70 D) to …'.

    The numbers add up as printed, and a missed limit never looks like the value that misses it.
    """
    if finding.quantity is Quantity.RIM:
        return _off_metal(finding, unit)
    measured, limit, away = shown_numbers(finding, unit)
    if finding.quantity is Quantity.OFFSET:
        far = _TOO_FAR[finding.verdict]
        return f"{measured} off {finding.other}; at most {limit}: {away} {far}"
    if finding.quantity is Quantity.METAL_BETWEEN:
        lacking = _LEFT[finding.verdict].format(away)
        return f"{finding.quantity} {measured}; at least {limit}: {lacking}"
    if finding.quantity is Quantity.DIAMETER:
        return f"the hole is {measured}, the {finding.other} rivet's largest {limit}: {away} over"
    least = "at most" if finding.verdict is Verdict.WIDE else "at least"
    return (
        f"{finding.quantity} {measured} ({_ratio(finding)} D) {_to(finding)}; {least}"
        f" {_in_shanks(finding)}{limit}: {_lacking(finding, away)}"
    )


def row_of(label: str) -> str:
    """The letters of a hole's label: its row, or X."""
    return label.rstrip("0123456789")


def shown_numbers(finding: Finding, unit: LengthUnit) -> tuple[str, str, str]:
    """Measured value, limit and what lies between, with as many decimals as tell them apart."""
    measured, limit = unit.from_inches(finding.measured), unit.from_inches(finding.limit)
    places = _places_apart(measured, limit, _PLACES[unit], finding)
    rounded = [_rounded(value, places) for value in (measured, limit)]
    shown = (*rounded, abs(rounded[0] - rounded[1]))
    first, second, third = (f"{value:.{places}f} {unit}" for value in shown)
    return first, second, third


def _ratio(finding: Finding) -> str:
    measured, limit = finding.measured / finding.diameter, finding.limit / finding.diameter
    places = _places_apart(measured, limit, _RATIO_PLACES, finding)
    return f"{_rounded(measured, places):.{places}f}"


def _places_apart(measured: float, limit: float, places: int, finding: Finding) -> int:
    if finding.verdict is Verdict.TIGHT:
        return places
    while places < _MOST_PLACES and _rounded(measured, places) == _rounded(limit, places):
        places += 1
    return places


def _rounded(value: float, places: int) -> float:
    return round(value + _NUDGE, places)


def _in_shanks(finding: Finding) -> str:
    """'2.5 D = ' where the limit is a plain multiple of the shank; a limit in inches is not."""
    shanks = finding.limit / finding.diameter
    plain = round(shanks, 2)
    return f"{plain:g} D = " if abs(shanks - plain) < _NUDGE else ""


def _to(finding: Finding) -> str:
    if finding.quantity is Quantity.TRANSVERSE_PITCH:
        return f"between rows {row_of(finding.hole)} and {row_of(str(finding.other))}"
    return f"to {_named(finding)}"


def _named(finding: Finding) -> str:
    """The edge or the other hole: 'the outline', 'cutout 2', 'a trim line', 'C8'."""
    names = {"outline": "the outline", "trim line": "a trim line"}
    return names.get(str(finding.other), str(finding.other))


def _lacking(finding: Finding, away: str) -> str:
    match finding.verdict:
        case Verdict.TIGHT:
            return f"met with {away} to spare"
        case Verdict.WIDE:
            return f"{away} more"
        case Verdict.CLOSE:
            return f"{away} too close"
        case _:
            return f"{away} {finding.verdict}"


def _off_metal(finding: Finding, unit: LengthUnit) -> str:
    """Which loop a centre outside the metal lies in is not known here, only the nearest edge."""
    away = format_length(abs(finding.measured), unit, _PLACES[unit])
    if finding.verdict is Verdict.BREAKS_OUT:
        size = format_length(finding.diameter, unit, _PLACES[unit])
        where = "beyond it" if finding.measured < 0 else "from it"
        return f"the hole ({size}) crosses {_named(finding)}: its centre is {away} {where}"
    return f"the hole is not in metal: its nearest edge is {_named(finding)}, {away} away"
