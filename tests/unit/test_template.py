"""A template printed is the part: read back from the PDF's own coordinates."""

import math
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest

from holeschedule.views.page import PAPERS, Circles, Path
from holeschedule.views.part_picture import part_box
from holeschedule.views.pdf import pdf_bytes
from holeschedule.views.template import OVERLAP, WARNING, template_pages, template_tiles
from tests.joints import demo_part
from tests.pictures import (
    crossing_texts,
    demo_view,
    pdf_circles,
    pdf_shapes,
    texts,
    texts_off,
    view_of,
)
from tests.plates import Plate

TRUE = 0.002
"""Inches that a hole may lie off on the paper."""


def holes_on(pages, view, paper):
    """By hole, where each sheet shows its centre, in inches on the part, from the PDF itself."""
    box = part_box(view.part)
    if view.is_turned_over:
        box = (-box[2], box[1], -box[0], box[3])
    _, tiles = template_tiles(box, paper)
    named = {tile.name: tile for tile in tiles}
    sign = np.array([-1.0 if view.is_turned_over else 1.0, 1.0])
    own = view.part.centres * sign
    found = {i: [] for i in range(len(own))}
    for page, shapes in zip(pages, pdf_shapes(pdf_bytes(pages)), strict=True):
        tile = named[page.title.split(" template ")[1].split()[0]]
        shift = np.array(tile.window[:2]) - np.array(tile.origin)
        for x, y, radius in pdf_circles(shapes):
            at = np.array([x, y]) + shift
            nearest = int(np.hypot(*(own - at).T).argmin())
            size = view.part.holes[nearest].diameter / 2
            if math.isclose(radius, size, abs_tol=1e-4) and math.dist(own[nearest], at) < 0.02:
                found[nearest].append(at - own[nearest])
    return found


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", ["FL-101", "FL-104", "FL-105", "FL-108", "FL-112A"])
def test_every_hole_lies_within_two_thousandths_where_the_part_has_it(name, paper):
    view = demo_view(name)
    found = holes_on(template_pages(view, paper), view, paper)
    assert all(found.values()), "a hole is on no sheet"
    off = [float(np.hypot(*place)) for places in found.values() for place in places]
    assert max(off) < TRUE


def test_the_other_side_is_as_true():
    view = replace(demo_view("FL-103"), is_flipped=True)
    found = holes_on(template_pages(view, "letter"), view, "letter")
    assert all(found.values())
    assert max(float(np.hypot(*p)) for places in found.values() for p in places) < TRUE


def test_distances_on_a_sheet_are_those_of_the_part():
    view = demo_view("FL-112A")
    (shapes,) = pdf_shapes(pdf_bytes(template_pages(view, "letter")))
    own = view.part.centres
    size = view.part.holes[0].diameter / 2
    drawn = [(x, y) for x, y, r in pdf_circles(shapes) if math.isclose(r, size, abs_tol=1e-4)]
    assert len(drawn) == len(own)
    spans = sorted(math.dist(a, b) for a in drawn for b in drawn)
    expected = sorted(float(np.hypot(*(a - b))) for a in own for b in own)
    assert np.abs(np.array(spans) - expected).max() < TRUE


def test_the_outline_is_full_size_with_its_arcs_true():
    view = demo_view("FL-110")  # a disc of 4.125 in
    (shapes,) = pdf_shapes(pdf_bytes(template_pages(view, "letter")))
    rims = [s for s in shapes if len(s) > 40]
    assert rims
    low, high = rims[0].min(axis=0), rims[0].max(axis=0)
    # points of the curves: their handles reach beyond the arc by less than a hundredth
    assert np.abs((high - low) - 4.125).max() < 0.02


