"""An audit for other programs: the JSON object `holeschedule.audit/1` and CSV rows."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from typing import Any

from holeschedule.audit.report import PartAudit
from holeschedule.model import Finding, Notice
from holeschedule.units import LengthUnit
from holeschedule.views.text import printable

FORMAT = "holeschedule.audit/1"
"""Name and version of the JSON object; docs/audit.schema.json describes it."""

COLUMNS = (
    "part",
    "drawing",
    "hole",
    "x",
    "y",
    "diameter",
    "rivet",
    "size",
    "edge_distance",
    "edge_ratio",
    "edge",
    "nearest_hole",
    "nearest_hole_distance",
    "verdict",
    "units",
)
"""Columns of the CSV."""

_FORMULA = ("=", "+", "-", "@")
"""What a spreadsheet takes for the start of a formula."""


def audit_object(audits: Sequence[PartAudit], unit: LengthUnit, rules: str) -> dict[str, Any]:
    """The JSON object: lengths in `unit`, x and y on the drawings' own axes."""
    return {
        "format": FORMAT,
        "units": str(unit),
        "rules": rules,
        "parts": [_part(audit, unit) for audit in audits],
    }


def _part(audit: PartAudit, unit: LengthUnit) -> dict[str, Any]:
    part = audit.part
    return {
        "part": part.name,
        "drawing": part.drawing,
        # an area is a length times a length: converted twice
        "outline_area": unit.from_inches(unit.from_inches(part.outline.area)),
        "cutouts": len(part.cutouts),
        "holes": hole_rows(audit, unit),
        "findings": [finding_object(finding, unit) for finding in audit.findings],
        "notices": [_notice(notice, unit) for notice in part.notices],
    }


def hole_rows(audit: PartAudit, unit: LengthUnit) -> list[dict[str, Any]]:
    """One dict a hole, keys as in the JSON object."""
    measured, part = audit.measured, audit.part
    convert = unit.from_inches
    rows = []
    for i, (hole, e, index, near, away, shank, verdict) in enumerate(
        zip(
            part.holes,
            measured.edge_distance.tolist(),
            measured.edge_index.tolist(),
            measured.nearest.tolist(),
            measured.nearest_distance.tolist(),
            measured.shank.tolist(),
            audit.verdicts,
            strict=True,
        )
    ):
        found = measured.rivet_of(i)
        rows.append(
            {
                "hole": hole.label,
                "x": convert(hole.x),
                "y": convert(hole.y),
                "diameter": convert(hole.diameter),
                "rivet": found.rivet.name if found.rivet else None,
                "size": str(found.size) if found.size else None,
                "edge_distance": convert(e),
                "edge_ratio": e / shank,
                "edge": part.edge_name(index),
                "nearest_hole": part.holes[near].label if near >= 0 else None,
                "nearest_hole_distance": convert(away) if math.isfinite(away) else None,
                "verdict": str(verdict),
            }
        )
    return rows


def finding_object(finding: Finding, unit: LengthUnit) -> dict[str, Any]:
    """A finding, keys as in the JSON object."""
    convert = unit.from_inches
    return {
        "hole": finding.hole,
        "rule": finding.rule,
        "limit": convert(finding.limit),
        "measured": convert(finding.measured),
        "margin": convert(finding.margin),
        "verdict": str(finding.verdict),
        "source": finding.source,
    }


def _notice(notice: Notice, unit: LengthUnit) -> dict[str, Any]:
    return {
        "code": notice.code,
        "layer": notice.layer,
        "x": None if notice.x is None else unit.from_inches(notice.x),
        "y": None if notice.y is None else unit.from_inches(notice.y),
        "text": notice.text,
    }


def audit_csv(audits: Iterable[PartAudit], unit: LengthUnit) -> str:
    """One line a hole, with the columns `COLUMNS`; lengths in `unit`."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for audit in audits:
        drawing = _file_cell(audit.part.drawing)
        common = {"part": audit.part.name, "drawing": drawing, "units": str(unit)}
        writer.writerows({**common, **row} for row in hole_rows(audit, unit))
    return out.getvalue()


def _file_cell(name: str) -> str:
    """A file name for a terminal and a spreadsheet: one line, and never a formula."""
    shown = printable(name)
    return f"./{shown}" if shown.startswith(_FORMULA) else shown
