"""Audit many drawings at once: read, audit, spread over the cores."""

from __future__ import annotations

import gc
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from holeschedule.audit.measure import Intent
from holeschedule.audit.report import PartAudit, audit_part
from holeschedule.audit.rules import RuleSet
from holeschedule.errors import DrawingError, HoleScheduleError
from holeschedule.holes.part import Part
from holeschedule.holes.parts import ReadOptions, collector_paused, read_parts

Step = Callable[[Path], None]


@dataclass(frozen=True, slots=True)
class AuditRequest:
    """What to audit each drawing for. `part` is the number of the part on the drawing, from 1."""

    rules: RuleSet
    intent: Intent = field(default_factory=Intent)
    read: ReadOptions = field(default_factory=ReadOptions)
    part: int | None = None


@dataclass(frozen=True, slots=True)
class FileAudit:
    """What became of one file: the audits of its parts, or the error that stopped it."""

    path: Path
    parts: tuple[PartAudit, ...] = ()
    error: HoleScheduleError | None = None


def audit_file(path: Path, request: AuditRequest) -> FileAudit:
    """Audit the parts of one drawing; an error of the drawing is returned, not raised."""
    try:
        with collector_paused():
            parts = read_parts(path, request.read)
            chosen = _chosen(parts, request.part, path)
            return FileAudit(
                path, tuple(audit_part(part, request.rules, request.intent) for part in chosen)
            )
    except HoleScheduleError as error:
        return FileAudit(path, error=error)


def _audit_one(path: Path, request: AuditRequest) -> FileAudit:
    """One file of several: what reading it left behind is freed before the next."""
    result = audit_file(path, request)
    gc.collect()
    return result


def _chosen(parts: Sequence[Part], number: int | None, path: Path) -> Sequence[Part]:
    if number is None:
        return parts
    if not 1 <= number <= len(parts):
        have = "1 part" if len(parts) == 1 else f"{len(parts)} parts, counted from the left"
        raise DrawingError(f"{path}: no part {number}: the drawing has {have}. Correct --part.")
    return parts[number - 1 : number]


WORTH_SPREADING = 500_000
"""Bytes of drawings from which a second process pays for its start."""


def audit_files(
    paths: Sequence[Path], request: AuditRequest, step: Step | None = None
) -> list[FileAudit]:
    """Audit every file, in the order given, on all cores; `step` is called after each.

    Raises
    ------
    HoleScheduleError
        The system stopped one of the processes that share the work.
    """
    results = []
    with _mapped(paths) as spread:
        for result in spread(paths, request):
            results.append(result)
            if step:
                step(result.path)
    return results


Spread = Callable[[Sequence[Path], AuditRequest], Iterator[FileAudit]]


@contextmanager
def _mapped(paths: Sequence[Path]) -> Iterator[Spread]:
    """A way to audit files one after another, or side by side when that pays."""
    if len(paths) == 1:
        yield lambda paths, request: (audit_file(path, request) for path in paths)
        return
    workers = min(len(paths), _cores())
    if workers < 2 or sum(map(_bytes, paths)) < WORTH_SPREADING:
        yield lambda paths, request: (_audit_one(path, request) for path in paths)
        return
    from concurrent.futures import ProcessPoolExecutor  # noqa: PLC0415 - slow, not for one file
    from concurrent.futures.process import BrokenProcessPool  # noqa: PLC0415 - as above

    pool = ProcessPoolExecutor(workers, initializer=_leave_interrupts)
    try:
        yield lambda paths, request: pool.map(_audit_one, paths, [request] * len(paths))
    except BrokenProcessPool as error:
        raise HoleScheduleError(
            "the system stopped a process of the audit, most likely for want of memory."
            " Audit fewer or smaller drawings at once."
        ) from error
    finally:
        pool.shutdown(cancel_futures=True)


def _bytes(path: Path) -> int:
    try:
        return path.stat().st_size
    except (OSError, ValueError):  # reading it will say what is wrong
        return 0


def _leave_interrupts() -> None:
    """An interrupt from the keyboard is the first process's to answer, once."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
