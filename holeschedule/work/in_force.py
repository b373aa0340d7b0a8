"""The drawings that the record has, and which revision of each part is in force."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from holeschedule.record.database import Connection, reading
from holeschedule.record.drawn import Revision
from holeschedule.record.queries import taken_back


class Recorded(NamedTuple):
    """A revision in the record, the entry it came with, and whether it is in force."""

    entry: int
    revision: Revision
    in_force: bool


def revisions(db: Connection, path: Path) -> tuple[Recorded, ...]:
    """Every revision that was brought in, in order, those that were taken back among them.

    Raises
    ------
    RecordError
        The record cannot be read.
    """
    with reading(db, path) as read:
        void = taken_back(read)
        rows = read.execute(
            "SELECT entry, part, revision, drawing, sha256 FROM revision ORDER BY entry, place"
        ).fetchall()
    return tuple(Recorded(row[0], Revision(*row[1:]), row[0] not in void) for row in rows)


def revisions_in_force(db: Connection, path: Path) -> dict[str, Revision]:
    """The last revision of each part that was not taken back."""
    return {held.revision.part: held.revision for held in revisions(db, path) if held.in_force}
