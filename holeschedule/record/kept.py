"""The tables that are kept for speed: how far each part is, without a look at what was recorded.

They follow from the record and can be rebuilt from it. Everything here works within a transaction
that its caller holds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from itertools import chain, groupby
from operator import ne
from typing import Any

from holeschedule.operations import PartOperation
from holeschedule.record.database import Connection
from holeschedule.record.events import MOST_HOLES
from holeschedule.record.state import CopyState, PartState, damaged_kept, decode_state

_Row = Sequence[Any]

_EVERY = (
    "SELECT part, copy, operations, states FROM kept_copy",
    "SELECT part, labels, drawn FROM kept_part",
)
_ONE = (
    "SELECT part, copy, operations, states FROM kept_copy WHERE part = ?",
    "SELECT part, labels, drawn FROM kept_part WHERE part = ?",
)


def read_parts(db: Connection, part: str | None = None) -> dict[str, PartState]:
    """Parts with their holes and the work on them, as the kept tables have it; one part or all.

    A part of which every revision was taken back is not there.

    Raises
    ------
    RecordError
        A row is damaged.
    """
    (copies_of, parts_of), wanted = (_EVERY, ()) if part is None else (_ONE, (part,))
    copies: dict[str, dict[int, CopyState]] = {}
    for row in db.execute(copies_of, wanted):
        copies.setdefault(row[0], {})[row[1]] = _copy_of(row)
    found = db.execute(parts_of, wanted)
    return {row[0]: _part_of(row, copies.get(row[0], {})) for row in found}


def _part_of(row: _Row, copies: Mapping[int, CopyState]) -> PartState:
    part, labels, drawn = row
    if not isinstance(part, str):
        raise damaged_kept(part)
    if not (isinstance(labels, str) and isinstance(drawn, str)):
        raise damaged_kept(part)
    return PartState(part, labels, drawn, copies)


def _copy_of(row: _Row) -> CopyState:
    part, copy, operations, states = row
    if not (isinstance(part, str) and isinstance(copy, int)):
        raise damaged_kept(part)
    try:
        return CopyState(
            frozenset(map(PartOperation, operations.split(",") if operations else ())),
            _read_runs(states),
        )
    except (ValueError, IndexError, TypeError, AttributeError) as error:
        raise damaged_kept(part) from error


def _read_runs(text: str) -> tuple[int, ...]:
    """State numbers from what `_write_runs` wrote."""
    runs = list(map(_read_run, text.split()))
    if sum(map(len, runs)) > MOST_HOLES:
        raise ValueError(text)
    return tuple(chain.from_iterable(runs))


@lru_cache(maxsize=1 << 12)
def _read_run(run: str) -> tuple[int, ...]:
    code, _, times = run.partition("*")
    decode_state(int(code))  # an IndexError if there is no such state
    if not 1 <= int(times or 1) <= MOST_HOLES:
        raise ValueError(run)
    return (int(code),) * int(times or 1)


def _write_runs(codes: Sequence[int]) -> str:
    """State numbers with how often each follows on itself: neighbours are mostly alike."""
    if sum(map(ne, codes, codes[1:])) > len(codes) // 2:  # they are not, here: quicker one by one
        return " ".join(map(str, codes))
    runs = ((code, len(list(run))) for code, run in groupby(codes))
    return " ".join(f"{code}*{times}" if times > 1 else f"{code}" for code, times in runs)


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
            texts = (operations, _write_runs(state.codes))
            db.execute("INSERT OR REPLACE INTO kept_copy VALUES (?,?,?,?)", (part, copy, *texts))


def rewrite_kept(db: Connection, part: str, after: PartState | None) -> None:
    """Put the state of a part into the kept tables in place of what is there."""
    db.execute("DELETE FROM kept_part WHERE part = ?", (part,))
    db.execute("DELETE FROM kept_copy WHERE part = ?", (part,))
    if after is not None:
        write_kept(db, None, after)
