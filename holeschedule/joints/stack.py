"""The stack at one place of a joint: grip, and what is done to each layer. See docs/rivets.md."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum, auto
from typing import NamedTuple

from holeschedule.build.intent import treatment_for
from holeschedule.errors import BuildError
from holeschedule.model import Head, Notice
from holeschedule.operations import Treatment
from holeschedule.tables import (
    SLACK,
    RivetSize,
    countersink_least_sheet,
    dimple_most_sheet,
    flush_head,
    value_named,
)
from holeschedule.units import LengthUnit, format_length


class Sheet(NamedTuple):
    """One layer as it comes: `thickness` [in] where known, `treatment` where somebody chose it."""

    name: str
    thickness: float | None
    treatment: Treatment | None = None


@dataclass(frozen=True, slots=True)
class StackLayer:
    """One layer of a stack. Equality is by value.

    `treatment` is None where it cannot be told. `countersink` [in] is the diameter to cut on the
    side of the manufactured head, `far_countersink` on that of the shop head; None where none is
    cut, or where its diameter cannot be told.
    """

    name: str
    thickness: float | None
    treatment: Treatment | None
    countersink: float | None = None
    far_countersink: float | None = None


@dataclass(frozen=True, slots=True)
class JointFinding:
    """What is wrong with a stack, a rivet or a driven head. Equality is by value.

    `code` is stable and documented in docs/rivets.md. `layer` is an index into the layers,
    `limit` and `measured` [in]; each is None where there is none.
    """

    code: str
    text: str
    source: str
    layer: int | None = None
    limit: float | None = None
    measured: float | None = None


@dataclass(frozen=True, slots=True)
class Stack:
    """The layers at one place, manufactured head first. Equality is by value.

    `grip` [in] is the sum of the thicknesses, None where one is not known. `shop_head` is flush
    where that too is driven into a countersink or a dimple.
    """

    rivet: RivetSize
    head: Head
    shop_head: Head
    layers: tuple[StackLayer, ...]
    grip: float | None
    findings: tuple[JointFinding, ...]
    notices: tuple[Notice, ...]


class _Need(Enum):
    """What the layer above, or the head, asks of a layer."""

    SEAT = auto()
    NOTHING = auto()
    UNKNOWN = auto()


@dataclass(slots=True)
class _Seat:
    """What one side asks of one layer, and gets."""

    need: _Need = _Need.NOTHING
    treatment: Treatment | None = Treatment.PLAIN
    countersink: float | None = None
    notice: Notice | None = None


def stack_at(
    layers: Sequence[Sheet],
    rivet: RivetSize,
    head: Head,
    shop_head: Head = Head.PROTRUDING,
) -> Stack:
    """Work out the grip at a place, and what is done to each layer there.

    Parameters
    ----------
    layers : sequence of Sheet
        Those that are there, manufactured head first; at least one.
    rivet : RivetSize
        Of the place.
    head, shop_head : Head
        The manufactured head, and the one to be driven.

    Returns
    -------
    Stack
        What cannot be told is None in it, with a notice that says what to state; what does not go
        together is a finding.

    Raises
    ------
    BuildError
        There is no layer, or a thickness is not a finite number above 0.
    TableError
        A head is flush, and the table knows no flush head for this rivet.
    """
    _check(layers)
    near = _seats(layers, rivet, head)
    far = _seats(layers[::-1], rivet, shop_head)[::-1]
    pairs = list(zip(near, far, strict=True))
    treated = tuple(
        StackLayer(
            sheet.name,
            sheet.thickness,
            _treatment(sheet, outer, inner),
            outer.countersink,
            inner.countersink,
        )
        for sheet, (outer, inner) in zip(layers, pairs, strict=True)
    )
    thicknesses = [sheet.thickness for sheet in layers if sheet.thickness is not None]
    return Stack(
        rivet,
        head,
        shop_head,
        treated,
        sum(thicknesses) if len(thicknesses) == len(layers) else None,
        tuple(_findings(layers, pairs, rivet)),
        tuple(_notices(layers, pairs)),
    )


def _check(layers: Sequence[Sheet]) -> None:
    if not layers:
        raise BuildError("a rivet needs a layer to go through; none was given.")
    for sheet in layers:
        thickness = sheet.thickness
        if thickness is not None and not (math.isfinite(thickness) and thickness > 0):
            raise BuildError(
                f"{sheet.name}: a thickness of {thickness} in is none; it has to be above 0."
            )


def _treatment(sheet: Sheet, near: _Seat, far: _Seat) -> Treatment | None:
    if sheet.treatment is not None:
        return sheet.treatment
    if near.treatment is None or far.treatment is None:
        return None
    return near.treatment if near.treatment is not Treatment.PLAIN else far.treatment


# Seats for flush heads -------------------------------------------------------------------------


def widening(dimpled: float) -> float:
    """Work out by how much [in] a countersink is wider on each side under dimpled sheet.

    Parameters
    ----------
    dimpled : float [in]
        Thickness of all the dimpled sheet above it.

    Returns
    -------
    float [in]

    Source
    ------
    Geometry: the lower face of the dimple is the head's cone moved outward by the thickness t,
    which makes it wider by t / cos 50°; it starts t lower down, where the cone is narrower by
    t tan 50°.
    """
    half = _half_angle()
    return dimpled * (1 / math.cos(half) - math.tan(half))


def countersink_depth(countersink: float, narrow: float) -> float:
    """Work out how deep [in] a countersink is, down to where it is as narrow as `narrow` [in]."""
    return max(0.0, (countersink - narrow) / 2 / math.tan(_half_angle()))


def _half_angle() -> float:
    return math.radians(value_named("flush_head_angle").value / 2)


def _seats(layers: Sequence[Sheet], rivet: RivetSize, head: Head) -> list[_Seat]:
    """Seats for a head on the first of `layers`, one for each of them."""
    if head is not Head.FLUSH:
        return [_Seat() for _ in layers]
    diameter = flush_head(rivet.dash).diameter
    need = _Need.SEAT
    dimpled: float | None = 0.0
    seats = []
    for sheet in layers:
        seat = _seat(sheet, rivet, need)
        if seat.treatment is Treatment.COUNTERSINK and need is _Need.SEAT and dimpled is not None:
            seat.countersink = diameter + 2 * widening(dimpled)
        if seat.treatment is Treatment.DIMPLE:
            dimpled = _sum(dimpled, sheet.thickness)
        need = _need_below(need, seat.treatment)
        seats.append(seat)
    return seats


def _sum(first: float | None, second: float | None) -> float | None:
    return None if first is None or second is None else first + second


def _seat(sheet: Sheet, rivet: RivetSize, need: _Need) -> _Seat:
    if need is _Need.NOTHING:
        return _Seat()
    if sheet.treatment is not None or need is _Need.UNKNOWN:
        return _Seat(need, sheet.treatment)
    treatment, notice = treatment_for(sheet.name, rivet.dash, sheet.thickness, Head.FLUSH)
    return _Seat(need, treatment, notice=notice)


def _need_below(need: _Need, treatment: Treatment | None) -> _Need:
    if need is _Need.NOTHING or treatment in (Treatment.PLAIN, Treatment.COUNTERSINK):
        return _Need.NOTHING
    return _Need.UNKNOWN if treatment is None else need


# What is told ----------------------------------------------------------------------------------

_Pairs = Sequence[tuple[_Seat, _Seat]]
_NESTING = "NAVEDTRA 14018 ch. 13, riveting procedures: a dimple lies in a dimple or a countersink"
_THROUGH = (
    "TM 9-2320-363-34-2, p. 22-18: the hole is not to be cut on the far side; AC 65-15A ch. 5, as"
    " quoted: a head through the whole sheet is to be avoided"
)


def _notices(layers: Sequence[Sheet], pairs: _Pairs) -> Iterator[Notice]:
    unknown = [sheet.name for sheet in layers if sheet.thickness is None]
    if unknown:
        yield Notice(
            "stack.no-thickness",
            f"{', '.join(unknown)}: no thickness is stated, so there is no grip and no rivet"
            " length: state thickness in build.toml",
        )
    for near, far in pairs:
        notice = near.notice or far.notice
        if notice is not None:
            yield notice


def _findings(layers: Sequence[Sheet], pairs: _Pairs, rivet: RivetSize) -> Iterator[JointFinding]:
    if len(layers) == 1:
        what = (
            f"{layers[0].name} alone lies here, so that the rivet holds nothing together: see how"
            " the other layers lie, or leave this hole out of the joint"
        )
        yield JointFinding("stack.alone", what, _ALONE, 0)
    for place, (sheet, pair) in enumerate(zip(layers, pairs, strict=True)):
        finding = _misfit(layers, place, pair) or _unfit_choice(sheet, place, rivet)
        if finding is not None:
            yield finding
        if sheet.thickness is not None:
            yield from _too_deep(sheet.name, sheet.thickness, place, pair, rivet)


_ALONE = "geometry: a rivet clamps two layers or more"


def _misfit(layers: Sequence[Sheet], place: int, pair: tuple[_Seat, _Seat]) -> JointFinding | None:
    """Tell whether a layer does not take in what lies on it, or takes in what is not there."""
    name, chosen = layers[place].name, layers[place].treatment
    needs = [seat.need for seat in pair]
    asked = [seat for seat in pair if seat.need is _Need.SEAT]
    if asked and chosen is Treatment.PLAIN:
        what = f"{name} is plain, but a flush head or a dimple lies on it: dimple or countersink it"
        return JointFinding("stack.no-seat", what, _NESTING, place)
    if len(asked) == len(pair) and all(s.treatment is Treatment.DIMPLE for s in asked):
        what = (
            f"{name} would be dimpled towards both heads: put a layer between that is thick enough"
            " to countersink, or have one head protrude"
        )
        return JointFinding("stack.both-dimpled", what, _NESTING, place)
    if chosen not in (None, Treatment.PLAIN) and all(need is _Need.NOTHING for need in needs):
        what = f"{name} is given a {chosen} that nothing goes into: leave it plain"
        return JointFinding("stack.no-use", what, _NESTING, place)
    return None


def _unfit_choice(sheet: Sheet, place: int, rivet: RivetSize) -> JointFinding | None:
    """Tell whether a treatment was chosen that the thickness of the layer does not allow."""
    thickness = sheet.thickness
    if thickness is None:
        return None
    most, least = dimple_most_sheet(), countersink_least_sheet(rivet.dash)
    if sheet.treatment is Treatment.DIMPLE and thickness > most.value + SLACK:
        what = (
            f"{sheet.name}: {_inches(thickness)} sheet is dimpled, which is best done up to"
            f" {_inches(most.value)}: countersink it"
        )
        return JointFinding("stack.too-thick", what, most.source, place, most.value, thickness)
    if sheet.treatment is not Treatment.COUNTERSINK or least is None:
        return None
    if thickness >= least.value - SLACK:
        return None
    what = (
        f"{sheet.name}: {_inches(thickness)} sheet is countersunk for {rivet.name} rivets, which"
        f" takes {_inches(least.value)} or more: dimple it"
    )
    return JointFinding("stack.too-thin", what, least.source, place, least.value, thickness)


def _too_deep(
    name: str, thickness: float, place: int, pair: tuple[_Seat, _Seat], rivet: RivetSize
) -> Iterator[JointFinding]:
    cut = [seat.countersink for seat in pair if seat.countersink is not None]
    depth = sum(countersink_depth(wide, rivet.shank_diameter) for wide in cut)
    if depth > thickness + SLACK:
        wide = " and ".join(f"{_inches(diameter)} wide" for diameter in cut)
        what = (
            f"{name}: cut {wide} for {rivet.name} rivets, the countersink is"
            f" {format_length(depth, LengthUnit.INCH, 4)} deep and goes through"
            f" {format_length(thickness, LengthUnit.INCH, 4)} sheet: take a thicker layer, a"
            " smaller rivet, or dimple it"
        )
        yield JointFinding("stack.too-deep", what, _THROUGH, place, thickness, depth)


def _inches(length: float) -> str:
    return format_length(length, LengthUnit.INCH)
