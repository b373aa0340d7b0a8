"""Texts on a page: how wide they are, what is cut, and which box they take."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holeschedule.views.page import (
    Text,
    cut_to,
    in_print,
    overlap,
    text_lines,
    text_width,
    wrapped,
)
from holeschedule.views.palette import LETTERS, POINTS


def test_a_text_is_as_wide_as_the_font_metrics_say():
    # Helvetica (Adobe Core 14 metrics): A 667, 0 556, space 278 thousandths of the size
    assert text_width("A0 ", "body") == pytest.approx(8 * (0.667 + 0.556 + 0.278) / POINTS)


def test_a_letter_that_cannot_be_printed_counts_as_a_square_and_prints_as_a_question_mark():
    assert text_width("機", "body") == pytest.approx(8 / POINTS)
    assert in_print("機A") == "?A"


def test_the_box_of_a_text_follows_from_where_it_is_set():
    left, middle, right = (Text(1.0, 2.0, "C7", "body", at) for at in (0.0, 0.5, 1.0))
    assert left.box[0] == 1.0
    assert (middle.box[0] + middle.box[2]) / 2 == pytest.approx(1.0)
    assert right.box[2] == pytest.approx(1.0)
    assert left.box[1] < 2.0 < left.box[3]


@given(st.text(max_size=60), st.floats(0.2, 3.0))
def test_a_cut_text_keeps_within_its_width_and_on_one_line(text, width):
    cut = cut_to(text, "body", width)
    assert cut in ("", "…") or text_width(cut, "body") <= width + 1e-9
    assert cut.isprintable()


def test_a_text_that_fits_is_not_cut_and_one_that_does_not_ends_in_an_ellipsis():
    assert cut_to("FL-101", "body", 1.0) == "FL-101"
    assert cut_to("FL-101 " * 9, "body", 1.0).endswith("…")


def test_what_a_file_smuggles_into_a_name_is_shown_as_escapes():
    assert cut_to("a\x1b[2J\n", "body", 2.0) == "a\\x1b[2J\\n"


@given(st.lists(st.text("abc-", min_size=1, max_size=9), max_size=12), st.floats(1.0, 3.0))
def test_wrapped_lines_hold_every_word_and_keep_within_their_width(words, width):
    lines = wrapped(" ".join(words), "body", width)
    assert " ".join(lines) == " ".join(words)
    assert all(text_width(line, "body") <= width for line in lines)


def test_lines_below_each_other_do_not_touch():
    first, second = text_lines(0.0, 1.0, ["gjpq", "ÄÖÜ"], "body")
    assert not overlap(first.box, second.box)


def test_boxes_that_share_only_a_side_do_not_overlap():
    assert not overlap((0, 0, 1, 1), (1, 0, 2, 1))
    assert overlap((0, 0, 1, 1), (0.9, 0.9, 2, 2))


def test_every_style_of_text_can_be_read_on_paper():
    assert min(letters.size for letters in LETTERS.values()) >= 6.5
