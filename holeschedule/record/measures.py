"""Measurements that still hold: later work on a hole makes earlier ones of it worthless."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import chain

from holeschedule.operations import Operation
from holeschedule.record.events import DRILL_OUT, MEASURE, REPLACE, Event, Measure, read_numbers

OVERTAKEN_BY = {
    str(Operation.MATCH_DRILL): (Measure.HOLE_DIAMETER,),
    str(Operation.RIVET): (Measure.SHOP_HEAD_WIDTH, Measure.SHOP_HEAD_HEIGHT),
    DRILL_OUT: (Measure.SHOP_HEAD_WIDTH, Measure.SHOP_HEAD_HEIGHT, Measure.HOLE_DIAMETER),
}
"""Which measurements of a hole no longer hold after work on it; a new part has none."""


def latest_measures(
    events: Iterable[Event],
) -> dict[tuple[str, int, int], dict[Measure, float]]:
    """Last measurement [in] of each kind at each hole, by part, copy and number of the hole.

    `events` are those of the record, in order, without what was taken back.
    """
    found: dict[tuple[str, int, int], dict[Measure, float]] = {}
    for event in events:
        if event.what == REPLACE:
            for key in [key for key in found if key[:2] == (event.part, event.copy)]:
                del found[key]
        for number in chain.from_iterable(read_numbers(event.holes)):
            key = (event.part, event.copy, number)
            if event.what == MEASURE and event.value is not None:
                found.setdefault(key, {})[Measure(event.detail)] = event.value
            elif key in found:
                for overtaken in OVERTAKEN_BY.get(event.what, ()):
                    found[key].pop(overtaken, None)
    return {key: values for key, values in found.items() if values}
