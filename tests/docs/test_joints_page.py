"""The page on joints shows what its commands print, and the demo's row that does not fit."""

import contextlib
import io
import re
import shlex
import shutil

import pytest

from holeschedule.cli import run
from tests.docs.test_documentation import ROOT, blocks

PAGE = ROOT / "docs" / "joints.md"


@pytest.fixture
def in_a_folder(tmp_path, monkeypatch):
    for drawing in ("fl-101", "fl-103", "fl-104", "fl-109", "fl-111"):
        shutil.copy(ROOT / "sample_dxf" / f"{drawing}.dxf", tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOLESCHEDULE_BY", "Ada")
    return monkeypatch


def printed(words):
    """What a command prints, on either stream."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        run(words)
    return out.getvalue()


def test_the_page_on_joints_shows_what_its_commands_print(in_a_folder):
    for block in blocks(PAGE, "console"):
        for step in block.split("$ ")[1:]:
            line, _, shown = step.partition("\n")
            words = shlex.split(line)
            if words[0] == "cd":
                in_a_folder.chdir(words[1])
            else:
                assert printed(words[1:]).rstrip() == shown.rstrip()


def test_the_page_on_joints_shows_how_the_demos_flange_runs_long(in_a_folder):
    printed(["new", "bay"])
    in_a_folder.chdir("bay")
    printed(["import", "../fl-101.dxf", "../fl-104.dxf"])
    (line,) = re.findall(r"^holeschedule (fit .*--along)$", PAGE.read_text("utf-8"), re.MULTILINE)
    (shown,) = [b for b in blocks(PAGE, "text") if " along " in b.splitlines()[0]]
    assert printed(shlex.split(line)).startswith(shown)
