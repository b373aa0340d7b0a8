"""Pictures for tests: views of the demo's parts, and what can be asked of any page."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pypdfium2
from pypdfium2 import raw

from holeschedule.audit.report import audit_part
from holeschedule.audit.rules import load_rule_set
from holeschedule.holes.part import Part
from holeschedule.units import LengthUnit
from holeschedule.views.frame import TitleBlock
from holeschedule.views.marks import Mark
from holeschedule.views.page import Circles, Clipped, Item, Page, Text, overlap
from holeschedule.views.part_picture import PartView
from tests.joints import demo_part

PARTS = (
    *(f"FL-{number}" for number in range(101, 112)),
    "FL-112A",
    "FL-112B",
)
"""Every part of the demo."""
POINTS = 72.0


def view_of(part: Part, name: str = "", **how: object) -> PartView:
    """The view of a part by verdict, as of a bare drawing."""
    audit = audit_part(part, load_rule_set("faa"))
    marks = tuple(Mark(str(verdict)) for verdict in audit.verdicts)
    says = tuple(hole.label for hole in part.holes)
    block = TitleBlock(name or part.name, "The build", (("date", "2026-03-05"),))
    view = PartView(part, block, marks, says, LengthUnit.INCH, audit.findings)
    return replace(view, **how) if how else view


@cache
def demo_view(name: str) -> PartView:
    """The view of a part of the demo."""
    return view_of(demo_part(name), name)


def texts(page: Page) -> list[str]:
    """Every text of a page."""
    return [item.text for item in page.texts]


def crossing_texts(page: Page) -> list[tuple[str, str]]:
    """Pairs of texts whose boxes have an area in common."""
    pairs = itertools.combinations((item for item in page.texts if item.text), 2)
    return [(a.text, b.text) for a, b in pairs if overlap(a.box, b.box)]


def texts_off(page: Page) -> list[str]:
    """Texts that reach beyond the paper."""
    return [
        item.text
        for item in page.texts
        if item.box[0] < 0
        or item.box[1] < 0
        or item.box[2] > page.width
        or item.box[3] > page.height
    ]


def circles(page: Page, *styles: str) -> list[tuple[float, float, float]]:
    """Centre and radius [in on the paper] of circles in some styles; in all where none is named."""
    found = []
    for item in _flat(page.items):
        if isinstance(item, Circles) and (not styles or item.style in styles):
            rows = zip(item.centres.tolist(), item.radii.tolist(), strict=True)
            found += [(x, y, r) for (x, y), r in rows]
    return found


def _flat(items: Sequence[Item]) -> Iterator[Item]:
    for item in items:
        if isinstance(item, Clipped):
            yield from item.items
        else:
            yield item


def text_named(page: Page, text: str) -> Text:
    """The only text of a page that reads so."""
    (found,) = [item for item in page.texts if item.text == text]
    return found


# Reading a PDF back ----------------------------------------------------------------------------


def pdf_shapes(content: bytes) -> list[list[np.ndarray]]:
    """Points (k, 2) [in] of every path on each page of a PDF, by pdfium's own reading."""
    document = pypdfium2.PdfDocument(content)
    try:
        return [[_points(shape) for shape in page.get_objects([raw.FPDF_PAGEOBJ_PATH])]
                for page in document]  # fmt: skip
    finally:
        document.close()


def _points(shape: pypdfium2.PdfObject) -> np.ndarray:
    a, b, c, d, e, f = shape.get_matrix().get()
    count = raw.FPDFPath_CountSegments(shape.raw)
    found = np.empty((count, 2))
    x, y = raw.c_float(), raw.c_float()
    for i in range(count):
        segment = raw.FPDFPath_GetPathSegment(shape.raw, i)
        assert raw.FPDFPathSegment_GetPoint(segment, x, y)
        found[i] = (a * x.value + c * y.value + e, b * x.value + d * y.value + f)
    return found / POINTS


def pdf_circles(shapes: Sequence[np.ndarray]) -> list[tuple[float, float, float]]:
    """Centre and radius [in] of the paths that are circles of four curves."""
    found = []
    for points in shapes:
        if len(points) < 13:
            continue
        low, high = points[:13].min(axis=0), points[:13].max(axis=0)
        wide, tall = (high - low).tolist()
        if math.isclose(wide, tall, rel_tol=1e-3, abs_tol=1e-5):
            x, y = ((low + high) / 2).tolist()
            found.append((x, y, wide / 2))
    return found


def png_size(path: Path) -> tuple[int, int]:
    """Width and height of a PNG file."""
    head = path.read_bytes()[:24]
    assert head[:8] == b"\x89PNG\r\n\x1a\n"
    return int.from_bytes(head[16:20]), int.from_bytes(head[20:24])
