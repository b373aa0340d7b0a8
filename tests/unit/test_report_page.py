"""The report: everything is there, nothing comes from elsewhere, no text becomes markup."""

import re
from html.parser import HTMLParser

import pytest

from holeschedule.views.html import picture_page
from holeschedule.views.part_picture import part_picture
from holeschedule.views.report_page import Cell, Day, Report, Table, report_html
from tests.pictures import demo_view
from tests.unit.test_svg import HOSTILE

EMPTY = Table(("a",), ())


class Outline(HTMLParser):
    """Tags, attributes and texts of a page."""

    def __init__(self):
        super().__init__()
        self.tags, self.names, self.values, self.texts, self.open = [], set(), [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.names |= {name for name, _ in attrs}
        self.values += [value or "" for _, value in attrs]

    def handle_data(self, data):
        self.texts.append(data)


def outline(html):
    found = Outline()
    found.feed(html)
    found.close()
    return found


def report(**how):
    values = {
        "title": "Aft bay",
        "summary": ("3 parts",),
        "progress": Table(("part", "done"), ((Cell("FL-101"), Cell("0.5", "bar")),)),
        "notes": (),
        "findings": EMPTY,
        "pictures": (),
        "rivets": EMPTY,
        "days": (),
    }
    return Report(**{**values, **how})


@pytest.mark.parametrize("text", HOSTILE)
def test_no_name_and_no_note_becomes_markup(text):
    table = Table((text,), ((Cell(text), Cell(text, "fails")),))
    plain = outline(report_html(report()))
    found = outline(
        report_html(
            report(
                title=text,
                summary=(text,),
                notes=(text,),
                findings=table,
                days=(Day(text, table),),
            )
        )
    )
    assert set(found.tags) - set(plain.tags) <= {"h3", "td", "th"}
    assert found.names <= plain.names | {"scope", "class"}
    assert not any(name.startswith("on") for name in found.names)


def test_the_page_may_load_and_run_nothing():
    html = report_html(report(pictures=(("FL-110", part_picture(demo_view("FL-110"))),)))
    assert "default-src 'none'; style-src 'unsafe-inline'" in html
    assert not re.search(r"<(script|link|img|iframe|object|embed)\b|url\(|@import", html)
    assert set(re.findall(r"https?://[^\"' ]+", html)) == {"http://www.w3.org/2000/svg"}


def test_every_section_is_there_also_when_it_is_empty():
    html = report_html(report(progress=EMPTY))
    words = " ".join(outline(html).texts)
    for said in ("There are no parts yet.", "No rule is missed.", "No hole takes a rivet.",
                 "Nothing was recorded yet.", "measure the part before you drill it"):  # fmt: skip
        assert said in words


def test_a_share_is_a_bar_and_a_number():
    html = report_html(report())
    assert 'style="width:50%"' in html
    assert "50 %" in html


def test_numbers_stand_to_the_right_and_findings_are_marked():
    table = Table(("part", "n"), ((Cell("FL-101", "fails"), Cell("3")),), frozenset({1}))
    html = report_html(report(findings=table))
    assert '<th scope="col" class="n">n</th>' in html
    assert '<td class="fails">FL-101</td><td class="n">3</td>' in html


def test_a_picture_is_within_the_page_under_its_heading():
    page = part_picture(demo_view("FL-110"))
    html = report_html(report(pictures=(("FL-110 <1>", page),)))
    assert "<h3>FL-110 &lt;1&gt;</h3></figcaption><svg" in html
    assert "<?xml" not in html


def test_a_page_with_one_picture_has_its_title():
    html = picture_page(part_picture(demo_view("FL-110")))
    assert "<title>FL-110 · The build</title>" in html
    assert html.count("<svg") == 1
