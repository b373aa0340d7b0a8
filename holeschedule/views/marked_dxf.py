"""A part as a DXF drawing: labels, findings, and one layer for each state of its holes."""

from __future__ import annotations

import io
import math
from collections import Counter
from typing import Any

import numpy as np
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new as new_document

from holeschedule.geometry.distance import nearest_holes
from holeschedule.geometry.edges import FULL_TURN_SLACK, Edges, FloatArray
from holeschedule.holes.part import Part
from holeschedule.views.callouts import Callout, finding_callouts
from holeschedule.views.explain import CAUTION
from holeschedule.views.marks import Mark
from holeschedule.views.part_picture import Fit, PartView, part_box
from holeschedule.views.text import printable

_COLOURS = {
    Mark.UNDRILLED: 8,
    Mark.PILOT: 4,
    Mark.MATCH_DRILLED: 7,
    Mark.DEBURRED: 5,
    Mark.DIMPLED: 6,
    Mark.COUNTERSUNK: 6,
    Mark.RIVETED: 3,
    Mark.FINISHED: 3,
    Mark.REJECTED: 1,
    Mark.OK: 7,
    Mark.TIGHT: 30,
    Mark.CLOSE: 1,
    Mark.SHORT: 1,
    Mark.OVERSIZE: 1,
    Mark.BREAKS_OUT: 1,
    Mark.OUTSIDE: 1,
}
"""DXF colour index of the layer of each mark."""
_LARGEST_TEXT = 0.1
"""Inches: height of a label, and …"""
_OF_SPACING = 0.25
"""… the share of the usual way to the next hole that it may have."""
_SMALLEST_TEXT = 0.02


def layer_of(mark: Mark) -> str:
    """Name of the layer that holds the holes of one mark: HOLES-DEBURRED, HOLES-BREAKS-OUT."""
    return "HOLES-" + str(mark).split(",")[0].upper().replace(" ", "-")


def marked_dxf(view: PartView) -> bytes:
    """The part as a DXF file (R2010), in the unit and on the axes of its drawing.

    Layers: OUTLINE, CUTOUTS, BEND, TRIM; HOLES-… for each state or verdict there is; LABELS, and
    FINDINGS with what is called out. Turned over, X becomes -X.
    """
    document = new_document("R2010")
    document.header["$INSUNITS"] = view.part.unit.code
    document.header["$MEASUREMENT"] = int(view.part.unit.is_metric)
    space = document.modelspace()
    pen = _Pen(space, view)
    pen.part(view.part)
    pen.holes(view)
    pen.words(view)
    held = io.StringIO()
    document.write(held)
    return held.getvalue().encode("utf-8")


class _Pen:
    """Draws in the unit of a drawing what is given in inches from the origin of a part."""

    def __init__(self, space: Any, view: PartView) -> None:
        self._space = space
        self._unit = view.part.unit
        x, y = view.part.zero.tolist()
        self._fit = Fit(1.0, view.is_turned_over, (-x if view.is_turned_over else x, y))
        self._text = _text_height(view.part)

    def part(self, part: Part) -> None:
        """Draw outline, cutouts, bend and trim lines."""
        self._layer("OUTLINE", 7)
        self._edges(part.outline.edges, "OUTLINE")
        for cutout in part.cutouts:
            self._layer("CUTOUTS", 7)
            self._edges(cutout.edges, "CUTOUTS")
        for edges, name, colour in ((part.bends, "BEND", 5), (part.trim, "TRIM", 30)):
            if len(edges):
                self._layer(name, colour)
                self._edges(edges, name)

    def holes(self, view: PartView) -> None:
        """Draw each hole as a circle on the layer of its mark."""
        for mark in Counter(view.marks):
            self._layer(layer_of(mark), _COLOURS[mark])
        centres = self._points(view.part.centres)
        rows = zip(centres, view.part.holes, view.marks, strict=True)
        for centre, hole, mark in rows:
            radius = self._length(hole.diameter / 2)
            self._space.add_circle(centre, radius, dxfattribs={"layer": layer_of(mark)})

    def words(self, view: PartView) -> None:
        """Write labels, what is called out, and the caution."""
        self._layer("LABELS", 8)
        part = view.part
        centres = self._fit.points(part.centres)
        away = np.array([hole.diameter / 2 for hole in part.holes]) + 0.3 * self._text
        for centre, out, hole in zip(centres, away, part.holes, strict=True):
            self._write(hole.label, centre + out * math.sqrt(0.5), "LABELS")
        places = dict(zip((hole.label for hole in part.holes), centres, strict=True))
        self._layer("FINDINGS", 1)
        for callout in (*view.callouts, *finding_callouts(view.findings, view.unit)):
            below = places[callout.hole] - (0.0, 2.2 * self._text)
            self._write(_in_words(callout), below, "FINDINGS")
        left, low, right, _ = part_box(part)
        if view.is_turned_over:
            left = -right
        under = np.array([left, low - 4 * self._text]) + np.asarray(self._fit.shift)
        block = view.block
        title = " ".join(filter(None, (block.name, block.build, *(v for _, v in block.facts))))
        self._write(title, under, "LABELS")
        self._write(CAUTION, under - (0.0, 2 * self._text), "LABELS")

    def _layer(self, name: str, colour: int) -> None:
        layers = self._space.doc.layers
        if name not in layers:
            layers.add(name, color=colour)

    def _points(self, points: FloatArray) -> list[tuple[float, float]]:
        return [(x, y) for x, y in self._unit.from_inches(self._fit.points(points)).tolist()]

    def _length(self, inches: float) -> float:
        return self._unit.from_inches(inches)

    def _write(self, text: str, at: FloatArray, layer: str) -> None:
        x, y = (self._length(value) for value in at.tolist())
        # %% begins a code of the text, as for a degree sign
        plain = printable(text).replace("%%", "% %")
        entity = self._space.add_text(
            plain, height=self._length(self._text), dxfattribs={"layer": layer}
        )
        entity.set_placement((x, y), align=TextEntityAlignment.LEFT)

    def _edges(self, edges: Edges, layer: str) -> None:
        placed = self._fit.edges(edges)
        look = {"layer": layer}
        starts, ends = (
            self._unit.from_inches(points).tolist() for points in (placed.start, placed.end)
        )
        centres = self._unit.from_inches(placed.centre).tolist()
        radii = self._unit.from_inches(placed.radius).tolist()
        rows = zip(starts, ends, centres, radii, placed.sweep.tolist(), strict=True)
        for start, end, centre, radius, sweep in rows:
            if not radius:
                self._space.add_line(start, end, dxfattribs=look)
            elif abs(sweep) > 2 * np.pi - FULL_TURN_SLACK:
                self._space.add_circle(centre, radius, dxfattribs=look)
            else:
                first, last = (_angle(centre, point) for point in (start, end))
                angles = (first, last) if sweep > 0 else (last, first)
                self._space.add_arc(centre, radius, *angles, dxfattribs=look)


def _angle(centre: list[float], point: list[float]) -> float:
    return math.degrees(math.atan2(point[1] - centre[1], point[0] - centre[0]))


def _text_height(part: Part) -> float:
    """Inches, by how near the holes are to each other."""
    _, spacing = nearest_holes(part.centres)
    usual = float(np.median(spacing))
    most = _OF_SPACING * usual if math.isfinite(usual) else _LARGEST_TEXT
    return max(min(_LARGEST_TEXT, most), _SMALLEST_TEXT)


def _in_words(callout: Callout) -> str:
    return f"{callout.head}: {', '.join(callout.body)}"
