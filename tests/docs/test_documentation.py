"""The documentation says what the program does: its blocks are run, its lists compared."""

import ast
import contextlib
import io
import re
import shlex
import shutil
from pathlib import Path

import pytest

from holeschedule.cli import cli, run
from tests.test_layers import STAGES

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]


def blocks(page, language):
    text = page.read_text(encoding="utf-8")
    return re.findall(rf"^```{language}\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)


def output_of(arguments):
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        run(arguments)
    return out.getvalue()


@pytest.fixture(autouse=True)
def _in_the_project(monkeypatch):
    monkeypatch.chdir(ROOT)


def test_the_readme_shows_what_its_audit_prints():
    (command,) = [b for b in blocks(ROOT / "README.md", "sh") if "holeschedule audit" in b]
    printed = blocks(ROOT / "README.md", "text")[0]
    assert output_of(shlex.split(command)[1:]).rstrip() == printed.rstrip()


def test_the_quickstart_shows_what_its_python_prints():
    page = ROOT / "docs" / "quickstart.md"
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(compile(blocks(page, "python")[0], page.name, "exec"), {})  # noqa: S102 - our own page
    assert out.getvalue() == blocks(page, "text")[-1]


def test_the_python_of_the_readme_runs():
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(compile(blocks(ROOT / "README.md", "python")[0], "README", "exec"), {})  # noqa: S102 - as above
    assert out.getvalue().startswith("X2 close 0.3250 in")


def test_the_readme_shows_what_the_commands_of_a_build_print(tmp_path, monkeypatch):
    for drawing in ("fl-109.dxf", "fl-110.dxf"):
        shutil.copy(ROOT / "sample_dxf" / drawing, tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOLESCHEDULE_BY", "Ada")
    first, second = blocks(ROOT / "README.md", "console")
    for step in (first + second).split("$ ")[1:]:
        line, _, shown = step.partition("\n")
        words = shlex.split(line)
        if words[0] == "cd":
            monkeypatch.chdir(words[1])
        else:
            assert undated(output_of(words[1:])).rstrip() == undated(shown).rstrip()


def undated(text):
    return re.sub(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", "DATE", text)


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_links_lead_somewhere(page):
    for target in re.findall(r"\]\(([^)#]+?)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
        if "://" not in target:
            assert (page.parent / target).exists(), f"{page.name}: {target}"


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_options_named_on_a_page_exist(page):
    known = {name for command in cli.commands.values() for p in command.params for name in p.opts}
    known |= {"--help", "--version", "--check", "--hypothesis-profile"}  # the last two of tools
    for option in re.findall(r"(?<![\w-])(--[a-z][a-z-]+)", page.read_text(encoding="utf-8")):
        assert option in known, f"{page.name}: {option}"


NOTICE = re.compile(r"[a-z]+\.[a-z]+(?:-[a-z]+)*")
PREFIXES = (
    *("file", "unit", "layer", "entity", "polyline", "spline", "block", "line", "gap"),
    *("loop", "cutout", "circle", "point", "hole", "row"),
)


def notice_codes_in_code():
    """Every string that looks like the code of a notice, in the stages that give notices."""
    found = set()
    for folder in ("drawing", "holes"):
        for path in (ROOT / "holeschedule" / folder).glob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Constant) and isinstance(node.value, str):
                    is_code = NOTICE.fullmatch(node.value)
                    if is_code and node.value.split(".")[0] in PREFIXES:
                        found.add(node.value)
    return found


def test_every_notice_is_documented_with_its_cure():
    page = (ROOT / "docs" / "reading.md").read_text(encoding="utf-8")
    documented = set(re.findall(r"^\| `([a-z.-]+)` \|", page, re.MULTILINE))
    assert documented == notice_codes_in_code()


def test_every_published_check_named_in_the_documentation_exists():
    page = (ROOT / "docs" / "published-checks.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`(test_\w+\.py)`", page))
    there = {path.name for path in (ROOT / "tests" / "published").glob("test_*.py")}
    assert named == there


def test_the_map_of_the_house_has_every_stage_in_the_order_of_imports():
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = page.partition("| stage | what it knows | modules |")[2].partition("\n\n")[0]
    cells = [line.split("|")[3] for line in table.strip().splitlines()[1:]]
    named = [name.strip("/") for cell in cells for name in re.findall(r"`(\w+/?…?)`", cell)]
    places = [
        next(place for place, names in enumerate(STAGES) if stands_for(name, names))
        for name in named
    ]
    assert places == sorted(places)
    told = {
        stage for names in STAGES for stage in names if any(stands_for(n, [stage]) for n in named)
    }
    assert told == {stage for names in STAGES for stage in names} - {"__main__"}


def stands_for(name, stages):
    """Whether a name on the map is one of `stages`: `cli_…` is any that begins so."""
    start = name.removesuffix("…")
    return any(s == name or (start != name and s.startswith(start)) for s in stages)
