"""Colours stand out, and no mark says anything by its colour alone."""

import itertools

import numpy as np
import pytest

from holeschedule.model import Verdict
from holeschedule.record.routes import Stage
from holeschedule.views.marks import Mark, mark_items, mark_radii
from holeschedule.views.page import Circles
from holeschedule.views.palette import INK, LETTERS, METAL, PAPER, STYLES

STATES = [mark for mark in Mark if list(Mark).index(mark) <= list(Mark).index(Mark.REJECTED)]
VERDICTS = [mark for mark in Mark if mark not in STATES]
TEXT_CONTRAST, SHAPE_CONTRAST = 4.5, 3.0
"""WCAG 2.1, success criteria 1.4.3 (text) and 1.4.11 (graphical objects)."""
QUIET = {"rule", "metal", "place"}
"""Styles that carry nothing which has to be read."""


def luminance(colour):
    """Relative luminance of WCAG 2.1."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_black_on_white_has_the_contrast_that_the_standard_gives():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("name", LETTERS)
def test_letters_stand_out_from_what_is_behind_them(name):
    behind = [INK] if LETTERS[name].colour == PAPER else [PAPER, METAL]
    assert all(contrast(LETTERS[name].colour, ground) >= TEXT_CONTRAST for ground in behind)


@pytest.mark.parametrize("name", sorted(set(STYLES) - QUIET))
def test_lines_and_shapes_stand_out_from_paper_and_metal(name):
    style = STYLES[name]
    seen = style.stroke if style.stroke not in (None, PAPER) else style.fill
    if seen is None:  # a light line, drawn on a filled mark
        assert contrast(STYLES["riveted"].fill, style.stroke) >= SHAPE_CONTRAST
    else:
        assert min(contrast(seen, ground) for ground in (PAPER, METAL)) >= SHAPE_CONTRAST


def look(mark):
    """What is drawn of a mark when all colours are one: shapes, and which of them are filled."""
    one = np.ones(1)
    items = mark_items(mark, np.zeros((1, 2)), one, 0.4 * one)
    return tuple(
        (
            tuple(np.round(item.radii if isinstance(item, Circles) else item.edges.start, 6).flat),
            STYLES[item.style].fill not in (None, PAPER),
            STYLES[item.style].dash,
        )
        for item in items
    )


@pytest.mark.parametrize("marks", [STATES, VERDICTS], ids=["states", "verdicts"])
def test_no_two_marks_of_a_view_differ_by_colour_alone(marks):
    for one, other in itertools.combinations(marks, 2):
        assert look(one) != look(other), f"{one} and {other}"


def test_every_stage_and_every_verdict_of_a_part_has_a_mark():
    from holeschedule.work.picturing import STAGE_MARKS

    assert set(STAGE_MARKS) == set(Stage)
    of_parts = {"ok", "tight", "close", "short", "oversize", "breaks out", "outside"}
    assert of_parts == {str(mark) for mark in VERDICTS}
    assert of_parts <= {str(verdict) for verdict in Verdict}


def test_a_mark_is_never_so_small_that_it_is_lost_and_never_reaches_the_next_hole():
    holes, spacing = np.array([0.002, 0.002, 0.1]), np.array([1.0, 0.02, 1.0])
    small, crowded, large = mark_radii(holes, spacing)
    assert small == pytest.approx(3 / 72)
    assert crowded <= 0.45 * 0.02
    assert large > 0.1
