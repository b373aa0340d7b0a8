"""The demo build on paper: parts, shared rows and joints of FL, the aft bay of an invented float.

Every row that runs through several parts is defined once, in the frame of the bay (X aft, Y
across, Z up, inches), and each part takes it from there. Nothing here is meant to be built.
"""

from __future__ import annotations

import math
from dataclasses import replace

from flat_part import (
    Corner,
    Hole,
    Loop,
    Part,
    Point,
    between,
    circle_points,
    holes,
    round_loop,
    rounded,
    slot_loop,
    steps,
)

SMALL, LARGE, PILOT = 0.098, 0.1285, 0.082
SMALL_SHANK, LARGE_SHANK = 3 / 32, 1 / 8
SMALL_HEAD, LARGE_HEAD = 0.179, 0.225
MARGIN = 0.3125
FLANGE = 0.625

LENGTH, BEAM, DEPTH = 24.0, 12.0, 7.0
SKIN_LAP_END = 0.70  # keel and stringers stop short of the bulkhead flanges
NOTCH = MARGIN - 1.7 * SMALL_SHANK  # a notch of this radius under a hole leaves it 1.7 D
DRIFT = 0.012  # at the two ends of the stretched row
CLOSE = 2.6 * LARGE_SHANK
LEAF_SHORT = 1.6 * SMALL_SHANK

CHINE_X = steps(1.0625, 0.875, 26)  # chines, stringers and deck edge share these stations
KEEL_X = steps(1.125, 0.90625, 25)
FLANGE_Y = steps(0.75, 0.75, 15)
SIDE_Z = steps(0.9375, 0.875, 7)
FORE_X, AFT_X = MARGIN, LENGTH - MARGIN
KEEL_Y, STRINGER_Y = 6.0, (3.0, 9.0)
MISSING_Y = FLANGE_Y[5]
SKEG_X = 15.0  # skeg's top corner, in the bay
SKEG_TOP = steps(0.6875, 0.78125, 9)
RING_OUTER, RING_INNER = 2.4375, 1.8125


# --- the parts ----------------------------------------------------------------------------------


def bottom_skin() -> Part:
    """FL-101, in the frame of the bay."""
    below = [c for x in (5.0, 12.0, CHINE_X[20]) for c in _notch(x, 0.0, 1)]
    above = [c for x in (19.0, 12.0, 5.0) for c in _notch(x, BEAM, -1)]
    outline = rounded(
        (0, 0, 0.5), *below, (LENGTH, 0, 0.5), (LENGTH, BEAM, 0.5), *above, (0, BEAM, 0.5)
    )
    rows = [
        *holes("chine left", [(x, MARGIN) for x in CHINE_X], SMALL),
        *holes("stringer left", [(x, STRINGER_Y[0]) for x in CHINE_X], SMALL),
        *holes("keel", [(x, KEEL_Y) for x in KEEL_X], LARGE),
        *holes("stringer right", [(x, STRINGER_Y[1]) for x in CHINE_X], SMALL),
        *holes("chine right", [(x, BEAM - MARGIN) for x in CHINE_X], SMALL),
        *holes("fwd bulkhead", [(FORE_X, y) for y in FLANGE_Y], SMALL),
        *holes("aft bulkhead", [(AFT_X, y) for y in FLANGE_Y], SMALL),
    ]
    drain = round_loop(21.5, 1.625, 0.25)
    return Part("FL-101", "BOTTOM SKIN", 0.032, 1, outline, tuple(rows), (drain,))


def _notch(x: float, y: float, way: int) -> list[Corner]:
    """Cut a half-round notch into an edge that runs along x (`way` 1) or against it (-1)."""
    return [(x - way * NOTCH, y, 0, -1.0), (x + way * NOTCH, y)]


