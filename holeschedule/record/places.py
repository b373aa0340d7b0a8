"""The places of the joints: holes of several parts that one rivet goes through.

Light, since marking loads it. Which holes lie on each other is worked out elsewhere; here it only
matters that they do: match-drilling and riveting touch every layer of a place.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import NamedTuple

from holeschedule.errors import SelectionError
from holeschedule.operations import Operation
from holeschedule.record.judge import Gate, HoleGate, Judge, Obstacle, Verdict
from holeschedule.record.needs import Needs
from holeschedule.record.state import States
from holeschedule.selection import JointSelection, Pick

TOGETHER = (Operation.MATCH_DRILL, Operation.RIVET)
"""Operations that are done at a place, on every layer at once."""
_BEFORE_THE_DRILL = (Operation.DEBURR, Operation.DIMPLE, Operation.COUNTERSINK)
"""Operations that come after the drill has gone through every layer of the place."""


class JointPlace(NamedTuple):
    """One rivet position. Equality is by value.

    `picks` are the holes of its layers, in order. `rivet` is the rivet's designation, empty
    where it is not known.
    """

    joint: str
    number: int
    picks: tuple[Pick, ...]
    rivet: str = ""


class Places:
    """The places of every joint of a build, in order; compared by identity."""

    __slots__ = ("_by_pick", "joints")

    def __init__(self, joints: Mapping[str, Sequence[JointPlace]]) -> None:
        self.joints = joints
        self._by_pick: dict[Pick, JointPlace] | None = None

    def __bool__(self) -> bool:
        return bool(self.joints)

    def of(self, pick: Pick) -> JointPlace | None:
        """The place that a hole belongs to."""
        if self._by_pick is None:
            self._by_pick = {
                held: place
                for places in self.joints.values()
                for place in places
                for held in place.picks
            }
        return self._by_pick.get(pick)

    def chosen(self, selection: JointSelection) -> tuple[JointPlace, ...]:
        """Places that a selection names, in order.

        Raises
        ------
        SelectionError
            There is no such joint or place; the message lists what there is.
        """
        places = self.joints.get(selection.joint)
        if places is None:
            there = f"the joints are {', '.join(self.joints)}"
            raise SelectionError(
                f"selection {selection.text!r}: there is no joint {selection.joint};"
                f" {there if self.joints else 'this build has no joints yet'}. Define one: join."
            )
        first, last = selection.places or (1, len(places))
        if last > len(places):
            raise SelectionError(
                f"selection {selection.text!r}: {selection.joint} has no place {last}; it has"
                f" places 1 to {len(places)}."
            )
        return tuple(places[first - 1 : last])

    def with_layers(self, picks: Iterable[Pick]) -> tuple[Pick, ...]:
        """Holes, and with each those of the other layers at its place; sorted by part."""
        found: dict[Pick, None] = {}
        for pick in picks:
            place = self.of(pick)
            found.update(dict.fromkeys(place.picks if place else (pick,)))
        parts: dict[tuple[str, int], list[Pick]] = {}
        for pick in found:
            parts.setdefault((pick.part, pick.copy), []).append(pick)
        return tuple(pick for held in parts.values() for pick in held)


NO_PLACES = Places({})
"""Of a build without joints."""


def write_places(places: Iterable[JointPlace]) -> tuple[str, ...]:
    """Write places as selections, one text per joint: J2:4-9,12.

    Examples
    --------
    >>> write_places([JointPlace("J2", 4, ()), JointPlace("J2", 5, ())])
    ('J2:4-5',)
    """
    by_joint: dict[str, set[int]] = {}
    for place in places:
        by_joint.setdefault(place.joint, set()).add(place.number)
    return tuple(f"{joint}:{','.join(_runs(sorted(held)))}" for joint, held in by_joint.items())


def _runs(numbers: Sequence[int]) -> Iterator[str]:
    for _, run in groupby(enumerate(numbers), key=lambda item: item[1] - item[0]):
        held = [number for _, number in run]
        yield str(held[0]) if len(held) == 1 else f"{held[0]}-{held[-1]}"


# Gates -----------------------------------------------------------------------------------------


def gate_of_joints(places: Places, gates: Sequence[Gate]) -> Gate:
    """Make the gate that looks at the other layers of a hole's place.

    Parameters
    ----------
    places : Places
        Of the build's joints.
    gates : sequence of Gate
        What else stands before a hole: it holds for the other layers as well.

    Returns
    -------
    Gate
        Match-drilling and riveting wait until every layer is free for it. Deburring, dimpling and
        countersinking wait until every layer is drilled through (common practice, no published
        source): the drill would raise new burrs, and spoil a dimple.
    """

    def gate(states: States, needs: Needs, operation: Operation) -> HoleGate | None:
        if operation in TOGETHER:
            return _all_free(places, Judge(states, needs, gates), needs, operation)
        if operation in _BEFORE_THE_DRILL:
            return _all_drilled(places, Judge(states, needs, ()), needs)
        return None

    return gate


def _all_free(places: Places, judge: Judge, needs: Needs, operation: Operation) -> HoleGate:
    verdict = _by_joint(places, lambda picks: judge.verdicts(picks, operation))

    def waits(pick: Pick) -> Obstacle | None:
        place = places.of(pick)
        for other in place.picks if place else ():
            found = verdict(place, other) if other != pick else None
            if isinstance(found, Obstacle):
                piece = piece_name(other, needs)
                return Obstacle(
                    f"waits for {piece} in the same place, which {found.reason}",
                    f"{found.unblock}",
                    found.lasting,
                )
        return None

    return waits


def _all_drilled(places: Places, judge: Judge, needs: Needs) -> HoleGate:
    def waits(pick: Pick) -> Obstacle | None:
        place = places.of(pick)
        for other in place.picks if place else ():
            if other != pick and judge.next_operation(other) in _DRILLING:
                piece = piece_name(other, needs)
                return Obstacle(
                    f"waits for the drill: {piece} is not drilled through in the same place",
                    "first match-drill it there",
                )
        return None

    return waits


_DRILLING = (Operation.DRILL, Operation.MATCH_DRILL)


def _by_joint(
    places: Places, judged: Callable[[Sequence[Pick]], list[Verdict]]
) -> Callable[[JointPlace | None, Pick], Verdict | None]:
    """Verdicts on holes in joints; a joint's are all found when the first is asked for."""
    known: dict[str, dict[Pick, Verdict]] = {}

    def verdict(place: JointPlace | None, pick: Pick) -> Verdict | None:
        if place is None:
            return None
        if place.joint not in known:
            picks = sorted(held for its in places.joints[place.joint] for held in its.picks)
            known[place.joint] = dict(zip(picks, judged(picks), strict=True))
        return known[place.joint][pick]

    return verdict


def piece_name(pick: Pick, needs: Needs) -> str:
    """Name of the part, with its copy where there are several."""
    need = needs.get(pick.part)
    return pick.part if need is None or need.quantity == 1 else f"{pick.part}#{pick.copy}"
