"""What stands round a picture: frame, title block, legend, scale bar, axes of the drawing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from holeschedule.geometry.edges import circle_edges, polygon_edges
from holeschedule.units import LengthUnit
from holeschedule.views.explain import CAUTION
from holeschedule.views.marks import LEAST, Mark, mark_items
from holeschedule.views.page import (
    Box,
    Item,
    Path,
    Text,
    box_path,
    cut_to,
    line_height,
    line_path,
    text_lines,
    text_width,
    wrapped,
)

MARGIN = 0.3
"""Inches of paper round the frame: what most printers cannot reach."""
_STRIP = 0.66
"""Inches of the strip with legend, axes and scale bar, at least, …"""
_STRIP_RIGHT = 3.4
"""… and at its right end for axes and scale bar."""
_PAD = 0.09
_FACT_GAP = 0.22


@dataclass(frozen=True, slots=True)
class TitleBlock:
    """What the title block of a page says. Equality is by value.

    `name` is the part or joint, `build` the title of the build, `facts` what stands beside it, as
    pairs of a word and its value; `warning` is set large, empty for none.
    """

    name: str
    build: str
    facts: tuple[tuple[str, str], ...]
    warning: str = ""


def title_block(block: TitleBlock, box: tuple[float, float, float]) -> tuple[list[Item], float]:
    """The title block in (left, low, right) [in] on the paper, and its upper side [in]."""
    left, low, right = box
    cautions = wrapped(CAUTION, "caution", right - left - 2 * _PAD)
    step = line_height("caution")
    caution_top = low + _PAD + step * len(cautions)
    columns = _fact_columns(block.facts, (right - left) * 0.62)
    rows = max(2, max((len(column) for column in columns), default=0))
    height = max(rows * line_height("body") + _PAD, 0.46 + (0.16 if block.warning else 0.0))
    top = caution_top + height + _PAD / 2
    items: list[Item] = [
        box_path((left, low, right, top), "frame"),
        line_path([(left, caution_top), (right, caution_top)], "rule"),
        *text_lines(left + _PAD, caution_top - step * 0.78, cautions, "caution"),
    ]
    x = right - _PAD
    for column in reversed(columns):
        wide = _column_width(column)
        items += _column(column, x - wide, top - _PAD - 0.06)
        x -= wide + _FACT_GAP
    room = x - left - _PAD
    items.append(Text(left + _PAD, top - _PAD - 0.16, cut_to(block.name, "title", room), "title"))
    if block.build:
        said = cut_to(block.build, "body", room)
        items.append(Text(left + _PAD, top - _PAD - 0.33, said, "body"))
    if block.warning:
        said = cut_to(block.warning, "warning", room)
        items.append(Text(left + _PAD, top - _PAD - 0.52, said, "warning"))
    return items, top


_MOST_FACTS = 4


def _fact_columns(facts: Sequence[tuple[str, str]], width: float) -> list[list[tuple[str, str]]]:
    """Facts in columns of a few lines; a long value is cut so that all keep within `width`."""
    count = max(1, math.ceil(len(facts) / _MOST_FACTS))
    rows = math.ceil(len(facts) / count)
    most = (width - _FACT_GAP * count) / count
    cut = [
        (word, cut_to(value, "body", most - text_width(f"{word}  ", "soft")))
        for word, value in facts
        if value
    ]
    return [cut[i : i + rows] for i in range(0, len(cut), rows)]


def _word_width(column: Sequence[tuple[str, str]]) -> float:
    return max(text_width(f"{word}  ", "soft") for word, _ in column)


def _column_width(column: Sequence[tuple[str, str]]) -> float:
    return _word_width(column) + max(text_width(value, "body") for _, value in column)


def _column(column: Sequence[tuple[str, str]], x: float, y: float) -> list[Item]:
    words = _word_width(column)
    step = line_height("body")
    items: list[Item] = []
    for i, (word, value) in enumerate(column):
        items.append(Text(x, y - step * i, word, "soft"))
        items.append(Text(x + words, y - step * i, value, "body"))
    return items


# Legend ----------------------------------------------------------------------------------------

Sample = Mark | str
"""What the legend explains: a mark, or a line by the name of its style."""
_SAMPLE = 0.26
_LINE_SAMPLE = 0.42
_ROW = 0.2


def legend(
    entries: Sequence[tuple[Sample, str]], box: tuple[float, float, float]
) -> tuple[list[Item], float]:
    """Samples with their words, in lines from (left, low) to right [in]; and the upper side."""
    left, low, right = box
    rows: list[list[tuple[Sample, str, float]]] = [[]]
    x = left
    for sample, words in entries:
        wide = _sample_width(sample) + text_width(words, "body") + 0.2
        if rows[-1] and x + wide > right:
            rows.append([])
            x = left
        rows[-1].append((sample, words, x))
        x += wide
    items: list[Item] = []
    for i, row in enumerate(reversed(rows)):
        y = low + 0.1 + _ROW * i
        for sample, words, at in row:
            items += _sample(sample, at, y)
            items.append(Text(at + _sample_width(sample), y - 0.035, words, "body"))
    return items, low + _ROW * len(rows)


def strip_height(entries: Sequence[tuple[Sample, str]], width: float) -> float:
    """Inches of the strip with legend, axes and scale bar on a page `width` [in] wide."""
    _, top = legend(entries, (0.0, 0.0, width - 2 * MARGIN - _STRIP_RIGHT))
    return max(_STRIP, top + 0.16)


def strip_legend(entries: Sequence[tuple[Sample, str]], low: float, width: float) -> list[Item]:
    """The legend at the left of the strip that begins at `low` [in]."""
    items, _ = legend(entries, (MARGIN + 0.1, low + 0.08, width - MARGIN - _STRIP_RIGHT + 0.1))
    return items


def _sample_width(sample: Sample) -> float:
    return _SAMPLE if isinstance(sample, Mark) else _LINE_SAMPLE + 0.07


def _sample(sample: Sample, x: float, y: float) -> list[Item]:
    if isinstance(sample, Mark):
        centre = np.array([[x + 0.12, y]])
        return mark_items(sample, centre, np.array([1.25 * LEAST]), np.array([0.6 * LEAST]))
    return [line_path([(x, y), (x + _LINE_SAMPLE, y)], sample)]


# Scale bar -------------------------------------------------------------------------------------

_STEPS = (1.0, 2.0, 5.0)
_PARTS = {1.0: 5, 2.0: 4, 5.0: 5}


def scale_bar(
    scale: float, unit: LengthUnit, x: float, y: float, most: float
) -> tuple[list[Item], float]:
    """A bar of a round length, at most `most` [in] long on the paper, and how long it is [in]."""
    wanted = unit.from_inches(most / scale)
    power = 10.0 ** math.floor(math.log10(wanted))
    step = max(s for s in _STEPS if s * power <= wanted * (1 + 1e-9))
    length = step * power
    on_paper = unit.to_inches(length) * scale
    parts = _PARTS[step]
    items: list[Item] = []
    for i in range(parts):
        left, right = x + on_paper * i / parts, x + on_paper * (i + 1) / parts
        items.append(box_path((left, y, right, y + 0.06), "white" if i % 2 else "black"))
    for share, text in ((0.0, "0"), (1.0, f"{length:g} {unit}")):
        items.append(Text(x + on_paper * share, y + 0.1, text, "soft", 0.5))
    return items, on_paper


# Axes ------------------------------------------------------------------------------------------


def axes(x: float, y: float, *, flipped: bool, words: Sequence[str]) -> list[Item]:
    """Arrows along the X and Y of the drawing, as they lie in the picture, and what they mean."""
    way = -1.0 if flipped else 1.0
    reach = 0.3
    items: list[Item] = [
        line_path([(x, y), (x + way * reach, y)], "datum"),
        line_path([(x, y), (x, y + reach)], "datum"),
        _arrow((x + way * reach, y), (way, 0.0)),
        _arrow((x, y + reach), (0.0, 1.0)),
        Text(x + way * (reach + 0.1), y - 0.03, "X", "datum", 0.5),
        Text(x, y + reach + 0.1, "Y", "datum", 0.5),
    ]
    items += text_lines(x + 0.12, y + 0.2, list(words), "soft")
    return items


def _arrow(tip: tuple[float, float], way: tuple[float, float]) -> Path:
    long, wide = 0.07, 0.025
    x, y = tip
    back = (x + way[0] * 0.02 - way[0] * long, y + way[1] * 0.02 - way[1] * long)
    corners = [
        (x + way[0] * 0.04, y + way[1] * 0.04),
        (back[0] - way[1] * wide, back[1] + way[0] * wide),
        (back[0] + way[1] * wide, back[1] - way[0] * wide),
    ]
    return Path(polygon_edges(np.array(corners)), "datum fill")


def datum(x: float, y: float) -> list[Item]:
    """The zero of the drawing: a cross in a circle."""
    r = 0.055
    return [
        *mark_ring((x, y), r),
        line_path([(x - 0.11, y), (x + 0.11, y)], "datum"),
        line_path([(x, y - 0.11), (x, y + 0.11)], "datum"),
    ]


def mark_ring(centre: tuple[float, float], radius: float) -> list[Item]:
    """A ring in the colour of the datum."""
    return [Path(circle_edges(np.array([centre]), np.array([radius])), "datum")]


def page_frame(width: float, height: float) -> Item:
    """The frame of a page."""
    box: Box = (MARGIN, MARGIN, width - MARGIN, height - MARGIN)
    return box_path(box, "frame")
