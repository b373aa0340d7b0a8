"""The tables that are kept for speed: how far each part is, without a look at what was recorded.

They follow from the record and can be rebuilt from it. Everything here works within a transaction
that its caller holds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from holeschedule.errors import RecordError
from holeschedule.operations import PartOperation
from holeschedule.record.database import Connection
from holeschedule.record.state import CopyState, PartState, decode_state, part_state

_Row = Sequence[Any]


def read_parts(db: Connection, part: str | None = None) -> dict[str, PartState]:
    """Parts with their holes and the work on them, as the kept tables have it; one part or all.

    A part of which every revision was taken back is not there.

    Raises
    ------
    RecordError
        A row is damaged.
    """
    copies: dict[str, dict[int, CopyState]] = {}
    for row in db.execute(
        "SELECT part, copy, operations, states FROM kept_copy WHERE ?1 IS NULL OR part = ?1",
        (part,),
    ):
        copies.setdefault(row[0], {})[row[1]] = _copy_of(row)
    found = db.execute(
        "SELECT part, labels, drawn FROM kept_part WHERE ?1 IS NULL OR part = ?1", (part,)
    )
    return {row[0]: _part_of(row, copies.get(row[0], {})) for row in found}


def _part_of(row: _Row, copies: Mapping[int, CopyState]) -> PartState:
    part, labels, drawn = row
    if not isinstance(part, str):
        raise _damaged_kept(part)
    try:
        return part_state(part, labels.split(), drawn, copies)
    except (ValueError, TypeError, AttributeError) as error:
        raise _damaged_kept(part) from error


def _copy_of(row: _Row) -> CopyState:
    part, copy, operations, states = row
    if not (isinstance(part, str) and isinstance(copy, int)):
        raise _damaged_kept(part)
    try:
        codes = tuple(map(int, states.split()))
        for code in set(codes):
            decode_state(code)
        return CopyState(
            frozenset(map(PartOperation, operations.split(",") if operations else ())), codes
        )
    except (ValueError, IndexError, AttributeError) as error:
        raise _damaged_kept(part) from error


def _damaged_kept(part: object) -> RecordError:
    return RecordError(
        f"part {part!r}: what is kept about it for speed is damaged. Run verify, then rebuild."
    )


def write_kept(db: Connection, before: PartState | None, after: PartState) -> None:
    """Bring the kept tables from one state of a part to another; None where it is not there."""
    part, had = after.part, before.copies if before else {}
    if before is None or after.labels != before.labels or after.drawn != before.drawn:
        texts = (" ".join(after.labels), after.drawn)
        db.execute("INSERT OR REPLACE INTO kept_part VALUES (?,?,?)", (part, *texts))
    for copy in had.keys() - after.copies.keys():
        db.execute("DELETE FROM kept_copy WHERE part = ? AND copy = ?", (part, copy))
    for copy, state in after.copies.items():
        if had.get(copy) != state:
            operations = ",".join(o for o in PartOperation if o in state.operations)
            texts = (operations, " ".join(map(str, state.codes)))
            db.execute("INSERT OR REPLACE INTO kept_copy VALUES (?,?,?,?)", (part, copy, *texts))


def rewrite_kept(db: Connection, part: str, after: PartState | None) -> None:
    """Put the state of a part into the kept tables in place of what is there."""
    db.execute("DELETE FROM kept_part WHERE part = ?", (part,))
    db.execute("DELETE FROM kept_copy WHERE part = ?", (part,))
    if after is not None:
        write_kept(db, None, after)
