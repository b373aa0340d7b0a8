"""Holes of one copy of a part that are alike in all that matters, put together.

A part has hundreds of holes and a handful of kinds: what is asked about each hole is asked once a
kind.
"""

from collections.abc import Sequence
from itertools import chain, groupby, repeat
from typing import NamedTuple

from holeschedule.operations import Operation
from holeschedule.record.needs import HoleNeeds, PartNeeds, facts_of
from holeschedule.record.routes import LEADS_TO, Stage
from holeschedule.record.state import DRAWN, GONE, PartState, decode_state

_Kind = tuple[str, int, int]  # letter of `drawn`, state number, id of the need


class Some(NamedTuple):
    """Holes of one copy, by label."""

    labels: Sequence[str]

    @property
    def total(self) -> int:
        """How many they are."""
        return len(self.labels)


class Alike:
    """Holes of one kind: drawn, worked on and intended in the same way. Compared by identity.

    `total` is how many they are; which, is looked up when it is asked for.
    """

    __slots__ = ("_part", "_spans", "facts", "need", "state", "total")

    def __init__(
        self, part: PartState, kind: tuple[str, int, HoleNeeds], spans: Sequence[tuple[int, int]]
    ) -> None:
        letter, code, self.need = kind
        self.facts = facts_of(DRAWN[letter], self.need)
        self.state = decode_state(code)
        self.total = sum(end - start for start, end in spans)
        self._part = part
        self._spans = spans

    @property
    def labels(self) -> tuple[str, ...]:
        """Their labels, in the order of their numbers."""
        labels = self._part.labels
        return tuple(chain.from_iterable(labels[start:end] for start, end in self._spans))

    @property
    def stage(self) -> Stage:
        """How far along their route they are."""
        return self.state.stage_of(self.facts.drawn)

    def is_past(self, operation: Operation) -> bool:
        """Whether they are where an operation leads to, or past it."""
        return LEADS_TO[operation].level <= self.stage.level


def alike_holes(part: PartState, need: PartNeeds, copy: int) -> list[Alike]:
    """Holes of one copy of a part, by kind; those that were retired left out.

    Parameters
    ----------
    part : PartState
        The part as the record has it.
    need : PartNeeds
        What it needs.
    copy : int
        Which copy, 1 the first.
    """
    if not part.drawn:
        return []
    needs = {id(need.holes): need.holes}
    needs |= {id(own): own for own in need.by_label.values()}
    return [
        Alike(part, (letter, code, needs[its]), spans)
        for (letter, code, its), spans in _by_kind(part, need, copy).items()
        if letter != GONE
    ]


def _by_kind(part: PartState, need: PartNeeds, copy: int) -> dict[_Kind, list[tuple[int, int]]]:
    """Where the holes of each kind stand: first number less 1, and last number, of each run."""
    codes = part.copy(copy).codes
    codes += (0,) * (len(part.drawn) - len(codes))
    usual, letter, code = id(need.holes), part.drawn[0], codes[0]
    is_plain = not need.by_label and part.drawn.count(letter) == len(part.drawn)
    if is_plain and codes.count(code) == len(codes):
        return {(letter, code, usual): [(0, len(codes))]}
    kinds = list(zip(part.drawn, codes, repeat(usual)))
    for label, own in need.by_label.items():
        number = part.numbers.get(label)
        if number is not None:
            kinds[number - 1] = (*kinds[number - 1][:2], id(own))
    found: dict[_Kind, list[tuple[int, int]]] = {}
    start = 0
    for kind, run in groupby(kinds):  # neighbours are mostly alike
        end = start + len(list(run))
        found.setdefault(kind, []).append((start, end))
        start = end
    return found
