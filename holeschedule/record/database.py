"""The file of a record: open it, read and write it in transactions, say what is wrong with it.

The file is an SQLite database with a rollback journal (`journal_mode=DELETE`): at rest it is one
file, which can be copied, moved, renamed and carried on a USB stick. A write-ahead log would keep
part of the record in a second file, and would have to write even to read. `synchronous=EXTRA` is
FULL and one step more: the folder is brought to the disk as well once the journal is gone, without
which a power cut could bring the journal back, and with it take back a command that had returned.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, NoReturn

from holeschedule.errors import RecordError

if TYPE_CHECKING:
    from pathlib import Path

APPLICATION_ID = 0x484F4C45
"""Marks the file as a record in its header: HOLE in ASCII."""

SYNCHRONOUS = "EXTRA"
"""What a commit waits for: the data, the journal, and the folder once the journal is gone."""

BUSY_SECONDS = 10.0
"""How long a command waits for another program that is writing."""

Connection = sqlite3.Connection

_RESTORE = "It was left as it is; keep it, and go on with your last good copy"


# Migrations ------------------------------------------------------------------------------------


def _first_version(db: Connection) -> None:
    for statement in schema_statements():
        db.execute(statement)
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")


MIGRATIONS: list[Callable[[Connection], None]] = [_first_version]
"""Step n brings a record from version n to n + 1, within the transaction that then writes."""


def schema_statements() -> list[str]:
    """Statements of version 1, one by one, as a script would end the transaction."""
    from pathlib import Path  # noqa: PLC0415 (only new records need it; the rest starts faster)

    found, text = [], ""
    for line in Path(__file__).with_name("schema.sql").read_text(encoding="utf-8").splitlines():
        if text or (line and not line.startswith("--")):
            text += line + "\n"
        if text and sqlite3.complete_statement(text):
            found.append(text.strip())
            text = ""
    return found


def migrate(db: Connection) -> None:
    """Bring a record to the present version, within a transaction that is open."""
    version = _version(db)
    for step in MIGRATIONS[version:]:
        step(db)
    if version < len(MIGRATIONS):
        db.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")


# Opening ---------------------------------------------------------------------------------------


def connect(path: Path, *, create: bool) -> Connection:
    """Open the record at `path`; with `create`, start it where there is no file or an empty one.

    Raises
    ------
    RecordError
        There is none and `create` is False, or the file is not a record that can be read.
    """
    try:
        is_there = path.exists()
    except OSError as error:
        raise RecordError(
            f"{path}: cannot be reached ({error.strerror}). Allow reading it."
        ) from error
    if not (create or is_there):
        raise RecordError(f"{path}: there is no record here. Start one, or correct the path.")
    with errors_told(path):
        db = sqlite3.connect(path, timeout=BUSY_SECONDS, isolation_level=None)
    try:
        with errors_told(path):
            db.execute(f"PRAGMA synchronous = {SYNCHRONOUS}")
            _check(db, path, create=create)
            if _version(db) == 0:
                with writing(db, path):
                    pass  # a new record: the migrations are all there is to write
    except BaseException:
        db.close()
        raise
    return db


def _version(db: Connection) -> int:
    (version,) = db.execute("PRAGMA user_version").fetchone()
    return int(version)


def _check(db: Connection, path: Path, *, create: bool) -> None:
    (mark,) = db.execute("PRAGMA application_id").fetchone()
    version = _version(db)
    (tables,) = db.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if mark == 0 and tables == 0 and version == 0:
        if not create:
            raise RecordError(
                f"{path}: the file is empty, which a record never is. Restore it from a copy, or"
                " delete it and start a new record."
            )
    elif mark != APPLICATION_ID:
        raise RecordError(
            f"{path}: is a database of another program, not a record. Correct the path."
        )
    if version > len(MIGRATIONS):
        raise RecordError(
            f"{path}: was written by a newer holeschedule (record version {version}; this one"
            f" reads up to {len(MIGRATIONS)}). Install the newer holeschedule."
        )


# Transactions ----------------------------------------------------------------------------------


@contextmanager
def reading(db: Connection, path: Path) -> Iterator[Connection]:
    """One consistent view of the record; writes nothing.

    A record of an older version is read from a migrated copy in memory, and stays as it is.
    """
    with errors_told(path):
        db.execute("BEGIN")
        try:
            _check(db, path, create=True)
            if _version(db) == len(MIGRATIONS):
                yield db
                return
            with _migrated_copy(db) as copy:
                yield copy
        finally:
            with suppress(sqlite3.Error):  # nothing was written: there is nothing to lose
                db.execute("ROLLBACK")


@contextmanager
def _migrated_copy(db: Connection) -> Iterator[Connection]:
    copy = sqlite3.connect(":memory:", isolation_level=None)
    try:
        db.backup(copy)
        migrate(copy)
        yield copy
    finally:
        copy.close()


@contextmanager
def writing(db: Connection, path: Path) -> Iterator[Connection]:
    """One transaction: all of it is on the disk when the block has ended, or none of it is.

    It begins by keeping other writers out, so what is read in it cannot change before it ends.
    """
    with errors_told(path):
        # a program that set a write-ahead log has no say in how this record is kept; the first
        # line looks into the file, without which the second would go by what was there before
        db.execute("PRAGMA schema_version").fetchone()
        db.execute("PRAGMA journal_mode = DELETE").fetchone()
        db.execute("BEGIN IMMEDIATE")
        try:
            _check(db, path, create=True)
            migrate(db)
            yield db
            db.execute("COMMIT")
        finally:
            if db.in_transaction:
                with suppress(sqlite3.Error):  # the first error is the one to tell
                    db.execute("ROLLBACK")


# Errors ----------------------------------------------------------------------------------------

_TELL = {
    sqlite3.SQLITE_READONLY_ROLLBACK: "a command was cut off while it wrote, and what it left has"
    " to be taken back first, which needs writing. Allow writing to the file and its folder",
    sqlite3.SQLITE_FULL: "the disk is full; nothing of this command was recorded. Make room and"
    " repeat the command",
    sqlite3.SQLITE_IOERR: "the disk does not take or give the data ({error}); nothing of this"
    " command was recorded. See to the disk and repeat the command",
    sqlite3.SQLITE_READONLY: "may be read but not written. Allow writing to the file and its"
    " folder, or copy the build to where you may write",
    sqlite3.SQLITE_PERM: "may not be opened. Allow reading of the file",
    sqlite3.SQLITE_CANTOPEN: "cannot be opened, or its folder cannot be written to. Allow reading"
    " and writing of the file and its folder",
    sqlite3.SQLITE_BUSY: f"another program has been writing for {BUSY_SECONDS:.0f} seconds;"
    " nothing of this command was recorded. Repeat the command when it has ended",
    sqlite3.SQLITE_LOCKED: "another program is writing; nothing of this command was recorded."
    " Repeat the command",
    sqlite3.SQLITE_CORRUPT: f"the file is damaged ({{error}}). {_RESTORE}",
    sqlite3.SQLITE_NOTADB: f"is not a record, or its beginning is damaged. {_RESTORE}",
    sqlite3.SQLITE_CONSTRAINT: "does not take the entry ({error}). Run verify",
}
DAMAGE = (sqlite3.DatabaseError, UnicodeDecodeError)
"""What reading a damaged file raises; the second where even SQLite's own message is damaged."""

_ELSE = f"cannot be read as a record ({{error}}). Run verify. {_RESTORE}"


@contextmanager
def errors_told(path: Path) -> Iterator[None]:
    """Turn what SQLite says into a RecordError of one line.

    Raises
    ------
    RecordError
        Instead of every error of the database; a mistake in how it is called passes through.
    """
    try:
        yield
    except sqlite3.ProgrammingError:
        raise
    except DAMAGE as error:
        _tell(path, error)


def _tell(path: Path, error: Exception) -> NoReturn:
    code: int = getattr(error, "sqlite_errorcode", 0)
    text = _TELL.get(code) or _TELL.get(code & 0xFF, _ELSE)
    raise RecordError(f"{path}: {text.format(error=' '.join(str(error).split()))}.") from error
