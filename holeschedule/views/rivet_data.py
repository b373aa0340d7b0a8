"""The rivets of joints for other programs: the JSON object `holeschedule.rivets/1`, and CSV."""

from __future__ import annotations

import csv
import io
from typing import Any

from holeschedule.joints.joint_strength import JointStrength
from holeschedule.joints.needed import HeadRow, Lot, RivetsNeeded
from holeschedule.joints.schedule import TotalRow
from holeschedule.joints.strength import CAUTION as STRENGTH_CAUTION
from holeschedule.units import LengthUnit
from holeschedule.views.explain import CAUTION

FORMAT = "holeschedule.rivets/1"
"""Name and version of the object."""


def rivet_object(needed: RivetsNeeded, unit: LengthUnit) -> dict[str, Any]:
    """The JSON object: lengths in `unit`, weights in pounds, loads in pounds of force."""
    schedule = needed.schedule
    found: dict[str, Any] = {
        "format": FORMAT,
        "units": str(unit),
        "rules": needed.rules.name,
        "shop_head_limits": needed.rules.shop_head.name,
        "spares_percent": schedule.spares,
        "weight_lb": schedule.weight,
        "joints": [_lot(lot, unit) for lot in needed.lots],
        "totals": [_total(row) for row in schedule.totals],
        "lengths_differ": [
            {
                "joint": row.joint,
                "rivet": str(row.chosen),
                "by_other_rule": str(row.other),
                "count": row.count,
            }
            for row in schedule.differing
        ],
        "shop_heads": [_head(row, unit) for row in needed.heads],
        "without_rivet": [
            {"joint": row.joint, "places": list(row.places), "reason": row.reason}
            for row in needed.without
        ],
        "not_laid": [{"joint": name, "reason": why} for name, why in needed.unlaid.items()],
        "caution": CAUTION,
    }
    if needed.shopping is not None:
        found["shopping"] = [
            {
                "rivet": str(row.designation),
                "needed": row.needed,
                "stock": row.stock,
                "to_buy": row.to_buy,
            }
            for row in needed.shopping
        ]
    if needed.strengths is not None:
        rows = [_strength(row, unit) for row in needed.strengths]
        found["strength"] = {"caution": STRENGTH_CAUTION, "joints": rows}
    return found


def _lot(lot: Lot, unit: LengthUnit) -> dict[str, Any]:
    return {
        "joint": lot.joint,
        "rivet": str(lot.designation),
        "count": len(lot.places),
        "places": list(lot.places),
        "grip_least": unit.from_inches(lot.grips[0]),
        "grip_most": unit.from_inches(lot.grips[1]),
    }


def _total(row: TotalRow) -> dict[str, Any]:
    return {
        "rivet": str(row.designation),
        "count": row.count,
        "spares": row.spares,
        "needed": row.needed,
        "weight_lb": row.weight,
    }


def _head(row: HeadRow, unit: LengthUnit) -> dict[str, Any]:
    head = row.option.shop_head
    widths = None if head is None or head.widths is None else head.widths
    return {
        "rivet": str(row.option.designation),
        "grip_least": unit.from_inches(row.grips[0]),
        "grip_most": unit.from_inches(row.grips[1]),
        "count": row.count,
        "is_flush": head is None,
        "width": None if head is None else unit.from_inches(head.width),
        "height": None if head is None else unit.from_inches(max(0.0, head.height)),
        "width_least": None if widths is None else unit.from_inches(widths[0]),
        "width_most": None if widths is None else unit.from_inches(widths[1]),
        "findings": [
            {"code": found.code, "text": found.text, "source": found.source}
            for found in row.option.findings
        ],
    }


def _strength(row: JointStrength, unit: LengthUnit) -> dict[str, Any]:
    return {
        "joint": row.joint,
        "rivet": row.rivet.name,
        "sheet": row.sheet,
        "thickness": unit.from_inches(row.thickness),
        "material": row.stated or None,
        "taken_as": None if row.material is None else str(row.material),
        "asked_per_inch": None if row.asked is None else row.asked.number,
        "table": None if row.asked is None else row.asked.table.name,
        "row_per_inch": row.per_inch,
        "load_lbf": None if row.load is None else row.load.load,
        "load_governs": None if row.load is None else str(row.load.governs),
        "notices": [] if row.load is None else [notice.text for notice in row.load.notices],
    }


COLUMNS = ("joint", "rivet", "count", "spares", "needed", "weight_lb", "in_stock", "to_buy")
"""Columns of the CSV; a row of the totals has no joint."""


def rivet_csv(needed: RivetsNeeded) -> str:
    """A line for each kind of rivet in each joint, then one for each kind in all."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in needed.schedule.rows:
        writer.writerow([row.joint, row.designation, row.count, "", "", row.weight, "", ""])
    shopping = {row.designation: row for row in needed.shopping or ()}
    for total in needed.schedule.totals:
        shop = shopping.get(total.designation)
        stock, to_buy = (shop.stock, shop.to_buy) if shop else ("", "")
        counts = (total.count, total.spares, total.needed)
        writer.writerow(["", total.designation, *counts, total.weight, stock, to_buy])
    return out.getvalue()
