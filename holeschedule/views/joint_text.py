"""A joint on the terminal: its layers, its places by what goes into them, what is wrong."""

from __future__ import annotations

import math
from collections.abc import Container, Iterable, Iterator, Sequence

from holeschedule.audit.rules import RuleSet
from holeschedule.geometry.placement import Placement
from holeschedule.joints.drilled import MatchDrilled
from holeschedule.joints.laid import LaidJoint, Rivet
from holeschedule.joints.places import PlaceLayer
from holeschedule.joints.predicted import drilling_words
from holeschedule.joints.stack import StackLayer
from holeschedule.model import Finding, Head
from holeschedule.operations import Treatment
from holeschedule.units import LengthUnit, format_length
from holeschedule.views.explain import explain
from holeschedule.views.text import compact_labels, hanging, plural, printable, table

MOST_LABELS = 24
"""Columns for the holes of a layer."""
MOST_FINDINGS = 40
"""Findings told one by one; the rest is counted."""


def joint_lines(laid: LaidJoint, rules: RuleSet, unit: LengthUnit) -> list[str]:
    """A joint as lines of text, within 100 columns but for long names.

    Parameters
    ----------
    laid : LaidJoint
        The joint.
    rules : RuleSet
        What its holes and rivets are held against.
    unit : LengthUnit
        Of the lengths shown.
    """
    return [
        *hanging("", _title(laid)),
        "",
        *_layers(laid, unit),
        "",
        *_places(laid, unit),
        *_wrong(laid, rules, unit),
    ]


def summary_line(laid: LaidJoint, rules: RuleSet) -> str:
    """A joint on one line: what it is, and how much is wrong with it."""
    names = " + ".join(layer.name for layer in laid.joint.layers)
    wrong = len(laid.findings(rules)) + sum(1 for _ in stack_findings(laid))
    told = plural(wrong, "finding") if wrong else "no findings"
    return f"{_title(laid)}; {printable(names)}: {told}"


def _title(laid: LaidJoint) -> str:
    joint = laid.joint
    sizes = sorted({place.rivet.name for place in laid.places if place.rivet})
    heads = f"{joint.head} heads"
    if laid.intent.shop_head is Head.FLUSH:
        heads += ", shop heads flush"
    title = f" {joint.title}" if joint.title else ""
    return printable(
        f"{joint.name}{title}: {plural(len(laid.places), 'place')}, {' and '.join(sizes) or 'no'}"
        f" rivets, {heads}"
    )


# Layers ----------------------------------------------------------------------------------------


def _layers(laid: LaidJoint, unit: LengthUnit) -> list[str]:
    rows = []
    for number, layer in enumerate(laid.joint.layers):
        here = [at for place in laid.places for at in place.layers if at.layer == number]
        blank = sum(not at.has_hole for at in here)
        thickness = "tapered" if number in laid.tapers else _length(layer.thickness, unit)
        labels = [at.label for at in here if at.label]
        rows.append(
            [
                printable(layer.name),
                thickness,
                str(len(here)),
                str(blank) if blank else "-",
                _offset(here, unit) if number else "-",
                placement_text(layer.placement),
                _short(compact_labels(labels)) if labels else "none",
            ]
        )
    heads = ["layer", "sheet", "places", "to drill", "largest offset", "lies", "holes"]
    return table(heads, rows, "lrrrrll")


def _short(text: str) -> str:
    return text if len(text) <= MOST_LABELS else f"{text[: MOST_LABELS - 1]}…"


def _length(length: float | None, unit: LengthUnit) -> str:
    return "not known" if length is None else format_length(length, unit)


def _offset(here: Sequence[PlaceLayer], unit: LengthUnit) -> str:
    far = max((math.hypot(*at.offset) for at in here if at.has_hole), default=None)
    return "-" if far is None else format_length(far, unit, 4 if unit is LengthUnit.INCH else 3)


def placement_text(placement: Placement) -> str:
    """How a part lies: 'as drawn', 'flipped, turned 90.0°'; its shift is of no use at a bench."""
    turn = round(math.degrees(placement.turn), 1) % 360
    flipped = "flipped" if placement.flip else ""
    turned = f"turned {turn:.1f}°" if turn else ""
    return ", ".join(filter(None, (flipped, turned))) or "as drawn"


# Places ----------------------------------------------------------------------------------------


def _places(laid: LaidJoint, unit: LengthUnit) -> list[str]:
    groups: dict[tuple[str, ...], list[Rivet]] = {}
    for rivet in laid.rivets:
        groups.setdefault(_alike(rivet, unit), []).append(rivet)
    lines: list[str] = []
    for (layers, designation, other), rivets in groups.items():
        lines += hanging(
            f"  {number_ranges(r.place.number for r in rivets)}  ",
            f"{plural(len(rivets), 'place')}: {layers}; grip {_grips(rivets, unit)};"
            f" {designation}{other}",
        )
    return ["Places, manufactured head first:", *lines]


def _alike(rivet: Rivet, unit: LengthUnit) -> tuple[str, ...]:
    """What places have in common that are told on one line."""
    if rivet.stack is None or rivet.choice is None:
        names = " + ".join(at.name for at in rivet.place.layers)
        return printable(names), "no rivet as thick as the hole", ""
    layers = " + ".join(
        _layer_text(layer, at, unit)
        for layer, at in zip(rivet.stack.layers, rivet.place.layers, strict=True)
    )
    other = rivet.choice.alternative
    differs = f" ({other.rule}: {other.designation})" if other else ""
    return printable(layers), rivet.designation or "no rivet can be chosen", differs


