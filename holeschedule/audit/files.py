"""Audit many drawings at once: read, audit, spread over the cores."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from holeschedule.audit.measure import Intent
from holeschedule.audit.report import PartAudit, audit_part
from holeschedule.audit.rules import RuleSet
from holeschedule.errors import DrawingError, HoleScheduleError
from holeschedule.holes.part import Part
from holeschedule.holes.parts import ReadOptions, read_parts

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
        parts = read_parts(path, request.read)
        chosen = _chosen(parts, request.part, path)
        return FileAudit(
            path, tuple(audit_part(part, request.rules, request.intent) for part in chosen)
        )
    except HoleScheduleError as error:
        return FileAudit(path, error=error)


def _chosen(parts: Sequence[Part], number: int | None, path: Path) -> Sequence[Part]:
    if number is None:
        return parts
    if not 1 <= number <= len(parts):
        have = "1 part" if len(parts) == 1 else f"{len(parts)} parts, counted from the left"
        raise DrawingError(f"{path}: no part {number}: the drawing has {have}. Correct --part.")
    return parts[number - 1 : number]


def audit_files(
    paths: Sequence[Path], request: AuditRequest, step: Step | None = None
) -> list[FileAudit]:
    """Audit every file, in the order given, on all cores; `step` is called after each."""
    results = []
    with _mapped(len(paths)) as spread:
        for result in spread(paths, request):
            results.append(result)
            if step:
                step(result.path)
    return results


Spread = Callable[[Sequence[Path], AuditRequest], Iterator[FileAudit]]


@contextmanager
def _mapped(files: int) -> Iterator[Spread]:
    """A way to audit files one after another, or side by side when that pays."""
    workers = min(files, _cores())
    if workers < 2:
        yield lambda paths, request: (audit_file(path, request) for path in paths)
        return
    with ProcessPoolExecutor(workers) as pool:
        yield lambda paths, request: pool.map(audit_file, paths, [request] * len(paths))


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
