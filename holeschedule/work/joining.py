"""What the joints of a build mean to its record: the holes of each place, what each of them needs.

A layer that covers a place without a hole gets one by match-drilling. That hole is entered in the
record when its joint is defined, undrilled and with a label: it can be marked like any other.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from holeschedule.audit.rules import RuleSet, load_rule_set, rule_set_names
from holeschedule.build.folder import BuildFolder
from holeschedule.build.intent import BuildIntent
from holeschedule.build.joints import JointIntent
from holeschedule.errors import HoleScheduleError
from holeschedule.holes.alignment import UNMOVED, Alignment
from holeschedule.holes.identity import FreeLabels
from holeschedule.holes.labels import SINGLE
from holeschedule.joints.laid import LaidJoint, Rivet
from holeschedule.joints.places import PlaceLayer
from holeschedule.operations import Treatment
from holeschedule.record.drawn import Change, HoleAsDrawn, HoleChange, Import, Revision
from holeschedule.record.places import JointPlace, Unlaid
from holeschedule.record.routes import Drawn
from holeschedule.record.state import PartState
from holeschedule.selection import Pick
from holeschedule.work.drawn_parts import DrawnParts
from holeschedule.work.laying import JointsLaid
from holeschedule.work.revising import REACH

_MOST_HOLES = 4
_ROW = 3
"""Holes to come in one layer from which on they are a row of their own."""


class HoleInJoint(NamedTuple):
    """What a joint asks of one hole; `treatment` is None where it cannot be told."""

    treatment: Treatment | None
    rivet: str
    guided: bool


@dataclass(frozen=True, slots=True)
class Blank:
    """A hole that match-drilling will make and that the record does not have. Equality by value.

    `x`, `y` [in] are on the axes of the part's recorded holes.
    """

    part: str
    joint: str
    x: float
    y: float


@dataclass(frozen=True)
class Joined:
    """What the joints of a build come to. Equality is by value.

    `holes` are by part and label. `blanks` are still to be entered. `unlaid` are the joints that
    could not be laid, by name.
    """

    places: Mapping[str, tuple[JointPlace, ...]]
    holes: Mapping[str, Mapping[str, HoleInJoint]]
    blanks: tuple[Blank, ...] = ()
    notices: tuple[str, ...] = ()
    unlaid: Mapping[str, Unlaid] = field(default_factory=dict)

    @property
    def told(self) -> tuple[str, ...]:
        """The notices, what cannot be laid, and that holes to come are not in the record."""
        notices = (*self.notices, *_unlaid_notices(self.unlaid))
        if not self.blanks:
            return notices
        parts = ", ".join(dict.fromkeys(blank.part for blank in self.blanks))
        holes = "1 hole" if len(self.blanks) == 1 else f"{len(self.blanks)} holes"
        return (
            *notices,
            f"{holes} that match-drilling will make in {parts}: not entered yet, run `join`",
        )


def rules_of(folder: BuildFolder, intent: BuildIntent) -> RuleSet:
    """Load the rule set that a build names.

    Raises
    ------
    RuleError
        It is none.
    """
    is_packaged = intent.rules.lower() in rule_set_names()
    return load_rule_set(intent.rules if is_packaged else folder.path / intent.rules)


def lay_joints(
    drawn: DrawnParts, intent: BuildIntent, rules: RuleSet
) -> tuple[dict[str, LaidJoint], dict[str, str]]:
    """Lay every joint of a build, in the order of their numbers.

    Parameters
    ----------
    drawn : DrawnParts
        Its parts.
    intent : BuildIntent
        What build.toml says.
    rules : RuleSet
        Says how rivets are chosen.

    Returns
    -------
    dict, dict
        The joints by name; and by name why a joint could not be laid.
    """
    laying = JointsLaid(intent, drawn, rules)
    laid: dict[str, LaidJoint] = {}
    unlaid: dict[str, str] = {}
    for joint in sorted(intent.joints, key=lambda joint: int(joint.id[1:])):
        try:
            laid[joint.id] = laying.lay(joint)
        except HoleScheduleError as error:
            unlaid[joint.id] = str(error).removeprefix(f"{joint.id}: ")
    return laid, unlaid


def join_up(
    intent: BuildIntent,
    laid: Mapping[str, LaidJoint],
    unlaid: Mapping[str, str],
    moves: Mapping[str, Alignment],
    recorded: Mapping[str, Mapping[str, HoleChange]],
) -> Joined:
    """Work out what the joints mean to the record.

    Parameters
    ----------
    intent : BuildIntent
        What build.toml says.
    laid, unlaid : mapping
        As `lay_joints` returns them.
    moves : mapping
        Of the parts that were laid, as `DrawnParts` has them then.
    recorded : mapping
        Holes of each part by label, as the record has them.
    """
    joining = _Joining(recorded, moves)
    for joint in laid.values():
        joining.claim(joint)
    places = {name: joining.places(joint) for name, joint in laid.items()}
    notices = dict.fromkeys(joining.notices)
    known = {pick for held in places.values() for place in held for pick in place.picks}
    waiting = {
        joint.id: Unlaid(unlaid[joint.id], tuple(_may_belong(joint, recorded, known)))
        for joint in intent.joints
        if joint.id in unlaid
    }
    return Joined(places, joining.holes, tuple(joining.blanks), tuple(notices), waiting)


def _may_belong(
    joint: JointIntent, recorded: Mapping[str, Mapping[str, HoleChange]], known: set[Pick]
) -> Iterator[Pick]:
    """Holes that a joint names, and those to be match-drilled in its parts, in no other place."""
    for layer in joint.layers:
        for label, hole in recorded.get(layer.part, {}).items():
            pick = Pick(layer.part, layer.copy, label)
            if (hole.diameter is None or layer.takes_in(label)) and pick not in known:
                yield pick


def _unlaid_notices(unlaid: Mapping[str, Unlaid]) -> Iterator[str]:
    for name, (why, _) in unlaid.items():
        yield f"{name} cannot be laid, and its holes wait: {why.rstrip('.')}"


class _Joining:
    """Gathers places and needs, joint by joint."""

    def __init__(
        self,
        recorded: Mapping[str, Mapping[str, HoleChange]],
        moves: Mapping[str, Alignment],
    ) -> None:
        self._moves = moves
        self._blank = {
            part: {label: hole for label, hole in holes.items() if hole.diameter is None}
            for part, holes in recorded.items()
        }
        self._used: dict[Pick, tuple[str, int]] = {}
        self.holes: dict[str, dict[str, HoleInJoint]] = {}
        self.blanks: list[Blank] = []
        self.notices: list[str] = []

    def claim(self, laid: LaidJoint) -> None:
        """Give each hole to the first place where it meets another layer."""
        shared: dict[str, list[str]] = {}
        for place in laid.places:
            for at in place.layers if len(place.layers) > 1 else ():
                said = laid.intent.layers[at.layer]
                where = laid.joint.name, place.number
                first = where
                if at.label:
                    first = self._used.setdefault(Pick(said.part, said.copy, at.label), where)
                if first != where:
                    shared.setdefault(first[0], []).append(f"{at.name}:{at.label}")
        for other, holes in shared.items():
            more = f" and {len(holes) - _MOST_HOLES} more" if len(holes) > _MOST_HOLES else ""
            self.notices.append(
                f"{', '.join(holes[:_MOST_HOLES])}{more}: in {other} and in {laid.joint.name}, and"
                f" taken as {other}'s; one rivet goes through a hole, so say by holes in build.toml"
                " to which it belongs"
            )

    def places(self, laid: LaidJoint) -> tuple[JointPlace, ...]:
        self.notices += [notice.text for notice in laid.notices]
        for rivet in laid.rivets:
            self.notices += [f"{laid.joint.name}: {text}" for text in _notices_of(rivet)]
        return tuple(self._place(laid, rivet) for rivet in laid.rivets)

    def _place(self, laid: LaidJoint, rivet: Rivet) -> JointPlace:
        picks: list[Pick] = []
        lacks: dict[str, None] = {}
        for order, at in enumerate(rivet.place.layers):
            said = laid.intent.layers[at.layer]
            label = at.label or self._entered(said.part, laid, at)
            if label is None:
                lacks[at.name] = None
                continue
            pick = Pick(said.part, said.copy, label)
            where = laid.joint.name, rivet.place.number
            if self._used.setdefault(pick, where) == where:
                self._need(said.part, label, _need_at(rivet, order))
                picks.append(pick)
        name, number = laid.joint.name, rivet.place.number
        return JointPlace(name, number, tuple(picks), rivet.designation, tuple(lacks))

    def _entered(self, part: str, laid: LaidJoint, at: PlaceLayer) -> str | None:
        """Label of the hole that was entered for match-drilling here; None if there is none."""
        drawn = complex(*(laid.joint.layers[at.layer].part.zero + at.position).tolist())
        place = self._moves.get(part, UNMOVED).undo(np.array([drawn]))[0]
        x, y = float(place.real), float(place.imag)
        near = [
            (math.hypot(hole.x - x, hole.y - y), label)
            for label, hole in self._blank.get(part, {}).items()
        ]
        distance, label = min(near, default=(math.inf, ""))
        if distance <= REACH:
            return label
        blank = Blank(part, laid.joint.name, x, y)
        if not any(_is_near(blank, other) for other in self.blanks):
            self.blanks.append(blank)
        return None

    def _need(self, part: str, label: str, need: HoleInJoint) -> None:
        known = self.holes.setdefault(part, {}).setdefault(label, need)
        if known[:2] != need[:2]:
            self.notices.append(
                f"{part}: its copies are made in different ways ({_said(known)} and {_said(need)}"
                f" at {label}): what is made in two ways is two parts; import the drawing under an"
                " id for each"
            )


def _need_at(rivet: Rivet, order: int) -> HoleInJoint:
    """What a place asks of the hole in its layer number `order`."""
    place = rivet.place
    treatment = rivet.stack.layers[order].treatment if rivet.stack else Treatment.PLAIN
    guided = any(other.has_hole for i, other in enumerate(place.layers) if i != order)
    return HoleInJoint(treatment, place.rivet.name if place.rivet else "", guided)


def _is_near(one: Blank, other: Blank) -> bool:
    return one.part == other.part and math.hypot(one.x - other.x, one.y - other.y) <= REACH


def _said(need: HoleInJoint) -> str:
    return f"{need.treatment or 'not known'}, {need.rivet}"


def _notices_of(rivet: Rivet) -> Iterator[str]:
    """What is to be seen to; that two lengths would do is told where rivets are listed."""
    if rivet.stack is not None:
        yield from (notice.text for notice in rivet.stack.notices)
    if rivet.choice is not None and rivet.choice.chosen is None:
        yield from (notice.text for notice in rivet.choice.notices)


# Holes to come ---------------------------------------------------------------------------------


def imports_for(
    joined: Joined,
    states: Mapping[str, PartState],
    recorded: Mapping[str, Mapping[str, HoleChange]],
    revisions: Mapping[str, Revision],
) -> tuple[Import, ...]:
    """Make what is to be entered so that every place has its holes in the record.

    Holes to come are given labels: a row of their own from three on in one joint, else single.
    Those that no joint wants any more are retired, unless they are drilled.

    Parameters
    ----------
    joined : Joined
        What the joints come to.
    states, recorded, revisions : mapping
        State, holes by label and drawing in force of each part.
    """
    found = []
    for part, revision in revisions.items():
        if part not in states:
            continue
        labels = FreeLabels(label for label in states[part].labels if label != "-")
        added = list(_labelled([b for b in joined.blanks if b.part == part], labels))
        wanted = joined.holes.get(part, {})
        gone = [
            HoleAsDrawn(Change.RETIRE, label, hole.x, hole.y, None, Drawn.NONE)
            for label, hole in recorded.get(part, {}).items()
            if hole.diameter is None
            and label not in wanted
            and not joined.unlaid
            and _untouched(states[part], label)
        ]
        if added or gone:
            found.append(Import(revision, (*added, *gone)))
    return tuple(found)


def _labelled(blanks: Sequence[Blank], labels: FreeLabels) -> Iterator[HoleAsDrawn]:
    for joint in dict.fromkeys(blank.joint for blank in blanks):
        own = [blank for blank in blanks if blank.joint == joint]
        letter = labels.next_letter() if len(own) >= _ROW else SINGLE
        for blank in own:
            label = labels.next_label(letter)
            yield HoleAsDrawn(Change.ADD, label, blank.x, blank.y, None, Drawn.NONE)


def _untouched(state: PartState, label: str) -> bool:
    return all(state.hole(copy, label).reached is None for copy in state.copies)
