"""A page as SVG: well-formed whatever a name holds, and drawn as it was laid out."""

import math
import re

import numpy as np
import pytest
from defusedxml import ElementTree
from hypothesis import given
from hypothesis import strategies as st

from holeschedule.geometry.edges import arc_edges, circle_edges, join_edges, line_edges
from holeschedule.views.page import Circles, Clipped, Page, Path, Text
from holeschedule.views.part_picture import part_picture
from holeschedule.views.svg import escaped, path_data, svg_text
from tests.joints import demo_part
from tests.pictures import demo_view, view_of

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = [
    "</text><script>alert(1)</script>",
    "\" onload=\"alert(1)",
    "a & b < c > 'd'",
    "]]><!--",
    "&#0;&#x1f;",
    "\x00\x08\x1b[2J",
    "\u202eevil",
    "\ud800",
    "<svg:script xlink:href='//x'/>",
]  # fmt: skip


def read(page):
    return ElementTree.fromstring(svg_text(page))


def one_text(text):
    return Page(2.0, 1.0, (Text(0.1, 0.5, text, "body"),), text)


@pytest.mark.parametrize("text", HOSTILE)
def test_no_name_becomes_markup(text):
    root = read(one_text(text))
    assert {element.tag for element in root.iter()} == {
        SVG + name for name in ("svg", "title", "rect", "text")
    }
    (found,) = root.iter(f"{SVG}text")
    assert set(found.attrib) == {"x", "y", "font-size", "fill", "textLength", "lengthAdjust"}


@given(st.text())
def test_any_text_reads_back_but_for_characters_that_xml_has_not(text):
    read_back = ElementTree.fromstring(f"<a>{escaped(text)}</a>").text or ""
    # a reader takes a carriage return for a line end, as XML 1.0 section 2.11 says
    expected = re.sub("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", "\ufffd", text)
    assert read_back == re.sub("\r\n?", "\n", expected)


def test_a_hostile_part_name_leaves_a_picture_without_script():
    svg = svg_text(part_picture(view_of(demo_part("FL-110"), HOSTILE[0])))
    ElementTree.fromstring(svg)
    assert "<script" not in svg


def test_a_picture_refers_to_nothing_outside_itself():
    svg = svg_text(part_picture(demo_view("FL-101")))
    assert re.findall(r"https?://[^\"]+", svg) == ["http://www.w3.org/2000/svg"]
    assert not re.search(r"href|url\(|@import|<image|<script|\son[a-z]+=", svg)


def test_y_runs_down_and_a_point_is_a_seventy_second_of_an_inch():
    page = Page(2.0, 1.0, (Circles(np.array([[0.5, 0.25]]), np.array([0.1]), "hole"),), "t")
    (circle,) = read(page).iter(f"{SVG}circle")
    assert {k: float(circle.get(k)) for k in ("cx", "cy", "r")} == {"cx": 36, "cy": 54, "r": 7.2}


def test_a_hole_tells_what_it_is():
    page = Page(2.0, 1.0, (Circles(np.zeros((1, 2)), np.ones(1), "hole", ("C7 <ok>",)),), "t")
    (circle,) = read(page).iter(f"{SVG}circle")
    assert circle.find(f"{SVG}title").text == "C7 <ok>"


def test_a_text_is_held_to_the_room_that_was_laid_out_for_it():
    text = Text(0.1, 0.5, "FL-101", "title")
    (found,) = read(Page(2.0, 1.0, (text,), "t")).iter(f"{SVG}text")
    assert float(found.get("textLength")) == pytest.approx(text.width * 72, abs=1e-3)


def test_what_is_clipped_is_shown_through_a_window():
    inner = Path(line_edges(np.array([[0.0, 0.0]]), np.array([[9.0, 9.0]])), "outline")
    root = read(Page(2.0, 1.0, (Clipped((inner,), (0.5, 0.25, 1.5, 0.75)),), "t"))
    _, window = root.iter(f"{SVG}svg")
    assert window.get("viewBox") == "36 18 72 36"


ARC = re.compile(r"A([\d.]+) ([\d.]+) 0 ([01]) ([01]) ([-\d.]+) ([-\d.]+)")


@given(st.floats(-6.2, 6.2).filter(lambda a: abs(a) > 0.05), st.floats(0, 6.28))
def test_an_arc_bulges_to_the_side_that_it_was_drawn(sweep, first):
    edges = arc_edges(np.array([[3.0, 3.0]]), np.ones(1), np.array([first]), np.array([sweep]))
    data = path_data(edges, 6.0, closed=False)
    x0, y0 = map(float, re.match(r"M([-\d.]+) ([-\d.]+)", data).groups())
    (r, _, large, turn, x1, y1) = map(float, ARC.search(data).groups())
    assert (int(large), r) == (int(abs(sweep) > math.pi), pytest.approx(72.0))
    # SVG 1.1, appendix F.6.5: where the centre lies, from the flags
    chord = math.dist((x0, y0), (x1, y1))
    height = math.sqrt(max(r * r - chord * chord / 4, 0.0))
    side = 1 if large != turn else -1
    cx = (x0 + x1) / 2 + side * height * -(y1 - y0) / chord
    cy = (y0 + y1) / 2 + side * height * (x1 - x0) / chord
    slack = 0.05 + 0.2 / max(height, 1.0)
    if min(chord, height) > 2.0:
        assert math.dist((cx, cy), (216.0, 216.0)) < slack


def test_a_whole_circle_is_two_arcs_and_loops_are_closed_one_by_one():
    loops = join_edges([circle_edges(np.array([[1.0, 1.0]]), np.ones(1) * r) for r in (0.5, 0.2)])
    data = path_data(loops, 2.0, closed=True)
    assert len(ARC.findall(data)) == 4
    assert (data.count("M"), data.count("Z")) == (2, 2)
