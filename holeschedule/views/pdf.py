"""Pages as PDF, and as a raster image of it."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

import numpy as np
from reportlab.pdfgen.canvas import Canvas

from holeschedule.geometry.edges import Edges
from holeschedule.views.page import Circles, Clipped, Item, Page, Text, in_print
from holeschedule.views.palette import LETTERS, POINTS, STYLES, Style
from holeschedule.views.svg import new_chains

_WHOLE_TURN_PIECES = 16
"""Curves that a full circle is drawn with: each errs by less than a millionth of the radius."""
PNG_DOTS = 200
"""Dots to an inch of a raster image."""
_MOST_DOTS = 16_000_000


def pdf_bytes(pages: Sequence[Page]) -> bytes:
    """The pages as one PDF file, full size: an inch on the page is an inch on the paper."""
    held = io.BytesIO()
    canvas = Canvas(held, pageCompression=1, invariant=1)
    canvas.setTitle(in_print(pages[0].title))
    canvas.setCreator("holeschedule")
    for page in pages:
        canvas.setPageSize((page.width * POINTS, page.height * POINTS))
        for item in page.items:
            _draw(canvas, item)
        canvas.showPage()
    canvas.save()
    return held.getvalue()


def png_bytes(page: Page, dots: float = PNG_DOTS) -> bytes:
    """The page as a PNG file, `dots` to an inch."""
    import pypdfium2  # noqa: PLC0415 - a PDF needs none of it

    dots = min(dots, (_MOST_DOTS / (page.width * page.height)) ** 0.5)
    document = pypdfium2.PdfDocument(pdf_bytes([page]))
    try:
        image = document[0].render(scale=dots / POINTS).to_pil()
    finally:
        document.close()
    held = io.BytesIO()
    image.convert("RGB").save(held, "PNG", dpi=(dots, dots), optimize=True)
    return held.getvalue()


def _draw(canvas: Any, item: Item) -> None:
    if isinstance(item, Text):
        _draw_text(canvas, item)
        return
    if isinstance(item, Clipped):
        _draw_clipped(canvas, item)
        return
    style = STYLES[item.style]
    _set(canvas, style)
    paint = {"stroke": int(style.stroke is not None), "fill": int(style.fill is not None)}
    if isinstance(item, Circles):
        rows = zip((item.centres * POINTS).tolist(), (item.radii * POINTS).tolist(), strict=True)
        for (x, y), r in rows:
            canvas.circle(x, y, r, **paint)
    elif len(item.edges):
        path = canvas.beginPath()
        _trace(path, item.edges, closed=style.fill is not None)
        canvas.drawPath(path, **paint, fillMode=0)


def _draw_clipped(canvas: Any, item: Clipped) -> None:
    left, low, right, high = (side * POINTS for side in item.box)
    canvas.saveState()
    window = canvas.beginPath()
    window.rect(left, low, right - left, high - low)
    canvas.clipPath(window, stroke=0, fill=0)
    for inner in item.items:
        _draw(canvas, inner)
    canvas.restoreState()


def _set(canvas: Any, style: Style) -> None:
    canvas.setLineCap(0 if style.dash else 1)
    canvas.setLineJoin(1)
    canvas.setDash(list(style.dash))
    if style.stroke:
        canvas.setStrokeColor(style.stroke)
        canvas.setLineWidth(style.width)
    if style.fill:
        canvas.setFillColor(style.fill)


def _draw_text(canvas: Any, item: Text) -> None:
    letters = LETTERS[item.style]
    canvas.setFillColor(letters.colour)
    canvas.setFont(letters.font, letters.size)
    left = item.x - item.at * item.width
    canvas.drawString(left * POINTS, item.y * POINTS, in_print(item.text))


def _trace(path: Any, edges: Edges, *, closed: bool) -> None:
    """Draw chains of edges; an arc as curves of a sixteenth of a turn at most."""
    begun = False
    rows = zip(
        (edges.start * POINTS).tolist(), (edges.end * POINTS).tolist(),
        (edges.centre * POINTS).tolist(), edges.radius.tolist(), edges.sweep.tolist(),
        new_chains(edges).tolist(), strict=True,
    )  # fmt: skip
    for start, end, centre, radius, sweep, is_new in rows:
        if is_new:
            if closed and begun:
                path.close()
            path.moveTo(*start)
            begun = True
        if radius:
            _trace_arc(path, start, end, centre, sweep)
        else:
            path.lineTo(*end)
    if closed:
        path.close()


def _trace_arc(
    path: Any, start: list[float], end: list[float], centre: list[float], sweep: float
) -> None:
    """An arc as Bézier curves, with handles of 4/3·tan(θ/4) radii for a piece of θ."""
    pieces = max(1, int(np.ceil(abs(sweep) / (2 * np.pi) * _WHOLE_TURN_PIECES)))
    first = np.arctan2(start[1] - centre[1], start[0] - centre[0])
    radius = float(np.hypot(start[0] - centre[0], start[1] - centre[1]))
    angles = first + sweep * np.arange(pieces + 1) / pieces
    out = np.column_stack((np.cos(angles), np.sin(angles)))
    points = np.asarray(centre) + radius * out
    points[-1] = end
    reach = 4.0 / 3.0 * np.tan(sweep / pieces / 4.0) * radius
    along = reach * np.column_stack((-out[:, 1], out[:, 0]))
    for i in range(pieces):
        a, b, c = points[i] + along[i], points[i + 1] - along[i + 1], points[i + 1]
        path.curveTo(*a.tolist(), *b.tolist(), *c.tolist())
