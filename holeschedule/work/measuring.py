"""A driven head as measured, held against the limits of its rivet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from holeschedule.build.intent import read_intent
from holeschedule.fastener_tables import Limits, ShopHeadLimits
from holeschedule.joints.fasteners import check_shop_head
from holeschedule.model import Head
from holeschedule.record.events import Measure
from holeschedule.record.plan import selections_of
from holeschedule.record.state import PartState
from holeschedule.selection import Pick
from holeschedule.tables import RivetSize, rivet_size
from holeschedule.units import LengthUnit, format_length
from holeschedule.work.joining import rules_of
from holeschedule.work.opened import OpenBuild


class Judged(NamedTuple):
    """What is to be said of a measurement, and whether a limit is missed."""

    lines: tuple[str, ...]
    misses: bool


class HeadJudge:
    """Holds shop heads against the limits of a build. Compared by identity.

    Made before a measurement is recorded, so that nothing is if the limits cannot be read.

    Parameters
    ----------
    opened : OpenBuild
        The build.

    Raises
    ------
    HoleScheduleError
        build.toml or the rule set cannot be read.
    """

    def __init__(self, opened: OpenBuild) -> None:
        intent = read_intent(opened.folder)
        self._intents = opened.intents
        self._limits = rules_of(opened.folder, intent).shop_head
        self._flush = {joint.id for joint in intent.joints if joint.shop_head is Head.FLUSH}

    def judge(
        self,
        picks: Sequence[Pick],
        measure: Measure,
        value: float,
        states: Mapping[str, PartState],
    ) -> Judged:
        """Say whether shop heads are within their limits.

        Parameters
        ----------
        picks : sequence of Pick
            The holes at which they were measured.
        measure : Measure
            Width or height of the shop head.
        value : float [in]
            What was measured.
        states : mapping
            The parts, by name.

        Returns
        -------
        Judged
            A line for each kind of rivet. No limit is missed where none can be told: no rivet is
            known for the hole, or its shop head is driven flush.
        """
        groups: dict[tuple[str, bool], list[Pick]] = {}
        for pick in picks:
            groups.setdefault(self._kind(pick), []).append(pick)
        lines, misses = [], False
        for (rivet, is_flush), held in groups.items():
            names = " ".join(selections_of(held, states, self._intents.needs))
            if is_flush or not rivet:
                why = "its shop head is driven flush" if is_flush else "no rivet is known for it"
                lines.append(f"{names}: whether that is within limits is not told; {why}.")
                continue
            missed = list(_missed(rivet_size(rivet), self._limits, measure, value))
            within = [] if missed else [_within(rivet_size(rivet), self._limits, measure)]
            lines += [f"FINDING: {names}: {text}." for text in missed]
            lines += [f"{names}: {text}." for text in within]
            misses = misses or bool(missed)
        return Judged(tuple(lines), misses)

    def _kind(self, pick: Pick) -> tuple[str, bool]:
        """Rivet of a hole, empty where it is not known, and whether its shop head is flush."""
        place = self._intents.places.of(pick)
        need = self._intents.needs[pick.part].hole(pick.label)
        return need.rivet, place is not None and place.joint in self._flush


def _missed(
    rivet: RivetSize, limits: ShopHeadLimits, measure: Measure, value: float
) -> Iterator[str]:
    is_width = measure is Measure.SHOP_HEAD_WIDTH
    width, height = (value, None) if is_width else (None, value)
    for found in check_shop_head(rivet, limits, width=width, height=height):
        yield f"{found.text} [{found.source}]"


def _within(rivet: RivetSize, limits: ShopHeadLimits, measure: Measure) -> str:
    is_width = measure is Measure.SHOP_HEAD_WIDTH
    bounds = limits.width if is_width else limits.height
    return f"within the limits of {limits.name} for {rivet.name} rivets, {_bounds(bounds, rivet)}"


def _bounds(bounds: Limits, rivet: RivetSize) -> str:
    least = format_length(bounds.least * rivet.shank_diameter, LengthUnit.INCH)
    if bounds.most is None:
        return f"{least} or more"
    return f"{least} to {format_length(bounds.most * rivet.shank_diameter, LengthUnit.INCH)}"
