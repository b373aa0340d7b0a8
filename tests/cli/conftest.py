"""Fixtures of the command line's tests."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.builds import Shop
from tests.cli.commands import Runner, runner
from tests.makers import plate_drawing, row_of, save


@pytest.fixture
def command(capsys: pytest.CaptureFixture[str]) -> Runner:
    """Run a command in this process."""
    return runner(capsys)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with four drawings: clean, short, metric, and one that is none."""
    folder = tmp_path_factory.mktemp("drawings")
    save(plate_drawing(holes=row_of(0.5, 0.3, 0.75, 5)), folder, "clean.dxf")
    save(plate_drawing(holes=row_of(0.5, 0.15, 0.75, 5)), folder, "short.dxf")
    corners = [(0, 0), (100, 0), (100, 50), (0, 50)]
    metric = plate_drawing(corners, row_of(15, 8, 20, 4), diameter=2.5, unit=4)
    save(metric, folder, "metric.dxf")
    (folder / "broken.dxf").write_text("not a drawing\n", encoding="ascii")
    return folder


@pytest.fixture
def shop(command: Runner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shop:
    """An empty build; work in it is Ada's."""
    monkeypatch.setenv("HOLESCHEDULE_BY", "Ada")
    return Shop(command, tmp_path)
