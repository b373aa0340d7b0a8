"""Joints that were defined or gone through again, in words."""

from __future__ import annotations

from collections.abc import Iterator

from holeschedule.joints.laid import LaidJoint
from holeschedule.units import LengthUnit
from holeschedule.views.explain import CAUTION
from holeschedule.views.joint_text import joint_lines, summary_line
from holeschedule.views.text import hanging, plural, printable
from holeschedule.work.defining import Defined


def misses_a_rule(done: Defined) -> bool:
    """Whether any of the joints misses a rule, or has a stack or rivet that cannot be."""
    return any(laid.fails(done.rules) for laid in done.laid.values())


def shown_unit(laid: LaidJoint, units: LengthUnit | None, show: str | None) -> LengthUnit:
    """The unit asked for, else the build's, else that of the first layer's drawing."""
    if show is not None:
        return LengthUnit(show)
    if units is not None:
        return units
    is_metric = laid.joint.layers[0].part.unit.is_metric
    return LengthUnit.MILLIMETRE if is_metric else LengthUnit.INCH


def defined_text(done: Defined, show: str | None, *, whole: bool) -> str:
    """What came of `join`: the whole joint, or a line for each of several."""
    lines: list[str] = []
    for laid in done.laid.values():
        if whole:
            lines += [*joint_lines(laid, done.rules, shown_unit(laid, done.units, show)), ""]
        else:
            lines += hanging("", summary_line(laid, done.rules))
    told = {notice.text for laid in done.laid.values() for notice in laid.notices if whole}
    lines += _recorded(done, told)
    lines += hanging("", CAUTION)
    return "".join(f"{line}\n" for line in lines)


def _recorded(done: Defined, told: set[str]) -> Iterator[str]:
    for name, why in done.unlaid.items():
        yield from hanging("", printable(f"{name} cannot be laid, and its holes wait: {why}"))
    if not (done.laid or done.unlaid):
        yield "There are no joints yet. Example: holeschedule join J1 FL-101:A FL-102:B"
    for notice in (text for text in dict.fromkeys(done.notices) if text not in told):
        yield from hanging("To see to: ", printable(notice))
    changes = ", ".join(
        f"{plural(count, 'hole')} {what}"
        for count, what in (
            (done.added, "to be match-drilled entered"),
            (done.retired, "no longer wanted taken out"),
        )
        if count
    )
    if done.entry is not None:
        yield f"Recorded as entry {done.entry}: {changes}. Undo: holeschedule undo"
    elif changes:
        yield f"Would be recorded: {changes}."