@pytest.mark.parametrize("paper", PAPERS)
def test_the_check_bars_are_four_inches_and_a_hundred_millimetres(paper):
    pages = template_pages(demo_view("FL-110"), paper)
    (shapes,) = pdf_shapes(pdf_bytes(pages))
    # the end strokes of the bars stand at their ends: upright lines of 0.17 in
    strokes = [
        s for s in shapes if len(s) == 2 and math.isclose(np.ptp(s[:, 1]), 0.17, abs_tol=1e-4)
    ]
    assert len(strokes) == 4
    rows = sorted({round(float(s[:, 1].min()), 3) for s in strokes})
    spans = [
        np.ptp([float(s[0, 0]) for s in strokes if math.isclose(s[:, 1].min(), y, abs_tol=1e-3)])
        for y in rows
    ]
    assert spans == pytest.approx([100 / 25.4, 4.0], abs=1e-5)
    assert {"4 in: measure", "100 mm: measure"} <= set(texts(pages[0]))


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", ["FL-103", "FL-106", "FL-110"])
def test_what_to_measure_before_use_stands_on_every_sheet_in_full(name, paper):
    for page in template_pages(demo_view(name), paper):
        assert WARNING in texts(page)
        assert not [text for text in texts(page) if "…" in text]


@pytest.mark.parametrize("paper", PAPERS)
def test_a_page_is_as_large_as_its_paper(paper):
    content = pdf_bytes(template_pages(demo_view("FL-101"), paper))
    document = pypdfium2.PdfDocument(content)
    sizes = {tuple(sorted(round(side / 72, 3) for side in page.get_size())) for page in document}
    document.close()
    assert sizes == {tuple(sorted(round(side, 3) for side in PAPERS[paper]))}


@pytest.mark.parametrize("paper", PAPERS)
def test_neighbouring_sheets_overlap_and_cover_the_part(paper):
    box = (0.0, 0.0, 30.0, 20.0)
    _, tiles = template_tiles(box, paper)
    by_place = {(t.column, t.row): t.window for t in tiles}
    for (column, row), window in by_place.items():
        right, above = by_place.get((column + 1, row)), by_place.get((column, row + 1))
        assert right is None or window[2] - right[0] == pytest.approx(OVERLAP)
        assert above is None or window[3] - above[1] == pytest.approx(OVERLAP)
    windows = np.array(list(by_place.values()))
    assert (windows[:, :2].min(axis=0) < box[:2]).all()
    assert (windows[:, 2:].max(axis=0) > box[2:]).all()


def test_register_marks_of_two_sheets_are_the_same_places_of_the_part():
    view = demo_view("FL-103")
    _, tiles = template_tiles(part_box(view.part), "letter")
    places = []
    for page, tile in zip(template_pages(view, "letter"), tiles, strict=True):
        shift = np.array(tile.window[:2]) - np.array(tile.origin)
        marks = [i for i in page.items if isinstance(i, Circles) and i.style == "register"]
        places.append(sorted(tuple((m.centres[0] + shift).round(9).tolist()) for m in marks))
    assert len(places) == 2
    assert len(places[0]) == 2
    assert places[0] == places[1]


def test_register_marks_keep_off_the_holes():
    view = demo_view("FL-103")
    for page in template_pages(view, "letter"):
        marks = [
            i.centres[0] for i in page.items if isinstance(i, Circles) and i.style == "register"
        ]
        (holes,) = [
            i.centres for i in page.items if isinstance(i, Circles) and i.style == "hairline"
        ]
        assert min(np.hypot(*(holes - mark).T).min() for mark in marks) > 0.25


def test_sheets_on_which_nothing_lies_are_left_out():
    corner = [(0, 0), (40, 0), (40, 1), (1, 1), (1, 30), (0, 30)]
    view = view_of(Plate(singles=[(0.5, 0.5)], corners=corner).part())
    _, tiles = template_tiles(part_box(view.part), "letter")
    pages = template_pages(view, "letter")
    assert len(pages) < len(tiles)
    assert f"1 of {len(pages)}" in " ".join(texts(pages[0]))


@pytest.mark.parametrize("name", ["FL-101", "FL-103", "FL-111"])
def test_no_text_of_a_sheet_crosses_another(name):
    for page in template_pages(demo_view(name), "a4"):
        assert crossing_texts(page) == []
        assert texts_off(page) == []


def test_lines_are_thin_enough_to_be_followed():
    from holeschedule.views.palette import STYLES

    pages = template_pages(view_of(demo_part("FL-104")), "letter")
    styles = {i.style for p in pages for i in p.items if isinstance(i, Path | Circles)}
    assert "hairline" in styles
    assert STYLES["hairline"].width <= 0.5
