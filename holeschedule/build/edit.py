"""Changes to build.toml by command: comments, order and line ends stay as they are."""

from __future__ import annotations

import codecs
import tomllib
from collections.abc import Callable, Mapping, Sequence
from difflib import SequenceMatcher
from typing import Any, cast

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT

from holeschedule.build.folder import BuildFolder, locked, write_whole
from holeschedule.build.intent import PART_KEYS, BuildIntent, parse_intent, parse_part
from holeschedule.build.joints import JOINT_KEYS, LAYER_KEYS, read_joint
from holeschedule.build.keys import read_text
from holeschedule.errors import BuildError

PartValue = str | int | float | bool
"""What a key of a part may be set to: written as it stands, in the file's units."""


def add_part(build: BuildFolder, values: Mapping[str, PartValue]) -> BuildIntent:
    """Write a new part behind the others.

    Parameters
    ----------
    build : BuildFolder
        Its build.toml is changed.
    values : mapping
        Keys of the part as build.toml has them, `id` and `drawing` at least.

    Returns
    -------
    BuildIntent
        What the file says now.

    Raises
    ------
    BuildError
        A key or value cannot be used, there is a part of that id, build.toml has a mistake or
        cannot be written, or another command is changing it. Then nothing is changed.
    """
    with locked(build):
        intent, text = _read(build)
        name = parse_part(values, intent.units).id
        if any(part.id.casefold() == name.casefold() for part in intent.parts):
            raise BuildError(f"{build.file}: there is a part {name!r} already. Change that one.")

        def change(document: Any) -> None:
            _append(document, {key: values[key] for key in PART_KEYS if key in values})

        def wanted(cells: dict[str, Any]) -> None:
            cells.setdefault("part", []).append(dict(values))

        return _change(build, text, change, wanted, lines=1)


def change_part(
    build: BuildFolder, part: str, values: Mapping[str, PartValue | None]
) -> BuildIntent:
    """Set keys of a part; None takes a key out.

    Parameters
    ----------
    build : BuildFolder
        Its build.toml is changed.
    part : str
        The id of the part, in any case.
    values : mapping
        Keys of the part as build.toml has them.

    Returns
    -------
    BuildIntent
        What the file says now.

    Raises
    ------
    BuildError
        There is no such part; or for the reasons given at `add_part`.
    """
    with locked(build):
        intent, text = _read(build)
        place = intent.parts.index(intent.part_named(part))
        _check_change(build, text, place, values, intent)

        def change(document: Any) -> None:
            _set(document["part"][place], values)

        def wanted(cells: dict[str, Any]) -> None:
            _set(cells["part"][place], values)

        return _change(build, text, change, wanted, lines=len(values))


def add_joint(build: BuildFolder, values: Mapping[str, object]) -> BuildIntent:
    """Write a new joint behind the others.

    Parameters
    ----------
    build : BuildFolder
        Its build.toml is changed.
    values : mapping
        Keys of the joint as build.toml has them; `layer` is a list of mappings.

    Returns
    -------
    BuildIntent
        What the file says now.

    Raises
    ------
    BuildError
        There is a joint of that id; or for the reasons given at `add_part`.
    """
    with locked(build):
        intent, text = _read(build)
        name = read_joint(
            values, {part.id: part.quantity for part in intent.parts}, intent.units
        ).id
        if any(joint.id == name for joint in intent.joints):
            raise BuildError(
                f"{build.file}: there is a joint {name} already. Change that one there, and then"
                " run `join`; or take the next free name."
            )
        layers = cast("list[Mapping[str, object]]", values["layer"])
        ordered = _in_order(values, JOINT_KEYS)
        ordered["layer"] = [_in_order(layer, LAYER_KEYS) for layer in layers]

        def change(document: Any) -> None:
            _append_joint(document, ordered)

        def wanted(cells: dict[str, Any]) -> None:
            cells.setdefault("joint", []).append(ordered)

        return _change(build, text, change, wanted, lines=1)


def _in_order(values: Mapping[str, object], keys: Sequence[str]) -> dict[str, Any]:
    return {key: values[key] for key in keys if key in values}


