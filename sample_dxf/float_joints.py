"""Which rows of the demo's parts come together, how each part lies there, and what is wrong.

A placement carries a part's own frame into the frame of its joint's first layer: mirrored about
its y axis if it is flipped, then turned, then shifted.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from flat_part import Hole, Point
from float_bay import (
    BEAM,
    CLOSE,
    DRIFT,
    FLANGE,
    FLANGE_Y,
    GUSSET_HALF,
    HATCH,
    KEEL_ROW,
    KEEL_Y,
    LARGE_SHANK,
    LEAF_HOLE,
    LEAF_PILOT,
    LEAF_SHORT,
    LENGTH,
    MARGIN,
    MISSING_Y,
    NOTCH,
    PARTS,
    RING_OUTER,
    SKEG_HIGH,
    SKEG_X,
    SKIN_LAP_END,
    SMALL,
    SMALL_SHANK,
    STRINGER_Y,
    stretched,
)


@dataclass(frozen=True, slots=True)
class Placement:
    """A rigid move: flip (x becomes -x), turn [deg], shift [in]."""

    shift: Point = (0.0, 0.0)
    turn: float = 0.0
    flip: bool = False

    def move(self, x: float, y: float) -> Point:
        """Where the point (x, y) [in] comes to lie."""
        x = -x if self.flip else x
        c, s = math.cos(math.radians(self.turn)), math.sin(math.radians(self.turn))
        return c * x - s * y + self.shift[0], s * x + c * y + self.shift[1]

    def on_sheets(self, base: Point, part: Point) -> Placement:
        """Return the same move between sheets on which the parts lie at these offsets [in]."""
        moved = Placement(turn=self.turn, flip=self.flip).move(*part)
        shift = tuple(s + b - m for s, b, m in zip(self.shift, base, moved, strict=True))
        return Placement((shift[0], shift[1]), self.turn, self.flip)


@dataclass(frozen=True, slots=True)
class Layer:
    """One part in a joint; `piece` tells several of one drawing apart."""

    part: str
    rows: tuple[str, ...]
    placement: Placement = field(default_factory=Placement)
    piece: str = "1"

    def holes(self) -> list[Hole]:
        """Return the part's holes that belong to the joint, in the part's own frame."""
        return PARTS[self.part].row(*self.rows)


@dataclass(frozen=True, slots=True)
class Joint:
    """Layers from the manufactured head inwards; `places` is the number of rivets."""

    name: str
    title: str
    rivets: str
    head: str
    places: int
    layers: tuple[Layer, ...]


def _gusset(piece: str, row: str) -> Layer:
    """Gusset 1 fwd left, 2 fwd right, 3 aft left, 4 aft right, on the bottom skin."""
    y = STRINGER_Y[piece in "24"]
    fore = Placement((0.0, y - GUSSET_HALF))
    aft = Placement((LENGTH, y + GUSSET_HALF), 180.0)
    return Layer("FL-107", (row,), fore if piece in "12" else aft, piece)


def _skin_joints() -> list[Joint]:
    """Everything riveted to the bottom skin."""
    left = Placement((0.0, FLANGE), 180.0, flip=True)
    right = Placement((0.0, BEAM - FLANGE))
    fore = Placement((FLANGE, -FLANGE), 90.0)
    aft = Placement((LENGTH - FLANGE, -FLANGE), 270.0, flip=True)
    bottom = Placement((-SKIN_LAP_END, KEEL_ROW - KEEL_Y))
    stringers = [Placement((SKIN_LAP_END, y - MARGIN)) for y in STRINGER_Y]
    return [
        Joint(
            "J1",
            "keel",
            "1/8",
            "flush",
            25,
            (Layer("FL-105", ("keel",)), Layer("FL-101", ("keel",), bottom)),
        ),
        _on_skin("J2", "left chine", "chine left", Layer("FL-102", ("chine",), left, "left")),
        _on_skin("J3", "right chine", "chine right", Layer("FL-102", ("chine",), right, "right")),
        _on_skin(
            "J4",
            "fwd bulkhead, bottom",
            "fwd bulkhead",
            _gusset("1", "flange"),
            _gusset("2", "flange"),
            Layer("FL-103", ("bottom",), fore),
        ),
        _on_skin(
            "J5",
            "aft bulkhead, bottom",
            "aft bulkhead",
            _gusset("3", "flange"),
            _gusset("4", "flange"),
            Layer("FL-104", ("bottom",), aft),
        ),
        *(
            _on_skin(
                f"J{6 + i}",
                f"{side} stringer",
                f"stringer {side}",
                _gusset(str(1 + i), "stringer"),
                _gusset(str(3 + i), "stringer"),
                Layer("FL-106", ("stringer",), stringers[i], side),
            )
            for i, side in enumerate(("left", "right"))
        ),
    ]


def _on_skin(name: str, title: str, row: str, *inside: Layer) -> Joint:
    """Rivet a row of the bottom skin, heads outside."""
    skin = Layer("FL-101", (row,))
    return Joint(name, title, "3/32", "protruding", len(skin.holes()), (skin, *inside))


def _side_joints() -> list[Joint]:
    """List the four upright rows of the side skins on the bulkheads."""
    far = LENGTH - FLANGE
    moves = {
        ("left", "fwd", "FL-103"): Placement((FLANGE, 0.0), flip=True),
        ("right", "fwd", "FL-103"): Placement((-BEAM - FLANGE, 0.0)),
        ("left", "aft", "FL-104"): Placement((far, 0.0)),
        ("right", "aft", "FL-104"): Placement((far + BEAM + 2 * FLANGE, 0.0), flip=True),
    }
    return [
        Joint(
            f"J{8 + i}",
            f"{end} bulkhead, {side} side",
            "3/32",
            "protruding",
            7,
            (
                Layer("FL-102", (f"{end} bulkhead",), piece=side),
                Layer(part, (f"side {side}",), move),
            ),
        )
        for i, ((side, end, part), move) in enumerate(moves.items())
    ]


def _other_joints() -> list[Joint]:
    """Transom, hatch and skeg."""
    on_plate = Placement((-2.75 - FLANGE, -1.0 - FLANGE))
    leaf = Placement((HATCH[0] - LEAF_PILOT[0], HATCH[1] + RING_OUTER - LEAF_PILOT[1]))
    keel = Placement((SKIN_LAP_END - SKEG_X, SKEG_HIGH - 1.675))
    rows, rest = ("transom rim", "bracket"), ("foot", "aft", "slant")
    plate, web = Layer("FL-108", rows), Layer("FL-104", rows, on_plate)
    left, right = (Layer("FL-112B", ("top",), piece=side) for side in ("left", "right"))
    skins = [Layer("FL-112B", rest, piece=side) for side in ("left", "right")]
    return [
        Joint("J12", "transom plate", "3/32, bracket 1/8", "protruding", 33, (plate, web)),
        Joint(
            "J13",
            "hatch ring and hinge leaf",
            "3/32",
            "protruding",
            20,
            (
                Layer("FL-103", ("hatch ring",)),
                Layer("FL-109", ("outer",), Placement(HATCH)),
                Layer("FL-111", ("pilot",), leaf),
            ),
        ),
        Joint(
            "J14",
            "hatch cover",
            "3/32",
            "flush",
            16,
            (Layer("FL-110", ("inner",)), Layer("FL-109", ("inner",))),
        ),
        Joint(
            "J15",
            "skeg, top row through the keel",
            "3/32",
            "flush",
            9,
            (left, Layer("FL-105", ("skeg",), keel), Layer("FL-112A", ("top",)), right),
        ),
        Joint("J16", "skeg", "3/32", "flush", 11, (skins[0], Layer("FL-112A", rest), skins[1])),
    ]


JOINTS: tuple[Joint, ...] = (*_skin_joints(), *_side_joints(), *_other_joints())


@dataclass(frozen=True, slots=True)
class Fault:
    """A planted fault: the hole (or the place where one is wanted) in the part's own frame."""

    part: str
    kind: str
    at: Point
    measured: float
    limit: float
    text: str

    def on_sheet(self) -> Point:
        """Return the position in the sheet's own axes [in]."""
        dx, dy = PARTS[self.part].offset
        return self.at[0] + dx, self.at[1] + dy


