"""The layers of a joint: parts as they lie on each other, manufactured head first."""

from __future__ import annotations

from dataclasses import dataclass

from holeschedule.geometry.edges import FloatArray, IntArray
from holeschedule.geometry.placement import IN_PLACE, Placement
from holeschedule.holes.part import Part
from holeschedule.model import Head
from holeschedule.operations import Treatment
from holeschedule.tables import RivetSize


@dataclass(frozen=True, eq=False)
class Layer:
    """One part in a joint. Compared by identity.

    `name` is as selections write it, `FL-107#2` where there are several copies. `holes` (k,) are
    indices into `part.holes`: those that belong to the joint. `placement` carries the part's own
    frame (inches from `part.origin`) into the frame of the first layer, whose own is the identity.
    `thickness` [in] is None where it is not stated; `treatment` where nobody chose one.
    """

    name: str
    part: Part
    holes: IntArray
    placement: Placement = IN_PLACE
    thickness: float | None = None
    treatment: Treatment | None = None

    @property
    def centres(self) -> FloatArray:
        """(k, 2) array [in]: the joint's holes in the frame of the first layer."""
        return self.placement.move(self.part.centres[self.holes])


@dataclass(frozen=True, eq=False)
class Joint:
    """Parts that one lot of rivets holds together. Compared by identity.

    `layers` from the manufactured head on; the first is the one the others are placed on.
    `rivet` is None where the drawn holes tell it.
    """

    name: str
    layers: tuple[Layer, ...]
    rivet: RivetSize | None = None
    head: Head = Head.PROTRUDING
    title: str = ""