def side_skin() -> Part:
    """FL-102, developed: lower flange at the bottom, trim line at the aft end."""
    end, top, aft = LENGTH - SKIN_LAP_END, FLANGE + DEPTH, LENGTH + 0.5
    outline = rounded(
        (SKIN_LAP_END, 0),
        (end, 0),
        (end, 0.75, 0.125),
        (aft, 0.75),
        (aft, top, 0.25),
        (0, top, 0.25),
        (0, 0.75),
        (SKIN_LAP_END, 0.75, 0.125),
    )
    rows = [
        *holes("chine", [(x, MARGIN) for x in CHINE_X], SMALL),
        *holes("deck edge", [(x, top - MARGIN) for x in CHINE_X], SMALL),
        *holes("fwd bulkhead", [(FORE_X, z + FLANGE) for z in SIDE_Z], SMALL),
        *holes("aft bulkhead", [(AFT_X, z + FLANGE) for z in SIDE_Z], SMALL),
    ]
    return Part(
        "FL-102",
        "SIDE SKIN, LEFT AS DRAWN, RIGHT MIRRORED",
        0.025,
        2,
        outline,
        tuple(rows),
        (slot_loop(12.0, 4.25, 2.5, 0.5),),
        (((SKIN_LAP_END, FLANGE), (end, FLANGE)),),
        (((LENGTH, 0.75), (LENGTH, top)),),
    )


def _bulkhead_outline() -> Loop:
    """Web with flanges at the bottom and both sides, a round relief at each bend corner."""
    wide, top, r = BEAM + 2 * FLANGE, FLANGE + DEPTH, 0.15
    quarter = -math.tan(math.pi / 8)
    right = wide - FLANGE
    return rounded(
        (FLANGE + r, 0),
        (right - r, 0),
        (right - r, FLANGE, 0, quarter),
        (right, FLANGE + r),
        (wide, FLANGE + r),
        (wide, top - 0.25),
        (right + 0.1, top - 0.25, 0.1),
        (right + 0.1, top),
        (FLANGE - 0.1, top),
        (FLANGE - 0.1, top - 0.25, 0.1),
        (0, top - 0.25),
        (0, FLANGE + r),
        (FLANGE, FLANGE + r, 0, quarter),
        (FLANGE + r, FLANGE),
    )


def _bulkhead_bends() -> tuple[tuple[Point, Point], ...]:
    """Bend lines of the three flanges, from relief to relief or edge."""
    right, top, r = BEAM + FLANGE, FLANGE + DEPTH, 0.15
    return (
        ((FLANGE + r, FLANGE), (right - r, FLANGE)),
        ((FLANGE, FLANGE + r), (FLANGE, top - 0.25)),
        ((right, FLANGE + r), (right, top - 0.25)),
    )


def _side_flange_holes() -> list[Hole]:
    """Lay out the two side flange rows of either bulkhead."""
    far = BEAM + 2 * FLANGE - MARGIN
    return [
        *holes("side left", [(MARGIN, z + FLANGE) for z in SIDE_Z], SMALL),
        *holes("side right", [(far, z + FLANGE) for z in SIDE_Z], SMALL),
    ]


HATCH = (KEEL_Y + FLANGE, DEPTH / 2 + FLANGE)


def fwd_bulkhead() -> Part:
    """FL-103, developed, with the hatch opening and the ring's outer hole circle."""
    rows = [
        *holes("bottom", [(y + FLANGE, MARGIN) for y in FLANGE_Y], SMALL),
        *_side_flange_holes(),
        *holes("hatch ring", circle_points(RING_OUTER, 20, HATCH), SMALL),
    ]
    return Part(
        "FL-103",
        "FWD BULKHEAD",
        0.025,
        1,
        _bulkhead_outline(),
        tuple(rows),
        (round_loop(*HATCH, 2.125),),
        _bulkhead_bends(),
        offset=(3.0, 4.0),
    )


TRANSOM_RIM_Y = steps(3.0625, 0.734375, 9)
TRANSOM_RIM_Z = steps(1.3125, 4.375 / 6, 7)
BRACKET_Z = (1.9375, 2.5, 3.9375, 4.5, 5.0625)
SLOT = (6.0, 3.21875, 1.5, 0.375)


