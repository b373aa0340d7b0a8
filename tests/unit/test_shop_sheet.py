"""The sheet for the wall: a box for every hole and operation, on as few sheets as can be read."""

from collections import Counter

import pytest

from holeschedule.views.page import PAPERS
from holeschedule.views.shop_sheet import CheckLine, Tick, sheet_pages
from tests.pictures import crossing_texts, demo_view, texts, texts_off


def lines_of(part, works=("deburr", "rivet 3/32"), done=()):
    return tuple(
        CheckLine(row.letter, work, tuple(
            Tick(part.holes[place].label[len(row.letter):], part.holes[place].label in done)
            for place in row.places
        ))
        for row in part.rows
        for work in works
    )  # fmt: skip


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", ["FL-101", "FL-103", "FL-104", "FL-107"])
def test_picture_and_boxes_of_a_part_stand_on_one_sheet(name, paper):
    view = demo_view(name)
    lines = lines_of(view.part)
    (page,) = sheet_pages(view, lines, paper)
    ticks = [item.text for item in page.texts if item.style in ("tick", "ticked")]
    assert Counter(ticks) == Counter(tick.text for line in lines for tick in line.ticks)
    assert "1 of 1" in texts(page)
    assert crossing_texts(page) == []
    assert texts_off(page) == []


def test_what_is_done_is_ticked_and_what_is_rejected_crossed_out():
    view = demo_view("FL-103")
    ticks = (Tick("1", is_done=True), Tick("2", is_rejected=True), Tick("3"))
    (page,) = sheet_pages(view, (CheckLine("A", "deburr", ticks),), "letter")
    styles = {item.text: item.style for item in page.texts if item.style in ("tick", "ticked")}
    assert styles == {"1": "ticked", "2": "tick", "3": "tick"}
    crosses = [i for i in page.items if getattr(i, "style", "") == "trouble line"]
    assert len(crosses) == 2


def test_boxes_that_do_not_fit_go_on_to_further_sheets_with_row_and_number():
    view = demo_view("FL-101")
    works = [f"step {i}" for i in range(5)]
    pages = sheet_pages(view, lines_of(view.part, works), "letter")
    assert len(pages) > 1
    for number, page in enumerate(pages, 1):
        assert f"{number} of {len(pages)}" in texts(page)
        assert page.texts
        assert crossing_texts(page) == []
        assert texts_off(page) == []
    boxes = sum(item.style == "tick" for page in pages for item in page.texts)
    assert boxes == 5 * sum(len(row.places) for row in view.part.rows)


def test_a_row_longer_than_the_sheet_goes_on_below():
    view = demo_view("FL-103")
    line = CheckLine("A", "deburr", tuple(Tick(str(i)) for i in range(1, 90)))
    (page,) = sheet_pages(view, (line,), "letter")
    boxes = [item for item in page.texts if item.style == "tick"]
    assert len({round(item.y, 6) for item in boxes}) == 4
    assert max(item.x for item in boxes) < page.width - 0.3


def test_a_tall_part_has_its_picture_on_a_sheet_of_its_own():
    from tests.pictures import view_of
    from tests.plates import Plate, level

    part = Plate(rows=[level(0.5, 0.5, 0.75, 5)], size=(9.0, 9.5)).part()
    view = view_of(part)
    pages = sheet_pages(view, lines_of(part), "letter")
    ticks = [sum(item.style == "tick" for item in page.texts) for page in pages]
    assert ticks in ([10], [0, 10])


def test_work_on_the_part_as_a_whole_has_a_box():
    view = demo_view("FL-107")
    line = CheckLine("", "prime", (Tick(""),))
    (page,) = sheet_pages(view, (line,), "a4")
    assert "prime" in texts(page)
