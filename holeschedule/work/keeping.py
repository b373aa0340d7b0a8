"""What each hole needs, kept as lines of text: the writing half of the cache in `kept`."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from contextlib import suppress

from holeschedule.record.needs import HoleNeeds
from holeschedule.selection import Pick
from holeschedule.work.kept import END, FORMAT, Intents


def keep_intents(path: str, key: str, intents: Intents) -> None:
    """Keep intents in a file, whole or not at all; a folder that refuses is done without.

    Parameters
    ----------
    path : str
        The file.
    key : str
        What the intents follow from.
    intents : Intents
        What each hole needs.
    """
    text = "\n".join((FORMAT, key, *_lines(intents), END))
    beside = f"{path}.{os.getpid()}"
    with suppress(OSError):
        os.makedirs(os.path.dirname(path), exist_ok=True)  # noqa: PTH103, PTH120 (no pathlib here)
        try:
            with open(beside, "x", encoding="utf-8") as file:  # noqa: PTH123
                file.write(text)
            os.replace(beside, path)  # noqa: PTH105
        finally:
            with suppress(FileNotFoundError):
                os.unlink(beside)  # noqa: PTH108


def _lines(intents: Intents) -> Iterator[str]:
    places: dict[HoleNeeds, int] = {}
    for part in intents.needs.values():
        for need in (part.holes, *part.by_label.values()):
            places.setdefault(need, len(places))
    for need in places:
        drawn = need.drawn or ""
        yield "\t".join(
            (
                *("need", need.treatment, "rivet" if need.takes_rivet else "", drawn),
                *("guided" if need.guided else "", *need[3:6]),
            )
        )
    for name, part in intents.needs.items():
        operations = ",".join(part.operations)
        yield "\t".join(("part", name, str(part.quantity), operations, str(places[part.holes])))
        labels: dict[HoleNeeds, list[str]] = {}
        for label, need in part.by_label.items():
            labels.setdefault(need, []).append(label)
        for need, found in labels.items():
            yield "\t".join(("other", str(places[need]), " ".join(found)))
        if name in intents.undecided:
            yield "\t".join(("undecided", " ".join(sorted(intents.undecided[name]))))
    yield from _joint_lines(intents)
    yield "\t".join(("name", intents.name))
    for notice in intents.notices:
        yield "\t".join(("notice", notice))


def _joint_lines(intents: Intents) -> Iterator[str]:
    for joint, places in intents.places.joints.items():
        yield "\t".join(("joint", joint))
        for place in places:
            yield "\t".join(("place", place.rivet, " ".join(place.lacks), _picks(place.picks)))
    for joint, unlaid in intents.places.unlaid.items():
        yield "\t".join(("unlaid", joint, " ".join(unlaid.why.split()), _picks(unlaid.picks)))


def _picks(picks: Iterable[Pick]) -> str:
    return " ".join(f"{part}#{copy}:{label}" for part, copy, label in picks)
