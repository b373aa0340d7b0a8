"""A fit that is tried: how one part of a build lies on another, told hole by hole."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from holeschedule.audit.measure import hole_rivet
from holeschedule.build.folder import BuildFolder
from holeschedule.build.intent import BuildIntent, read_intent
from holeschedule.build.joints import parse_pairs
from holeschedule.errors import JointError
from holeschedule.joints.along import RowFit, compare_rows
from holeschedule.joints.by_pairs import place_by_pairs
from holeschedule.joints.fit import Fit, FitResult, fit_holes
from holeschedule.joints.layers import Joint, Layer
from holeschedule.joints.offsets import final_offset_limit, pilot_offset_limit
from holeschedule.joints.places import place_tolerance
from holeschedule.model import HoleSize
from holeschedule.record.database import Connection
from holeschedule.record.store import Record
from holeschedule.selection import label_key
from holeschedule.units import LengthUnit, format_length, parse_length
from holeschedule.views.explain import CAUTION
from holeschedule.views.joint_text import placement_text
from holeschedule.views.text import compact_labels, hanging, plural, printable, table
from holeschedule.work.defining import selected_layer, way_text
from holeschedule.work.drawn_parts import DrawnParts
from holeschedule.work.joining import rules_of
from holeschedule.work.laying import JointsLaid, hole_centre

MOST_TURN = 360
"""Degrees."""
MOST_WAYS = 12
"""Rival ways that are listed; the rest is counted."""


@dataclass(frozen=True, eq=False)
class Tried:
    """Two parts, the fit of their holes, and what to tell it in. Compared by identity.

    `along` compares their rows where that was asked for; `result` then is None. `allowed` [in] is
    how far apart two holes of a pair may be for their rivet.
    """

    base: Layer
    layer: Layer
    unit: LengthUnit
    allowed: float
    result: FitResult | None = None
    along: RowFit | None = None

    @property
    def misses(self) -> bool:
        """Whether holes are too far apart for their rivet, or left over on the second part."""
        if self.along is not None:
            off = np.abs(self.along.offsets).max(initial=0.0)
            return bool(off > self.allowed) or len(self.along.left_part) > 0
        assert self.result is not None  # noqa: S101 (one of the two is there)
        best = self.result.best
        return best.largest > self.allowed or len(best.left_part) > 0

    def as_text(self) -> str:
        """Tell it within 100 columns."""
        lines = list(_along_lines(self) if self.along is not None else _fit_lines(self))
        lines += ["", *hanging("", CAUTION)]
        return "".join(f"{line}\n" for line in lines)

    def as_object(self) -> dict[str, Any]:
        """Return the JSON object `holeschedule.fit/1`."""
        found = {
            "format": "holeschedule.fit/1",
            "units": str(self.unit),
            "base": self.base.name,
            "part": self.layer.name,
            "allowed_offset": self.unit.from_inches(self.allowed),
        }
        if self.along is not None:
            return {**found, **_along_object(self, self.along)}
        assert self.result is not None  # noqa: S101 (one of the two is there)
        return {
            **found,
            "tolerance": self.unit.from_inches(self.result.tolerance),
            "best": _fit_object(self, self.result.best),
            "rival_count": self.result.rival_count,
            "rivals": [_fit_object(self, fit) for fit in self.result.rivals],
        }


def try_fit(
    folder: BuildFolder,
    record: Record,
    db: Connection,
    one: str,
    other: str,
    *,
    by: str | None = None,
    flip: bool | None = None,
    turn: float | None = None,
    tolerance: str | None = None,
    along: bool = False,
    show: str | None = None,
) -> Tried:
    """Try how the holes of one part lie on those of another.

    Parameters
    ----------
    folder, record, db : BuildFolder, Record, Connection
        The build.
    one, other : str
        Parts with holes as typed, `FL-101:C`; the first stays where it is.
    by : str, optional
        Pairs of holes that lie on each other, `A1=C1,A9=C9`.
    flip : bool, optional
        Whether the second is turned over; both are tried where it is not stated.
    turn : float [deg], optional
        How the second is turned, where it is known.
    tolerance : str, optional
        How near is on, as typed; half the thinner shank where it is not stated.
    along : bool
        Compare them as rows, hole by hole along each.
    show : str, optional
        Unit of what is told; the build's where it is not stated.

    Raises
    ------
    HoleScheduleError
        There is no such part or hole, or the holes do not tell how it lies.
    """
    if turn is not None and not abs(turn) <= MOST_TURN:
        raise JointError(f"--turn {turn}: write degrees from -{MOST_TURN} to {MOST_TURN}.")
    intent = read_intent(folder)
    laying = JointsLaid(intent, DrawnParts(folder, record, db, intent), rules_of(folder, intent))
    base, layer = (selected_layer(laying, intent, text) for text in (one, other))
    if base.name == layer.name and set(base.holes.tolist()) & set(layer.holes.tolist()):
        raise JointError(
            f"{one} and {other} are the same holes of one piece. Name two parts, two copies as"
            " FL-107#1 FL-107#2, or two rows."
        )
    for name, held in ((one, base), (other, layer)):
        if not len(held.holes):
            raise JointError(f"{name}: has no holes; nothing can be fitted. Choose other holes.")
    unit = _unit(intent, base, show)
    reach = place_tolerance(Joint("J1", (base, layer)))
    if tolerance is not None:
        reach = parse_length(tolerance, unit)
    tried = Tried(base, layer, unit, _allowed(base, layer))
    if along:
        found = compare_rows(_in_order(base), _in_order(layer), tolerance=reach)
        return Tried(base, layer, unit, tried.allowed, along=found)
    points = layer.part.centres[layer.holes]
    radians = None if turn is None else math.radians(turn)
    if by is None:
        result = fit_holes(base.centres, points, tolerance=reach, flip=flip, turn=radians)
    else:
        pairs = parse_pairs(by)
        result = place_by_pairs(
            np.array([hole_centre("--by", base, label) for label, _ in pairs]),
            np.array([hole_centre("--by", layer, label) for _, label in pairs]),
            base=base.centres,
            part=points,
            flip=flip,
            turn=radians,
            tolerance=reach,
            names=[f"{a}={b}" for a, b in pairs],
        )
    return Tried(base, layer, unit, tried.allowed, result)


def _unit(intent: BuildIntent, base: Layer, show: str | None) -> LengthUnit:
    if show is not None:
        return LengthUnit(show)
    drawn = LengthUnit.MILLIMETRE if base.part.unit.is_metric else LengthUnit.INCH
    return intent.units or drawn


def _allowed(base: Layer, layer: Layer) -> float:
    """How far apart [in] two holes may be: the least of what their sizes allow."""
    of_base, of_layer = (
        {held.part.holes[i].diameter for i in held.holes.tolist()} for held in (base, layer)
    )
    return max(0.0, min(_limit(one, other) for one in of_base for other in of_layer))


def _limit(one: float, other: float) -> float:
    """How far apart [in] holes of two diameters may be for the rivet of the larger one."""
    found = hole_rivet(max(one, other))
    if found.rivet is None:
        return final_offset_limit(one, other, found.shank)
    pilots = [size for size in (one, other) if hole_rivet(size, found.rivet).size is HoleSize.PILOT]
    if pilots:
        return pilot_offset_limit(max(pilots), found.rivet.final_drill.diameter)
    return final_offset_limit(one, other, found.shank)


def _in_order(layer: Layer) -> np.ndarray[Any, np.dtype[np.float64]]:
    order = sorted(layer.holes.tolist(), key=lambda i: label_key(layer.part.holes[i].label))
    return np.asarray(layer.part.centres[order])


def _labels(layer: Layer) -> list[str]:
    return [layer.part.holes[i].label for i in layer.holes.tolist()]


def _ordered_labels(layer: Layer) -> list[str]:
    return sorted(_labels(layer), key=label_key)


# In words --------------------------------------------------------------------------------------


def _fine(length: float, unit: LengthUnit) -> str:
    return format_length(length, unit, 4 if unit is LengthUnit.INCH else 3)


def _fit_lines(tried: Tried) -> Iterator[str]:
    result = tried.result
    assert result is not None  # noqa: S101 (as `as_text` asks)
    best, base, layer = result.best, tried.base, tried.layer
    names, others = _labels(base), _labels(layer)
    yield from hanging(
        "",
        f"{printable(layer.name)} on {printable(base.name)}:"
        f" {best.count} of {plural(len(others), 'hole')} within"
        f" {_fine(result.tolerance, tried.unit)}, {placement_text(best.placement)}."
        f" Offsets: rms {_fine(best.rms, tried.unit)}, largest {_fine(best.largest, tried.unit)};"
        f" holes may be {_fine(tried.allowed, tried.unit)} apart for their rivet.",
    )
    rows = [
        [
            names[a],
            others[b],
            _fine(offset, tried.unit),
            "too far" if offset > tried.allowed else "",
        ]
        for (a, b), offset in zip(best.pairs.tolist(), best.offsets.tolist(), strict=True)
    ]
    yield ""
    yield from table([base.name, layer.name, "offset", ""], rows, "llrl")
    yield from _left_lines(tried, best)
    if result.is_ambiguous:
        yield ""
        yield f"As good in {plural(result.rival_count, 'other way')}; say which by --by and --flip:"
        for fit in result.fits[: MOST_WAYS + 1]:
            text = way_text(fit, base, layer)
            flip = " --flip" if fit.placement.flip else " --no-flip"
            yield (
                f"  --by {text.removesuffix(' flipped')}{flip}   ({placement_text(fit.placement)},"
                f" rms {_fine(fit.rms, tried.unit)})"
            )
        if result.rival_count > MOST_WAYS:
            yield f"  and {result.rival_count - MOST_WAYS} more"


def _drift(drift: float, unit: LengthUnit) -> str:
    told = _fine(abs(drift), unit)
    if told == _fine(0.0, unit):
        return "is as long"
    return f"runs {told} {'longer' if drift > 0 else 'shorter'}"


def _signed(length: float, unit: LengthUnit) -> str:
    """A difference [in] with its sign; none too small to be seen is negative."""
    return f"{round(unit.from_inches(length), 4) + 0.0:+.4f}"


def _left_lines(tried: Tried, fit: Fit) -> Iterator[str]:
    for layer, left in ((tried.base, fit.left_base), (tried.layer, fit.left_part)):
        labels = sorted((_labels(layer)[i] for i in left.tolist()), key=label_key)
        if labels:
            yield from hanging(
                "", f"Without a partner on {printable(layer.name)}: {compact_labels(labels)}"
            )


def _along_lines(tried: Tried) -> Iterator[str]:
    found = tried.along
    assert found is not None  # noqa: S101 (as `as_text` asks)
    base, layer, unit = tried.base, tried.layer, tried.unit
    names, others = _ordered_labels(base), _ordered_labels(layer)
    yield from hanging(
        "",
        f"{printable(layer.name)} along {printable(base.name)}: {plural(len(found.pairs), 'hole')}"
        f" side by side, {'in opposite directions' if found.way.is_reversed else 'the same way'}."
        f" From end to end the row of {printable(layer.name)} {_drift(found.drift, unit)};"
        f" holes may be {_fine(tried.allowed, unit)} apart for their rivet.",
    )
    yield ""
    steps = ["", *(_signed(d, unit) for d in found.pitch_differences.tolist())]
    rows = [
        [
            names[a],
            others[b],
            _fine(at, unit),
            step,
            f"{_signed(off, unit)} {unit}",
            "too far" if abs(off) > tried.allowed else "",
        ]
        for (a, b), at, step, off in zip(
            found.pairs.tolist(),
            found.base_along.tolist(),
            steps,
            found.offsets.tolist(),
            strict=True,
        )
    ]
    heads = [base.name, layer.name, "along", "pitch differs", "running difference", ""]
    yield from table(heads, rows, "llrrrl")
    for held, all_labels, left in (
        (base, names, found.left_base),
        (layer, others, found.left_part),
    ):
        labels = [all_labels[i] for i in left.tolist()]
        if labels:
            yield from hanging(
                "", f"Without a partner on {printable(held.name)}: {compact_labels(labels)}"
            )
    if found.rivals:
        yield f"As many holes side by side in {plural(len(found.rivals), 'other way')}."


# As objects ------------------------------------------------------------------------------------


def _fit_object(tried: Tried, fit: Fit) -> dict[str, Any]:
    names, others, unit = _labels(tried.base), _labels(tried.layer), tried.unit
    return {
        "turn": math.degrees(fit.placement.turn),
        "flip": fit.placement.flip,
        "rms": unit.from_inches(fit.rms),
        "largest": unit.from_inches(fit.largest),
        "holes": [
            {"base": names[a], "part": others[b], "offset": unit.from_inches(offset)}
            for (a, b), offset in zip(fit.pairs.tolist(), fit.offsets.tolist(), strict=True)
        ],
        "left_base": [names[i] for i in fit.left_base.tolist()],
        "left_part": [others[i] for i in fit.left_part.tolist()],
    }


def _along_object(tried: Tried, found: RowFit) -> dict[str, Any]:
    names, others, unit = _ordered_labels(tried.base), _ordered_labels(tried.layer), tried.unit
    return {
        "reversed": found.way.is_reversed,
        "drift": unit.from_inches(found.drift),
        "rival_count": len(found.rivals),
        "holes": [
            {
                "base": names[a],
                "part": others[b],
                "along": unit.from_inches(at),
                "offset": unit.from_inches(off),
            }
            for (a, b), at, off in zip(
                found.pairs.tolist(), found.base_along.tolist(), found.offsets.tolist(), strict=True
            )
        ],
        "left_base": [names[i] for i in found.left_base.tolist()],
        "left_part": [others[i] for i in found.left_part.tolist()],
    }
