"""Drawings that are to be brought in: read, and each part on them named as a part of the build."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from holeschedule.build.edit import PartValue
from holeschedule.build.folder import BuildFolder, absolute, reason
from holeschedule.build.intent import BuildIntent, PartIntent, parse_part
from holeschedule.errors import BuildError, DrawingError, HoleScheduleError
from holeschedule.holes.part import Part
from holeschedule.holes.parts import read_parts
from holeschedule.work.readings import Reading


@dataclass(frozen=True, slots=True)
class ImportRequest:
    """How drawings are to be brought in. Equality is by value.

    `part` is the id of the part, None for the name on the drawing. `number` picks one of the parts
    on a drawing, 1 from the left. `values` are keys of the part as build.toml has them.
    """

    part: str | None = None
    number: int | None = None
    values: Mapping[str, PartValue] = field(default_factory=dict)
    reading: Reading = field(default_factory=Reading)


@dataclass(frozen=True, eq=False)
class Target:
    """One part on a sheet and the part of the build it is. Compared by identity."""

    id: str
    number: int
    part: Part
    many: bool
    existing: PartIntent | None


@dataclass(frozen=True, eq=False)
class Sheet:
    """A drawing that was read, and the parts on it. Compared by identity."""

    path: Path
    content: bytes
    sha256: str
    targets: tuple[Target, ...]


def read_sheets(
    folder: BuildFolder, files: Sequence[Path], request: ImportRequest, intent: BuildIntent
) -> tuple[Sheet, ...]:
    """Read drawings and find which part of the build each part on them is.

    Raises
    ------
    HoleScheduleError
        A drawing cannot be read, a part has no name that can be used, a value of the request
        cannot be used, or two drawings are of one part.
    """
    sheets = tuple(_read_sheet(folder, path, request, intent) for path in files)
    seen: dict[str, Path] = {}
    for sheet in sheets:
        for target in sheet.targets:
            other = seen.setdefault(target.id.casefold(), sheet.path)
            if other is not sheet.path:
                raise BuildError(
                    f"{sheet.path}: is of the part {target.id}, and so is {other}. Import one of"
                    " them, or say --part."
                )
    return sheets


def _read_sheet(
    folder: BuildFolder, path: Path, request: ImportRequest, intent: BuildIntent
) -> Sheet:
    parts = read_parts(path, request.reading.options)
    try:
        content = path.read_bytes()
    except OSError as error:
        raise DrawingError(f"{path}: cannot be read ({reason(error)}). See to the file.") from error
    targets = tuple(
        Target(name, number, parts[number - 1], len(parts) > 1, existing_part(intent, name))
        for name, number in _names(folder, path, parts, request, intent)
    )
    for target in targets:
        _check_values(target, path.name, request, intent)
    return Sheet(path, content, hashlib.sha256(content).hexdigest(), targets)


def existing_part(intent: BuildIntent, name: str) -> PartIntent | None:
    """Find a part that build.toml has, in any case."""
    return next((part for part in intent.parts if part.id.casefold() == name.casefold()), None)


def _names(
    folder: BuildFolder,
    path: Path,
    parts: Sequence[Part],
    request: ImportRequest,
    intent: BuildIntent,
) -> list[tuple[str, int]]:
    """Ids of the parts on a drawing that are meant, each with its number there."""
    number = request.number
    if number is not None and not 1 <= number <= len(parts):
        has = "1 part" if len(parts) == 1 else f"{len(parts)} parts, counted from the left"
        raise DrawingError(f"{path}: no part {number}: the drawing has {has}. Correct --number.")
    if request.part is None:
        named = [part for part in intent.parts if part.drawing == path.name]
        if named and absolute(path).parent == folder.drawings and number is None:
            return [(part.id, part.number) for part in named if part.number <= len(parts)]
        every = [(_known(intent, part.name), n) for n, part in enumerate(parts, 1)]
        return every if number is None else every[number - 1 : number]
    name = _known(intent, request.part)
    existing = existing_part(intent, name)
    if number is None and existing is not None and existing.number <= len(parts):
        number = existing.number
    if number is not None or len(parts) == 1:
        return [(name, number or 1)]
    return [(f"{name}.{n}", n) for n in range(1, len(parts) + 1)]


def _known(intent: BuildIntent, name: str) -> str:
    existing = existing_part(intent, name)
    return existing.id if existing else name


def _check_values(
    target: Target, drawing: str, request: ImportRequest, intent: BuildIntent
) -> None:
    try:
        parse_part({"id": target.id, "drawing": "x.dxf", **request.values}, intent.units)
    except HoleScheduleError as error:
        raise BuildError(f"{drawing}: {error} (--part names the part.)") from error


def targets_of(sheets: Sequence[Sheet]) -> list[Target]:
    """Every part on the sheets, in their order."""
    return [target for sheet in sheets for target in sheet.targets]


def base_name(sheet: Sheet) -> str:
    """How the file of a drawing is called: by its part, or by what its parts have in common."""
    first = sheet.targets[0].id
    if len(sheet.targets) == 1:
        return first
    common = first.rpartition(".")[0]
    return common if common and all(t.id.startswith(common) for t in sheet.targets) else first
