"""Pictures and the report in a real browser: no errors, nothing fetched, no text over another."""

import itertools
import re
import shutil

import pytest

from holeschedule.views.html import picture_page
from holeschedule.views.joint_picture import joint_picture
from holeschedule.views.part_picture import part_picture
from holeschedule.views.svg import svg_text
from tests.browser.chromium import browser_at, find_browser
from tests.pictures import demo_view
from tests.unit.test_joint_picture import joint_view
from tests.unit.test_palette import TEXT_CONTRAST, contrast
from tests.unit.test_svg import HOSTILE

PROGRAM = find_browser()
pytestmark = pytest.mark.skipif(
    PROGRAM is None, reason="no Chromium on this machine: nothing to look at the pages with"
)

BOXES = """
[...document.querySelectorAll('svg text')].filter(t => t.textContent.trim()).map(t => {
  const b = t.getBoundingClientRect();
  return [t.textContent, b.left, b.top, b.right, b.bottom];
})
"""
CONTRASTS = """
[...document.querySelectorAll('h1, h2, h3, p, th, td, footer')].filter(e => e.textContent.trim())
  .map(e => [e.tagName, getComputedStyle(e).color, getComputedStyle(e).fontSize])
"""
COLOUR = re.compile(r"rgb\((\d+), (\d+), (\d+)\)")
SLACK = 0.75
"""Pixels that the boxes of two lines of one block may share: a browser rounds their heights up."""


@pytest.fixture(scope="module")
def browser(tmp_path_factory):
    with browser_at(PROGRAM, tmp_path_factory.mktemp("profile")) as opened:
        yield opened


@pytest.fixture(scope="module")
def report(tmp_path_factory, demo):
    """A report of the demo build, and of a build whose notes and names are hostile."""
    import contextlib
    import io

    from holeschedule.cli import run

    folder = tmp_path_factory.mktemp("report")
    with contextlib.redirect_stdout(io.StringIO()):
        shutil.copytree(demo.bay, folder / "bay")
        build = ["--build", str(folder / "bay")]
        for text in HOSTILE:
            note = text.encode("utf-8", "replace").decode().replace("\x00", "")
            run(["mark", "FL-110:A", "deburr", "--note", note, "--by", note[:20], *build])
            run(["undo", *build])
        assert run(["report", str(folder / "report.html"), *build]) == 0
    return folder / "report.html"


def crossings(boxes):
    return [
        (a[0], b[0])
        for a, b in itertools.combinations(boxes, 2)
        if min(a[3], b[3]) - max(a[1], b[1]) > SLACK and min(a[4], b[4]) - max(a[2], b[2]) > SLACK
    ]


PAGES = {
    "skin": lambda: part_picture(demo_view("FL-101")),
    "bulkhead": lambda: part_picture(demo_view("FL-104")),
    "wedge": lambda: part_picture(demo_view("FL-112A")),
    "ring": lambda: part_picture(demo_view("FL-109")),
    "hinge": lambda: joint_picture(joint_view("J13")),
}


@pytest.mark.parametrize("name", PAGES)
def test_no_text_crosses_another_in_the_browser(browser, tmp_path, name):
    page = PAGES[name]()
    path = tmp_path / "page.svg"
    path.write_text(svg_text(page), encoding="utf-8")
    browser.open(path)
    boxes = browser.ask(BOXES)
    assert len(boxes) == len([t for t in page.texts if t.text.strip()])
    assert crossings(boxes) == []
    assert browser.complaints == []


def test_texts_stand_where_they_were_laid_out(browser, tmp_path):
    page = PAGES["bulkhead"]()
    path = tmp_path / "page.svg"
    path.write_text(svg_text(page), encoding="utf-8")
    browser.open(path, 1200, 1200)
    boxes = browser.ask(BOXES)
    for found, text in zip(boxes, page.texts, strict=True):
        left, _, right, _ = (96 * side for side in text.box)  # CSS pixels to an inch
        assert found[0] == text.text
        assert found[1] == pytest.approx(left, abs=1.0)
        assert found[3] == pytest.approx(right, abs=1.0)


def test_an_html_picture_fills_the_window_and_fetches_nothing(browser, tmp_path):
    path = tmp_path / "page.html"
    path.write_text(picture_page(PAGES["skin"]()), encoding="utf-8")
    browser.open(path, 1000, 900)
    assert browser.requests == [path.resolve().as_uri()]
    assert browser.complaints == []
    assert crossings(browser.ask(BOXES)) == []
    wide = browser.ask("document.querySelector('svg').getBoundingClientRect().width")
    assert 850 < wide <= 1000


@pytest.mark.parametrize("width", [1200, 500])
def test_the_report_loads_without_a_complaint_and_fits_the_window(browser, report, width):
    browser.open(report, width, 900)
    assert browser.requests == [report.resolve().as_uri()]
    assert browser.complaints == []
    assert browser.ask("document.documentElement.scrollWidth") <= width
    assert browser.ask("document.querySelectorAll('svg').length") > 10
    assert browser.ask("document.scripts.length") == 0


def test_hostile_notes_and_names_are_shown_as_text(browser, report):
    browser.open(report)
    words = browser.ask("document.body.innerText")
    assert "</text><script>alert(1)</script>" in words
    assert browser.ask("[...document.querySelectorAll('*')].some(e => e.onload || e.onclick)") in (
        False,
        None,
    )


def test_no_text_of_the_report_crosses_another(browser, report):
    browser.open(report)
    for number in range(browser.ask("document.querySelectorAll('svg').length")):
        texts = f"document.querySelectorAll('svg')[{number}].querySelectorAll('text')"
        boxes = browser.ask(BOXES.replace("document.querySelectorAll('svg text')", texts))
        assert crossings(boxes) == []


def test_the_words_of_the_report_stand_out_from_the_paper(browser, report):
    browser.open(report)
    for tag, colour, size in browser.ask(CONTRASTS):
        red, green, blue = map(int, COLOUR.match(colour).groups())
        assert contrast(f"#{red:02x}{green:02x}{blue:02x}", "#ffffff") >= TEXT_CONTRAST, tag
        assert float(size.removesuffix("px")) >= 14


def test_the_report_prints_on_paper_without_scroll_bars(browser, report):
    browser.open(report)
    printed = browser.call("Page.printToPDF", preferCSSPageSize=True, printBackground=True)
    import base64

    import pypdfium2

    document = pypdfium2.PdfDocument(base64.b64decode(printed["data"]))
    first = document[0].get_textpage().get_text_bounded()
    document.close()
    assert "Aft bay of the float" in first
    assert "countersink" in first


def test_a_picture_tells_each_hole_under_the_mouse(browser, tmp_path):
    path = tmp_path / "page.svg"
    path.write_text(svg_text(PAGES["ring"]()), encoding="utf-8")
    browser.open(path)
    said = browser.ask("[...document.querySelectorAll('circle title')].map(t => t.textContent)")
    assert sorted(said) == sorted(demo_view("FL-109").says)
