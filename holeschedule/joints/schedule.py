"""How many rivets of which kind a build takes, what they weigh, and what is to buy."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from holeschedule.errors import BuildError
from holeschedule.joints.fasteners import ALLOY, Designation, RivetChoice, parse_designation
from holeschedule.model import Head
from holeschedule.tables import (
    SLACK,
    HeadSize,
    flush_heads,
    rivet_of_dash,
    universal_heads,
    value_named,
)


@dataclass(frozen=True, slots=True)
class JointRow:
    """Rivets of one kind in one joint. `weight` [lb] is None where it is not known."""

    joint: str
    designation: Designation
    count: int
    weight: float | None


@dataclass(frozen=True, slots=True)
class TotalRow:
    """Rivets of one kind in all joints, and `spares` on top. `weight` [lb] without the spares."""

    designation: Designation
    count: int
    spares: int
    weight: float | None

    @property
    def needed(self) -> int:
        """Rivets to have at hand: count and spares."""
        return self.count + self.spares


@dataclass(frozen=True, slots=True)
class DifferingRow:
    """Places of one joint for which the two rules of length take different rivets."""

    joint: str
    chosen: Designation
    other: Designation
    count: int


@dataclass(frozen=True, slots=True)
class Schedule:
    """The rivets of a build. Equality is by value.

    `rows` are in the order of the joints, then by designation; `totals` by designation.
    `undecided` are joints and how many of their places have no rivet. `weight` [lb] is of all
    rivets counted, None where that of one kind is not known. `spares` is the percentage.
    """

    rows: tuple[JointRow, ...]
    totals: tuple[TotalRow, ...]
    differing: tuple[DifferingRow, ...]
    undecided: tuple[tuple[str, int], ...]
    spares: float
    weight: float | None


@dataclass(frozen=True, slots=True)
class ShoppingRow:
    """One kind of rivet: needed with spares, in stock, and what is missing."""

    designation: Designation
    needed: int
    stock: int

    @property
    def to_buy(self) -> int:
        """Rivets that are missing; 0 where the stock is enough."""
        return max(0, self.needed - self.stock)


# The schedule ----------------------------------------------------------------------------------


def rivet_schedule(
    choices: Mapping[str, Iterable[RivetChoice]], *, spares: float | None = None
) -> Schedule:
    """Count the rivets of a build.

    Parameters
    ----------
    choices : mapping
        The choices for the places of each joint, by the joint's name.
    spares : float, optional
        Percent of the total of each kind, rounded up; the usual share where none is given.

    Returns
    -------
    Schedule

    Raises
    ------
    BuildError
        `spares` is not a finite number from 0 up.
    """
    share = value_named("rivet_spares").value if spares is None else spares
    if not (math.isfinite(share) and share >= 0):
        raise BuildError(f"spares of {share} percent are none; write a number from 0 up.")
    places = {joint: tuple(its) for joint, its in choices.items()}
    rows = tuple(row for joint, its in places.items() for row in _rows(joint, its))
    return Schedule(
        rows,
        _totals(rows, share),
        tuple(row for joint, its in places.items() for row in _differing(joint, its)),
        tuple(
            (joint, missing)
            for joint, its in places.items()
            if (missing := sum(choice.chosen is None for choice in its))
        ),
        share,
        _sum_of_weights(row.weight for row in rows),
    )


def _rows(joint: str, choices: Iterable[RivetChoice]) -> Iterable[JointRow]:
    counted = Counter(c.chosen.designation for c in choices if c.chosen is not None)
    for designation in sorted(counted, key=_order):
        count = counted[designation]
        yield JointRow(joint, designation, count, _times(rivet_weight(designation), count))


def _totals(rows: Iterable[JointRow], spares: float) -> tuple[TotalRow, ...]:
    counted: Counter[Designation] = Counter()
    for row in rows:
        counted[row.designation] += row.count
    return tuple(
        TotalRow(
            designation,
            counted[designation],
            math.ceil(counted[designation] * spares / 100 - SLACK),
            _times(rivet_weight(designation), counted[designation]),
        )
        for designation in sorted(counted, key=_order)
    )


def _differing(joint: str, choices: Iterable[RivetChoice]) -> Iterable[DifferingRow]:
    counted = Counter(
        (choice.chosen.designation, choice.alternative.designation)
        for choice in choices
        if choice.chosen is not None and choice.alternative is not None
    )
    for chosen, other in sorted(counted, key=lambda pair: (_order(pair[0]), _order(pair[1]))):
        yield DifferingRow(joint, chosen, other, counted[chosen, other])


def _order(designation: Designation) -> tuple[str, str, int, float]:
    return designation.spec, designation.alloy, designation.dash, designation.dash_length


# Stock -----------------------------------------------------------------------------------------


def shopping_list(schedule: Schedule, stock: Mapping[str, int]) -> tuple[ShoppingRow, ...]:
    """Set what is needed against what there is.

    Parameters
    ----------
    schedule : Schedule
        What is needed, spares included.
    stock : mapping
        How many there are, by designation as a builder writes it.

    Returns
    -------
    tuple of ShoppingRow
        One for each kind that is needed, those in stock as well, in the order of the totals.

    Raises
    ------
    TableError
        A designation of the stock cannot be read.
    """
    there: Counter[Designation] = Counter()
    for text, count in stock.items():
        there[parse_designation(text)] += count
    return tuple(
        ShoppingRow(row.designation, row.needed, there[row.designation]) for row in schedule.totals
    )


# Weight ----------------------------------------------------------------------------------------


def rivet_volume(designation: Designation) -> float | None:
    """Work out the metal [in³] of a rivet as bought; None where its head is not in the tables.

    A flush head is a cone, a universal one is taken as a spherical cap.
    """
    shank = rivet_of_dash(designation.dash).shank_diameter
    head = _head_of(designation)
    if head is None:
        return None
    radius, root, high = head.diameter / 2, shank / 2, head.height
    if head.head is Head.FLUSH:
        cone = math.pi / 3 * high * (radius**2 + radius * root + root**2)
        return cone + math.pi * root**2 * max(0.0, designation.length - high)
    cap = math.pi / 6 * high * (3 * radius**2 + high**2)
    return cap + math.pi * root**2 * designation.length


def rivet_weight(designation: Designation) -> float | None:
    """Work out the weight [lb] of a rivet as bought; None where alloy or head is not known."""
    volume = rivet_volume(designation)
    if volume is None or designation.alloy != ALLOY:
        return None
    return volume * value_named("rivet_density").value


def _head_of(designation: Designation) -> HeadSize | None:
    heads = flush_heads() if designation.head is Head.FLUSH else universal_heads()
    return next((head for head in heads if head.dash == designation.dash), None)


def _times(weight: float | None, count: int) -> float | None:
    return None if weight is None else weight * count


def _sum_of_weights(weights: Iterable[float | None]) -> float | None:
    known = list(weights)
    numbers = [weight for weight in known if weight is not None]
    return sum(numbers) if len(numbers) == len(known) else None
