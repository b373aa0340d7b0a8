"""What the picture of a joint is drawn from: the joint laid out, and what is wrong with it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from holeschedule.build.intent import BuildIntent, read_intent
from holeschedule.build.joints import JointIntent
from holeschedule.data import choose_from
from holeschedule.errors import JointError
from holeschedule.joints.laid import LaidJoint
from holeschedule.model import Finding, Quantity
from holeschedule.record.events import write_numbers
from holeschedule.units import LengthUnit
from holeschedule.views.callouts import Callout
from holeschedule.views.explain import shown_numbers
from holeschedule.views.frame import TitleBlock
from holeschedule.views.joint_picture import JointView
from holeschedule.work.drawn_parts import DrawnParts
from holeschedule.work.joining import rules_of
from holeschedule.work.laying import JointsLaid
from holeschedule.work.opened import OpenBuild
from holeschedule.work.picturing import drawn_unit


def joint_view(opened: OpenBuild, name: str, today: date, *, times: int | None = None) -> JointView:
    """The view of a joint of a build.

    Parameters
    ----------
    opened : OpenBuild
        The build.
    name : str
        The joint, as `J13`.
    today : date
        Stands on the picture.
    times : int, optional
        How many times their length offsets are drawn; as many as can be seen without it.

    Raises
    ------
    HoleScheduleError
        There is no such joint, or it cannot be laid.
    """
    intent = read_intent(opened.folder)
    rules = rules_of(opened.folder, intent)
    drawn = DrawnParts(opened.folder, opened.record, opened.db, intent)
    laid = JointsLaid(intent, drawn, rules).lay(_named(intent, name))
    unit = intent.units or drawn_unit(laid.joint.layers[0].part)
    title = " · ".join(filter(None, (laid.joint.title, opened.title)))
    facts = (("rivets", _rivets(laid)), ("rules", rules.name), ("date", today.isoformat()))
    callouts = joint_callouts(laid, laid.findings(rules), unit)
    block = TitleBlock(laid.joint.name, title, facts)
    return JointView(laid.joint, laid.places, block, unit, tuple(callouts), times)


def _named(intent: BuildIntent, name: str) -> JointIntent:
    wanted = name.casefold()
    for joint in intent.joints:
        if joint.id.casefold() == wanted:
            return joint
    if not intent.joints:
        raise JointError(f"there is no joint {name}, nor any other. Define one with `join`.")
    ids = [joint.id for joint in intent.joints]
    raise JointError(f"there is no joint {name}; {choose_from(name, ids)}.")


def _rivets(laid: LaidJoint) -> str:
    sizes = sorted({place.rivet.name for place in laid.places if place.rivet})
    return f"{', '.join(sizes) or 'not known'}, {laid.joint.head} heads"


# What is wrong ---------------------------------------------------------------------------------


def joint_callouts(
    laid: LaidJoint, findings: Iterable[Finding], unit: LengthUnit
) -> Iterator[Callout]:
    """A callout for findings that are alike, at the place of the worst, the worst first."""
    at = {
        layer.full_label: (place.number, layer.name)
        for place in laid.places
        for layer in place.layers
    }
    groups: dict[tuple[str, str, str], list[tuple[int, Finding]]] = {}
    for finding in findings:
        number, layer = at.get(finding.hole) or _place_of(finding.hole)
        groups.setdefault((str(finding.verdict), finding.rule, layer), []).append((number, finding))
    for (_, _, layer), group in groups.items():
        yield _callout(layer, group, unit)


_PLACE = re.compile(r"J[0-9]+:([0-9]+)(?: in (.*))?")


def _place_of(name: str) -> tuple[int, str]:
    """Number of the place and the part, from `J13:10 in FL-111`."""
    match = _PLACE.fullmatch(name)
    if match is None:
        raise JointError(f"{name!r}: is no place of a joint.")
    return int(match[1]), match[2] or ""


def _callout(layer: str, group: Sequence[tuple[int, Finding]], unit: LengthUnit) -> Callout:
    number, worst = min(group, key=lambda item: item[1].margin)
    measured, limit, _ = shown_numbers(worst, unit)
    numbers = write_numbers(place for place, _ in group).replace(",", ", ")
    head = "  ".join(filter(None, (numbers, layer, str(worst.verdict).upper())))
    is_off = worst.quantity is Quantity.OFFSET
    more = (" or less" if is_off else " or more") if len(group) > 1 else ""
    what = f"{measured}{more} off" if is_off else f"{worst.quantity} {measured}{more}"
    bound = f"{'at most' if is_off else 'at least'} {limit}"
    return Callout(str(number), head, (what, bound), not worst.verdict.fails)
