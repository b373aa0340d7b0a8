"""The output of an audit of several drawings: text, JSON or CSV, in one unit."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from holeschedule.audit.report import PartAudit
from holeschedule.units import LengthUnit
from holeschedule.views.audit_data import audit_csv, audit_object
from holeschedule.views.audit_text import audit_lines, legend, summary_line
from holeschedule.views.explain import CAUTION
from holeschedule.views.text import hanging

if TYPE_CHECKING:
    from holeschedule.audit.files import FileAudit


def audit_text(results: Sequence[FileAudit], rules: str, options: Mapping[str, Any]) -> str:
    """Everything the command prints, ended by a line break.

    `rules` is the name of the set; `options` are those of the command: `show`, `as_json`,
    `as_csv`, `every_hole`.
    """
    audits = [audit for result in results for audit in result.parts]
    unit = shown_unit(audits, options.get("show"))
    if options.get("as_json"):
        return json.dumps(audit_object(audits, unit, rules), allow_nan=False) + "\n"
    if options.get("as_csv"):
        return audit_csv(audits, unit)
    return _plain(audits, unit, every_hole=bool(options.get("every_hole")))


def shown_unit(audits: Sequence[PartAudit], asked: str | None) -> LengthUnit:
    """The unit asked for, else that of the drawings, inches where they differ."""
    if asked:
        return LengthUnit(asked)
    metric = {audit.part.unit.is_metric for audit in audits}
    return LengthUnit.MILLIMETRE if metric == {True} else LengthUnit.INCH


def _plain(audits: Sequence[PartAudit], unit: LengthUnit, *, every_hole: bool) -> str:
    lines: list[str] = []
    for audit in audits:
        lines += [*audit_lines(audit, unit, every_hole=every_hole), "", ""]
    if len(audits) > 1:
        lines += [*hanging("", summary_line(audits))]
    if audits:
        lines += [*hanging("", legend(unit)), *hanging("", CAUTION)]
    return "".join(f"{line}\n" for line in lines)
