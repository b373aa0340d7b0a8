"""A sheet for the wall of the workshop: the picture of a part, and a box to tick for each hole."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

from holeschedule.views.frame import MARGIN, page_frame, strip_height
from holeschedule.views.page import PAPERS, Item, Page, Text, box_path, cut_to, line_path
from holeschedule.views.part_picture import (
    LARGEST_SCALE,
    Layout,
    PartView,
    block_items,
    laid_out,
    legend_entries,
    page_title,
    part_box,
    part_picture,
    strip_items,
)

_BOX = 0.19
"""Inches: side of a box to tick."""
_STEP = 0.212
_LINE = 0.24
_ROW_GAP = 0.09
_TAG = 0.2
_WORK = 1.3
"""Inches for the name of an operation with its tool."""
_PAD = 0.12
_SHARES = (0.62, 0.52, 0.44, 0.37)
"""Shares of a sheet that the picture may take if boxes are to stand below it, the largest first."""
_LEGIBLE = 0.42
"""Share of the scale that the picture has on a sheet of its own, below which it is given one."""


class Tick(NamedTuple):
    """A box: its text, and whether it is done or the hole rejected. Equality is by value."""

    text: str
    is_done: bool = False
    is_rejected: bool = False


class CheckLine(NamedTuple):
    """Boxes for one operation with one tool on the holes of a row. Equality is by value.

    `row` is empty for work on the part as a whole.
    """

    row: str
    work: str
    ticks: tuple[Tick, ...]


def sheet_pages(view: PartView, lines: tuple[CheckLine, ...], paper: str) -> list[Page]:
    """Picture and boxes on as few sheets as can be read.

    The sheets stand upright, but for one with the picture alone.
    """
    least = _LEGIBLE * _scale_alone(view, paper)
    flow: _Flow | None = None
    for share in _SHARES:
        tried = _filled(view, lines, paper, share)
        if tried.scale < least:
            break
        if flow is None or len(tried.pages) < len(flow.pages):
            flow = tried
        if len(flow.pages) == 1:
            break
    flow = flow or _filled(view, lines, paper, None)
    before = 0 if flow.has_picture else 1
    total = before + len(flow.pages)
    pages = [flow.page(items, before + i, total) for i, items in enumerate(flow.pages, 1)]
    if before:
        pages.insert(0, part_picture(_with_number(view, 1, total), paper))
    return pages


def _filled(view: PartView, lines: tuple[CheckLine, ...], paper: str, share: float | None) -> _Flow:
    """Sheets with the picture on a share of the first; without it where that is None."""
    long, short = PAPERS[paper]
    flow = _Flow(view, short, long)
    if share is not None:
        flow.picture(share)
    flow.lines(lines)
    return flow


def _scale_alone(view: PartView, paper: str) -> float:
    """About the scale that the picture has on a sheet of its own."""
    long, short = PAPERS[paper]
    left, low, right, high = part_box(view.part)
    wide, tall = max(right - left, 1e-6), max(high - low, 1e-6)
    alone = max(min(long / wide, short / tall), min(short / wide, long / tall))
    return min(alone, LARGEST_SCALE)


def _with_number(view: PartView, number: int, total: int) -> PartView:
    facts = (*view.block.facts, ("sheet no.", f"{number} of {total}"))
    return replace(view, block=replace(view.block, facts=facts))


class _Flow:
    """Sheets that are filled from the top."""

    def __init__(self, view: PartView, width: float, height: float) -> None:
        self._view = view
        self._width = width
        self._height = height
        _, foot = block_items(_with_number(view, 1, 1), 1.0, width)
        self._foot = foot + _PAD
        self._y = height - MARGIN - _PAD
        self.scale = 1.0
        self.pages: list[list[Item]] = [[]]
        self.has_picture = False

    def picture(self, share: float) -> None:
        """Put the picture at the top of the first sheet, on no more than a share of it."""
        width, top = self._width, self._height - MARGIN
        strip = strip_height(legend_entries(self._view), width)
        most = (self._height - 2 * MARGIN) * share
        found = self._laid_out(top - most)
        low = top - (found.top - (top - most))
        found = self._laid_out(low)
        self.scale, self.has_picture = found.scale, True
        bottom = low - strip
        self.pages[0] += [
            *found.items,
            *strip_items(self._view, found, bottom, width),
            line_path([(MARGIN, bottom), (width - MARGIN, bottom)], "rule"),
        ]
        self._y = bottom - _PAD

    def _laid_out(self, low: float) -> Layout:
        area = (MARGIN, low, self._width - MARGIN, self._height - MARGIN)
        return laid_out(self._view, area, is_cut=True)

    def lines(self, lines: tuple[CheckLine, ...]) -> None:
        """Put boxes below each other, a new sheet where the foot is reached."""
        row: str | None = None
        for line in lines:
            if line.row != row:
                self._y -= _ROW_GAP if row is not None else 0.0
                self._need(2 * _LINE)
                self._tag(line.row)
                row = line.row
            self._line(line)

    def _tag(self, row: str) -> None:
        x, y = MARGIN + _PAD, self._y - _BOX
        if row:
            wide = _TAG if len(row) == 1 else _TAG * 1.4
            self.pages[-1] += [
                box_path((x, y, x + wide, y + _BOX), "tag"),
                Text(x + wide / 2, y + 0.055, row, "row", 0.5),
            ]

    def _line(self, line: CheckLine) -> None:
        left = MARGIN + _PAD + _TAG * 1.4 + 0.08
        first = left + _WORK
        per_line = max(1, int((self._width - MARGIN - _PAD - first) / _STEP))
        for start in range(0, len(line.ticks), per_line):
            if self._need(_LINE):
                self._tag(line.row)
            y = self._y - _BOX
            if start == 0:
                work = cut_to(line.work, "body", _WORK - 0.08)
                self.pages[-1].append(Text(left, y + 0.055, work, "body"))
            for place, tick in enumerate(line.ticks[start : start + per_line]):
                self.pages[-1] += _tick(first + place * _STEP, y, tick)
            self._y -= _LINE

    def _need(self, height: float) -> bool:
        """Begin a sheet if the one there has no `height` [in] left; whether it did."""
        if self._y - height > self._foot:
            return False
        self.pages.append([])
        self._y = self._height - MARGIN - _PAD
        return True

    def page(self, items: list[Item], number: int, total: int) -> Page:
        """A finished sheet, with frame and title block."""
        view = _with_number(self._view, number, total)
        block, _ = block_items(view, self.scale, self._width)
        frame = page_frame(self._width, self._height)
        title = f"{page_title(view)} {number} of {total}"
        return Page(self._width, self._height, (frame, *items, *block), title)


def _tick(x: float, y: float, tick: Tick) -> Iterator[Item]:
    box = (x, y, x + _BOX, y + _BOX)
    yield box_path(box, "done box" if tick.is_done else "box")
    if tick.is_rejected:
        yield line_path([(x, y), (x + _BOX, y + _BOX)], "trouble line")
        yield line_path([(x, y + _BOX), (x + _BOX, y)], "trouble line")
    style = "ticked" if tick.is_done else "tick"
    yield Text(x + _BOX / 2, y + 0.06, cut_to(tick.text, style, _BOX), style, 0.5)
