"""The picture of a part: true to scale, nothing over anything else, rows where a builder looks."""

import re
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from holeschedule.geometry.edges import join_edges
from holeschedule.geometry.loops import edge_boxes
from holeschedule.model import Row
from holeschedule.units import LengthUnit
from holeschedule.views.callouts import Callout
from holeschedule.views.marks import Mark
from holeschedule.views.page import Path
from holeschedule.views.part_picture import part_box, part_picture, scale_words
from tests.joints import demo_part
from tests.pictures import (
    PARTS,
    circles,
    crossing_texts,
    demo_view,
    text_named,
    texts,
    texts_off,
    view_of,
)
from tests.plates import Plate, level

HOLE_STYLES = ("hole", "in riveted", "in finished")


def flipped(view):
    return replace(view, is_flipped=True)


def row_at(y, count, pitch=0.75, x=0.5):
    return level(x, y, pitch, count)


def plate(drawn):
    return drawn.part()


# Scale -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", [None, "letter", "a4"])
@pytest.mark.parametrize("name", PARTS)
def test_every_hole_is_drawn_to_one_scale_where_it_is(name, paper):
    view = demo_view(name)
    drawn = np.array(sorted(circles(part_picture(view, paper), "hole")))
    legend = 0.6 * 3 / 72  # the samples of the legend are circles as well
    drawn = drawn[~np.isclose(drawn[:, 2], legend)] if len(drawn) > len(view.part.holes) else drawn
    assert len(drawn) == len(view.part.holes)
    sizes = np.array([hole.diameter / 2 for hole in view.part.holes])
    scale = drawn[:, 2].sum() / sizes.sum()
    own = np.array(sorted(zip(*view.part.centres.T, sizes, strict=True)))
    own[:, :2] -= own[:, :2].mean(axis=0)
    drawn[:, :2] -= drawn[:, :2].mean(axis=0)
    apart = np.abs(drawn[:, None, :] - scale * own[None, :, :]).max(axis=2).min(axis=1)
    assert apart.max() < 1e-9


def test_the_other_side_is_the_mirror_image():
    view = demo_view("FL-101")
    front, back = (np.array(circles(part_picture(v), "hole")) for v in (view, flipped(view)))
    width = part_picture(view).width
    # the hole at (x, y) of the front is at (width - x, y) of the back: the part is centred
    front[:, 0] = width - front[:, 0]
    for hole in front[: len(view.part.holes)]:
        assert np.abs(back - hole).max(axis=1).min() < 1e-9


def test_the_outline_and_the_cutouts_are_drawn_with_their_arcs():
    view = demo_view("FL-103")
    page = part_picture(view)
    (metal,) = [i for i in page.items if isinstance(i, Path) and i.style == "metal"]
    part = view.part
    loops = join_edges([part.outline.edges, *(c.edges for c in part.cutouts)])
    assert len(metal.edges) == len(loops)
    assert metal.edges.is_arc.sum() == loops.is_arc.sum() > 0
    low, high = edge_boxes(metal.edges)
    left, bottom, right, top = part_box(part)
    wide, tall = (high.max(axis=0) - low.min(axis=0)).tolist()
    assert wide / tall == pytest.approx((right - left) / (top - bottom))


def test_bend_and_trim_lines_are_drawn_and_told_in_the_legend():
    page = part_picture(demo_view("FL-102"))
    styles = {item.style for item in page.items if isinstance(item, Path)}
    assert {"bend", "trim"} <= styles
    assert {"bend line", "trim line"} <= set(texts(page))
    assert "trim line" not in texts(part_picture(demo_view("FL-103")))


def test_the_scale_bar_is_as_long_as_it_says():
    view = demo_view("FL-104")
    page = part_picture(view)
    scale = circles(page, "hole")[0][2] / (view.part.holes[0].diameter / 2)
    words = next(item for item in page.texts if re.fullmatch(r"[\d.]+ in", item.text))
    zero = next(item for item in page.texts if item.text == "0" and item.y == words.y)
    assert words.x - zero.x == pytest.approx(float(words.text.split()[0]) * scale)
    assert scale_words(scale) in texts(page)


def test_a_metric_build_has_a_metric_bar():
    view = replace(demo_view("FL-105"), unit=LengthUnit.MILLIMETRE)
    assert any(re.fullmatch(r"\d+ mm", text) for text in texts(part_picture(view)))


