"""The output of an audit of several drawings: text, JSON or CSV, in one unit.

What is told of joints is imported where a build has some: bare drawings have none.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Protocol

from holeschedule.audit.report import PartAudit
from holeschedule.units import LengthUnit
from holeschedule.views.audit_data import audit_csv, audit_object
from holeschedule.views.audit_text import audit_lines, legend, summary_line
from holeschedule.views.explain import CAUTION
from holeschedule.views.text import hanging, plural, printable

if TYPE_CHECKING:
    from holeschedule.audit.files import FileAudit
    from holeschedule.audit.rules import RuleSet
    from holeschedule.joints.drilled import MatchDrilled
    from holeschedule.joints.laid import LaidJoint


class Joints(Protocol):
    """Joints that were audited with the parts; `named` where they were asked for by name."""

    @property
    def joints(self) -> Sequence[LaidJoint]:
        """Those that could be laid."""

    @property
    def unlaid(self) -> Mapping[str, str]:
        """Why a joint could not be laid, by its name."""

    @property
    def rules(self) -> RuleSet:
        """What they are held against."""

    @property
    def drilled(self) -> Sequence[MatchDrilled]:
        """Holes that match-drilling makes in the parts."""

    @property
    def named(self) -> bool:
        """Whether they were asked for by name, and are told in full."""


def audit_text(
    results: Sequence[FileAudit],
    rules: str,
    options: Mapping[str, Any],
    joints: Joints | None = None,
) -> str:
    """Everything the command prints, ended by a line break.

    `rules` is the name of the set; `options` are those of the command: `show`, `as_json`,
    `as_csv`, `every_hole`. `joints` are those of a build.
    """
    audits = [audit for result in results for audit in result.parts]
    unit = shown_unit(audits, options.get("show"))
    if options.get("as_json"):
        found = audit_object(audits, unit, rules)
        if joints is not None and joints.drilled:
            from holeschedule.views.joint_data import drilled_object  # noqa: PLC0415

            found["match_drilled"] = [drilled_object(hole, unit) for hole in joints.drilled]
        if joints is not None and (joints.joints or joints.unlaid):
            from holeschedule.views.joint_data import joint_object  # noqa: PLC0415 (of a build)

            found["joints"] = [joint_object(laid, joints.rules, unit) for laid in joints.joints]
            found["unlaid"] = [{"joint": name, "text": why} for name, why in joints.unlaid.items()]
        return json.dumps(found, allow_nan=False) + "\n"
    if options.get("as_csv"):
        return audit_csv(audits, unit)
    return _plain(audits, unit, joints, every_hole=bool(options.get("every_hole")))


def shown_unit(audits: Sequence[PartAudit], asked: str | None) -> LengthUnit:
    """The unit asked for, else that of the drawings, inches where they differ."""
    if asked:
        return LengthUnit(asked)
    metric = {audit.part.unit.is_metric for audit in audits}
    return LengthUnit.MILLIMETRE if metric == {True} else LengthUnit.INCH


def _plain(
    audits: Sequence[PartAudit], unit: LengthUnit, joints: Joints | None, *, every_hole: bool
) -> str:
    lines: list[str] = []
    for audit in audits:
        lines += audit_lines(audit, unit, every_hole=every_hole)
        lines += _drilled_lines(audit, joints, unit) if joints is not None else ()
        lines += ["", ""]
    if len(audits) > 1:
        drilled = "" if joints is None else _drilled_summary(joints)
        lines += hanging("", summary_line(audits) + drilled)
    if joints is not None:
        lines += _joint_lines(joints, unit)
    lines += [*hanging("", legend(unit))] if audits else []
    lines += hanging("", CAUTION) if lines else []
    return "".join(f"{line}\n" for line in lines)


def _drilled_lines(audit: PartAudit, joints: Joints, unit: LengthUnit) -> list[str]:
    """Holes that match-drilling makes in a part, with findings that no joint tells below."""
    drilled = [hole for hole in joints.drilled if hole.part == audit.part.name]
    if not drilled:
        return []
    from holeschedule.views.joint_text import drilled_lines  # noqa: PLC0415

    told = {laid.joint.name for laid in joints.joints}
    return ["", *drilled_lines(drilled, told, unit)]


def _drilled_summary(joints: Joints) -> str:
    missed = sum(hole.verdict.fails for hole in joints.drilled)
    if not missed:
        return ""
    holes = plural(len(joints.drilled), "more hole")
    misses = "misses" if missed == 1 else "miss"
    return f" Match-drilling makes {holes} in them; {missed:,} {misses} a rule."


def _joint_lines(joints: Joints, unit: LengthUnit) -> Iterator[str]:
    """Joints asked for by name in full; of all joints a line each, and what is wrong."""
    from holeschedule.views.joint_text import joint_lines, wrong_texts  # noqa: PLC0415 (of a build)
    from holeschedule.views.joint_text import summary_line as joint_summary  # noqa: PLC0415 (as above)

    for laid in joints.joints:
        if joints.named:
            yield from (*joint_lines(laid, joints.rules, unit), "")
            continue
        yield from hanging("", joint_summary(laid, joints.rules))
        for text in wrong_texts(laid, joints.rules, unit):
            yield from hanging("  ", text)
    for name, why in joints.unlaid.items():
        yield from hanging("", printable(f"{name} cannot be laid: {why}"))
    if joints.joints and not joints.named:
        yield ""
