"""Is the record whole? Nothing changed, nothing missing, and what is kept for speed is right.

Every problem found is returned as data. What this proves, and what it cannot, is in
docs/record.md.
"""

from __future__ import annotations

import sqlite3
from typing import NamedTuple

from holeschedule.errors import RecordError
from holeschedule.record import queries, rows
from holeschedule.record.database import DAMAGE, Connection, migrate
from holeschedule.record.events import FIRST_PREVIOUS, Head, hash_entry
from holeschedule.record.kept import read_parts


class Problem(NamedTuple):
    """Something wrong with the record. `entry` is the number of the entry it was found at.

    `code` is stable: file, schema, unreadable, missing, chain, changed, stray, undo, kept, noted.
    """

    code: str
    text: str
    entry: int | None = None


def find_problems(db: Connection, noted: Head | None = None) -> tuple[Problem, ...]:
    """Every problem of the record, in the order of the checks.

    Parameters
    ----------
    db : sqlite3.Connection
        Within a transaction.
    noted : Head
        A head noted down earlier; the record has to contain it.
    """
    found: list[Problem] = []
    for check in (_file, _schema, _chain, _undos, _kept):
        try:
            found += check(db)
        except (*DAMAGE, RecordError) as error:
            found.append(Problem("unreadable", f"{error} (while checking {check.__name__[1:]})"))
    if noted is not None:
        found += _noted(db, noted)
    return tuple(found)


def _file(db: Connection) -> list[Problem]:
    return [
        Problem("file", f"the file is damaged: {text}")
        for (text,) in db.execute("PRAGMA integrity_check")
        if text != "ok"
    ]


def _schema(db: Connection) -> list[Problem]:
    fresh = sqlite3.connect(":memory:", isolation_level=None)
    try:
        migrate(fresh)
        due, there = _objects(fresh), _objects(db)
    finally:
        fresh.close()
    found = [
        Problem("schema", f"{name} is missing: the record was open to changes")
        for name in sorted(due.keys() - there.keys())
    ]
    found += [
        Problem("schema", f"{name} is not part of a record")
        for name in sorted(there.keys() - due.keys())
    ]
    return found + [
        Problem("schema", f"{name} is not as it was made")
        for name in sorted(due.keys() & there.keys())
        if due[name] != there[name]
    ]


def _objects(db: Connection) -> dict[str, str]:
    rows_ = db.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL")
    return {f"{kind} {name}": sql for kind, name, sql in rows_}


def _chain(db: Connection) -> list[Problem]:
    found: list[Problem] = []
    strays: set[int] = set()
    due, previous = 1, FIRST_PREVIOUS
    for raw in rows.raw_entries(db, strays=strays):
        number, its_previous, its_hash = raw.row[0], raw.row[8], raw.row[9]
        if number != due:
            gap = f"entry {due} is" if number == due + 1 else f"entries {due} to {number - 1} are"
            found.append(Problem("missing", f"{gap} missing", due))
        elif its_previous != previous:
            text = f"entry {number} does not follow on entry {number - 1}: that one was changed"
            found.append(Problem("chain", text, number))
        found += _entry(raw, its_hash)
        due, previous = number + 1, its_hash
    return found + [
        Problem("stray", f"there are rows of entry {number}, which is not there", number)
        for number in sorted(strays)
    ]


def _entry(raw: rows.RawEntry, its_hash: str) -> list[Problem]:
    number = raw.row[0]
    try:
        is_whole = hash_entry(raw.fields()) == its_hash
    except TypeError:  # a value that no entry has, such as raw bytes
        is_whole = False
    if is_whole:
        return []
    parts = f"its {len(raw.events)} events, {len(raw.holes)} holes or {len(raw.revisions)} drawings"
    text = f"entry {number} is not as it was recorded: its own row or {parts} were changed"
    return [Problem("changed", text, number)]


def _undos(db: Connection) -> list[Problem]:
    return [
        Problem("undo", f"entry {number} takes back entry {target}, which is not before it", number)
        for number, target in db.execute(
            "SELECT number, takes_back FROM entry WHERE takes_back IS NOT NULL"
            " AND NOT takes_back BETWEEN 1 AND number - 1"
        )
    ]


def _kept(db: Connection) -> list[Problem]:
    folded = queries.fold_parts(db, queries.taken_back(db))
    kept = read_parts(db)
    return [
        Problem("kept", f"what is kept about {part} is not what the entries amount to; rebuild it")
        for part in sorted(folded.keys() | kept.keys())
        if folded.get(part) != kept.get(part)
    ]


def _noted(db: Connection, noted: Head) -> list[Problem]:
    row = db.execute("SELECT hash FROM entry WHERE number = ?", (noted.number,)).fetchone()
    if row is None:
        text = f"entry {noted.number}, noted down earlier, is not there: entries were cut off"
        return [Problem("noted", text, noted.number)]
    if row[0] != noted.hash:
        text = f"entry {noted.number} is another than the one noted down: the record was rewritten"
        return [Problem("noted", text, noted.number)]
    return []