def _transom_rows(dy: float, dz: float) -> list[Hole]:
    """Move the transom plate's rows from the bay's (Y, Z) into a part's frame."""
    ys, zs = TRANSOM_RIM_Y, TRANSOM_RIM_Z
    rim = [(y, zs[0]) for y in ys] + [(ys[-1], z) for z in zs[1:-1]]
    rim += [(y, zs[-1]) for y in reversed(ys)] + [(ys[0], z) for z in reversed(zs[1:-1])]
    moved = [(y + dy, z + dz) for y, z in rim]
    bracket = [(KEEL_Y + dy, z + dz) for z in BRACKET_Z]
    return [*holes("transom rim", moved, SMALL), *holes("bracket", bracket, LARGE)]


def stretched(y: float) -> float:
    """Carry a hole of the bottom row across to FL-104 [in], as a stretched rule does."""
    return KEEL_Y + FLANGE + (y - KEEL_Y) * (1 + DRIFT / (FLANGE_Y[-1] - KEEL_Y))


def aft_bulkhead() -> Part:
    """FL-104, developed; its bottom row is stretched and lacks one hole (planted)."""
    bottom = [(stretched(y), MARGIN) for y in FLANGE_Y if y != MISSING_Y]
    rows = [*holes("bottom", bottom, SMALL), *_side_flange_holes()]
    rows += _transom_rows(FLANGE, FLANGE)
    lightening = [round_loop(y + FLANGE, 2.25 + FLANGE, 0.625) for y in (4.5, 7.5)]
    y, z, length, width = SLOT
    slot = slot_loop(y + FLANGE, z + FLANGE, length, width)
    return Part(
        "FL-104",
        "AFT BULKHEAD",
        0.025,
        1,
        _bulkhead_outline(),
        tuple(rows),
        (*lightening, slot),
        _bulkhead_bends(),
    )


KEEL_WIDE, KEEL_BEND, KEEL_ROW = 1.675, 0.875, 0.40


def keel_angle() -> Part:
    """FL-105, developed; countersunk in both legs."""
    long = LENGTH - 2 * SKIN_LAP_END
    outline = rounded((0, 0, 0.25), (long, 0, 0.25), (long, KEEL_WIDE, 0.25), (0, KEEL_WIDE, 0.25))
    skeg = [(SKEG_X + u - SKIN_LAP_END, KEEL_WIDE - MARGIN) for u in SKEG_TOP]
    rows = [
        *holes("keel", [(x - SKIN_LAP_END, KEEL_ROW) for x in KEEL_X], LARGE, LARGE_HEAD),
        *holes("skeg", skeg, SMALL, SMALL_HEAD),
    ]
    bend = ((0.0, KEEL_BEND), (long, KEEL_BEND))
    return Part("FL-105", "KEEL ANGLE", 0.063, 1, outline, tuple(rows), bends=(bend,))


def stringer() -> Part:
    """FL-106, developed."""
    long, wide = LENGTH - 2 * SKIN_LAP_END, 1.375
    outline = rounded((0, 0), (long, 0), (long, wide, 0.5), (0, wide, 0.5))
    row = holes("stringer", [(x - SKIN_LAP_END, MARGIN) for x in CHINE_X], SMALL)
    bend = ((0.0, 0.6875), (long, 0.6875))
    return Part("FL-106", "STRINGER", 0.032, 2, outline, tuple(row), bends=(bend,))


GUSSET_HALF = 0.75 + MARGIN


def gusset() -> Part:
    """FL-107: ties a stringer's end to a bulkhead flange; three flange holes, three stringer's."""
    h, tip = GUSSET_HALF, CHINE_X[2] + MARGIN
    outline = rounded(
        (0, 0, 0.25),
        (FLANGE, 0, 0.25),
        (2.0, h - MARGIN, 0.5),
        (tip, h - MARGIN, 0.25),
        (tip, h + MARGIN, 0.25),
        (2.0, h + MARGIN, 0.5),
        (FLANGE, 2 * h, 0.25),
        (0, 2 * h, 0.25),
    )
    rows = [
        *holes("flange", [(FORE_X, h + dy) for dy in (-0.75, 0.0, 0.75)], SMALL),
        *holes("stringer", [(x, h) for x in CHINE_X[:3]], SMALL),
    ]
    return Part("FL-107", "GUSSET", 0.032, 4, outline, tuple(rows))


