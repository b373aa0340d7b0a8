"""The build folder: where it is, and how a file in it is replaced.

::

    my-build/
      build.toml      what is intended
      drawings/       each drawing brought in, byte for byte
      record.sqlite   what was done

Nothing in it knows the folder's own name, so it can be moved and renamed.

Light on purpose, with a named tuple: every command finds its build first, and marking a row has to
be done before the builder looks up.
"""

from __future__ import annotations

import errno
import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import NamedTuple, NoReturn

from holeschedule.errors import BuildError

BUILD_FILE = "build.toml"
DRAWINGS = "drawings"
RECORD = "record.sqlite"
LOCK = ".build.lock"

PATIENCE = 5.0
"""Seconds that a command waits for another that is changing build.toml."""
_GLANCE = 0.02
"""Seconds between two looks at the lock."""


class BuildFolder(NamedTuple):
    """A build and the places in it. Equality is by path."""

    path: Path

    @property
    def file(self) -> Path:
        """What is intended."""
        return self.path / BUILD_FILE

    @property
    def drawings(self) -> Path:
        """Where the drawings are kept."""
        return self.path / DRAWINGS

    @property
    def record(self) -> Path:
        """What was done."""
        return self.path / RECORD


# Finding a build -------------------------------------------------------------------------------


def find_build(start: Path, stated: Path | None = None) -> BuildFolder:
    """Find the build of a command.

    Parameters
    ----------
    start : Path
        The folder the command runs in; it or a parent of it is the build.
    stated : Path, optional
        The build that the user names; then nothing is searched.

    Returns
    -------
    BuildFolder
        Its path is absolute.

    Raises
    ------
    BuildError
        There is no build; or what is called build.toml is not a file.
    """
    if stated is not None:
        return _stated_build(stated)
    folder = absolute(start)
    for place in (folder, *folder.parents):
        if _has_build_file(place):
            return BuildFolder(place)
    raise BuildError(
        f"{folder}: there is no build here, nor in a folder above: no {BUILD_FILE} was found."
        " Change to the build's folder, name it with --build, or start one with `new`."
    )


def _stated_build(stated: Path) -> BuildFolder:
    folder = absolute(stated)
    if folder.name == BUILD_FILE and not _is(folder, Path.is_dir):
        folder = folder.parent
    if _has_build_file(folder):
        return BuildFolder(folder)
    if not _is(folder, Path.is_dir):
        raise BuildError(f"{stated}: there is no such folder. Name the folder of a build.")
    raise BuildError(
        f"{stated}: is not a build, there is no {BUILD_FILE} in it. Name the folder of a build,"
        f" or start one with `new {stated}`."
    )


def absolute(path: Path) -> Path:
    """The path from the root, links not followed; never fails."""
    return Path(os.path.abspath(path))  # noqa: PTH100 (resolve() fails on a loop of links)


def _is(path: Path, kind: Callable[[Path], bool]) -> bool:
    """Whether a path is of a kind; False for one that may not be looked at."""
    try:
        return kind(path)
    except OSError:
        return False


def _has_build_file(folder: Path) -> bool:
    """Whether a build begins here; a build.toml that is no file ends the search."""
    path = folder / BUILD_FILE
    if _is(path, Path.is_file):
        return True
    if _is(path, Path.is_symlink) or _is(path, Path.exists):
        raise BuildError(f"{path}: is not a file, or a link to none. Put a {BUILD_FILE} there.")
    return False


# Writing ---------------------------------------------------------------------------------------


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that it is there whole, old or new, whatever happens meanwhile.

    The content goes to a hidden file beside it, reaches the disk, and takes the place of the old
    file, whose permissions it keeps. A link is followed. Once this has returned the new file
    survives a power cut.

    Raises
    ------
    BuildError
        The disk is full, the folder read-only, or anything else stands against it; then the old
        file is as it was.
    """
    try:
        target = path.resolve()
        beside = target.with_name(f".{target.name}.{os.getpid()}-{os.urandom(4).hex()}.part")
        try:
            _write_synced(beside, content, _mode_of(target))
            beside.replace(target)
        except BaseException:
            beside.unlink(missing_ok=True)
            raise
        _sync_folder(target.parent)
    except (OSError, RuntimeError, ValueError) as error:
        # RuntimeError: a loop of links, before Python 3.13
        raise BuildError(
            f"{path}: cannot be written ({reason(error)}). Nothing was changed; see to the disk"
            " and do it again."
        ) from error


def _mode_of(path: Path) -> int | None:
    try:
        return path.stat().st_mode & 0o777
    except FileNotFoundError:
        return None


def _write_synced(path: Path, content: bytes, mode: int | None) -> None:
    with path.open("xb") as file:
        if mode is not None:
            path.chmod(mode)
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _sync_folder(folder: Path) -> None:
    """Make the new name durable, where the system lets a folder be opened."""
    with suppress(PermissionError, IsADirectoryError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        except OSError as error:
            # some network disks have nothing to sync
            if error.errno not in (errno.EINVAL, errno.ENOTSUP):
                raise
        finally:
            os.close(handle)


def reason(error: Exception) -> str:
    """What the system says, without the path that it repeats."""
    return (error.strerror if isinstance(error, OSError) else None) or str(error)


# One change at a time --------------------------------------------------------------------------


@contextmanager
def locked(build: BuildFolder, patience: float = PATIENCE) -> Iterator[None]:
    """Keep other commands from changing build.toml meanwhile.

    The lock is the system's, on a hidden file in the folder: it ends with the process that holds
    it, however that ends, so it is never left behind.

    Raises
    ------
    BuildError
        Another command still holds it after `patience` seconds, or the folder is read-only.
    """
    path = build.path / LOCK
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
    except (OSError, ValueError) as error:
        raise BuildError(
            f"{build.path}: cannot be changed ({reason(error)}). See that the folder can be"
            " written to."
        ) from error
    try:
        _wait_for(handle, build, patience)
        # what a killed command has left; nobody else writes here while the lock is held
        for left in build.path.glob(f".{BUILD_FILE}.*.part"):
            left.unlink(missing_ok=True)
        yield
    finally:
        os.close(handle)


def _wait_for(handle: int, build: BuildFolder, patience: float) -> None:
    until = time.monotonic() + patience
    while not _try_lock(handle):
        if time.monotonic() >= until:
            _refuse_locked(build, patience)
        time.sleep(_GLANCE)


def _refuse_locked(build: BuildFolder, patience: float) -> NoReturn:
    raise BuildError(
        f"{build.file}: another command is changing it, and was not done after {patience:g} s."
        " Nothing was changed; try again when it is done."
    )


if sys.platform == "win32":
    import msvcrt

    def _try_lock(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _try_lock(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            if error.errno in (errno.EWOULDBLOCK, errno.EACCES):
                return False
            raise
        return True
