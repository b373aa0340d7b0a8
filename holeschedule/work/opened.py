"""A build that is open for a command: its folder, its record, and what its holes need."""

# What marking a row does not need is imported where it is used.
# ruff: noqa: PLC0415

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple, cast

from holeschedule.errors import BuildError, RecordError
from holeschedule.record.database import Connection, connect
from holeschedule.record.store import Record
from holeschedule.work.intents import load_intents
from holeschedule.work.kept import Intents

if TYPE_CHECKING:
    from pathlib import Path

    from holeschedule.build.folder import BuildFolder

WHO = "HOLESCHEDULE_BY"
"""Environment variable: who works, where --by does not say."""


EARLIEST = 1970
"""Year. Work said to be older than that is a slip of the pen."""


class _Place(str):
    """A path that the record can be opened at: pathlib takes a tenth of the time of a mark."""

    __slots__ = ()

    def exists(self) -> bool:
        """Whether there is a file."""
        return os.path.exists(self)  # noqa: PTH110 (no pathlib here)


class OpenBuild(NamedTuple):
    """A build that is open. Equality is by identity of the record.

    `path` is its folder.
    """

    path: str
    record: Record
    db: Connection
    intents: Intents

    @property
    def folder(self) -> BuildFolder:
        """The build's folder with the places in it."""
        from pathlib import Path

        from holeschedule.build.folder import BuildFolder

        return BuildFolder(Path(self.path))

    @property
    def title(self) -> str:
        """Name of the build as build.toml has it, else of its folder."""
        return self.intents.name or os.path.basename(self.path)  # noqa: PTH119 (no pathlib here)


def find_folder(stated: str | None) -> BuildFolder:
    """Find the build that is stated, else the one this folder lies in.

    Raises
    ------
    BuildError
        There is none.
    """
    from pathlib import Path

    from holeschedule.build.folder import find_build

    try:
        return find_build(Path.cwd(), None if stated is None else Path(stated))
    except FileNotFoundError as error:
        raise BuildError("the folder you are in is no longer there. Change to another.") from error


def _find(stated: str | None) -> str:
    """Path of the build; found without pathlib where there is nothing to complain of."""
    if stated is None:
        try:
            here = os.getcwd()  # noqa: PTH109 (no pathlib here)
        except OSError:
            here = ""
        while here:
            if os.path.isfile(os.path.join(here, "build.toml")):  # noqa: PTH113, PTH118
                return here
            above = os.path.dirname(here)  # noqa: PTH120
            here = "" if above == here else above
    return str(find_folder(stated).path)


@contextmanager
def open_folder(
    folder: BuildFolder, *, create: bool = False
) -> Iterator[tuple[Record, Connection]]:
    """Open the record of a build; with `create`, start it where there is none.

    Raises
    ------
    RecordError
        There is none, or it cannot be used.
    """
    _check_there(folder.record, create=create)
    with open_record_at(folder.record, create=create) as opened:
        yield opened


def _check_there(path: Path, *, create: bool) -> None:
    if not create and not path.exists():
        raise RecordError(
            f"{path}: there is no record in this build. Bring a drawing in with `import`, or put"
            " the record back from your copy."
        )


@contextmanager
def open_record_at(path: Path, *, create: bool) -> Iterator[tuple[Record, Connection]]:
    """Open the record at `path`, which may be SQLite's own name for no file, `:memory:`.

    Raises
    ------
    RecordError
        There is none and `create` is False, or it cannot be used.
    """
    db = connect(path, create=create)
    with Record(path, db, lambda: datetime.now().astimezone()) as record:
        yield record, db


@contextmanager
def open_build(stated: str | None) -> Iterator[OpenBuild]:
    """Open the build that is stated, else the one this folder lies in.

    Raises
    ------
    HoleScheduleError
        There is none, or its record or build.toml cannot be used.
    """
    folder = _find(stated)
    place = cast("Path", _Place(os.path.join(folder, "record.sqlite")))  # noqa: PTH118
    _check_there(place, create=False)
    with open_record_at(place, create=False) as (record, db):
        yield OpenBuild(folder, record, db, load_intents(folder, record, db))


def worker(stated: str | None) -> str:
    """Who works: as stated, else `HOLESCHEDULE_BY`, else the login name.

    Raises
    ------
    RecordError
        None of them says, or what is stated is empty.
    """
    if stated is not None and not stated.strip():
        raise RecordError("--by is empty. Say who worked: --by NAME, or leave it out.")
    for name in (stated, *(os.environ.get(key) for key in (WHO, "LOGNAME", "USER", "USERNAME"))):
        if name and name.strip():
            return name.strip()
    try:
        import pwd  # what getpass looks in; that loads the terminal first

        return pwd.getpwuid(os.getuid()).pw_name
    except (ImportError, KeyError, AttributeError) as error:
        raise RecordError(f"who works is not known. Say --by NAME, or set {WHO}.") from error


def time_of(text: str | None, now: datetime | None = None) -> datetime | None:
    """When the work was done: `2026-03-05`, `2026-03-05 16:30`, or `16:30` for today.

    A date alone is noon of that day, or now if that is still to come.

    Raises
    ------
    RecordError
        The text is no time, or one before `EARLIEST`.
    """
    if text is None:
        return None
    present = (now or datetime.now()).astimezone()
    plain = text.strip()
    try:
        if ":" in plain and "-" not in plain:
            return datetime.fromisoformat(f"{present:%Y-%m-%d} {plain}").astimezone()
        read = datetime.fromisoformat(plain)
    except ValueError as error:
        raise RecordError(
            f"--at {text!r}: is no time. Write 2026-03-05, 2026-03-05 16:30, or 16:30 for today."
        ) from error
    if read.year < EARLIEST:
        raise RecordError(f"--at {text!r}: is before {EARLIEST}. Correct the year.")
    if ":" in plain:
        return read.astimezone()
    noon = read.replace(hour=12).astimezone()
    return present if noon > present and noon.date() == present.date() else noon
