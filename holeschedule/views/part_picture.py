"""The picture of a part: its true outline, every hole to scale, rows, findings, and how it lies."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from holeschedule.geometry.distance import nearest_holes
from holeschedule.geometry.edges import Edges, FloatArray, join_edges
from holeschedule.geometry.loops import edge_boxes
from holeschedule.geometry.placement import Placement, placed_edges
from holeschedule.holes.part import Part
from holeschedule.model import Finding
from holeschedule.units import LengthUnit
from holeschedule.views.callouts import Callout, finding_callouts, place_callout
from holeschedule.views.frame import (
    MARGIN,
    Sample,
    TitleBlock,
    axes,
    datum,
    page_frame,
    scale_bar,
    strip_height,
    strip_legend,
    title_block,
)
from holeschedule.views.labels import Leaders, Room
from holeschedule.views.marks import Mark, mark_items, mark_radii, mark_reach
from holeschedule.views.page import PAPERS, Box, Item, Page, Path, Text
from holeschedule.views.part_labels import Placed, hole_numbers, row_letters
from holeschedule.views.text import plural

SCREEN = 9.0
"""Inches: width of a picture that is cut to what is on it, and the most of its height."""
LARGEST_SCALE = 4.0
"""Inches on the paper to an inch of the part, at most."""
_LYING = 0.8
"""Widths to a height of the part from which the paper lies on its long side."""
_GUTTER = 0.5
"""Inches on the paper left free round the part, for letters and numbers."""
_CALLOUT_GUTTER = 0.85
_MOST_CALLOUTS = 14
_TRIES = ((1.0, False), (1.0, True), (0.9, True), (0.8, True), (0.68, True))
"""Shares of the largest scale, and whether a wide gutter is left, that are tried until every
callout has found room."""
_ORDERS = (
    ("letters", "numbers", "callouts"),
    ("numbers", "letters", "callouts"),
    ("letters", "other numbers", "callouts"),
    ("other numbers", "letters", "callouts"),
    ("letters", "callouts", "numbers"),
)
"""In which room is given to labels, tried until all find some. The other numbers are those of
holes that no callout names."""
_MANY = 50
"""Numbers left out of which no order would place the most."""
_MOST_NAMED = 6


@dataclass(frozen=True, slots=True, eq=False)
class PartView:
    """A part and what its picture says of it. Compared by identity.

    `marks` and `says`, the words for each hole, are in step with `part.holes`. `callouts` come
    before those of the findings. `is_mirrored`: made as the mirror image of its drawing;
    `is_flipped`: seen from the other side.
    """

    part: Part
    block: TitleBlock
    marks: tuple[Mark, ...]
    says: tuple[str, ...]
    unit: LengthUnit
    findings: tuple[Finding, ...] = ()
    callouts: tuple[Callout, ...] = ()
    is_mirrored: bool = False
    is_flipped: bool = False

    @property
    def is_turned_over(self) -> bool:
        """Whether the picture is the mirror image of the drawing."""
        return self.is_mirrored != self.is_flipped


@dataclass(frozen=True, slots=True)
class Fit:
    """From a part [in] to the paper [in]: turned over or not, scaled, shifted. By value."""

    scale: float
    is_turned_over: bool
    shift: tuple[float, float]

    def points(self, points: FloatArray) -> FloatArray:
        """(n, 2) array [in on the paper]."""
        moved: FloatArray = self._placement.move(points) * self.scale + np.asarray(self.shift)
        return moved

    def edges(self, edges: Edges) -> Edges:
        """Edges on the paper; arcs stay arcs."""
        placed = placed_edges(edges, self._placement)
        shift = np.asarray(self.shift)
        start, end, centre = (
            p * self.scale + shift for p in (placed.start, placed.end, placed.centre)
        )
        return Edges(start, end, centre, placed.radius * self.scale, placed.sweep)

    @property
    def _placement(self) -> Placement:
        return Placement(flip=self.is_turned_over)


def part_box(part: Part) -> Box:
    """What the part takes up with its lines and holes [in], from `part.origin`."""
    low, high = edge_boxes(join_edges([part.outline.edges, part.trim, part.bends]))
    points = [low, high, part.centres]
    every = np.concatenate(points)
    (left, bottom), (right, top) = every.min(axis=0).tolist(), every.max(axis=0).tolist()
    return left, bottom, right, top


# Pages -----------------------------------------------------------------------------------------


def part_picture(view: PartView, paper: str | None = None) -> Page:
    """The picture of a part on one page.

    Parameters
    ----------
    view : PartView
        The part and what is said of it.
    paper : str, optional
        A name in `PAPERS`; without it the page is as high as what is on it.
    """
    if paper is None:
        return _page(view, (SCREEN, SCREEN), is_cut=True)
    left, low, right, high = part_box(view.part)
    long, short = PAPERS[paper]
    size = (long, short) if right - left >= _LYING * (high - low) else (short, long)
    return _page(view, size, is_cut=False)


def _page(view: PartView, paper: tuple[float, float], *, is_cut: bool) -> Page:
    width, height = paper
    _, low = block_items(view, 1.0, width)
    low += strip_height(legend_entries(view), width)
    found = laid_out(view, (MARGIN, low, width - MARGIN, height - MARGIN), is_cut=is_cut)
    page_height = found.top + MARGIN
    block, top = block_items(view, found.scale, width)
    strip = strip_items(view, found, top, width)
    items = (page_frame(width, page_height), *found.items, *block, *strip)
    return Page(width, page_height, items, page_title(view))


def page_title(view: PartView) -> str:
    """Title of a page about a part."""
    return " · ".join(filter(None, (view.block.name, view.block.build)))


# Layout ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """A part laid out: its scale, the upper side of its area [in], items, findings not shown.

    Compared by identity.
    """

    scale: float
    top: float
    items: list[Item]
    missing: int


def laid_out(view: PartView, area: Box, *, is_cut: bool) -> Layout:
    """The part in an area of the paper [in], as large as lets every callout find room.

    Where `is_cut` the area ends above the part.
    """
    callouts = [*view.callouts, *finding_callouts(view.findings, view.unit)]
    best: Layout | None = None
    for share, is_wide in _TRIES:
        gutter = _CALLOUT_GUTTER if is_wide else _GUTTER
        found = _tried(view, callouts[:_MOST_CALLOUTS], area, (share, gutter, is_cut))
        if best is None or found.missing < best.missing:
            best = found
        if not best.missing:
            break
    assert best is not None  # noqa: S101 - there are tries
    left_out = len(callouts) - len(callouts[:_MOST_CALLOUTS])
    return replace(best, missing=best.missing + left_out)


def _tried(
    view: PartView, callouts: Sequence[Callout], area: Box, how: tuple[float, float, bool]
) -> Layout:
    share, gutter, is_cut = how
    left, low, right, high = area
    box = part_box(view.part)
    size = max(box[2] - box[0], 1e-6), max(box[3] - box[1], 1e-6)
    room = right - left - 2 * gutter, high - low - 2 * gutter
    scale = min(room[0] / size[0], room[1] / size[1], LARGEST_SCALE)
    top = low + size[1] * scale + 2 * gutter if is_cut else high
    items, missing = drawn_part(view, callouts, (left, low, right, top), scale * share)
    return Layout(scale * share, top, items, missing)


# The part --------------------------------------------------------------------------------------


def drawn_part(
    view: PartView, callouts: Sequence[Callout], area: Box, scale: float
) -> tuple[list[Item], int]:
    """The part in the middle of an area of the paper [in], with its labels.

    Returns
    -------
    items, how many callouts found no room
    """
    fit = _fit(view, area, scale)
    placed, drawn = _placed(view, fit)
    labels: _Labels | None = None
    for order in _ORDERS:
        found = _labelled(placed, _room(view, fit, placed, area), callouts, order)
        labels = found if labels is None else min(labels, found, key=lambda tried: tried.lack)
        missing, without, left_out = labels.lack
        if not missing and not without and not 0 < left_out < _MANY:
            break
    assert labels is not None  # noqa: S101 - there are orders
    items = [*_lines(view.part, fit), *_datum(view, fit, area), *labels.leading]
    items += [*_marks(view, placed, *drawn), *labels.others]
    items += room_note(area, labels.without, labels.left_out)
    return items, labels.missing


@dataclass(frozen=True, slots=True, eq=False)
class _Labels:
    """What was placed, and what was not: callouts, rows without a letter, numbers.

    `leading` has the callouts, which lie under the marks. Compared by identity.
    """

    leading: list[Item]
    others: list[Item]
    missing: int
    without: list[str]
    left_out: int

    @property
    def lack(self) -> tuple[int, int, int]:
        """What found no room, what is missed most first."""
        return self.missing, len(self.without), self.left_out


def _labelled(
    placed: Placed, room: Room, callouts: Sequence[Callout], order: Sequence[str]
) -> _Labels:
    """Letters of rows, numbers and callouts, in the order in which room is given to them."""
    letters: list[Item] = []
    numbers: list[Item] = []
    for what in order:
        if what == "letters":
            letters, without = row_letters(room, placed)
        elif what == "numbers":
            numbers, left_out = hole_numbers(room, placed)
        elif what == "other numbers":
            named = {placed.labels.index(callout.hole) for callout in callouts}
            numbers, left_out = hole_numbers(room, placed, named)
        else:
            taken = [item.box for item in (*letters, *numbers) if isinstance(item, Text)]
            found, missing = _placed_callouts(room, placed, callouts, Leaders(taken))
    return _Labels(found, [*letters, *numbers], missing, without, left_out)


def _room(view: PartView, fit: Fit, placed: Placed, area: Box) -> Room:
    """The sheet with the part and its holes on it."""
    room = Room((area[0] + 0.06, area[1] + 0.04, area[2] - 0.06, area[3] - 0.06))
    room.take_edges(fit.edges(join_edges([view.part.edges, view.part.bends])))
    room.take_circles(placed.centres, placed.reach)
    zero = _zero(view, fit, area)
    if zero is not None:
        x, y = zero
        room.take((x - 0.12, y - 0.12, x + 0.12, y + 0.12))
    return room


def _fit(view: PartView, area: Box, scale: float) -> Fit:
    left, low, right, high = part_box(view.part)
    if view.is_turned_over:
        left, right = -right, -left
    x = (area[0] + area[2]) / 2 - (left + right) / 2 * scale
    y = (area[1] + area[3]) / 2 - (low + high) / 2 * scale
    return Fit(scale, view.is_turned_over, (x, y))


def _placed(view: PartView, fit: Fit) -> tuple[Placed, tuple[FloatArray, FloatArray]]:
    """Where the holes come to lie; and the radii of their marks, and of the holes themselves."""
    part = view.part
    holes = np.array([hole.diameter for hole in part.holes]) / 2 * fit.scale
    _, spacing = nearest_holes(part.centres)
    sizes = mark_radii(holes, spacing * fit.scale)
    labels = tuple(hole.label for hole in part.holes)
    reach = holes.copy()
    for mark in set(view.marks):
        at = np.array([found is mark for found in view.marks])
        reach[at] = mark_reach(mark, sizes[at], holes[at])
    return Placed(labels, fit.points(part.centres), reach, part.rows), (sizes, holes)


def _lines(part: Part, fit: Fit) -> list[Item]:
    loops = join_edges([part.outline.edges, *(c.edges for c in part.cutouts)])
    items: list[Item] = [Path(fit.edges(loops), "metal")]
    for edges, style in ((part.bends, "bend"), (part.trim, "trim")):
        if len(edges):
            items.append(Path(fit.edges(edges), style))
    return items


def _marks(view: PartView, placed: Placed, sizes: FloatArray, holes: FloatArray) -> list[Item]:
    items: list[Item] = []
    by_mark: dict[Mark, list[int]] = {}
    for i, mark in enumerate(view.marks):
        by_mark.setdefault(mark, []).append(i)
    for mark in Mark:
        if mark in by_mark:
            at = np.array(by_mark[mark])
            says = tuple(view.says[i] for i in by_mark[mark]) if view.says else ()
            items += mark_items(mark, placed.centres[at], sizes[at], holes[at], says)
    return items


def _placed_callouts(
    room: Room, placed: Placed, callouts: Sequence[Callout], lines: Leaders
) -> tuple[list[Item], int]:
    index = {label: i for i, label in enumerate(placed.labels)}
    items: list[Item] = []
    missing = 0
    for callout in callouts:
        hole = index[callout.hole]
        radius = float(placed.reach[hole])
        found = place_callout(room, lines, callout, placed.point(hole), radius)
        items += found
        missing += not found
    return items, missing


def _zero(view: PartView, fit: Fit, area: Box) -> tuple[float, float] | None:
    """The zero of the drawing on the paper [in], where it lies in the picture."""
    x, y = fit.points(-np.asarray([view.part.zero]))[0].tolist()
    left, low, right, high = area
    is_here = left + 0.2 < x < right - 0.2 and low + 0.2 < y < high - 0.2
    return (x, y) if is_here else None


def _datum(view: PartView, fit: Fit, area: Box) -> list[Item]:
    zero = _zero(view, fit, area)
    return [] if zero is None else datum(*zero)


def room_note(area: Box, without: Sequence[str], left_out: int, findings: int = 0) -> list[Text]:
    """What found no room in an area [in], at its lower right: letters, numbers, findings."""
    said = []
    if without:
        named = f" ({', '.join(without)})" if len(without) <= _MOST_NAMED else ""
        said.append(f"{plural(len(without), 'row')}{named} without a letter")
    if left_out:
        said.append(f"{plural(left_out, 'number')} left out")
    if findings:
        said.append(f"{plural(findings, 'more finding')}: see the audit")
    text = f"For want of room: {', '.join(said)}"
    return [Text(area[2] - 0.1, area[1] + 0.06, text, "soft", 1.0)] if said else []


# Round it --------------------------------------------------------------------------------------


def legend_entries(view: PartView) -> list[tuple[Sample, str]]:
    """What the legend of a picture tells: marks with how many there are, lines."""
    counts = Counter(view.marks)
    entries: list[tuple[Sample, str]] = [
        (mark, f"{mark}: {counts[mark]:,}") for mark in Mark if counts[mark]
    ]
    lines = ((view.part.bends, "bend", "bend line"), (view.part.trim, "trim", "trim line"))
    return entries + [(style, words) for edges, style, words in lines if len(edges)]


def strip_items(view: PartView, found: Layout, low: float, width: float) -> list[Item]:
    """Legend, axes and scale bar, from `low` [in] up, across a page `width` [in] wide."""
    left, right = MARGIN, width - MARGIN
    entries = strip_legend(legend_entries(view), low, width)
    bar, _ = scale_bar(found.scale, view.unit, right - 1.72, low + 0.2, 1.5)
    over = view.is_turned_over
    x = right - 2.75 if over else right - 3.05
    words = ["as drawn"] if not over else ["as drawn,", "turned over"]
    items = [*entries, *bar, *axes(x, low + 0.13, flipped=over, words=words)]
    if found.missing:
        more = f"{plural(found.missing, 'more finding')}: see the audit"
        items.append(
            Text(left + 0.1, low + strip_height(legend_entries(view), width) - 0.1, more, "soft")
        )
    return items


def block_items(view: PartView, scale: float, width: float) -> tuple[list[Item], float]:
    """The title block at the foot of a page `width` [in] wide, and its upper side [in]."""
    seen = "the other side" if view.is_flipped else "the side drawn"
    if view.is_mirrored:
        seen += "; mirror image"
    facts = (*view.block.facts, ("seen from", seen), ("scale", scale_words(scale)))
    return title_block(replace(view.block, facts=facts), (MARGIN, MARGIN, width - MARGIN))


def scale_words(scale: float) -> str:
    """`1 : 2.58`, `2 : 1`."""
    return f"1 : {1 / scale:.3g}" if scale <= 1 else f"{scale:.3g} : 1"
