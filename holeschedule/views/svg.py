"""A page as SVG: a small writer of our own, in which no text can become markup."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from holeschedule.geometry.edges import FULL_TURN_SLACK, Edges, FloatArray
from holeschedule.views.page import Circles, Clipped, Page, Path, Text
from holeschedule.views.palette import BOLD, LETTERS, PAPER, POINTS, STYLES, Letters, Style

_FAMILY = "Helvetica,Arial,'Liberation Sans','Nimbus Sans',sans-serif"
"""Faces with one set of widths, so that a text takes the room that was laid out for it."""
_SAME_POINT = 1e-9
_ESCAPES = {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;"}
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def escaped(text: str) -> str:
    """The text with every character that XML or HTML could take for markup written as its name."""
    clean = _NOT_XML.sub("\ufffd", text)
    return "".join(_ESCAPES.get(letter, letter) for letter in clean)


def svg_text(page: Page, *, alone: bool = True) -> str:
    """The page as the text of an SVG file, or as the part of an HTML page where not `alone`.

    One unit is a point, 1/72 in. There is no script in it, no link and nothing from elsewhere.
    """
    width, height = page.width * POINTS, page.height * POINTS
    head = '<?xml version="1.0" encoding="UTF-8"?>\n' if alone else ""
    size = f' width="{_n(page.width)}in" height="{_n(page.height)}in"' if alone else ""
    parts = [
        f'{head}<svg xmlns="http://www.w3.org/2000/svg"{size}'
        f' viewBox="0 0 {_n(width)} {_n(height)}" role="img" font-family="{_FAMILY}">',
        f"<title>{escaped(page.title)}</title>",
        f'<rect width="{_n(width)}" height="{_n(height)}" fill="{PAPER}"/>',
    ]
    for item in page.items:
        if isinstance(item, Clipped):
            parts += _clipped(item, page.height)
        else:
            parts += _drawn(item, page.height)
    return "\n".join([*parts, "</svg>\n"])


def _clipped(item: Clipped, height: float) -> Iterator[str]:
    """A picture within the picture shows no more than its own box."""
    left, low, right, high = (side * POINTS for side in item.box)
    x, y, wide, deep = _n(left), _n(height * POINTS - high), _n(right - left), _n(high - low)
    yield f'<svg x="{x}" y="{y}" width="{wide}" height="{deep}" viewBox="{x} {y} {wide} {deep}">'
    for inner in item.items:
        yield from _drawn(inner, height)
    yield "</svg>"


def _drawn(item: Path | Circles | Text, height: float) -> Iterator[str]:
    if isinstance(item, Text):
        yield _text(item, height)
    elif isinstance(item, Circles):
        yield f"<g {_look(STYLES[item.style])}>"
        yield from _circles(item, height)
        yield "</g>"
    elif len(item.edges):
        style = STYLES[item.style]
        rule = ' fill-rule="evenodd"' if style.fill else ""
        data = path_data(item.edges, height, closed=style.fill is not None)
        yield f'<path {_look(style)}{rule} d="{data}"/>'


def _look(style: Style) -> str:
    look = f'fill="{style.fill or "none"}"'
    if style.stroke:
        look += f' stroke="{style.stroke}" stroke-width="{_n(style.width)}"'
    if style.dash:
        look += f' stroke-dasharray="{" ".join(map(_n, style.dash))}"'
    return look


def _circles(item: Circles, height: float) -> Iterator[str]:
    x, y = item.centres[:, 0] * POINTS, (height - item.centres[:, 1]) * POINTS
    says = item.says or ("",) * len(item.radii)
    rows = zip(x.tolist(), y.tolist(), (item.radii * POINTS).tolist(), says, strict=True)
    for cx, cy, r, said in rows:
        end = f"><title>{escaped(said)}</title></circle>" if said else "/>"
        yield f'<circle cx="{_n(cx)}" cy="{_n(cy)}" r="{_n(r)}"{end}'


def _text(item: Text, height: float) -> str:
    letters: Letters = LETTERS[item.style]
    anchor = {0.0: "", 0.5: ' text-anchor="middle"', 1.0: ' text-anchor="end"'}[item.at]
    weight = ' font-weight="700"' if letters.font == BOLD else ""
    # whatever face the reader's machine has, the text keeps within its box
    held = f' textLength="{_n(item.width * POINTS)}" lengthAdjust="spacingAndGlyphs"'
    return (
        f'<text x="{_n(item.x * POINTS)}" y="{_n((height - item.y) * POINTS)}"'
        f' font-size="{_n(letters.size)}"{weight} fill="{letters.colour}"{anchor}'
        f"{held if item.text else ''}>{escaped(item.text)}</text>"
    )


def path_data(edges: Edges, height: float, *, closed: bool) -> str:
    """The `d` of an SVG path [pt], y down from a page `height` [in] high; arcs stay arcs."""
    starts, ends = _down(edges.start, height), _down(edges.end, height)
    breaks = new_chains(edges)
    mids = _down(edges.points_at(0.5), height)
    said: list[str] = []
    rows = zip(
        starts.tolist(), ends.tolist(), mids.tolist(), (edges.radius * POINTS).tolist(),
        edges.sweep.tolist(), breaks.tolist(), strict=True,
    )  # fmt: skip
    for (x0, y0), (x1, y1), (xm, ym), r, sweep, is_new in rows:
        if is_new:
            said.append(f"{'Z' if closed and said else ''}M{_n(x0)} {_n(y0)}")
        # counter-clockwise with y up is what SVG, with y down, calls sweep 0
        turn = int(sweep < 0)
        if not r:
            said.append(f"L{_n(x1)} {_n(y1)}")
        elif abs(sweep) > 2 * np.pi - FULL_TURN_SLACK:
            half = f"A{_n(r)} {_n(r)} 0 0 {turn}"
            said.append(f"{half} {_n(xm)} {_n(ym)}{half} {_n(x1)} {_n(y1)}")
        else:
            large = int(abs(sweep) > np.pi)
            said.append(f"A{_n(r)} {_n(r)} 0 {large} {turn} {_n(x1)} {_n(y1)}")
    return "".join(said) + ("Z" if closed else "")


def new_chains(edges: Edges) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """(n,) array: where an edge does not start at the end of the one before."""
    apart = np.abs(edges.start[1:] - edges.end[:-1]).max(axis=1) > _SAME_POINT
    return np.concatenate(([True], apart)) if len(edges) else np.zeros(0, dtype=bool)


def _down(points: FloatArray, height: float) -> FloatArray:
    turned: FloatArray = np.column_stack((points[:, 0], height - points[:, 1])) * POINTS
    return turned


def _n(value: float) -> str:
    """A number in as few characters as a thousandth of a point takes."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
