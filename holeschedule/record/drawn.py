"""What a revision of a drawing brings: the holes of a part, and what changed about them."""

from enum import StrEnum
from typing import NamedTuple

from holeschedule.record.routes import Drawn


class Change(StrEnum):
    """What a revision of a drawing changes about a hole. A kept hole is not written down."""

    ADD = "add"
    MOVE = "move"
    RESIZE = "resize"
    RETIRE = "retire"


class Revision(NamedTuple):
    """A drawing brought in: its part and revision, the file and the file's SHA-256."""

    part: str
    revision: str
    drawing: str
    sha256: str


class HoleChange(NamedTuple):
    """A change to one hole of a part. `x`, `y` and `diameter` are inches.

    `number` is given by the record. `diameter` is None where the drawing has no hole.
    """

    part: str
    number: int
    label: str
    change: Change
    x: float
    y: float
    diameter: float | None
    drawn: Drawn


class HoleAsDrawn(NamedTuple):
    """A hole as a revision of the drawing has it, and how that differs from the one before."""

    change: Change
    label: str
    x: float
    y: float
    diameter: float | None
    drawn: Drawn


class Import(NamedTuple):
    """A revision of a part's drawing and the holes it changes; kept holes are left out."""

    revision: Revision
    holes: tuple[HoleAsDrawn, ...]