def _grips(rivets: Sequence[Rivet], unit: LengthUnit) -> str:
    """The grip of places alike, or from the least to the most where a wedge is among them."""
    grips = [r.stack.grip for r in rivets if r.stack is not None and r.stack.grip is not None]
    if len(grips) < len(rivets):
        return "not known"
    least, most = _length(min(grips), unit), _length(max(grips), unit)
    return least if least == most else f"{least.removesuffix(f' {unit}')} to {most}"


def _layer_text(layer: StackLayer, at: PlaceLayer, unit: LengthUnit) -> str:
    words = " ".join(filter(None, (layer.name, treatment_text(layer, unit))))
    return words if at.has_hole else f"{words} (match-drilled)"


def treatment_text(layer: StackLayer, unit: LengthUnit) -> str:
    """What a layer is given for the head: 'dimpled', 'countersunk 0.202 in'; empty for plain."""
    if layer.treatment is None:
        return "to be chosen"
    if layer.treatment is Treatment.PLAIN:
        return ""
    if layer.treatment is Treatment.DIMPLE:
        return "dimpled"
    cuts = [cut for cut in (layer.countersink, layer.far_countersink) if cut is not None]
    sizes = " and ".join(format_length(cut, unit) for cut in cuts)
    return f"countersunk {sizes}".rstrip()


def number_ranges(numbers: Iterable[int]) -> str:
    """Numbers of places as they are selected: 1-3,9.

    Examples
    --------
    >>> number_ranges([1, 2, 3, 9])
    '1-3,9'
    """
    runs: list[list[int]] = []
    for number in numbers:
        if runs and runs[-1][-1] == number - 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ",".join(f"{r[0]}-{r[-1]}" if len(r) > 1 else f"{r[0]}" for r in runs)


# What is wrong ---------------------------------------------------------------------------------


def _wrong(laid: LaidJoint, rules: RuleSet, unit: LengthUnit) -> list[str]:
    told = [line for text in wrong_texts(laid, rules, unit) for line in hanging("  ", text)]
    notes = [line for notice in laid.notices for line in hanging("  ", printable(notice.text))]
    return [
        *(["", "Findings:", *told] if told else ["", "No findings."]),
        *(["", "Notices:", *notes] if notes else []),
    ]


def wrong_texts(laid: LaidJoint, rules: RuleSet, unit: LengthUnit) -> list[str]:
    """Say what is wrong with a joint, and what would cure it; then the sources, numbered."""
    findings = laid.findings(rules)
    sources: dict[str, int] = {}
    told = [_finding_text(finding, unit, sources) for finding in findings[:MOST_FINDINGS]]
    if len(findings) > MOST_FINDINGS:
        told.append(f"and {len(findings) - MOST_FINDINGS:,} findings more")
    for text, source, numbers in stack_findings(laid):
        where = f"{laid.joint.name}:{number_ranges(numbers)}"
        told.append(f"{where}: {text} [{sources.setdefault(source, len(sources) + 1)}]")
    told += [f"[{number}] {source}" for source, number in sources.items()]
    cures = (drilling_words(drilling, unit) for drilling in laid.drillings(rules))
    return [printable(text) for text in (*told, *(words for words in cures if words))]


def _finding_text(finding: Finding, unit: LengthUnit, sources: dict[str, int]) -> str:
    number = sources.setdefault(finding.source, len(sources) + 1)
    return f"{finding.verdict.upper()} {finding.hole}: {explain(finding, unit)} [{number}]"


def drilled_lines(
    drilled: Sequence[MatchDrilled], told: Container[str], unit: LengthUnit
) -> list[str]:
    """Holes that match-drilling makes in a part as a table, then what is wrong with them.

    Parameters
    ----------
    drilled : sequence of MatchDrilled
        Of one part.
    told : names of joints
        Whose findings are told elsewhere.
    unit : LengthUnit
        Of the lengths shown.
    """
    heads = ["match-drilled", "place", "e", "at least", "edge", "next", "away", "verdict"]
    sources: dict[str, int] = {}
    findings = dict.fromkeys(f for one in drilled if one.joint not in told for f in one.findings)
    texts = [_finding_text(finding, unit, sources) for finding in findings]
    texts += [f"[{number}] {source}" for source, number in sources.items()]
    return [
        *table(heads, [_drilled_row(one, unit) for one in drilled], "llrrllrl"),
        *(line for text in texts for line in hanging("  ", printable(text))),
    ]


def _drilled_row(drilled: MatchDrilled, unit: LengthUnit) -> list[str]:
    hole = drilled.hole
    return [
        printable(f"{drilled.piece}:{drilled.label or ' not entered'}"),
        f"{drilled.joint}:{hole.place}",
        format_length(hole.edge_distance, unit),
        format_length(hole.edge_limit, unit),
        hole.edge,
        printable(drilled.nearest or ""),
        format_length(hole.nearest_distance, unit) if drilled.nearest else "",
        str(drilled.verdict),
    ]


def stack_findings(laid: LaidJoint) -> Iterator[tuple[str, str, list[int]]]:
    """What is wrong with stacks and rivets: text, source, and at which places."""
    groups: dict[tuple[str, str], list[int]] = {}
    for rivet in laid.rivets:
        for part in (rivet.stack, rivet.choice):
            for found in part.findings if part is not None else ():
                groups.setdefault((found.text, found.source), []).append(rivet.place.number)
    for (text, source), numbers in groups.items():
        yield text, source, numbers
