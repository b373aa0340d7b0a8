"""What each hole needs, from build.toml and the holes as drawn; kept in a cache of the build.

Reading build.toml and the tables takes longer than marking a row, so the answer is kept in
`.cache/intents` of the build folder, under a key made of everything it follows from. A cache that
is missing, stale or damaged is made again; one that cannot be written is done without.
"""

# What only a new answer needs is imported where it is made: marking reads the one that is kept.
# ruff: noqa: PLC0415

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import TYPE_CHECKING, cast

from holeschedule import __version__
from holeschedule.operations import Treatment
from holeschedule.record.database import Connection, reading
from holeschedule.record.events import hash_entry
from holeschedule.record.needs import HoleNeeds, PartNeeds
from holeschedule.record.places import NO_PLACES, Places
from holeschedule.record.routes import Drawn
from holeschedule.work.kept import CACHE, FORMAT, Intents, kept_intents

if TYPE_CHECKING:
    from pathlib import Path

    from holeschedule.build.intent import BuildIntent, HoleIntent, PartIntent
    from holeschedule.model import Notice
    from holeschedule.record.drawn import HoleChange
    from holeschedule.record.store import Record
    from holeschedule.work.joining import HoleInJoint, Joined


def load_intents(folder: str, record: Record, db: Connection) -> Intents:
    """What the parts of a build need, from the cache where it is good.

    Parameters
    ----------
    folder : str
        The build's folder.
    record : Record
        Its record, open.
    db : Connection
        The connection of the record.

    Raises
    ------
    BuildError
        build.toml cannot be read or has a mistake.
    RecordError
        The record cannot be read.
    """
    key = _key(folder, db)
    path = os.path.join(folder, CACHE, "intents")  # noqa: PTH118 (no pathlib here)
    kept = kept_intents(path, key) if key else None
    if kept is not None:
        return kept
    from pathlib import Path

    from holeschedule.build.folder import BuildFolder
    from holeschedule.build.intent import read_intent

    intent = read_intent(BuildFolder(Path(folder)))
    drawn = {part.id: record.holes(part.id) for part in intent.parts}
    joined = None
    if intent.joints:
        from holeschedule.work.drawn_parts import DrawnParts
        from holeschedule.work.joining import join_up, lay_joints, rules_of

        build = BuildFolder(Path(folder))
        parts = DrawnParts(build, record, db, intent)
        laid, unlaid = lay_joints(parts, intent, rules_of(build, intent))
        joined = join_up(intent, laid, unlaid, parts.moves, drawn)
    found = derive_intents(intent, drawn, joined)
    if key and key == _key(folder, db):
        from holeschedule.work.keeping import keep_intents

        keep_intents(path, key, found)
    return found


def _key(folder: str, db: Connection) -> str:
    """Hash of everything that the intents follow from; empty where build.toml cannot be read."""
    try:
        with open(os.path.join(folder, "build.toml"), "rb") as file:  # noqa: PTH118, PTH123
            text = file.read().decode("latin-1")
    except OSError:
        return ""
    place = cast("Path", os.path.join(folder, "record.sqlite"))  # noqa: PTH118 (only for errors)
    with reading(db, place) as read:
        (drawn,) = read.execute(_LAST_OF_DRAWINGS).fetchone()
    return hash_entry([FORMAT, __version__, text, drawn])


_LAST_OF_DRAWINGS = """
WITH RECURSIVE about(number) AS (
    SELECT entry FROM revision
    UNION SELECT entry.number FROM entry JOIN about ON entry.takes_back = about.number
)
SELECT max(number) FROM about
"""
"""The last entry that changed which drawings count: one that brought some in, or took that back."""


# Deriving --------------------------------------------------------------------------------------


def derive_intents(
    intent: BuildIntent,
    drawn: Mapping[str, Mapping[str, HoleChange]],
    joined: Joined | None = None,
) -> Intents:
    """What each hole needs.

    Parameters
    ----------
    intent : BuildIntent
        What build.toml says.
    drawn : mapping
        Holes of each part by label, as the record has them.
    joined : Joined, optional
        What the joints come to.

    Returns
    -------
    Intents
        The treatment is what build.toml says of the hole, else it follows from head, rivet and
        sheet (`treatment_for`). The rivet is the one stated, else that of the drawn hole. A hole
        in a joint is given what its place asks for.
    """
    needs: dict[str, PartNeeds] = {}
    undecided: dict[str, frozenset[str]] = {}
    notices: dict[str, None] = {}
    for part in intent.parts:
        deriving = _Deriving(part, joined.holes.get(part.id, {}) if joined else {})
        by_label = {label: deriving.need(hole) for label, hole in drawn[part.id].items()}
        needs[part.id] = _part_needs(part, by_label)
        if deriving.undecided:
            undecided[part.id] = frozenset(deriving.undecided)
        notices.update(dict.fromkeys(notice.text for notice in deriving.notices))
    notices.update(dict.fromkeys(joined.told if joined else ()))
    places = Places(joined.places, joined.unlaid) if joined else NO_PLACES
    return Intents(needs, undecided, tuple(notices), intent.name, places)


