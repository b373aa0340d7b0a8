"""The places of the joints: holes of several parts that one rivet goes through.

Light, since marking loads it. Which holes lie on each other is worked out elsewhere; here it only
matters that they do: match-drilling and riveting touch every layer of a place.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from types import MappingProxyType
from typing import NamedTuple

from holeschedule.errors import SelectionError
from holeschedule.operations import Operation
from holeschedule.record.events import REPLACE
from holeschedule.record.judge import Gate, HoleGate, Judge, Obstacle, OfCopy, Verdict
from holeschedule.record.needs import Needs
from holeschedule.record.routes import Stage
from holeschedule.record.state import States
from holeschedule.selection import JointSelection, Pick

TOGETHER = (Operation.MATCH_DRILL, Operation.RIVET)
"""Operations that are done at a place, on every layer at once."""
_BEFORE_THE_DRILL = (Operation.DEBURR, Operation.DIMPLE, Operation.COUNTERSINK)
"""Operations that come after the drill has gone through every layer of the place."""


class JointPlace(NamedTuple):
    """One rivet position. Equality is by value.

    `picks` are the holes of its layers, in order. `rivet` is the rivet's designation, empty
    where it is not known. `lacks` names the parts whose hole here is not in the record yet.
    """

    joint: str
    number: int
    picks: tuple[Pick, ...]
    rivet: str = ""
    lacks: tuple[str, ...] = ()


class Unlaid(NamedTuple):
    """A joint whose parts cannot be laid on each other. Equality is by value.

    `why` is one sentence. `picks` are the holes that may belong to it: they wait.
    """

    why: str
    picks: tuple[Pick, ...] = ()


class Places:
    """The places of every joint of a build, in order; compared by identity.

    `unlaid` are the joints of which no place is known.
    """

    __slots__ = ("_by_pick", "joints", "unlaid")

    def __init__(
        self,
        joints: Mapping[str, Sequence[JointPlace]],
        unlaid: Mapping[str, Unlaid] = MappingProxyType({}),
    ) -> None:
        self.joints = joints
        self.unlaid = unlaid
        self._by_pick: dict[Pick, JointPlace] | None = None

    def __bool__(self) -> bool:
        return bool(self.joints or self.unlaid)

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
            There is no such joint or place, or the joint cannot be laid; the message says what
            there is.
        """
        if selection.joint in self.unlaid:
            why = self.unlaid[selection.joint].why.rstrip(".")
            raise SelectionError(
                f"selection {selection.text!r}: {selection.joint} cannot be laid, so it has no"
                f" places: {why}."
            )
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
        source): the drill would raise new burrs, and spoil a dimple. All of it waits where not
        every hole of the place is known. A part is not replaced while rivets hold it to others.
    """

    def gate(states: States, needs: Needs, operation: str) -> HoleGate | None:
        if operation == REPLACE:
            return OfCopy(_no_rivets(places, states))
        beyond = None
        if operation in TOGETHER:
            judge = Judge(states, needs, gates)
            beyond = _all_free(places, judge, needs, Operation(operation))
        elif operation in _BEFORE_THE_DRILL:
            beyond = _all_drilled(places, Judge(states, needs, ()), needs)
        return _all_known(places, operation, beyond)

    return gate


def _all_known(places: Places, operation: str, beyond: HoleGate | None) -> HoleGate | None:
    """Hold up holes of joints that cannot be laid, and of places that lack one; then ask on."""
    lasting = operation in TOGETHER
    held = {
        pick: Obstacle(
            f"may belong to {joint}, which cannot be laid", f"first mend {joint}", lasting
        )
        for joint, unlaid in places.unlaid.items()
        for pick in unlaid.picks
    }
    if beyond is None and not held:
        return None

    def waits(pick: Pick) -> Obstacle | None:
        if pick in held:
            return held[pick]
        if beyond is None:
            return None
        place = places.of(pick)
        if place is not None and place.lacks:
            parts = ", ".join(place.lacks)
            return Obstacle(
                f"waits for the hole to come in {parts}, which is not in the record",
                "first run join",
                lasting,
            )
        return beyond(pick)

    return waits


def _no_rivets(places: Places, states: States) -> HoleGate:
    def waits(copy: Pick) -> Obstacle | None:
        bound, others = [], dict[str, None]()
        for place in (place for held in places.joints.values() for place in held):
            riveted = {
                (pick.part, pick.copy): None
                for pick in place.picks
                if states[pick.part].stage(pick.copy, pick.label) is Stage.RIVETED
            }
            if len(riveted) > 1 and copy[:2] in riveted:
                bound.append(place)
                others.update(dict.fromkeys(part for part, _ in riveted if part != copy.part))
        if not bound:
            return None
        return Obstacle(
            f"is riveted to {', '.join(others)}",
            f"first drill-out {' '.join(write_places(bound))}",
            lasting=True,
        )

    return waits


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
