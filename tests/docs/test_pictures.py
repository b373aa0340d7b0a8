"""The pictures on the pages: each is shown, and the table of marks is that of the program."""

import re
from pathlib import Path

from defusedxml import ElementTree

from holeschedule.views.marks import Mark

DOCS = Path(__file__).parents[2] / "docs"
SVG = "{http://www.w3.org/2000/svg}"


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