def transom_plate() -> Part:
    """FL-108, far from the sheet's origin."""
    wide, high, r = 6.5, 5.0, 0.375
    outline = rounded((0, 0, r), (wide, 0, r), (wide, high, r), (0, high, r))
    y, z, length, width = SLOT
    rows = _transom_rows(-2.75, -1.0)
    slot = slot_loop(y - 2.75, z - 1.0, length, width)
    return Part(
        "FL-108",
        "TRANSOM PLATE",
        0.040,
        1,
        outline,
        tuple(rows),
        (slot,),
        offset=(18250.5, 53240.25),
    )


def hatch_ring() -> Part:
    """FL-109, its centre at its own origin."""
    rows = [
        *holes("outer", circle_points(RING_OUTER, 20), SMALL),
        *holes("inner", circle_points(RING_INNER, 16), SMALL),
    ]
    return Part(
        "FL-109",
        "HATCH RING DOUBLER",
        0.050,
        1,
        round_loop(0, 0, 2.75),
        tuple(rows),
        (round_loop(0, 0, 1.5),),
        offset=(3.0, 3.0),
    )


def hatch_cover() -> Part:
    """FL-110; the right foot of its handle has its two holes too close (planted)."""
    feet = [(-0.9, -0.25), (-0.9, 0.25), (0.9, -CLOSE / 2), (0.9, CLOSE / 2)]
    rows = [
        *holes("inner", circle_points(RING_INNER, 16), SMALL),
        *holes("handle", feet, LARGE),
    ]
    return Part("FL-110", "HATCH COVER", 0.032, 1, round_loop(0, 0, 2.0625), tuple(rows))


LEAF_PILOT = (1.05, 0.42)
LEAF_HOLE = (  # where the ring's next hole clockwise comes out on the leaf
    LEAF_PILOT[0] + RING_OUTER * math.sin(math.pi / 10),
    LEAF_PILOT[1] - RING_OUTER * (1 - math.cos(math.pi / 10)),
)


def hinge_leaf() -> Part:
    """FL-111: a blank with one pilot hole, cut off short at its right end (planted)."""
    long, wide = LEAF_HOLE[0] + LEAF_SHORT, LEAF_PILOT[1] + MARGIN
    outline = rounded((0, 0, 0.125), (long, 0, 0.125), (long, wide, 0.125), (0, wide, 0.125))
    pilot = holes("pilot", [LEAF_PILOT], PILOT)
    return Part("FL-111", "HINGE LEAF BLANK", 0.040, 1, outline, tuple(pilot))


SKEG_LONG, SKEG_HIGH = 7.25, 3.0


def _skeg(number: str, name: str, thickness: float, quantity: int, mark: float | None) -> Part:
    """One layer of the skeg: all three share outline and holes."""
    long, high = SKEG_LONG, SKEG_HIGH
    outline = rounded((2.5, 0, 0.375), (long, 0, 0.25), (long, high), (0, high))
    top = [(u, high - MARGIN) for u in SKEG_TOP]
    foot = [(u, MARGIN) for u in steps(2.6875, 0.85, 6)]
    rows = [
        *holes("top", top, SMALL, mark),
        *holes("foot", foot, SMALL, mark),
        *holes("aft", between(foot[-1], top[-1], 2), SMALL, mark),
        *holes("slant", between(top[0], foot[0], 3), SMALL, mark),
    ]
    return Part(number, name, thickness, quantity, outline, tuple(rows))


def skeg_core() -> Part:
    """FL-112A, countersunk from both sides."""
    return _skeg("FL-112A", "SKEG WEDGE CORE, TAPERS 0.125 TO 0.100", 0.125, 1, SMALL_HEAD)


def skeg_skin() -> Part:
    """FL-112B, dimpled into the core."""
    return replace(_skeg("FL-112B", "SKEG SKIN", 0.025, 2, None), offset=(9.0, 0.0))


PARTS: dict[str, Part] = {
    part.number: part
    for part in (
        bottom_skin(),
        side_skin(),
        fwd_bulkhead(),
        aft_bulkhead(),
        keel_angle(),
        stringer(),
        gusset(),
        transom_plate(),
        hatch_ring(),
        hatch_cover(),
        hinge_leaf(),
        skeg_core(),
        skeg_skin(),
    )
}
