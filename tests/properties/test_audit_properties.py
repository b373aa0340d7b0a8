"""What a drawing says of a part does not hang on where, how turned or in which order it is drawn.

Parts are drawn at random, written as DXF, read back and audited, and so are the same parts moved,
turned, mirrored, drawn in millimetres, or with their entities shuffled.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from holeschedule.audit.report import PartAudit, audit_part
from holeschedule.audit.rules import load_rule_set
from holeschedule.holes.parts import read_parts
from holeschedule.model import Quantity, Verdict
from tests.makers import new_drawing, save

FloatArray = NDArray[np.float64]
Vertex = tuple[float, float, float]
Place = tuple[float, float]
Move = Callable[[complex], complex]

FAA = load_rule_set("faa")
SIZES = (0.098, 0.1285, 0.159)
WIDE, HIGH = 14.0, 9.0
SAME = 1e-9
"""Inches."""


@dataclass(frozen=True)
class Drawn:
    """A part as it is drawn: loops of (x, y, bulge), and circles (x, y, radius)."""

    loops: tuple[tuple[Vertex, ...], ...]
    circles: tuple[tuple[float, float, float], ...]

    def moved(self, move: Move, *, scale: float = 1.0, mirrored: bool = False) -> Drawn:
        """The part with every point moved; a mirrored arc bulges the other way."""

        def at(x: float, y: float) -> Place:
            z = move(complex(x, y)) * scale
            return z.real, z.imag

        side = -1 if mirrored else 1
        return Drawn(
            tuple(tuple((*at(x, y), side * bulge) for x, y, bulge in loop) for loop in self.loops),
            tuple((*at(x, y), radius * scale) for x, y, radius in self.circles),
        )


# parts at random -------------------------------------------------------------------------------


def rounded_plate(radius: float) -> tuple[Vertex, ...]:
    quarter = math.tan(math.pi / 8)
    w, h, r = WIDE, HIGH, radius
    return (
        (r, 0, 0), (w - r, 0, quarter), (w, r, 0), (w, h - r, quarter),
        (w - r, h, 0), (r, h, quarter), (0, h - r, 0), (0, r, quarter),
    )  # fmt: skip


def slot(x: float, y: float, length: float, radius: float) -> tuple[Vertex, ...]:
    half = length / 2
    return (
        (x - half, y - radius, 0), (x + half, y - radius, 1),
        (x + half, y + radius, 0), (x - half, y + radius, 1),
    )  # fmt: skip


@st.composite
def rows_of_holes(draw: st.DrawFn) -> list[tuple[float, float, float]]:
    """A few level rows one above the other: pitches and distances on either side of the limits."""
    circles = []
    y = draw(st.floats(0.12, 0.5))
    for _ in range(draw(st.integers(1, 4))):
        pitch, count = draw(st.floats(0.3, 1.1)), draw(st.integers(3, 10))
        first, size = draw(st.floats(0.15, 1.0)), draw(st.sampled_from(SIZES))
        circles += [(first + pitch * i, y, size / 2) for i in range(count)]
        y += draw(st.floats(0.4, 1.6))
    return circles


@st.composite
def parts(draw: st.DrawFn) -> Drawn:
    """A plate with rounded corners, rows of holes, single holes, and cutouts round and long."""
    singles = draw(
        st.lists(st.tuples(st.integers(0, 9), st.floats(-0.3, 0.3)), max_size=4, unique_by=first)
    )
    circles = draw(rows_of_holes())
    circles += [(0.9 + 1.35 * i, 7.8 + off, 0.049 + 0.01 * i) for i, off in singles]
    cutouts = [(11.5, 2.0 + draw(st.floats(0, 1.5)), draw(st.floats(0.3, 1.5)))]
    long = slot(12.0, 6.3, draw(st.floats(0.2, 2.0)), draw(st.floats(0.2, 0.6)))
    return Drawn((rounded_plate(draw(st.floats(0.3, 1.5))), long), (*circles, *cutouts))


def first(pair: tuple[int, float]) -> int:
    return pair[0]


# reading ---------------------------------------------------------------------------------------


def audited(
    drawn: Drawn, folder: Path, *, unit: int = 1, order: random.Random | None = None
) -> PartAudit:
    """The audit of a part after it went through a DXF file."""
    doc = new_drawing(unit=unit)
    space = doc.modelspace()
    steps: list[Callable[[], object]] = [
        partial(space.add_lwpolyline, loop, format="xyb", close=True) for loop in drawn.loops
    ]
    steps += [partial(space.add_circle, c[:2], c[2]) for c in drawn.circles]
    if order:
        order.shuffle(steps)
    for step in steps:
        step()
    (part,) = read_parts(save(doc, folder))
    return audit_part(part, FAA)


def matched(one: PartAudit, other: PartAudit, move: Move) -> NDArray[np.intp]:
    """For each hole of `one` its number in `other`, which shows the part moved by `move` [in]."""
    there = np.array([(z.real, z.imag) for z in (move(complex(h.x, h.y)) for h in one.part.holes)])
    away, which = cKDTree([(h.x, h.y) for h in other.part.holes]).query(there)
    assert away.max() < 1e-6
    assert sorted(which.tolist()) == list(range(len(other.part.holes)))
    return np.asarray(which)


def assert_same_audit(one: PartAudit, other: PartAudit, move: Move) -> None:
    """Every distance, verdict and finding is the same, hole for hole."""
    which = matched(one, other, move)
    a, b = one.measured, other.measured
    assert np.abs(a.edge_distance - b.edge_distance[which]).max() < SAME
    assert np.abs(a.nearest_distance - b.nearest_distance[which]).max() < SAME
    assert one.verdicts == tuple(other.verdicts[i] for i in which)
    assert one.short_if_flush == other.short_if_flush
    name = {h.label: other.part.holes[i].label for h, i in zip(one.part.holes, which, strict=True)}
    assert findings(one, name) == findings(other, {})


def findings(audit: PartAudit, name: dict[str, str]) -> list[tuple[object, ...]]:
    """Findings by other names: of rows where they tell of rows, at one of many equal places.

    Cutouts are numbered by where they lie, and lose their numbers here.
    """
    told = []
    for f in audit.findings:
        other = "cutout" if str(f.other).startswith("cutout") else str(f.other)
        where = sorted(name.get(label, label) for label in (f.hole, other))
        if f.verdict is Verdict.WIDE:
            where = []
        elif f.quantity is Quantity.TRANSVERSE_PITCH:
            where = sorted(label.rstrip("0123456789") for label in where)
        told.append((f.rule, str(f.verdict), round(f.measured, 7), *where))
    return sorted(told)


def labels(audit: PartAudit, which: Sequence[int] | NDArray[np.intp]) -> list[str]:
    return [audit.part.holes[i].label for i in which]


# properties ------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("parts")


drawing_each_time = settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)


@drawing_each_time
@given(parts(), st.floats(-5000, 5000), st.floats(-5000, 5000))
def test_moving_a_part_changes_no_distance_no_verdict_and_no_label(
    folder: Path, drawn: Drawn, dx: float, dy: float
) -> None:
    def move(z: complex) -> complex:
        return z + complex(dx, dy)

    one, other = audited(drawn, folder), audited(drawn.moved(move), folder)
    assert_same_audit(one, other, move)
    assert labels(one, range(len(one.part.holes))) == labels(other, matched(one, other, move))


@drawing_each_time
@given(parts(), st.floats(0, 360))
def test_turning_a_part_changes_no_distance_and_no_verdict(
    folder: Path, drawn: Drawn, degrees: float
) -> None:
    turn = complex(math.cos(math.radians(degrees)), math.sin(math.radians(degrees)))

    def move(z: complex) -> complex:
        return z * turn

    assert_same_audit(audited(drawn, folder), audited(drawn.moved(move), folder), move)


@drawing_each_time
@given(parts())
def test_mirroring_a_part_changes_no_distance_and_no_verdict(folder: Path, drawn: Drawn) -> None:
    def move(z: complex) -> complex:
        return complex(-z.real, z.imag)

    other = audited(drawn.moved(move, mirrored=True), folder)
    assert_same_audit(audited(drawn, folder), other, move)


def stay(z: complex) -> complex:
    return z


@drawing_each_time
@given(parts())
def test_a_part_in_millimetres_is_the_same_part(folder: Path, drawn: Drawn) -> None:
    other = audited(drawn.moved(stay, scale=25.4), folder, unit=4)
    one = audited(drawn, folder)
    assert_same_audit(one, other, stay)
    assert labels(one, range(len(one.part.holes))) == labels(other, matched(one, other, stay))


@drawing_each_time
@given(parts(), st.randoms(use_true_random=False))
def test_shuffling_the_entities_changes_no_distance_no_verdict_and_no_label(
    folder: Path, drawn: Drawn, order: random.Random
) -> None:
    one, other = audited(drawn, folder), audited(drawn, folder, order=order)
    assert_same_audit(one, other, stay)
    assert labels(one, range(len(one.part.holes))) == labels(other, matched(one, other, stay))
    assert edges(one) == [edges(other)[i] for i in matched(one, other, stay)]


def edges(audit: PartAudit) -> list[str]:
    """Name of the nearest edge of each hole."""
    return [audit.part.edge_name(i) for i in audit.measured.edge_index.tolist()]