_CUT_SHORT = PARTS["FL-101"].row("chine left")[20]
_END = PARTS["FL-104"].row("bottom")[-1]

FAULTS: tuple[Fault, ...] = (
    Fault(
        "FL-101",
        "short edge",
        (_CUT_SHORT.x, _CUT_SHORT.y),
        MARGIN - NOTCH,
        2 * SMALL_SHANK,
        "1.7 D left above a locating notch cut under the hole instead of between two",
    ),
    Fault(
        "FL-104",
        "missing hole",
        (stretched(MISSING_Y), MARGIN),
        0.0,
        0.0,
        "bottom flange row, sixth place from the left",
    ),
    Fault(
        "FL-104",
        "pattern off",
        (_END.x, _END.y),
        DRIFT,
        SMALL - SMALL_SHANK,
        f"bottom flange row stretched over {FLANGE_Y[-1] - FLANGE_Y[0]} in: 0.012 in too far out "
        "at each end against FL-101",
    ),
    Fault(
        "FL-110",
        "pitch too close",
        (0.9, CLOSE / 2),
        CLOSE,
        3 * LARGE_SHANK,
        "right foot of the handle, 2.6 D between its two holes",
    ),
    Fault(
        "FL-111",
        "short when match-drilled",
        LEAF_HOLE,
        LEAF_SHORT,
        2 * SMALL_SHANK,
        "1.6 D left at the right end once drilled through the ring",
    ),
)
