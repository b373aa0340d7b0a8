"""Builds for the tests of the commands: drawings, a folder, and commands run in it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from tests.cli.commands import Ran, Runner
from tests.makers import plate_drawing, row_of, save

LOW, HIGH = row_of(0.5, 0.5, 0.75, 5), row_of(0.6, 1.5, 0.7, 5)
PILOT = 0.0625 + 0.02
"""Inches: a hole that is drilled up for a 3/32 rivet."""


def plate(folder: Path, name: str = "p-1.dxf", **how: Any) -> Path:
    """A plate with rows A and B of five holes, or as asked for."""
    return save(plate_drawing(**{"holes": [*LOW, *HIGH], **how}), folder, name)


class Shop:
    """A build in a folder of its own; commands are run as Ada, inside it."""

    def __init__(self, command: Runner, folder: Path) -> None:
        self._command = command
        self.sheets = folder / "sheets"
        self.sheets.mkdir()
        self.build = folder / "bay"
        assert command("new", self.build).status == 0

    def __call__(self, *arguments: object) -> Ran:
        return self._command(*arguments, "--build", self.build)

    def bring(self, name: str = "p-1.dxf", *options: object, **how: Any) -> Ran:
        """Draw a plate and import it."""
        return self("import", plate(self.sheets, name, **how), *options)

    def toml(self) -> str:
        return (self.build / "build.toml").read_text(encoding="utf-8")
