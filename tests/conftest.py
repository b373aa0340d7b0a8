"""How the searching tests run: the same examples every time, unless a search is asked for.

`python -m tests --hypothesis-profile searching` draws new examples, and more of them. What it finds
becomes an `@example` of its test.

What a test counted (`record_property("counted", ...)`) is told at the end of the run.
"""

import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile("steady", derandomize=True, database=None, deadline=None)
settings.register_profile(
    "searching",
    deadline=None,
    database=None,
    max_examples=1000,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("steady")


def pytest_terminal_summary(terminalreporter):
    counted = [
        told
        for reports in terminalreporter.stats.values()
        for report in reports
        for name, told in getattr(report, "user_properties", ())
        if name == "counted" and report.when == "call"
    ]
    if counted:
        terminalreporter.section("counted")
        for told in sorted(counted):
            terminalreporter.write_line(told)


@dataclass(frozen=True)
class Demo:
    """What `holeschedule demo --keep` left: its status, what it printed, and its build."""

    status: int
    out: str
    err: str
    folder: Path

    @property
    def bay(self):
        """Its build: to be read, or copied before it is changed."""
        return self.folder / "kept" / "bay"


PATIENCE = 300
"""Seconds that one worker waits for another to finish the demo."""


@pytest.fixture(scope="session")
def demo(tmp_path_factory):
    """The demo, done once a run: the worker that comes first does it, the others wait for it."""
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if base.name.startswith("popen-") else base) / "demo"
    try:
        folder.mkdir()
    except FileExistsError:
        end = time.monotonic() + PATIENCE
        while not (folder / "status").exists() and time.monotonic() < end:
            time.sleep(0.2)
    else:
        command = [sys.executable, "-m", "holeschedule", "demo", "--keep", str(folder / "kept")]
        done = subprocess.run(command, check=False, capture_output=True, encoding="utf-8")
        (folder / "out").write_text(done.stdout, encoding="utf-8")
        (folder / "err").write_text(done.stderr, encoding="utf-8")
        (folder / "part").write_text(str(done.returncode), encoding="utf-8")
        (folder / "part").rename(folder / "status")
    out, err, status = (
        (folder / name).read_text(encoding="utf-8") for name in ("out", "err", "status")
    )
    return Demo(int(status), out, err, folder)