def _part_needs(part: PartIntent, by_label: Mapping[str, HoleNeeds]) -> PartNeeds:
    counted: dict[HoleNeeds, int] = {}
    for need in by_label.values():
        counted[need] = counted.get(need, 0) + 1
    usual = max(counted, key=lambda need: counted[need], default=HoleNeeds())
    return PartNeeds(
        part.quantity,
        part.work,
        usual,
        {label: need for label, need in by_label.items() if need != usual},
    )


class _Deriving:
    """Needs of the holes of one part; holes alike in all that matters are looked at once."""

    def __init__(self, part: PartIntent, in_joints: Mapping[str, HoleInJoint]) -> None:
        self._part = part
        self._in_joints = in_joints
        self._known: dict[tuple[HoleIntent, float | None], tuple[HoleNeeds, Notice | None]] = {}
        self._usual = None if part.holes else part.for_hole("A1")
        self.undecided: list[str] = []
        self.notices: list[Notice] = []

    def need(self, hole: HoleChange) -> HoleNeeds:
        joint = self._in_joints.get(hole.label)
        if joint is not None:
            if joint.treatment is None:
                self.undecided.append(hole.label)
            return _joint_need(joint, hole.diameter)
        said = self._usual or self._part.for_hole(hole.label)
        if (said, hole.diameter) not in self._known:
            need, notice = hole_need(self._part, said, hole.diameter)
            self._known[said, hole.diameter] = need, notice
            self.notices += [notice] if notice else []
        need, notice = self._known[said, hole.diameter]
        if notice:
            self.undecided.append(hole.label)
        return need


def _joint_need(joint: HoleInJoint, diameter: float | None) -> HoleNeeds:
    """What a hole in a joint needs; `diameter` [in] as drawn, None where none is."""
    from holeschedule.tables import rivet_size

    treatment = joint.treatment or Treatment.PLAIN
    if not joint.rivet:
        return HoleNeeds(treatment, takes_rivet=False, guided=joint.guided)
    return HoleNeeds(
        treatment,
        drawn=drawn_as(diameter, joint.rivet),
        final_drill=rivet_size(joint.rivet).final_drill.size,
        rivet=joint.rivet,
        guided=joint.guided,
    )


def hole_need(
    part: PartIntent, said: HoleIntent, diameter: float | None
) -> tuple[HoleNeeds, Notice | None]:
    """What one hole needs, and a notice where its treatment is still to be chosen.

    `diameter` [in] is that of the hole as drawn, None where none is drawn.
    """
    from holeschedule.build.intent import NO_RIVET, treatment_for
    from holeschedule.tables import rivet_for_hole, rivet_size

    found = None if diameter is None else rivet_for_hole(diameter)
    rivet = None if said.rivet == NO_RIVET else found and found[0]
    if said.rivet not in (None, NO_RIVET):
        rivet = rivet_size(said.rivet)
    if rivet is None:
        stated = said.treatment or Treatment.PLAIN
        return HoleNeeds(stated, takes_rivet=False, drawn=drawn_as(diameter, said.rivet)), None
    treatment, notice = said.treatment, None
    if treatment is None:
        # where a wedge is thinnest, what a flush head asks for is hardest to give
        thinnest = min((thickness for _, thickness in part.taper), default=None)
        sheet = thinnest if part.thickness is None else part.thickness
        treatment, notice = treatment_for(part.id, rivet.dash, sheet, said.head)
    return (
        HoleNeeds(
            treatment or Treatment.PLAIN,
            drawn=drawn_as(diameter, said.rivet),
            final_drill=rivet.final_drill.size,
            rivet=rivet.name,
        ),
        notice,
    )


def drawn_as(diameter: float | None, rivet: str | None) -> Drawn:
    """How a hole is drawn for its rivet: not at all, smaller than final size, or at final size.

    Parameters
    ----------
    diameter : float [in], optional
        None where no hole is drawn.
    rivet : str, optional
        The rivet as build.toml states it, which may be none; by the diameter where nothing is
        said. A hole that takes no rivet is as it is meant to be.
    """
    from holeschedule.build.intent import NO_RIVET
    from holeschedule.model import HoleSize
    from holeschedule.tables import SLACK, rivet_for_hole, rivet_size, value_named

    if diameter is None:
        return Drawn.NONE
    if rivet == NO_RIVET:
        return Drawn.FINAL
    if rivet is None:
        found = rivet_for_hole(diameter)
        return Drawn.PILOT if found and found[1] is HoleSize.PILOT else Drawn.FINAL
    size = rivet_size(rivet)
    reach = value_named("hole_size_tolerance").value + SLACK
    passes = size.shank_diameter + value_named("drill_match_tolerance").value + SLACK
    is_final = diameter >= min(size.final_diameters) - reach and diameter > passes
    return Drawn.FINAL if is_final else Drawn.PILOT
