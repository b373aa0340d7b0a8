"""From a DXF file to its parts: the whole reading, stage by stage."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from holeschedule.drawing.drawn import Drawn
from holeschedule.drawing.entities import EntityReader
from holeschedule.drawing.layers import LayerRoles
from holeschedule.drawing.notices import NoticeBoard, on_one_line
from holeschedule.drawing.read import OpenedDrawing, open_drawing
from holeschedule.drawing.site import Site
from holeschedule.drawing.unit import refuse_no_unit, refuse_unlikely_unit, stated_unit
from holeschedule.errors import DrawingError, HoleScheduleError
from holeschedule.geometry.edges import FloatArray, median
from holeschedule.geometry.loops import edge_boxes
from holeschedule.holes.build import build_parts
from holeschedule.holes.part import Part
from holeschedule.holes.shapes import Shapes, find_shapes
from holeschedule.model import Notice
from holeschedule.units import DrawingUnit, drawing_unit, drawing_unit_named

INCH = drawing_unit_named("in")
"""What a drawing without a unit is read in until it is refused with its sizes."""

GAP = 0.002
"""Inches. Ends of an outline this close are joined unless the user says otherwise."""
MANY_ENTITIES = 20_000
"""Entities from which on the document is worth freeing before the rest of the work."""
LARGEST_SIZE = 1e8
"""Inches. Beyond this a coordinate holds less than the accuracy of a distance."""
CURVE_TOLERANCE = 0.0001
"""Inches between a curve and the arcs it is turned into."""
LARGEST_HOLE = 0.328
"""Inches. Larger circles are cutouts: the 5/16 rivet's hole with a little to spare."""


@dataclass(frozen=True, slots=True)
class ReadOptions:
    """How to read a drawing.

    `unit` ("in", "mm") overrides the header. `gap` and `largest_hole` are inches. `layers` are
    the roles the user states.
    """

    unit: str | None = None
    gap: float = GAP
    largest_hole: float = LARGEST_HOLE
    layers: LayerRoles = field(default_factory=LayerRoles)


def read_parts(path: Path, options: ReadOptions | None = None) -> tuple[Part, ...]:
    """Read the parts drawn in the DXF file at `path`, from left to right.

    Raises
    ------
    DrawingError
        The file can't be read, or holds no part: no holes, no closed outline round them.
    UnitError
        No unit is stated, or one that does not fit the holes.
    """
    try:
        with collector_paused():
            return _read(path, options or ReadOptions())
    except HoleScheduleError as error:
        # names of files, layers and blocks may hold line ends and escape codes
        raise type(error)(on_one_line(str(error))) from error


@contextmanager
def collector_paused() -> Iterator[None]:
    """Reading makes a million objects and no rubbish: looking for rubbish costs a tenth."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _read(path: Path, options: ReadOptions) -> tuple[Part, ...]:
    opened = open_drawing(path)
    unit = stated_unit(opened.stated_unit, options.unit, str(path))
    raw, layers, board = _entities(opened, unit or INCH, options)
    site = Site(str(path), unit or INCH, _origin(raw))
    overridden = _overridden(opened.stated_unit, options.unit)
    told = (
        *opened.notices,
        *overridden,
        *(_from_drawing_units(n, site.unit) for n in board.notices()),
    )
    del opened
    if raw.size > MANY_ENTITIES:
        gc.collect()  # frees the document now: it refers to itself in circles
    drawn = raw.converted(np.array(site.origin), site.unit.to_inches)
    size = _size(drawn)
    _refuse_endless(size, site)
    board = NoticeBoard()
    gap = options.gap if unit else min(options.gap, 1e-5 * max(size))
    shapes = find_shapes(drawn, layers, options.layers, gap, board)
    if unit is None:
        refuse_no_unit(size, shapes.circles.diameter.tolist(), str(path))
    if options.unit is None:
        _doubt_unit(site, size, shapes)
    return build_parts(shapes, options.layers, options.largest_hole, site, board, told)


def _overridden(code: int | None, asked: str | None) -> tuple[Notice, ...]:
    stated = drawing_unit(code) if code else None
    if asked is None or stated is None or stated == drawing_unit_named(asked):
        return ()
    text = f"the drawing states {stated.name}; it was read in {asked}, as asked"
    return (Notice("unit.overridden", text),)


def _entities(
    opened: OpenedDrawing, unit: DrawingUnit, options: ReadOptions
) -> tuple[Drawn, tuple[str, ...], NoticeBoard]:
    board = NoticeBoard()
    tolerance = float(unit.from_inches(CURVE_TOLERANCE))
    reader = EntityReader(opened.document, str(opened.path), tolerance, board)
    drawn = reader.read()
    if not drawn.size:
        left_out = "; ".join(f"{n.layer}: {n.text}" for n in board.notices()[:3])
        raise DrawingError(
            f"{opened.path}: no line, arc or circle in the model space"
            f"{f' ({left_out})' if left_out else ''}. Is it the right sheet?"
        )
    layers = tuple(reader.layers)
    options.layers.check_names(layers, str(opened.path))
    return drawn, layers, board


def _origin(drawn: Drawn) -> tuple[float, float]:
    """A whole number of drawing units amid what is drawn, so that no stray entity moves it far."""
    x, y = np.floor(median(_corners(drawn))).tolist()
    return x, y


def _refuse_endless(size: tuple[float, float], site: Site) -> None:
    if max(size) > LARGEST_SIZE:
        raise DrawingError(
            f"{site.where}: the drawing is {site.length(max(size))} across, more than the"
            f" {site.length(LARGEST_SIZE)} that can be read. Delete what lies far off, or correct"
            " the unit with --units."
        )


def _size(drawn: Drawn) -> tuple[float, float]:
    corners = _corners(drawn)
    wide, high = (corners.max(axis=0) - corners.min(axis=0)).tolist()
    return wide, high


def _corners(drawn: Drawn) -> FloatArray:
    reach = drawn.circle_radius[:, None]
    low, high = edge_boxes(drawn.edges)
    return np.concatenate(
        (low, high, drawn.circle_centre - reach, drawn.circle_centre + reach, drawn.points)
    )


def _from_drawing_units(notice: Notice, unit: DrawingUnit) -> Notice:
    if notice.x is None or notice.y is None:
        return notice
    return replace(notice, x=float(unit.to_inches(notice.x)), y=float(unit.to_inches(notice.y)))


def _doubt_unit(site: Site, size: tuple[float, float], shapes: Shapes) -> None:
    unit = site.unit
    diameters = unit.from_inches(shapes.circles.diameter)
    wide, high = (float(unit.from_inches(v)) for v in size)
    refuse_unlikely_unit(unit, (wide, high), diameters.tolist(), site.where)
