"""The rivets of joints on the terminal: by joint, in all, to buy, and the heads to expect."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from holeschedule.fastener_tables import LengthRule
from holeschedule.joints.joint_strength import JointStrength
from holeschedule.joints.needed import HeadRow, Lot, RivetsNeeded
from holeschedule.joints.schedule import DifferingRow
from holeschedule.joints.strength import CAUTION as STRENGTH_CAUTION
from holeschedule.units import LengthUnit, format_length
from holeschedule.views.explain import CAUTION
from holeschedule.views.joint_text import number_ranges
from holeschedule.views.text import hanging, plural, printable, table

GRAMS_PER_POUND = 453.59237
"""Exact by definition (international yard and pound agreement, 1959)."""


def rivet_lines(needed: RivetsNeeded, unit: LengthUnit) -> list[str]:
    """The rivets as lines of text, within 100 columns but for long names.

    Parameters
    ----------
    needed : RivetsNeeded
        What the joints need.
    unit : LengthUnit
        Of the lengths shown; weights are in pounds with inches, else in grams.
    """
    parts = (
        _head(needed),
        _joints(needed.lots, unit),
        _totals(needed, unit),
        _shopping(needed),
        _differing(needed.schedule.differing),
        _heads(needed, unit),
        _strengths(needed, unit),
        _missing(needed),
        hanging("", CAUTION),
    )
    lines: list[str] = []
    for part in parts:
        told = list(part)
        lines += [*([""] if lines and told else []), *told]
    return lines


def _head(needed: RivetsNeeded) -> Iterator[str]:
    if not (needed.laid or needed.unlaid):
        yield "There are no joints yet. Example: holeschedule join J1 FL-101:A FL-102:B"
        return
    places = sum(len(laid.places) for laid in needed.laid)
    yield (
        f"{plural(len(needed.laid), 'joint')}, {plural(places, 'place')},"
        f" {plural(sum(row.count for row in needed.schedule.totals), 'rivet')};"
        f" rules {printable(needed.rules.name)}"
    )


def _joints(lots: Sequence[Lot], unit: LengthUnit) -> Iterator[str]:
    if not lots:
        return
    rows = [
        [lot.joint, str(lot.designation), f"{len(lot.places):,}", _grips(lot.grips, unit), "places"]
        for lot in lots
    ]
    head, *lines = table(["joint", "rivet", "count", "grip", "places"], rows, "llrr")
    yield head
    for line, lot in zip(lines, lots, strict=True):
        places = number_ranges(lot.places).replace(",", ", ")
        yield from hanging(line.removesuffix("places"), places)


def _grips(grips: tuple[float, float], unit: LengthUnit) -> str:
    least, most = (format_length(grip, unit) for grip in grips)
    return least if least == most else f"{least.removesuffix(f' {unit}')} to {most}"


def _totals(needed: RivetsNeeded, unit: LengthUnit) -> Iterator[str]:
    schedule = needed.schedule
    if not schedule.totals:
        return
    rows = [
        [
            str(row.designation),
            f"{row.count:,}",
            f"{row.spares:,}",
            f"{row.needed:,}",
            _weight(row.weight, unit),
        ]
        for row in schedule.totals
    ]
    sums = [sum(row.count for row in schedule.totals), sum(row.spares for row in schedule.totals)]
    numbers = [f"{number:,}" for number in (*sums, sum(sums))]
    rows.append(["in all", *numbers, _weight(schedule.weight, unit)])
    heads = ["rivet", "count", f"spares {schedule.spares:g} %", "needed", "weight, no spares"]
    yield from table(heads, rows, "lrrrr")


def _weight(pounds: float | None, unit: LengthUnit) -> str:
    if pounds is None:
        return "not known"
    if unit is LengthUnit.INCH:
        return f"{pounds:.3f} lb"
    return f"{pounds * GRAMS_PER_POUND:.1f} g"


def _shopping(needed: RivetsNeeded) -> Iterator[str]:
    if needed.shopping is None:
        return
    yield "To buy, by the stock in build.toml:"
    rows = [
        [str(row.designation), f"{row.needed:,}", f"{row.stock:,}", f"{row.to_buy:,}"]
        for row in needed.shopping
    ]
    yield from table(["rivet", "needed", "in stock", "to buy"], rows, "lrrr")
    if not any(row.to_buy for row in needed.shopping):
        yield "Nothing is to be bought."


def _differing(rows: Sequence[DifferingRow]) -> Iterator[str]:
    if not rows:
        return
    yield "The two rules of length differ; try both in scrap:"
    cells = []
    for row in rows:
        shorter, longer = sorted((row.chosen, row.other), key=lambda kind: kind.dash_length)
        taken = LengthRule.NEAREST if row.chosen == shorter else LengthRule.NEXT_ABOVE
        cells.append([row.joint, f"{row.count:,}", str(shorter), str(longer), str(taken)])
    heads = ["joint", "count", str(LengthRule.NEAREST), str(LengthRule.NEXT_ABOVE), "counted above"]
    yield from table(heads, cells, "lrlll")


# Shop heads ------------------------------------------------------------------------------------


def _heads(needed: RivetsNeeded, unit: LengthUnit) -> Iterator[str]:
    if not needed.heads:
        return
    limits = needed.rules.shop_head.name
    yield f"Shop heads to expect at the usual width, and the widths that {limits} allows them:"
    heads = ["rivet", "grip", "places", "width", "height", f"widths by {limits}"]
    yield from table(heads, [_head_cells(row, unit) for row in needed.heads], "lrrrrr")
    for text in dict.fromkeys(
        f"{found.text} [{found.source}]" for row in needed.heads for found in row.option.findings
    ):
        yield from hanging("  FINDING: ", printable(text))


def _head_cells(row: HeadRow, unit: LengthUnit) -> list[str]:
    head = row.option.shop_head
    cells = [str(row.option.designation), _grips(row.grips, unit), f"{row.count:,}"]
    if head is None:
        return [*cells, "flush", "-", "-"]
    width, height = format_length(head.width, unit), format_length(max(0.0, head.height), unit)
    limits = "none" if head.widths is None else _grips(head.widths, unit)
    return [*cells, width, height, limits]


# Strength --------------------------------------------------------------------------------------


def _strengths(needed: RivetsNeeded, unit: LengthUnit) -> Iterator[str]:
    if needed.strengths is None:
        return
    yield from hanging("", f"Strength. {STRENGTH_CAUTION}")
    if not needed.strengths:
        yield "Nothing can be said: no thickness is known."
        return
    heads = ["joint", "rivet", "thinnest sheet", "asked for", "one row has", "load of a rivet"]
    yield from table(heads, [_strength_cells(row, unit) for row in needed.strengths], "lllrrr")
    yield from hanging(
        "",
        "Rivets per inch of width for 2117 (AD) rivets, after AC 43.13-1B Tables 4-9 to 4-11, to"
        " carry as much as the sheet; several rows add up. Load in single shear, at an edge"
        " distance of 2 D.",
    )
    remarks: dict[str, dict[str, None]] = {}
    for what, text in (found for row in needed.strengths for found in _remarks(row)):
        remarks.setdefault(text, {})[what] = None
    for text, about in remarks.items():
        yield from hanging("  ", printable(f"{', '.join(about)}: {text}"))


def _strength_cells(row: JointStrength, unit: LengthUnit) -> list[str]:
    sheet = f"{row.sheet} {format_length(row.thickness, unit)}"
    material = f", {row.material}" if row.material else ""
    asked = "-" if row.asked is None else f"{row.asked.number:.1f}/in ({row.asked.governs})"
    has = "-" if row.per_inch is None else f"{row.per_inch:.2f}/in"
    load = "-" if row.load is None else f"{row.load.load:,.0f} lbf ({row.load.governs})"
    return [row.joint, row.rivet.name, printable(sheet + material), asked, has, load]


def _remarks(row: JointStrength) -> Iterator[tuple[str, str]]:
    """What is to be said about a sheet or a joint, and about which."""
    if not row.stated:
        yield row.sheet, "no material is stated; state material in build.toml"
    elif row.material is None:
        yield row.sheet, f"{row.stated!r} is in none of the tables"
    elif not row.material.is_clad:
        yield row.sheet, "taken as bare sheet; if it is clad, say so in its material"
    for notice in row.load.notices if row.load is not None else ():
        yield row.joint, notice.text


# What is missing -------------------------------------------------------------------------------


def _missing(needed: RivetsNeeded) -> Iterator[str]:
    for found in needed.without:
        places = number_ranges(found.places)
        yield from hanging("", printable(f"{found.joint}:{places} without a rivet: {found.reason}"))
    for joint, why in needed.unlaid.items():
        reason = why.removeprefix(f"{joint}: ")
        yield from hanging("", printable(f"{joint} cannot be laid, and is not counted: {reason}"))