def _append_joint(document: Any, values: dict[str, Any]) -> None:
    joint = tomlkit.table()
    for key, value in values.items():
        if key != "layer":
            joint.append(key, value)
    layers = tomlkit.aot()
    for layer in values["layer"]:
        table = tomlkit.table()
        table.update(layer)
        table.trivia.indent = "\n"
        layers.append(table)
    joint.append("layer", layers)
    joint.trivia.indent = "\n"
    if "joint" not in document:
        document.append("joint", tomlkit.aot())
    document["joint"].append(joint)


def _check_change(
    build: BuildFolder,
    text: str,
    place: int,
    values: Mapping[str, PartValue | None],
    intent: BuildIntent,
) -> None:
    """See that the part can be read as it is going to be."""
    cells = tomllib.loads(text)["part"][place]
    _set(cells, values)
    name = parse_part(cells, intent.units).id
    others = (part.id.casefold() for part in intent.parts if part is not intent.parts[place])
    if name.casefold() in others:
        raise BuildError(f"{build.file}: there is a part {name!r} already. Take another id.")


def _set(cells: Any, values: Mapping[str, PartValue | None]) -> None:
    for key, value in values.items():
        if value is not None:
            cells[key] = value
        elif key in cells:
            del cells[key]


def _append(document: Any, values: Mapping[str, PartValue]) -> None:
    table = tomlkit.table()
    for key, value in values.items():
        table.append(key, value)
    parts = document.get("part")
    if parts is None:
        parts = tomlkit.aot()
        document.append("part", parts)
    if isinstance(parts, AoT):
        # a blank line between it and what stands before
        table.trivia.indent = "\n"
        parts.append(table)
    else:
        inline = tomlkit.inline_table()
        inline.update(values)
        parts.append(inline)


# Reading and writing ---------------------------------------------------------------------------


def _read(build: BuildFolder) -> tuple[BuildIntent, str]:
    text = read_text(build.file)
    return parse_intent(text, str(build.file)), text


def _change(
    build: BuildFolder,
    text: str,
    change: Callable[[Any], None],
    wanted: Callable[[dict[str, Any]], None],
    lines: int,
) -> BuildIntent:
    """Change the file's text and write it, if it then says what is wanted and nothing else.

    Of the lines there were, no more than `lines` may read otherwise: comments are nothing that a
    comparison of values would miss.
    """
    meant = tomllib.loads(text)
    wanted(meant)
    try:
        document = tomlkit.parse(text)
        change(document)
        changed = _with_line_ends_of(text, tomlkit.dumps(document))
        is_sound = tomllib.loads(changed) == meant and _lines_lost(text, changed) <= lines
    except (TOMLKitError, tomllib.TOMLDecodeError, RecursionError):
        is_sound = False
    if not is_sound:
        raise BuildError(
            f"{build.file}: is written in a way that no command can change without disturbing the"
            " rest of it. Nothing was changed; edit the file by hand."
        )
    intent = parse_intent(changed, str(build.file))
    if changed != text:
        mark = codecs.BOM_UTF8 if _has_mark(build) else b""
        write_whole(build.file, mark + changed.encode())
    return intent


def _lines_lost(text: str, changed: str) -> int:
    """How many lines of a text are not in another, in their order."""
    old, new = text.splitlines(), changed.splitlines()
    least = min(len(old), len(new))
    head = next((n for n in range(least) if old[n] != new[n]), least)
    # what is far from the change need not be searched
    tail = next((n for n in range(least - head) if old[-1 - n] != new[-1 - n]), least - head)
    old, new = old[head : len(old) - tail], new[head : len(new) - tail]
    blocks = SequenceMatcher(None, old, new, autojunk=False).get_matching_blocks()
    return len(old) - sum(block.size for block in blocks)


def _has_mark(build: BuildFolder) -> bool:
    with build.file.open("rb") as file:
        return file.read(len(codecs.BOM_UTF8)) == codecs.BOM_UTF8


def _with_line_ends_of(text: str, changed: str) -> str:
    """Line ends as the file has them; where it has both kinds, only the new ones are plain."""
    if text.count("\r\n") < text.count("\n") or "\n" not in text:
        return changed
    return changed.replace("\r\n", "\n").replace("\n", "\r\n")
