"""The rivets that joints need: lots of one kind, what is to buy, what could not be told."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from holeschedule.audit.rules import RuleSet
from holeschedule.joints.fasteners import Designation, RivetOption
from holeschedule.joints.joint_strength import JointStrength
from holeschedule.joints.laid import LaidJoint, Rivet
from holeschedule.joints.schedule import (
    Schedule,
    ShoppingRow,
    rivet_schedule,
    shopping_list,
)

_ALIKE = 3
"""Decimals [in] to which grips are one: a thousandth, as sheet is bought."""


@dataclass(frozen=True, slots=True)
class Lot:
    """Rivets of one kind in one joint. Equality is by value.

    `places` are their numbers; `grips` [in] the least and the most.
    """

    joint: str
    designation: Designation
    places: tuple[int, ...]
    grips: tuple[float, float]


@dataclass(frozen=True, slots=True)
class HeadRow:
    """The shop head to expect of one kind of rivet, and at how many places.

    `grips` [in] are the least and the most; they differ only where the head is driven flush.
    """

    option: RivetOption
    grips: tuple[float, float]
    count: int


@dataclass(frozen=True, slots=True)
class Without:
    """Places of a joint that get no rivet, and why."""

    joint: str
    places: tuple[int, ...]
    reason: str


@dataclass(frozen=True, eq=False)
class RivetsNeeded:
    """Rivets of some joints of a build. Compared by identity.

    `unlaid` says by name why a joint could not be laid. `shopping` is None where no stock is
    stated, `strengths` where nobody asked.
    """

    laid: tuple[LaidJoint, ...]
    unlaid: Mapping[str, str]
    rules: RuleSet
    schedule: Schedule
    shopping: tuple[ShoppingRow, ...] | None
    strengths: tuple[JointStrength, ...] | None = None

    @cached_property
    def lots(self) -> tuple[Lot, ...]:
        """Rivets by joint and kind, in the order of the schedule."""
        order = [(row.joint, row.designation) for row in self.schedule.rows]
        found = [lot for laid in self.laid for lot in _lots(laid)]
        return tuple(sorted(found, key=lambda lot: order.index((lot.joint, lot.designation))))

    @cached_property
    def heads(self) -> tuple[HeadRow, ...]:
        """Shop heads to expect, by kind of rivet and grip."""
        held: dict[tuple[str, float], list[float]] = {}
        options: dict[tuple[str, float], RivetOption] = {}
        for rivet in (rivet for laid in self.laid for rivet in laid.rivets):
            option = rivet.choice and rivet.choice.chosen
            if option and rivet.stack and rivet.stack.grip is not None:
                grip = round(rivet.stack.grip, _ALIKE) if option.shop_head else 0.0
                key = str(option.designation), grip
                options.setdefault(key, option)
                held.setdefault(key, []).append(rivet.stack.grip)
        return tuple(
            HeadRow(options[key], (min(held[key]), max(held[key])), len(held[key]))
            for key in sorted(held)
        )

    @cached_property
    def without(self) -> tuple[Without, ...]:
        """Places without a rivet, those of one reason together."""
        groups: dict[tuple[str, str], list[int]] = {}
        for laid in self.laid:
            for rivet in laid.rivets:
                if not rivet.designation:
                    key = laid.joint.name, _why_none(rivet)
                    groups.setdefault(key, []).append(rivet.place.number)
        return tuple(Without(joint, tuple(held), why) for (joint, why), held in groups.items())

    @property
    def is_complete(self) -> bool:
        """Whether every joint could be laid and every place has a rivet that forms a head."""
        heads = all(not row.option.findings for row in self.heads)
        return heads and not (self.unlaid or self.without)


def rivets_needed(
    laid: Sequence[LaidJoint],
    unlaid: Mapping[str, str],
    rules: RuleSet,
    *,
    spares: float | None,
    stock: Mapping[str, int],
    strengths: tuple[JointStrength, ...] | None = None,
) -> RivetsNeeded:
    """Gather the rivets of joints.

    Parameters
    ----------
    laid, unlaid : sequence of LaidJoint, mapping
        The joints, and by name why others could not be laid.
    rules : RuleSet
        By which they were laid.
    spares : float, optional
        Percent on top; the usual share where None.
    stock : mapping
        How many there are, by designation; empty where nothing is stated.
    strengths : tuple of JointStrength, optional
        Where they are asked for.

    Raises
    ------
    TableError
        A designation of the stock cannot be read.
    """
    choices = {
        joint.joint.name: [rivet.choice for rivet in joint.rivets if rivet.choice is not None]
        for joint in laid
    }
    schedule = rivet_schedule(choices, spares=spares)
    shopping = shopping_list(schedule, stock) if stock else None
    return RivetsNeeded(tuple(laid), unlaid, rules, schedule, shopping, strengths)


def _lots(laid: LaidJoint) -> Iterator[Lot]:
    groups: dict[Designation, list[Rivet]] = {}
    for rivet in laid.rivets:
        if rivet.choice and rivet.choice.chosen:
            groups.setdefault(rivet.choice.chosen.designation, []).append(rivet)
    for designation, rivets in groups.items():
        grips = [r.stack.grip for r in rivets if r.stack and r.stack.grip is not None]
        numbers = tuple(rivet.place.number for rivet in rivets)
        yield Lot(laid.joint.name, designation, numbers, (min(grips), max(grips)))


def _why_none(rivet: Rivet) -> str:
    told = [
        notice.text
        for part in (rivet.stack, rivet.choice)
        for notice in (part.notices if part is not None else ())
        if notice.code in ("stack.no-thickness", "rivet.no-length")
    ]
    return "; ".join(told) or "no rivet is as thick as the hole"