# Overlaps --------------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", [None, "letter", "a4"])
@pytest.mark.parametrize("name", PARTS)
def test_no_text_crosses_another_or_leaves_the_paper(name, paper):
    for view in (demo_view(name), flipped(demo_view(name))):
        page = part_picture(view, paper)
        assert crossing_texts(page) == []
        assert texts_off(page) == []


def test_labels_stay_readable_from_the_other_side():
    view = demo_view("FL-103")
    front, back = part_picture(view), part_picture(flipped(view))
    assert Counter(texts(back))["B"] == Counter(texts(front))["B"] == 2
    assert "the other side" in texts(back)
    assert "turned over" in texts(back)
    assert text_named(front, "X").x > text_named(front, "Y").x
    assert text_named(back, "X").x < text_named(back, "Y").x, "X points left from behind"


def test_a_mirrored_part_is_drawn_mirrored_and_says_so():
    page = part_picture(replace(demo_view("FL-102"), is_mirrored=True))
    assert "the side drawn; mirror image" in texts(page)
    assert text_named(page, "X").x < text_named(page, "Y").x


# Rows ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", PARTS)
def test_each_open_row_has_its_letter_at_both_ends_and_a_ring_has_one(name):
    view = demo_view(name)
    counts = Counter(
        item.text for item in part_picture(view).texts if item.style in ("row", "small row")
    )
    for row in view.part.rows:
        assert counts[row.letter] == (1 if row.closed else 2), row.letter


def test_where_there_is_room_every_hole_has_its_number():
    part = plate(Plate(rows=[row_at(1.0, 9)], size=(8.0, 3.0)))
    numbers = [item.text for item in part_picture(view_of(part)).texts if item.style == "number"]
    assert sorted(numbers) == [str(i) for i in range(1, 10)]


def test_where_there_is_not_every_fifth_hole_has_one():
    rows = [row_at(1.0, 120, pitch=0.3)]
    part = plate(Plate(rows=rows, size=(37.0, 3.0)))
    numbers = [item.text for item in part_picture(view_of(part)).texts if item.style == "number"]
    assert sorted(map(int, numbers)) == list(range(5, 121, 5))


def test_single_holes_are_named():
    part = plate(Plate(singles=[(1.0, 1.0), (3.0, 2.0)]))
    names = {item.text for item in part_picture(view_of(part)).texts if item.style == "single"}
    assert names == {"X1", "X2"}


@pytest.mark.parametrize("paper", [None, "letter"])
@pytest.mark.parametrize("name", ["FL-101", "FL-102", "FL-103", "FL-104", "FL-110"])
def test_every_hole_has_its_number_or_is_told_to_have_none(name, paper):
    page = part_picture(demo_view(name), paper)
    numbers = [item for item in page.texts if item.style in ("number", "single")]
    called = {item.text.split()[0] for item in page.texts if item.style == "finding"}
    note = [re.search(r"(\d+) numbers? left out", text) for text in texts(page)]
    left_out = sum(int(found[1]) for found in note if found)
    lack = len(demo_view(name).part.holes) - len(numbers)
    assert left_out <= lack <= left_out + len(called)


def test_a_row_that_meets_another_keeps_its_letter_and_both_their_numbers():
    page = part_picture(replace(demo_view("FL-101"), findings=()))
    numbers = [item for item in page.texts if item.style == "number"]
    letters = Counter(item.text for item in page.texts if item.style == "row")
    assert len(numbers) == 159
    assert letters == dict.fromkeys("ABCDEFG", 2)


def test_a_part_of_five_thousand_holes_shows_rows_instead_of_numbers():
    rows = [row_at(0.5 + 0.75 * i, 100) for i in range(50)]
    part = plate(Plate(rows=rows, size=(76.0, 38.0)))
    view = replace(view_of(part), findings=())
    page = part_picture(view)
    letters = Counter(item.text for item in page.texts if item.style in ("row", "small row"))
    assert sum(count > 0 for count in letters.values()) == 50
    assert len([item for item in page.texts if item.style == "number"]) < 1000
    assert any("numbers left out" in text for text in texts(page))
    assert len(circles(page, "hole")) == 5001
    assert crossing_texts(page) == []


# Findings --------------------------------------------------------------------------------------


