"""Running commands: in this process, or in one of their own for what only that shows."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from holeschedule.cli import run

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_dxf"
SCHEMA = json.loads((ROOT / "docs" / "audit.schema.json").read_text(encoding="utf-8"))


@dataclass(frozen=True)
class Ran:
    """What a command left: its exit status, stdout and stderr."""

    status: int
    out: str
    err: str

    @property
    def words(self) -> str:
        """Stdout on one line."""
        return " ".join(self.out.split())

    @property
    def complaint(self) -> str:
        """The only line of stderr, after a command that printed nothing else there."""
        (line,) = self.err.splitlines()
        return line

    @property
    def audit(self) -> dict[str, Any]:
        """Stdout as the JSON object it has to be."""
        read: dict[str, Any] = json.loads(self.out)
        jsonschema.validate(read, SCHEMA)
        return read

    def complaint_only(self) -> str:
        """What a command says that could do nothing at all."""
        assert (self.status, self.out) == (2, "")
        return self.complaint


Runner = Callable[..., Ran]


def runner(capsys: pytest.CaptureFixture[str]) -> Runner:
    """A function that runs `holeschedule` with some arguments in this process."""

    def run_it(*arguments: object) -> Ran:
        capsys.readouterr()
        status = run([str(argument) for argument in arguments])
        captured = capsys.readouterr()
        return Ran(status, captured.out, captured.err)

    return run_it


def in_own_process(arguments: Sequence[object], **options: Any) -> subprocess.CompletedProcess[str]:
    """`python -m holeschedule` with some arguments."""
    command = [sys.executable, "-m", "holeschedule", *map(str, arguments)]
    environment = {**os.environ, "PYTHONIOENCODING": "utf-8"}
    return subprocess.run(
        command, check=False, text=True, encoding="utf-8", env=environment, **options
    )
