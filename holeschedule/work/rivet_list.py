"""The rivets that the joints of a build need, looked up in the build and told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from holeschedule.build.folder import BuildFolder
from holeschedule.build.intent import BuildIntent, read_intent
from holeschedule.build.joints import JointIntent
from holeschedule.errors import BuildError, JointError, TableError
from holeschedule.fastener_tables import LengthRule
from holeschedule.joints.joint_strength import joint_strengths
from holeschedule.joints.needed import RivetsNeeded, rivets_needed
from holeschedule.record.database import Connection
from holeschedule.record.store import Record
from holeschedule.units import LengthUnit
from holeschedule.views.rivet_data import rivet_csv, rivet_object
from holeschedule.views.rivet_text import rivet_lines
from holeschedule.work.drawn_parts import DrawnParts
from holeschedule.work.joining import lay_joints, rules_of


@dataclass(frozen=True, eq=False)
class RivetList:
    """Rivets of a build, and the unit to tell them in. Compared by identity."""

    needed: RivetsNeeded
    unit: LengthUnit

    @property
    def is_complete(self) -> bool:
        """Whether every joint could be laid and every place has a rivet that forms a head."""
        return self.needed.is_complete

    def as_text(self) -> str:
        """Tell them within 100 columns."""
        return "".join(f"{line}\n" for line in rivet_lines(self.needed, self.unit))

    def as_csv(self) -> str:
        """Return a line for each kind of rivet in each joint, then the totals with spares."""
        return rivet_csv(self.needed)

    def as_object(self) -> dict[str, Any]:
        """Return the JSON object `holeschedule.rivets/1`."""
        return rivet_object(self.needed, self.unit)


def rivet_list(
    folder: BuildFolder,
    record: Record,
    db: Connection,
    joints: Sequence[str],
    *,
    length: str | None = None,
    spares: int | None = None,
    strength: bool = False,
    show: str | None = None,
) -> RivetList:
    """List the rivets of joints.

    Parameters
    ----------
    folder, record, db : BuildFolder, Record, Connection
        The build.
    joints : sequence of str
        Names of joints in any case; all of them where there is none.
    length : str, optional
        A `LengthRule` for every joint, whatever build.toml says.
    spares : int, optional
        Percent on top; what build.toml says where None.
    strength : bool
        Also rivets per inch and load.
    show : str, optional
        Unit of lengths; the build's where None.

    Raises
    ------
    HoleScheduleError
        There is no such joint, a stock is no rivet, or the build cannot be read.
    """
    intent = read_intent(folder)
    wanted = _wanted(intent, joints)
    if length is not None:
        wanted = tuple(replace(joint, length=LengthRule(length)) for joint in wanted)
    rules = rules_of(folder, intent)
    drawn = DrawnParts(folder, record, db, intent)
    laid, unlaid = lay_joints(drawn, replace(intent, joints=wanted), rules)
    held = tuple(laid.values())
    materials = {part.id: part.material for part in intent.parts}
    rows = tuple(row for joint in held for row in joint_strengths(joint, materials))
    try:
        needed = rivets_needed(
            held,
            unlaid,
            rules,
            spares=intent.spares if spares is None else spares,
            stock=intent.stock,
            strengths=rows if strength else None,
        )
    except TableError as error:
        raise BuildError(f"build.toml, stock: {error}") from error
    metric = bool(held) and held[0].joint.layers[0].part.unit.is_metric
    drawn_in = LengthUnit.MILLIMETRE if metric else LengthUnit.INCH
    return RivetList(needed, LengthUnit(show) if show else intent.units or drawn_in)


def _wanted(intent: BuildIntent, names: Sequence[str]) -> tuple[JointIntent, ...]:
    known = {joint.id: joint for joint in intent.joints}
    for name in names:
        if name.upper() not in known:
            there = (
                ", ".join(sorted(known, key=lambda name: int(name[1:])))
                or "none yet; define one with `join`"
            )
            raise JointError(f"{name}: there is no such joint; the joints are {there}.")
    chosen = {name.upper() for name in names} or known.keys()
    return tuple(joint for joint in intent.joints if joint.id in chosen)