def test_a_finding_is_called_out_with_its_measured_value():
    page = part_picture(demo_view("FL-101"))
    assert {"A21  SHORT", "edge distance 0.1594 in", "at least 0.1875 in"} <= set(texts(page))
    assert any(isinstance(i, Path) and i.style == "leader" for i in page.items)


def test_a_leader_ends_at_the_hole_it_is_about():
    view = demo_view("FL-101")
    page = part_picture(view)
    (leader,) = [i for i in page.items if isinstance(i, Path) and i.style == "leader"]
    index = [hole.label for hole in view.part.holes].index("A21")
    drawn = np.array(circles(page, "hole"))
    # the only hole with the mark of a short edge distance
    (mark,) = [
        i for i in page.items if isinstance(i, Path) and i.style == "trouble" and len(i.edges) == 3
    ][:1]
    at = mark.edges.start.mean(axis=0)
    assert np.hypot(*(drawn[:, :2] - at).T).min() < 1e-9
    assert np.hypot(*(leader.edges.start[0] - at)) < 0.1
    assert view.part.holes[index].label == "A21"


def test_findings_alike_in_a_row_are_told_together():
    part = plate(Plate(rows=[row_at(0.15, 6)], size=(6.0, 3.0)))
    page = part_picture(view_of(part))
    heads = [text for text in texts(page) if text.endswith("SHORT")]
    assert heads == ["A1-A6  SHORT"]


def test_rows_that_are_wide_in_the_same_way_are_told_together():
    part = plate(Plate(rows=[row_at(y, 4, pitch=1.2) for y in (0.3, 2.0, 3.7)], size=(5.0, 4.0)))
    page = part_picture(view_of(part))
    assert [t for t in texts(page) if t.endswith("WIDE")] == ["rows A, B, C  WIDE"]


def test_more_findings_than_can_be_called_out_are_counted():
    singles = [(0.13 + 1.3 * i, 0.1 + 1.4 * j) for i in range(8) for j in range(3)]
    view = view_of(plate(Plate(singles=singles, size=(9.4, 3.2))))
    extra = tuple(Callout(f"X{i}", f"X{i}  CHECK", ("once more",)) for i in range(1, 19))
    page = part_picture(replace(view, callouts=extra))
    assert any("more findings: see the audit" in text for text in texts(page))
    assert crossing_texts(page) == []


def test_each_verdict_has_its_mark_in_the_legend_with_a_count():
    page = part_picture(demo_view("FL-110"))
    assert {"ok: 18", "close: 2"} <= set(texts(page))


# Odd parts -------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [(40.0, 0.7), (0.7, 40.0), (0.6, 0.6), (120.0, 60.0)])
def test_slender_small_and_large_parts_fit_on_the_page(size):
    part = plate(Plate(singles=[(0.3, 0.3)], size=size))
    for paper in (None, "letter", "a4"):
        page = part_picture(view_of(part), paper)
        assert texts_off(page) == []
        assert all(0 < x < page.width and 0 < y < page.height for x, y, _ in circles(page))


def test_a_part_far_from_the_zero_of_its_drawing_is_drawn_without_it():
    far, near = part_picture(demo_view("FL-108")), part_picture(demo_view("FL-101"))
    ring = [i for i in near.items if isinstance(i, Path) and i.style == "datum"]
    assert len(ring) > len([i for i in far.items if isinstance(i, Path) and i.style == "datum"])


def test_a_row_of_one_and_holes_on_one_spot_do_no_harm():
    part = plate(Plate(rows=[row_at(1.0, 2)], singles=[(3.0, 2.0), (3.0, 2.0)]))
    odd = replace(part, rows=(*part.rows, Row("Q", (2,), 1.0)))
    view = replace(view_of(part), part=odd)
    assert crossing_texts(part_picture(view)) == []


def test_a_name_of_any_length_keeps_within_the_title_block():
    view = view_of(demo_part("FL-110"), "P" * 300)
    block = replace(view.block, build="build " * 80, facts=(("drawing", "d" * 300),))
    page = part_picture(replace(view, block=block))
    assert texts_off(page) == []
    assert crossing_texts(page) == []


def test_every_state_is_drawn():
    part = plate(Plate(rows=[row_at(1.0, len(Mark))], size=(14.0, 3.0)))
    view = replace(view_of(part), marks=tuple(Mark), findings=())
    words = set(texts(part_picture(view)))
    assert {f"{mark}: 1" for mark in Mark} <= words
