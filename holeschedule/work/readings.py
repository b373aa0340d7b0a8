"""How a drawing is read where the drawing alone does not say: kept beside it, as it was stated.

A drawing that states no unit, or whose layers were given roles, is read in the same way ever after:
`drawings/FL-101-r1.reading.toml` lies beside `drawings/FL-101-r1.dxf`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from holeschedule.build.folder import reason, write_whole
from holeschedule.build.start import toml_text
from holeschedule.errors import BuildError
from holeschedule.holes.parts import ReadOptions

_KEYS = ("units", "gap", "largest_hole")


@dataclass(frozen=True, slots=True)
class Reading:
    """How a drawing is read. Equality is by what was stated.

    `stated` are the options as typed, `layers` as `NAME=role`; `options` what they come to.
    """

    stated: tuple[tuple[str, str], ...] = ()
    layers: tuple[str, ...] = ()
    options: ReadOptions | None = None

    def is_kept(self, drawing: Path) -> bool:
        """Whether a drawing lies there and is read in this way."""
        if not drawing.is_file():
            return False
        held = read_reading(drawing)
        return (held.get("layers", []), _stated(held)) == (list(self.layers), self.stated)


def _stated(held: dict[str, object]) -> tuple[tuple[str, str], ...]:
    return tuple((key, str(held[key])) for key in _KEYS if key in held)


def reading_file(drawing: Path) -> Path:
    """Where the way a drawing is read is kept."""
    return drawing.with_suffix(".reading.toml")


def write_reading(drawing: Path, reading: Reading) -> None:
    """Keep how a drawing is read; nothing where nothing was stated.

    Raises
    ------
    BuildError
        The disk refuses.
    """
    path = reading_file(drawing)
    if not (reading.stated or reading.layers):
        path.unlink(missing_ok=True)
        return
    lines = ["# How the drawing of the same name is read: what the drawing does not say itself."]
    lines += [f"{key} = {toml_text(value)}" for key, value in reading.stated]
    if reading.layers:
        lines.append(f"layers = {_array(reading.layers)}")
    write_whole(path, "".join(f"{line}\n" for line in lines).encode())


def _array(texts: Sequence[str]) -> str:
    return "[" + ", ".join(map(toml_text, texts)) + "]"


def read_reading(drawing: Path) -> dict[str, object]:
    """What was stated of how a drawing is read: units, gap, largest_hole, layers.

    Raises
    ------
    BuildError
        It cannot be read.
    """
    path = reading_file(drawing)
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return {}
    except (OSError, ValueError) as error:
        what = reason(error) if isinstance(error, OSError) else " ".join(str(error).split())
        raise BuildError(f"{path}: cannot be read ({what}). Import the drawing again.") from error
