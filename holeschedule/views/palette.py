"""Colours, lines and letters of every picture: one palette, on paper and on the screen.

No two marks differ by colour alone: shape and fill say the same, for a reader who sees few colours
and for a printer that has none. Every colour of a letter stands out from the paper by 4.5 : 1 or
more, and of a mark by 3 : 1 (WCAG 2.1, success criteria 1.4.3 and 1.4.11).
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

INK = "#16202b"
SOFT = "#55616d"
PAPER = "#ffffff"
METAL = "#eef2f6"
FAINT = "#c3ccd5"
SEA = "#0a5c91"
LEAF = "#0b6b4f"
OCHRE = "#8a5a00"
BRICK = "#b3320e"
PLUM = "#6d2f86"

POINTS = 72.0
"""Points in an inch, by definition."""

REGULAR, BOLD = "Helvetica", "Helvetica-Bold"


@dataclass(frozen=True, slots=True)
class Style:
    """How a line or a shape is drawn. Equality is by value.

    `width` and `dash` are points, `stroke` and `fill` colours as `#rrggbb`, None where there is
    none.
    """

    stroke: str | None = INK
    width: float = 0.5
    fill: str | None = None
    dash: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Letters:
    """How a text is set. Equality is by value. `size` is points."""

    size: float
    colour: str = INK
    font: str = REGULAR


STYLES = MappingProxyType(
    {
        "metal": Style(INK, 0.9, METAL),
        "outline": Style(INK, 0.9),
        "bend": Style(SEA, 0.7, dash=(7.0, 2.0, 1.2, 2.0)),
        "trim": Style(BRICK, 0.8, dash=(5.0, 2.5)),
        "hole": Style(INK, 0.6, PAPER),
        "in riveted": Style(PAPER, 0.5),
        "in finished": Style(LEAF, 0.5, LEAF),
        "pilot": Style(SEA, 0.8, PAPER, (1.6, 1.2)),
        "deburred": Style(SEA, 0.8, PAPER),
        "deburred fill": Style(None, 0.0, SEA),
        "dimpled": Style(PLUM, 0.8, PLUM),
        "countersunk": Style(PLUM, 0.8, PAPER),
        "countersunk fill": Style(None, 0.0, PLUM),
        "riveted": Style(LEAF, 0.8, LEAF),
        "finished": Style(LEAF, 0.9, PAPER),
        "trouble": Style(BRICK, 0.9, BRICK),
        "trouble open": Style(BRICK, 1.1, PAPER),
        "trouble line": Style(BRICK, 1.1),
        "tight": Style(OCHRE, 0.9, PAPER),
        "tight fill": Style(None, 0.0, OCHRE),
        "wide": Style(OCHRE, 0.9, PAPER, (1.6, 1.2)),
        "cross": Style(INK, 0.6),
        "leader": Style(BRICK, 0.6),
        "callout": Style(BRICK, 0.6, PAPER),
        "calm leader": Style(OCHRE, 0.5),
        "calm callout": Style(OCHRE, 0.5, PAPER),
        "tag": Style(INK, 0.5, INK),
        "datum": Style(SEA, 0.8),
        "datum fill": Style(SEA, 0.4, SEA),
        "frame": Style(INK, 1.0),
        "rule": Style(FAINT, 0.6),
        "black": Style(INK, 0.5, INK),
        "white": Style(INK, 0.5, PAPER),
        "box": Style(SOFT, 0.5, PAPER),
        "done box": Style(INK, 0.5, INK),
        "hairline": Style(INK, 0.35),
        "cut": Style(SOFT, 0.4, dash=(4.0, 3.0)),
        "register": Style(SOFT, 0.35),
        "first layer": Style(INK, 0.9),
        "second layer": Style(BRICK, 0.9, dash=(5.0, 2.0)),
        "third layer": Style(SEA, 0.9, dash=(1.5, 1.5)),
        "further layer": Style(PLUM, 0.9, dash=(7.0, 2.0, 1.2, 2.0)),
        "second layer hole": Style(BRICK, 0.8, dash=(2.0, 1.0)),
        "third layer hole": Style(SEA, 0.8, dash=(0.8, 0.8)),
        "further layer hole": Style(PLUM, 0.8, dash=(3.0, 0.8, 0.8, 0.8)),
        "place": Style(SOFT, 0.4),
    }
)
"""Lines and shapes by name."""

LETTERS = MappingProxyType(
    {
        "title": Letters(17.0, font=BOLD),
        "name": Letters(10.0, font=BOLD),
        "body": Letters(8.0),
        "soft": Letters(7.0, SOFT),
        "caution": Letters(6.5, SOFT),
        "row": Letters(8.5, PAPER, BOLD),
        "small row": Letters(6.5, PAPER, BOLD),
        "number": Letters(7.0),
        "single": Letters(7.5, font=BOLD),
        "finding": Letters(8.0, BRICK, BOLD),
        "calm finding": Letters(8.0, OCHRE, BOLD),
        "measured": Letters(7.5),
        "tick": Letters(6.5),
        "ticked": Letters(6.5, PAPER, BOLD),
        "warning": Letters(9.0, BRICK, BOLD),
        "datum": Letters(7.0, SEA, BOLD),
    }
)
"""Texts by name."""
