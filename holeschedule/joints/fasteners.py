"""The rivet for a stack: length, designation, and the shop head to expect. See docs/rivets.md."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass

from holeschedule.audit.rules import RuleSet
from holeschedule.data import choose_from
from holeschedule.errors import TableError
from holeschedule.fastener_tables import (
    LengthRule,
    Limits,
    RivetLength,
    ShopHeadLimits,
    rivet_alloys,
    rivet_lengths,
    rivet_standards,
    standard_for,
)
from holeschedule.joints.stack import JointFinding, Stack, countersink_depth
from holeschedule.model import Head, Notice
from holeschedule.tables import SLACK, RivetSize, flush_head, rivet_of_dash, value_named
from holeschedule.units import LengthUnit, format_length

ALLOY = "AD"
"""2117-T4, the rivet that the lengths, shop heads and loads here are for."""

# Designations ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Designation:
    """A kind of rivet. Equality is by value.

    `spec` is its standard, `alloy` the letters of its alloy, `dash` counts 32nds of an inch of
    diameter, `dash_length` 16ths of length.
    """

    spec: str
    alloy: str
    dash: int
    dash_length: float

    def __str__(self) -> str:
        return f"{self.spec}{self.alloy}{self.dash}-{self.dash_length:g}"

    @property
    def head(self) -> Head:
        """The manufactured head that the standard says."""
        return rivet_standards()[self.spec]

    @property
    def length(self) -> float:
        """Length [in]: over all for a flush head, under the head for a universal one."""
        return self.dash_length * value_named("rivet_length_step").value


_DESIGNATION = re.compile(
    r"(?P<spec>[A-Z]+[0-9]+)[- ]?(?P<alloy>[A-Z]+)[- ]?(?P<dash>[0-9]{1,2})-"
    r"(?P<length>[0-9]{1,2}(?:\.5)?)"
)


def parse_designation(text: str) -> Designation:
    """Read a designation as a builder writes it: `MS20426AD3-4`, `ms20470 ad-4-3.5`.

    Raises
    ------
    TableError
        It is not written so, or no such standard, alloy or diameter is known.

    Examples
    --------
    >>> str(parse_designation("MS20426AD-6-5"))
    'MS20426AD6-5'
    """
    match = _DESIGNATION.fullmatch(text.strip().upper())
    if match is None:
        raise TableError(
            f"{text!r} is not a rivet; write standard, alloy, diameter and length, as in"
            " MS20470AD4-6."
        )
    for said, known in ((match["spec"], rivet_standards()), (match["alloy"], rivet_alloys())):
        if said not in known:
            raise TableError(f"{text!r}: {said} is not known; {choose_from(said, known)}.")
    dash = rivet_of_dash(int(match["dash"])).dash
    return Designation(match["spec"], match["alloy"], dash, float(match["length"]))


# Lengths ---------------------------------------------------------------------------------------


def pick_length(needed: float, rule: LengthRule, *, half_sizes: bool = False) -> RivetLength | None:
    """Pick the length that is made for the length needed.

    Parameters
    ----------
    needed : float [in]
        Such as grip + 1.5 D.
    rule : LengthRule
        Nearest (half-way between two, the longer), or next above (exactly on one, that one).
    half_sizes : bool
        Whether odd 32nds are to be had.

    Returns
    -------
    RivetLength or None
        None beyond the longest in the table.
    """
    made = rivet_lengths(half_sizes=half_sizes)
    longest, before = made[-1].length, made[-2].length
    if rule is LengthRule.NEXT_ABOVE:
        return next((size for size in made if size.length >= needed - SLACK), None)
    if needed >= longest + (longest - before) / 2 - SLACK:
        return None
    # rounded, so that half-way is half-way whatever a float makes of it
    return min(made, key=lambda size: (round(abs(size.length - needed), 9), -size.length))


# The shop head ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ShopHead:
    """The head to expect from the metal of a tail. Equality is by value.

    `volume` [in³] is what is left for the head, 0 or less where the tail is all used up. `width`
    and `height` [in] are the head's if driven to the usual width. `widths` [in] are the least and
    most width at which it is within the limits; the most follows from the least height. None
    where it cannot be.
    """

    volume: float
    width: float
    height: float
    widths: tuple[float, float] | None


def expect_shop_head(
    rivet: RivetSize, grip: float, length: float, hole: float, limits: ShopHeadLimits, head: Head
) -> ShopHead:
    """Work out the shop head that a rivet will form.

    Parameters
    ----------
    rivet : RivetSize
        Its shank.
    grip, length, hole : float [in]
        Thickness clamped, length of the rivet (a flush one's over all), diameter of the hole.
    limits : ShopHeadLimits
        What the head has to be like.
    head : Head
        The manufactured head; a flush one takes up the top of the hole itself.

    Returns
    -------
    ShopHead
        Its metal is the tail's, less what swells to fill the hole; taken as a cylinder.
    """
    shank = rivet.shank_diameter
    volume = _disc(shank) * (length - grip) - _fill(rivet, grip, hole, head)
    wide = value_named("shop_head_width").value * shank
    return ShopHead(volume, wide, volume / _disc(wide), _widths(volume, shank, limits))


def _disc(diameter: float) -> float:
    return math.pi / 4 * diameter**2


def _fill(rivet: RivetSize, grip: float, hole: float, head: Head) -> float:
    """Metal [in³] that it takes to fill the hole, which is wider than the shank."""
    seat = flush_head(rivet.dash).height if head is Head.FLUSH else 0.0
    return (_disc(hole) - _disc(rivet.shank_diameter)) * max(0.0, grip - seat)


def _widths(volume: float, shank: float, limits: ShopHeadLimits) -> tuple[float, float] | None:
    if volume <= 0:
        return None

    def width_at(height: float) -> float:
        return math.sqrt(volume / (math.pi / 4 * height * shank))

    low, high = limits.width.least * shank, width_at(limits.height.least)
    if limits.height.most is not None:
        low = max(low, width_at(limits.height.most))
    if limits.width.most is not None:
        high = min(high, limits.width.most * shank)
    return (low, max(low, high)) if low <= high + SLACK else None


def check_shop_head(
    rivet: RivetSize,
    limits: ShopHeadLimits,
    *,
    width: float | None = None,
    height: float | None = None,
) -> tuple[JointFinding, ...]:
    """Compare a driven head, as measured, with the limits. Exactly on a limit is met.

    Parameters
    ----------
    rivet : RivetSize
        Its shank.
    limits : ShopHeadLimits
        What the head has to be like.
    width, height : float [in], optional
        What was measured.

    Returns
    -------
    tuple of JointFinding
        One for each dimension that is out of its limits.
    """
    found = (
        *_outside(width, limits.width, rivet, ("width", "narrow", "wide")),
        *_outside(height, limits.height, rivet, ("height", "low", "high")),
    )
    return tuple(found)


def _outside(
    measured: float | None, limits: Limits, rivet: RivetSize, words: tuple[str, str, str]
) -> Iterator[JointFinding]:
    if measured is None:
        return
    what, below, above = words
    shank = rivet.shank_diameter
    for multiple, word, bound, missed in (
        (limits.least, below, "least", measured < limits.least * shank - SLACK),
        (limits.most, above, "most", limits.most and measured > limits.most * shank + SLACK),
    ):
        if multiple is not None and missed:
            text = (
                f"a shop head {_inches(measured)} in {what} is too {word} for a {rivet.name} rivet;"
                f" the {bound} is {_inches(multiple * shank)} ({multiple:g} D)"
            )
            yield JointFinding(
                f"shop-head.{word}", text, limits.source, None, multiple * shank, measured
            )


# The choice ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RivetOption:
    """A rivet by one rule of length. `shop_head` is None where the shop head is driven flush."""

    rule: LengthRule
    designation: Designation
    shop_head: ShopHead | None
    findings: tuple[JointFinding, ...]


@dataclass(frozen=True, slots=True)
class RivetChoice:
    """The rivet for one place. Equality is by value.

    `needed` [in] is the length asked for, None where the grip is not known. `chosen` is None where
    there is none; `alternative` is what the other rule takes where that is another rivet.
    """

    rivet: RivetSize
    head: Head
    grip: float | None
    needed: float | None
    chosen: RivetOption | None
    alternative: RivetOption | None
    findings: tuple[JointFinding, ...]
    notices: tuple[Notice, ...]

    @property
    def designation(self) -> str | None:
        """The rivet as it is ordered, such as `MS20470AD4-6`; None where there is none."""
        return None if self.chosen is None else str(self.chosen.designation)

    @property
    def dash_length(self) -> float | None:
        """Its length in 16ths of an inch; None where there is none."""
        return None if self.chosen is None else self.chosen.designation.dash_length


def choose_rivet(
    stack: Stack,
    rules: RuleSet,
    *,
    rule: LengthRule | None = None,
    half_sizes: bool = False,
    hole: float | None = None,
) -> RivetChoice:
    """Choose the rivet for a stack.

    Parameters
    ----------
    stack : Stack
        Grip, heads and rivet size.
    rules : RuleSet
        Says how a length is picked, and what a shop head has to be like.
    rule : LengthRule, optional
        Instead of the one in `rules`.
    half_sizes : bool
        Whether odd 32nds of length are to be had.
    hole : float [in], optional
        Diameter of the hole as drilled; the rivet's final drill where none is given.

    Returns
    -------
    RivetChoice
        Without a rivet, and with a notice, where the grip is not known or too large.

    Raises
    ------
    TableError
        A head is flush, and the table knows no flush head for this rivet.
    """
    if stack.grip is None:
        return RivetChoice(stack.rivet, stack.head, None, None, None, None, (), ())
    bore = stack.rivet.final_drill.diameter if hole is None else hole
    first = rules.rivet_length if rule is None else rule
    chosen, other = (
        _option(stack, stack.grip, bore, one, rules.shop_head, half_sizes=half_sizes)
        for one in sorted(LengthRule, key=lambda one: one is not first)
    )
    if chosen is not None and other is not None and other.designation == chosen.designation:
        other = None
    return RivetChoice(
        stack.rivet,
        stack.head,
        stack.grip,
        _needed(stack, stack.grip, bore),
        chosen,
        other,
        () if chosen is None else chosen.findings,
        tuple(_notices(stack, chosen, other)),
    )


def _needed(stack: Stack, grip: float, hole: float) -> float:
    rivet = stack.rivet
    if stack.shop_head is not Head.FLUSH:
        return grip + value_named("rivet_length_allowance").value * rivet.shank_diameter
    # the second head is a cone like the first, of which the shank is part already
    cone = _cone(rivet, hole)
    return grip + (_fill(rivet, grip, hole, stack.head) + cone) / _disc(rivet.shank_diameter)


def _cone(rivet: RivetSize, hole: float) -> float:
    """Metal [in³] of a flush head that lies outside the wall of the hole."""
    wide = flush_head(rivet.dash).diameter
    depth = countersink_depth(wide, hole)
    return math.pi / 12 * depth * (wide**2 + wide * hole + hole**2) - _disc(hole) * depth


def _option(
    stack: Stack,
    grip: float,
    hole: float,
    rule: LengthRule,
    limits: ShopHeadLimits,
    *,
    half_sizes: bool,
) -> RivetOption | None:
    size = pick_length(_needed(stack, grip, hole), rule, half_sizes=half_sizes)
    if size is None:
        return None
    rivet = stack.rivet
    designation = Designation(standard_for(stack.head), ALLOY, rivet.dash, size.dash)
    if stack.shop_head is Head.FLUSH:
        return RivetOption(rule, designation, None, ())
    shop_head = expect_shop_head(rivet, grip, size.length, hole, limits, stack.head)
    findings = tuple(_head_findings(designation, rivet, shop_head, limits))
    return RivetOption(rule, designation, shop_head, findings)


def _head_findings(
    designation: Designation, rivet: RivetSize, head: ShopHead, limits: ShopHeadLimits
) -> Iterator[JointFinding]:
    if head.widths is not None:
        return
    shank = rivet.shank_diameter
    least = limits.width.least * shank, limits.height.least * shank
    is_short = head.volume < _disc(least[0]) * least[1]
    most = [limit.most for limit in (limits.width, limits.height) if limit.most is not None]
    wide, high = least if is_short else (multiple * shank for multiple in most)
    word, bound, cure = ("short", "least", "longer") if is_short else ("long", "most", "shorter")
    text = (
        f"{designation} is too {word}: its tail makes a head {_inches(head.width)} wide and"
        f" {_inches(max(0.0, head.height))} high, and the {bound} is {_inches(wide)} by"
        f" {_inches(high)}: take a {cure} one"
    )
    yield JointFinding(f"rivet.too-{word}", text, limits.height.source)


def _notices(
    stack: Stack, chosen: RivetOption | None, other: RivetOption | None
) -> Iterator[Notice]:
    longest = rivet_lengths()[-1]
    if chosen is None:
        yield Notice(
            "rivet.no-length",
            f"no rivet is long enough for a grip of {_inches(stack.grip or 0.0)}: the longest in"
            f" the table is {_inches(longest.length)}: see whether the thicknesses are right",
        )
    elif other is not None:
        yield Notice(
            "rivet.lengths-differ",
            f"{chosen.designation} is {chosen.rule}, {other.designation} {other.rule}",
        )
    if stack.shop_head is Head.FLUSH:
        yield Notice(
            "rivet.by-volume",
            "the length for a flush shop head is by volume, no published rule was found: try it in"
            " scrap of the same thickness",
        )


def _inches(length: float) -> str:
    return format_length(length, LengthUnit.INCH)
