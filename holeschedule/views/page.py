"""A page as it will be drawn: paths, circles and texts, laid out once for every kind of file.

Everything is inches on the paper, from its lower left corner, x to the right and y up; how a thing
looks is a name in `palette`. What comes later lies on top.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from reportlab.pdfbase.pdfmetrics import stringWidth

from holeschedule.geometry.edges import Edges, FloatArray, line_edges
from holeschedule.views.palette import LETTERS, POINTS
from holeschedule.views.text import printable

Box = tuple[float, float, float, float]
"""Left, low, right and high side [in] on the paper."""

ASCENT, DESCENT = 0.74, 0.22
"""Share of its size that a line of text takes above and below its baseline."""
LINE = 1.22
"""Sizes from one baseline to the next."""
_PRINTED = "cp1252"
"""What the fonts that every PDF reader has can print."""


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """Lines and arcs in one style. Compared by identity.

    `edges` [in] on the paper; a new chain begins wherever an edge does not start at the end of the
    one before. Where the style has a fill, each chain is closed and an inner one is a window.
    """

    edges: Edges
    style: str


@dataclass(frozen=True, slots=True, eq=False)
class Circles:
    """Circles in one style. Compared by identity.

    `centres` (n, 2) and `radii` (n,) [in] on the paper. `says` is what a reader is told of each
    where a file can tell it; empty for nothing.
    """

    centres: FloatArray
    radii: FloatArray
    style: str
    says: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text. Equality is by value.

    (x, y) [in] is on the baseline: its left end, with `at` 0.5 its middle, with 1 its right end.
    """

    x: float
    y: float
    text: str
    style: str
    at: float = 0.0

    @property
    def width(self) -> float:
        """Inches on the paper."""
        return text_width(self.text, self.style)

    @property
    def box(self) -> Box:
        """What it takes up on the paper."""
        left = self.x - self.at * self.width
        size = LETTERS[self.style].size / POINTS
        return left, self.y - DESCENT * size, left + self.width, self.y + ASCENT * size


@dataclass(frozen=True, slots=True, eq=False)
class Clipped:
    """Paths and circles of which only what lies in a box is drawn. Compared by identity."""

    items: tuple[Path | Circles, ...]
    box: Box


Item = Path | Circles | Text | Clipped


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """One sheet of paper, `width` by `height` [in]. Compared by identity."""

    width: float
    height: float
    items: tuple[Item, ...]
    title: str

    @property
    def texts(self) -> tuple[Text, ...]:
        """Every text on it."""
        return tuple(item for item in self.items if isinstance(item, Text))


PAPERS = {"letter": (11.0, 8.5), "a4": (297 / 25.4, 210 / 25.4)}
"""Sheets lying on their long side [in]: ANSI/ASME Y14.1 size A, ISO 216 A4."""


# Text ------------------------------------------------------------------------------------------


def prints(letter: str) -> bool:
    """Whether the fonts that every PDF reader has can print a character."""
    try:
        letter.encode(_PRINTED)
    except UnicodeEncodeError:
        return False
    return True


def in_print(text: str) -> str:
    """The text with a question mark for each character that cannot be printed."""
    return text.encode(_PRINTED, "replace").decode(_PRINTED)


@lru_cache(maxsize=1 << 14)
def text_width(text: str, style: str) -> float:
    """Inches that a line of text takes on the paper.

    A character that cannot be printed, which a screen may show all the same, counts as a square.
    """
    letters = LETTERS[style]
    known = "".join(filter(prints, text))
    width = stringWidth(known, letters.font, letters.size)
    return float(width + letters.size * (len(text) - len(known))) / POINTS


def text_size(text: str, style: str) -> tuple[float, float]:
    """Width and height [in] of the box of a line of text."""
    return text_width(text, style), LETTERS[style].size * (ASCENT + DESCENT) / POINTS


def text_in(box: Box, text: str, style: str) -> Text:
    """A text from the left side of a box of its `text_size`."""
    return Text(box[0], box[1] + LETTERS[style].size * DESCENT / POINTS, text, style)


def line_height(style: str) -> float:
    """Inches from one baseline to the next."""
    return LETTERS[style].size * LINE / POINTS


def cut_to(text: str, style: str, width: float) -> str:
    """The text without what a file could smuggle in, cut to `width` [in] with an ellipsis."""
    clean = printable(text)
    if text_width(clean, style) <= width:
        return clean
    low, high = 0, len(clean)
    while low < high:
        middle = (low + high + 1) // 2
        fits = text_width(clean[:middle].rstrip() + "…", style) <= width
        low, high = (middle, high) if fits else (low, middle - 1)
    return clean[:low].rstrip() + "…"


def wrapped(text: str, style: str, width: float) -> list[str]:
    """The text in lines of at most `width` [in]; a longer word is cut."""
    lines: list[str] = []
    for word in printable(text).split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, style) <= width:
            lines[-1] = longer
        else:
            lines.append(cut_to(word, style, width))
    return lines


def text_lines(x: float, y: float, lines: Sequence[str], style: str, at: float = 0.0) -> list[Text]:
    """Lines under each other, the first on the baseline `y` [in]."""
    step = line_height(style)
    return [Text(x, y - step * i, line, style, at) for i, line in enumerate(lines)]


# Shapes ----------------------------------------------------------------------------------------


def box_path(box: Box, style: str) -> Path:
    """A rectangle."""
    return boxes_path([box], style)


def boxes_path(boxes: Sequence[Box], style: str) -> Path:
    """Rectangles that do not lie on each other."""
    corners = np.array(boxes)[:, [[0, 1], [2, 1], [2, 3], [0, 3]]]
    following = np.roll(corners, -1, axis=1)
    return Path(line_edges(corners.reshape(-1, 2), following.reshape(-1, 2)), style)


def line_path(points: Sequence[tuple[float, float]], style: str) -> Path:
    """An open line through points [in]."""
    corners = np.asarray(points, dtype=float)
    return Path(line_edges(corners[:-1], corners[1:]), style)


def lines_path(starts: FloatArray, ends: FloatArray, style: str) -> Path:
    """Separate lines between (n, 2) points [in]."""
    return Path(line_edges(starts, ends), style)


def overlap(one: Box, other: Box) -> bool:
    """Whether two boxes have an area in common."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
