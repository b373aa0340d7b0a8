"""Values that the stages share: frozen, and free of files, numpy and shapely.

Lengths are inches, angles degrees unless a name says otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Role(StrEnum):
    """What the geometry of a layer is for."""

    OUTLINE = "outline"
    HOLES = "holes"
    CUTOUTS = "cutouts"
    BEND = "bend"
    TRIM = "trim"
    IGNORED = "ignored"


class Head(StrEnum):
    """Style of the manufactured rivet head."""

    PROTRUDING = "protruding"
    FLUSH = "flush"


class HoleSize(StrEnum):
    """Whether a hole is drawn at the size it is riveted at, or smaller."""

    PILOT = "pilot"
    FINAL = "final"


class Verdict(StrEnum):
    """How a measured value stands to a rule, from harmless to worst."""

    OK = "ok"
    WIDE = "wide"
    TIGHT = "tight"
    CLOSE = "close"
    SHORT = "short"
    OVERSIZE = "oversize"
    MISALIGNED = "misaligned"
    FIGURE_EIGHT = "figure-eight"
    THIN = "thin"
    BREAKS_THROUGH = "breaks through"
    BREAKS_OUT = "breaks out"
    OUTSIDE = "outside"

    @property
    def severity(self) -> int:
        """Place in the order from harmless (0) to worst."""
        return _SEVERITY[self]

    @property
    def fails(self) -> bool:
        """Whether the audit fails: `tight` and `wide` never do."""
        return self.severity > _SEVERITY[Verdict.TIGHT]


_SEVERITY = {verdict: place for place, verdict in enumerate(Verdict)}


@dataclass(frozen=True, slots=True)
class Notice:
    """Something the reader repaired, left out or decided; never a failure.

    `code` is stable and documented in docs/reading.md. `x` and `y` are inches in part
    coordinates of the whole drawing (the drawing's own axes), None where no place is meant.
    """

    code: str
    text: str
    layer: str | None = None
    x: float | None = None
    y: float | None = None


@dataclass(frozen=True, slots=True)
class Hole:
    """One hole of a part, as drawn.

    `x`, `y` [in] are the drawing's own axes. `mark_diameter` [in] is the diameter of a
    countersink or dimple mark drawn round the hole. `residual` [in] is the largest distance of
    the drawn curve from the fitted circle. Equality is by value.
    """

    label: str
    x: float
    y: float
    diameter: float
    layer: str
    drawn_as: str
    residual: float = 0.0
    mark_diameter: float | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """Holes in one line at a regular pitch.

    `places` are indices into the part's holes, first place first. `missing` are the places
    (1 = after the first hole) where one pitch is doubled, tripled, … Where the row is `closed`
    the last hole is followed by the first.
    """

    letter: str
    places: tuple[int, ...]
    pitch: float
    missing: tuple[int, ...] = ()
    closed: bool = False


class Quantity(StrEnum):
    """What a rule limits, measured between centres or from a centre to an edge; or the hole."""

    EDGE_DISTANCE = "edge distance"
    PITCH = "pitch"
    TRANSVERSE_PITCH = "transverse pitch"
    SPACING = "spacing"
    RIM = "rim"
    DIAMETER = "diameter"
    OFFSET = "offset"
    METAL_BETWEEN = "metal between countersinks"


@dataclass(frozen=True, slots=True)
class Finding:
    """A rule that is missed, or met by less than the layout tolerance.

    `limit`, `measured` and `margin` are inches; margin is negative when the rule is missed.
    `other` is the label of the second hole, or the name of the edge; `diameter` [in] is what the
    limit is a multiple of (the shank), or the hole's own where it breaks out. A finding of one part
    names its holes by their labels; one of a joint names the part too, `FL-104:A15`, and a hole
    that is still to be drilled by its place, `J13:4 in FL-111`.
    """

    hole: str
    rule: str
    quantity: Quantity
    limit: float
    measured: float
    margin: float
    verdict: Verdict
    source: str
    diameter: float
    other: str | None = None
