"""The picture of a joint: its layers over each other, and at each place how far holes are off."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from holeschedule.geometry.distance import nearest_holes
from holeschedule.geometry.edges import FloatArray, join_edges
from holeschedule.geometry.loops import edge_boxes
from holeschedule.geometry.placement import placed_edges
from holeschedule.joints.layers import Joint, Layer
from holeschedule.joints.places import Place
from holeschedule.units import LengthUnit, format_length
from holeschedule.views.callouts import Callout, place_callout
from holeschedule.views.frame import (
    MARGIN,
    Sample,
    TitleBlock,
    axes,
    page_frame,
    scale_bar,
    strip_height,
    strip_legend,
    title_block,
)
from holeschedule.views.labels import Leaders, Room
from holeschedule.views.marks import Mark, mark_items
from holeschedule.views.page import (
    PAPERS,
    Box,
    Circles,
    Clipped,
    Item,
    Page,
    Path,
    box_path,
    lines_path,
)
from holeschedule.views.part_labels import Placed
from holeschedule.views.part_picture import SCREEN, Fit, room_note, scale_words
from holeschedule.views.place_labels import place_numbers

_STYLES = ("first layer", "second layer", "third layer", "further layer")
_AROUND = 0.55
"""Inches of the parts that are shown round the places, at least."""
_GUTTER = 0.3
_LARGEST_SCALE = 4.0
_SHOWN_OFFSET = 0.1
"""Inches on the paper that the largest offset is drawn with, about, …"""
_OF_SPACING = 0.22
"""… but no more than this share of the way to the next place."""
_TIMES = (1, 2, 5, 10, 20, 50, 100)
_NO_OFFSET = 0.0002
"""Inches: below it an offset is that of rounding, and is not drawn larger."""
_LEAST_RING = 2.2 / 72
_MOST_CALLOUTS = 10


@dataclass(frozen=True, slots=True, eq=False)
class JointView:
    """A joint and what its picture says of it. Compared by identity.

    The `hole` of a callout is the number of its place, as a text. `times` is how many times their
    length offsets are drawn; None for as many as can be seen.
    """

    joint: Joint
    places: tuple[Place, ...]
    block: TitleBlock
    unit: LengthUnit
    callouts: tuple[Callout, ...] = ()
    times: int | None = None


def joint_picture(view: JointView, paper: str | None = None) -> Page:
    """The picture of a joint on one page, seen from the side of the manufactured heads.

    Parameters
    ----------
    view : JointView
        The joint and what is said of it.
    paper : str, optional
        A name in `PAPERS`; without it the page is as high as what is on it.
    """
    focus = _focus(view)
    wide, tall = focus[2] - focus[0], focus[3] - focus[1]
    if paper is None:
        width, height = SCREEN, SCREEN
    else:
        long, short = PAPERS[paper]
        width, height = (long, short) if wide >= tall else (short, long)
    _, low = _block(view, 1.0, 1, width)
    low += strip_height(_entries(view), width)
    room = width - 2 * MARGIN - 2 * _GUTTER, height - MARGIN - low - 2 * _GUTTER
    scale = min(room[0] / wide, room[1] / tall, _LARGEST_SCALE)
    top = low + tall * scale + 2 * _GUTTER if paper is None else height - MARGIN
    times = view.times or _times(view, scale)
    items = _drawn(view, focus, (MARGIN, low, width - MARGIN, top), (scale, times))
    block, above = _block(view, scale, times, width)
    strip = _strip(view, scale, above, width)
    title = " · ".join(filter(None, (view.block.name, view.block.build)))
    frame = page_frame(width, top + MARGIN)
    return Page(width, top + MARGIN, (frame, *items, *block, *strip), title)


# What is shown ---------------------------------------------------------------------------------


def _focus(view: JointView) -> Box:
    """The places with some of the parts round them [in], in the frame of the first layer."""
    at = _centres(view)
    low, high = at.min(axis=0), at.max(axis=0)
    around = max(_AROUND, 0.12 * float((high - low).max()))
    boxes = np.array([_layer_box(layer) for layer in view.joint.layers])
    least, most = boxes[:, :2].min(axis=0) - 0.1, boxes[:, 2:].max(axis=0) + 0.1
    left, bottom = np.maximum(low - around, np.minimum(least, low)).tolist()
    right, top = np.minimum(high + around, np.maximum(most, high)).tolist()
    return left, bottom, right, top


def _layer_box(layer: Layer) -> Box:
    low, high = edge_boxes(placed_edges(layer.part.outline.edges, layer.placement))
    return (*low.min(axis=0).tolist(), *high.max(axis=0).tolist())


def _centres(view: JointView) -> FloatArray:
    return np.array([place.at for place in view.places])


def _times(view: JointView, scale: float) -> int:
    """How many times offsets are drawn so that they can be seen and reach no other place."""
    largest = max(
        (math.hypot(*layer.offset) for place in view.places for layer in place.layers), default=0.0
    )
    if largest < _NO_OFFSET:
        return 1
    _, spacing = nearest_holes(_centres(view))
    most = min(_SHOWN_OFFSET / (largest * scale), _OF_SPACING * float(spacing.min()) / largest)
    return max(times for times in _TIMES if times <= max(most, 1))


# The layers and the places ---------------------------------------------------------------------


def _drawn(view: JointView, focus: Box, area: Box, how: tuple[float, int]) -> list[Item]:
    scale, times = how
    x = (area[0] + area[2]) / 2 - (focus[0] + focus[2]) / 2 * scale
    y = (area[1] + area[3]) / 2 - (focus[1] + focus[3]) / 2 * scale
    fit = Fit(scale, is_turned_over=False, shift=(x, y))
    window = _window(fit, focus)
    centres = fit.points(_centres(view))
    reach = _reach(view, scale, times)
    room = Room((area[0] + 0.06, area[1] + 0.04, area[2] - 0.06, area[3] - 0.06))
    for layer in view.joint.layers:
        edges = placed_edges(layer.part.outline.edges, layer.placement)
        room.take_edges(fit.edges(edges))
    room.take_circles(centres, reach)
    labels = tuple(str(place.number) for place in view.places)
    numbers, left_out = place_numbers(room, Placed(labels, centres, reach, ()))
    callouts, missing = _callouts(
        view, room, (centres, reach), Leaders(item.box for item in numbers)
    )
    return [
        Clipped(tuple(_outlines(view.joint.layers, fit)), window),
        box_path(window, "rule"),
        *callouts,
        *_holes(view, fit, times),
        *numbers,
        *room_note(area, (), left_out, missing),
    ]


def _window(fit: Fit, focus: Box) -> Box:
    corners = fit.points(np.array([focus[:2], focus[2:]]))
    (left, low), (right, high) = corners.tolist()
    return left, low, right, high


def _outlines(layers: Sequence[Layer], fit: Fit) -> Iterator[Path]:
    """The first layer filled, the others as lines over it, each in a line of its own."""
    for number, layer in enumerate(layers):
        loops = join_edges([layer.part.outline.edges, *(c.edges for c in layer.part.cutouts)])
        edges = fit.edges(placed_edges(loops, layer.placement))
        yield Path(edges, "metal" if number == 0 else _style(number))


def _style(layer: int) -> str:
    """Line of a layer; from the fourth on they share one."""
    return _STYLES[min(layer, len(_STYLES) - 1)]


def _reach(view: JointView, scale: float, times: int) -> FloatArray:
    """(n,) how far what is drawn at each place goes [in on the paper]."""
    reach = []
    for place in view.places:
        holes = [
            ((at.diameter or 0.0) / 2 + math.hypot(*at.offset) * times) * scale
            for at in place.layers
        ]
        cross = _cross(place, scale) if place.to_drill else 0.0
        reach.append(max(*holes, cross, _LEAST_RING))
    return np.array(reach)


def _cross(place: Place, scale: float) -> float:
    """Arm of the cross where a hole is to be drilled [in on the paper]."""
    return max(place.final_diameter * scale, 2 * _LEAST_RING)


def _holes(view: JointView, fit: Fit, times: int) -> Iterator[Item]:
    """Holes of each layer, to scale, offsets drawn larger; a cross where one is to be drilled."""
    for number in range(len(view.joint.layers)):
        found = [
            (place.at, at.offset, at.diameter)
            for place in view.places
            for at in place.layers
            if at.layer == number and at.diameter is not None
        ]
        if not found:
            continue
        places = fit.points(np.array([at for at, _, _ in found]))
        offsets = np.array([offset for _, offset, _ in found]) * fit.scale * times
        radii = np.array([diameter for _, _, diameter in found]) / 2 * fit.scale
        is_off = np.hypot(*offsets.T) > _NO_OFFSET * fit.scale * times
        if is_off.any():
            yield lines_path(places[is_off], (places + offsets)[is_off], "place")
        style = "hole" if number == 0 else f"{_style(number)} hole"
        yield Circles(places + offsets, np.maximum(radii, _LEAST_RING), style)
    to_drill = [place for place in view.places if place.to_drill]
    if to_drill:
        at = fit.points(np.array([place.at for place in to_drill]))
        arms = np.array([_cross(place, fit.scale) for place in to_drill])
        yield from mark_items(Mark.UNDRILLED, at, arms, arms / 2)


def _callouts(
    view: JointView, room: Room, at: tuple[FloatArray, FloatArray], lines: Leaders
) -> tuple[list[Item], int]:
    """The callouts, and how many found no room."""
    centres, reach = at
    index = {str(place.number): i for i, place in enumerate(view.places)}
    items: list[Item] = []
    missing = len(view.callouts[_MOST_CALLOUTS:])
    for callout in view.callouts[:_MOST_CALLOUTS]:
        place = index[callout.hole]
        x, y = centres[place].tolist()
        found = place_callout(room, lines, callout, (x, y), float(reach[place]))
        items += found
        missing += not found
    return items, missing


# Round it --------------------------------------------------------------------------------------


def _entries(view: JointView) -> list[tuple[Sample, str]]:
    entries: list[tuple[Sample, str]] = []
    for number, layer in enumerate(view.joint.layers):
        thickness = "" if layer.thickness is None else format_length(layer.thickness, view.unit)
        entries.append((_style(number), " ".join(filter(None, (layer.name, thickness)))))
    to_drill = sum(len(place.to_drill) for place in view.places)
    if to_drill:
        entries.append((Mark.UNDRILLED, f"to be match-drilled: {to_drill}"))
    return entries


def _strip(view: JointView, scale: float, low: float, width: float) -> list[Item]:
    right = width - MARGIN
    entries = strip_legend(_entries(view), low, width)
    bar, _ = scale_bar(scale, view.unit, right - 1.72, low + 0.2, 1.5)
    words = [f"as {view.joint.layers[0].name}", "is drawn"]
    return [*entries, *bar, *axes(right - 3.15, low + 0.13, flipped=False, words=words)]


def _block(view: JointView, scale: float, times: int, width: float) -> tuple[list[Item], float]:
    """The title block; it says how many times their length offsets are drawn."""
    offsets = "to scale" if times == 1 else f"drawn {times} times their length"
    facts = (
        *view.block.facts,
        ("places", f"{len(view.places):,}"),
        ("offsets", offsets),
        ("seen from", "the manufactured heads"),
        ("scale", scale_words(scale)),
    )
    return title_block(replace(view.block, facts=facts), (MARGIN, MARGIN, width - MARGIN))
