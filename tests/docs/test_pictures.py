"""The pictures on the pages: each is shown, and the table of marks is that of the program."""

import re
from pathlib import Path

import pytest
from defusedxml import ElementTree

from holeschedule.cli import run
from holeschedule.views.marks import Mark

DOCS = Path(__file__).parents[2] / "docs"
SVG = "{http://www.w3.org/2000/svg}"
DRAWN = {
    "picture-bulkhead.svg": ("FL-103",),
    "picture-hinge.svg": ("J13",),
    "picture-skin.svg": ("FL-101", "--view", "verdict"),
    "picture-wedge.svg": ("FL-112A", "--view", "verdict"),
}
"""How the pictures were drawn from the build of the demo."""


def undated(path):
    """A picture without the day it was drawn."""
    return re.sub(r"\d{4}-\d\d-\d\d", "day", path.read_text(encoding="utf-8"))


def test_every_mark_is_explained():
    page = (DOCS / "pictures.md").read_text(encoding="utf-8")
    explained = re.findall(r"^\| ([a-z][^|]*?) \| [^|]+ \|$", page, re.MULTILINE)
    explained = [words for words in explained if not words.startswith("by ")]
    assert explained == [str(mark) for mark in Mark]


def test_every_picture_is_on_a_page_and_can_be_read_at_the_size_shown():
    pages = "".join(path.read_text(encoding="utf-8") for path in DOCS.glob("*.md"))
    pictures = sorted(DOCS.glob("picture-*.svg"))
    assert len(pictures) >= 3
    for path in pictures:
        assert f"({path.name})" in pages
        root = ElementTree.parse(path).getroot()
        width = float(root.get("viewBox").split()[2])
        # a page of documentation shows about 830 pixels across
        smallest = min(float(e.get("font-size")) for e in root.iter(f"{SVG}text"))
        assert smallest * 830 / width >= 8.0


@pytest.mark.parametrize(("name", "words"), DRAWN.items())
def test_pictures_on_the_pages_are_those_that_the_program_draws(name, words, demo, tmp_path):
    fresh = tmp_path / name
    assert run(["picture", *words, str(fresh), "--build", str(demo.bay)]) == 0
    assert undated(fresh) == undated(DOCS / name), (
        f"draw docs/{name} anew: in the demo's build, holeschedule picture {' '.join(words)}"
    )


def test_it_is_known_how_each_picture_was_drawn():
    assert set(DRAWN) == {path.name for path in DOCS.glob("picture-*.svg")}
