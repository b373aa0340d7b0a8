"""What must not change what is read: where, how large, in what order and how often it is drawn."""

from __future__ import annotations

import math
import random
import re
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holeschedule.errors import DrawingError
from holeschedule.geometry.distance import edge_distances
from holeschedule.holes.part import Part
from holeschedule.holes.parts import read_parts
from tests.makers import edges_of, options_of
from tests.writers import (
    Arc,
    Block,
    Circle,
    Entity,
    Insert,
    Line,
    Polyline,
    Style,
    circle_corners,
    write_r12,
)

SIZES = [0.098, 0.1285, 0.159]
EXAMPLES = settings(max_examples=12, deadline=None)


def read(entities: Sequence[Entity], *, unit: int = 1, blocks=(), **options) -> tuple[Part, ...]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.dxf"
        write_r12(path, entities, blocks=blocks, style=Style(unit=unit))
        return read_parts(path, options_of(**options))


# drawings ---------------------------------------------------------------------------------------


def hole(x: float, y: float, diameter: float, habit: str) -> list[Entity]:
    r = diameter / 2
    match habit:
        case "circle":
            return [Circle(x, y, r)]
        case "arcs":
            return [Arc(x, y, r, 30.0, 210.0), Arc(x, y, r, 210.0, 30.0)]
        case "bulges":
            return [Polyline([(x - r, y, 1.0), (x + r, y, 1.0)])]
        case "polygon":
            return [Polyline([(a, b, 0.0) for a, b in circle_corners(x, y, r, 16)])]
        case _:
            return lines(circle_corners(x, y, r, 12))


def lines(corners) -> list[Entity]:
    return [Line(*a, *b) for a, b in edges_of(corners)]


@dataclass(frozen=True)
class Sheet:
    """A part with a notch, a cutout and some holes."""

    corners: tuple[tuple[float, float], ...]
    holes: tuple[tuple[float, float, float, str], ...]
    is_loose: bool

    @property
    def outline(self) -> list[Entity]:
        if self.is_loose:
            return lines(self.corners)
        return [Polyline([(x, y, 0.0) for x, y in self.corners])]

    @property
    def entities(self) -> list[Entity]:
        cutout = [Circle(1.5, 1.5, 0.375)]
        return [*self.outline, *cutout, *(e for h in self.holes for e in hole(*h))]


@st.composite
def sheets(draw) -> Sheet:
    wide = draw(st.integers(48, 120)) / 16
    high = draw(st.integers(48, 80)) / 16
    notch = draw(st.integers(1, 12)) / 16
    corners = [(0, 0), (wide, 0), (wide, high), (1 + notch, high), (1 + notch / 2, high - notch)]
    places = st.tuples(st.integers(0, int(wide * 2) - 2), st.integers(0, 3))
    chosen = draw(st.lists(places, min_size=1, max_size=10, unique=True))
    habit = st.sampled_from(["circle", "arcs", "bulges", "polygon", "loose polygon"])
    holes = [
        (
            0.5 + i / 2,
            0.25 + j / 16 + (2.0 if j > 1 else 0.0),
            draw(st.sampled_from(SIZES)),
            draw(habit),
        )
        for i, j in {(i, j // 2 * 2) for i, j in chosen}
    ]
    return Sheet((*corners, (1.0, high), (0, high)), tuple(holes), draw(st.booleans()))


# moves ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Move:
    """Mirrored at the y axis, turned [deg], shifted, and scaled."""

    mirror: bool = False
    turn: float = 0.0
    shift: tuple[float, float] = (0.0, 0.0)
    scale: float = 1.0

    def at(self, x: float, y: float) -> tuple[float, float]:
        x = -x if self.mirror else x
        c, s = math.cos(math.radians(self.turn)), math.sin(math.radians(self.turn))
        return (
            self.scale * (c * x - s * y) + self.shift[0],
            self.scale * (s * x + c * y) + self.shift[1],
        )

    def angles(self, start: float, end: float) -> tuple[float, float]:
        if self.mirror:
            start, end = 180 - end, 180 - start
        return start + self.turn, end + self.turn

    def of(self, entity: Entity) -> Entity:
        match entity:
            case Line():
                (a, b), (c, d) = self.at(entity.x0, entity.y0), self.at(entity.x1, entity.y1)
                return replace(entity, x0=a, y0=b, x1=c, y1=d)
            case Circle():
                x, y = self.at(entity.x, entity.y)
                return replace(entity, x=x, y=y, radius=entity.radius * self.scale)
            case Arc():
                x, y = self.at(entity.x, entity.y)
                start, end = self.angles(entity.start, entity.end)
                radius = entity.radius * self.scale
                return replace(entity, x=x, y=y, radius=radius, start=start, end=end)
            case Polyline():
                turn = -1 if self.mirror else 1
                return replace(
                    entity, vertices=[(*self.at(x, y), b * turn) for x, y, b in entity.vertices]
                )
        raise AssertionError(entity)


moves = st.builds(
    Move,
    mirror=st.booleans(),
    turn=st.floats(0, 360, allow_nan=False),
    shift=st.tuples(st.floats(-1e5, 1e5), st.floats(-1e5, 1e5)),
)


def assert_same(a: Part, b: Part, at: Callable[..., tuple[float, float]], slack: float) -> None:
    """The holes of `a`, each at its new place, are those of `b`, with the same edge distances."""
    assert len(a.holes) == len(b.holes)
    assert len(a.cutouts) == len(b.cutouts)
    assert a.outline.area == pytest.approx(b.outline.area, rel=1e-7)
    wanted = np.array([at(h.x, h.y) for h in a.holes])
    found = np.array([(h.x, h.y) for h in b.holes])
    apart = np.hypot(*(wanted[:, None] - found[None]).transpose(2, 0, 1))
    nearest = apart.argmin(axis=1)
    assert apart.min(axis=1).max() <= slack
    assert sorted(nearest.tolist()) == list(range(len(found)))
    sizes = np.array([h.diameter for h in b.holes])[nearest]
    assert sizes == pytest.approx([h.diameter for h in a.holes], abs=slack)
    before, after = edge_distances(a.centres, a.edges)[0], edge_distances(b.centres, b.edges)[0]
    assert after[nearest] == pytest.approx(before, abs=slack)


def staying(x: float, y: float) -> tuple[float, float]:
    return x, y


# properties -------------------------------------------------------------------------------------


@EXAMPLES
@given(sheets())
def test_every_hole_drawn_is_read_and_none_besides(sheet):
    (part,) = read(sheet.entities)
    wanted = sorted((x, y, d) for x, y, d, _ in sheet.holes)
    found = sorted((round(h.x, 6), round(h.y, 6), round(h.diameter, 6)) for h in part.holes)
    assert found == wanted
    assert len(part.cutouts) == 1
    assert part.in_metal.all()


@EXAMPLES
@given(sheets(), moves)
def test_moving_turning_and_mirroring_change_no_distance(sheet, move):
    (part,) = read(sheet.entities)
    (moved,) = read([move.of(entity) for entity in sheet.entities])
    # coordinates of 10⁵ in are written with 16 digits: 10⁻¹¹ each, more in a fitted centre
    assert_same(part, moved, move.at, 1e-8)


@EXAMPLES
@given(sheets())
def test_a_millimetre_drawing_is_the_same_part(sheet):
    (part,) = read(sheet.entities)
    scaled = [Move(scale=25.4).of(entity) for entity in sheet.entities]
    (metric,) = read(scaled, unit=4)
    assert metric.unit.symbol == "mm"
    assert_same(part, metric, staying, 1e-9)


@EXAMPLES
@given(sheets(), st.randoms(use_true_random=False))
def test_order_and_direction_change_nothing_not_even_a_label(sheet, rng):
    (part,) = read(sheet.entities)
    shuffled = [turned_round(e) if rng.random() < 0.5 else e for e in sheet.entities]
    rng.shuffle(shuffled)
    (other,) = read(shuffled)
    assert_same(part, other, staying, 1e-9)
    assert labels(part) == labels(other)


def labels(part: Part) -> dict[tuple[float, float], str]:
    return {(round(h.x, 6), round(h.y, 6)): h.label for h in part.holes}


def turned_round(entity: Entity) -> Entity:
    match entity:
        case Line():
            return Line(entity.x1, entity.y1, entity.x0, entity.y0)
        case Polyline():
            bulges = [b for _, _, b in entity.vertices]
            points = [(x, y) for x, y, _ in reversed(entity.vertices)]
            # the bulge of an edge stands at its first vertex: now the other one
            bulges = [*reversed(bulges[:-1]), bulges[-1]]
            return Polyline([(*p, -b) for p, b in zip(points, bulges, strict=True)])
    return entity


@EXAMPLES
@given(sheets(), st.randoms(use_true_random=False))
def test_drawing_things_twice_changes_nothing(sheet, rng):
    (part,) = read(sheet.entities)
    again = [e for e in sheet.entities if rng.random() < 0.5]
    (other,) = read([*sheet.entities, *again])
    assert_same(part, other, staying, 1e-9)


@EXAMPLES
@given(sheets(), st.floats(0.2, 0.8), st.floats(0.01, 0.2))
def test_cutting_lines_into_overlapping_pieces_changes_nothing(sheet, share, more):
    sheet = replace(sheet, is_loose=True)
    (part,) = read(sheet.entities)
    pieces = [p for e in sheet.outline for p in overlapping(e, share, more)]
    (other,) = read([*pieces, *sheet.entities[len(sheet.outline) :]])
    assert_same(part, other, staying, 1e-9)
    assert len(other.outline.edges) == len(part.outline.edges)


def overlapping(line: Line, share: float, more: float) -> list[Entity]:
    def at(part: float) -> tuple[float, float]:
        return (
            line.x0 + part * (line.x1 - line.x0),
            line.y0 + part * (line.y1 - line.y0),
        )

    return [
        Line(line.x0, line.y0, *at(min(1.0, share + more))),
        Line(*at(share), line.x1, line.y1),
    ]


@EXAMPLES
@given(sheets(), st.integers(1, 3))
def test_frames_round_the_part_change_nothing(sheet, frames):
    (part,) = read(sheet.entities)
    around = [
        Polyline([(-i, -i, 0), (20 + i, -i, 0), (20 + i, 20 + i, 0), (-i, 20 + i, 0)])
        for i in range(1, frames + 1)
    ]
    (other,) = read([*around, *sheet.entities])
    assert_same(part, other, staying, 1e-9)


@EXAMPLES
@given(sheets(), moves)
def test_a_part_inserted_as_a_block_is_the_part_moved(sheet, move):
    (direct,) = read([move.of(entity) for entity in sheet.entities])
    block = Block("PART", sheet.entities, x=0.0, y=0.0)
    insert = Insert("PART", *move.shift, xscale=-1.0 if move.mirror else 1.0, rotation=move.turn)
    (inserted,) = read([insert], blocks=[block])
    assert_same(direct, inserted, staying, 1e-8)


@EXAMPLES
@given(sheets(), st.data(), st.floats(0.0005, 0.02), st.sampled_from([0.002, 0.01]))
def test_a_gap_is_closed_up_to_the_tolerance_and_refused_above_it(sheet, data, size, tolerance):
    sheet = replace(sheet, is_loose=True)
    number = data.draw(st.integers(0, len(sheet.outline) - 1))
    line = sheet.outline[number]
    share = size / math.hypot(line.x1 - line.x0, line.y1 - line.y0)
    x, y = line.x0 + share * (line.x1 - line.x0), line.y0 + share * (line.y1 - line.y0)
    entities = [*sheet.entities]
    entities[number] = replace(line, x0=x, y0=y)
    if size <= tolerance * (1 - 1e-9):
        (part,) = read(entities, gap=tolerance)
        assert len(part.holes) == len(sheet.holes)
        assert any(notice.code == "gap.joined" for notice in part.notices)
    elif size > tolerance * (1 + 1e-9):
        with pytest.raises(DrawingError) as caught:
            read(entities, gap=tolerance)
        told = float(re.search(r"a gap of ([\d.e-]+) in", str(caught.value))[1])
        assert told == pytest.approx(size, rel=1e-3)
        advised = float(re.search(r"--gap ([\d.e-]+)in", str(caught.value))[1])
        assert len(read(entities, gap=advised)[0].holes) == len(sheet.holes)


@EXAMPLES
@given(sheets(), sheets(), st.floats(0.1, 50))
def test_two_parts_side_by_side_are_read_as_each_alone(left, right, apart):
    shift = max(x for x, _ in left.corners) + apart
    (a,), (b,) = read(left.entities), read(right.entities)
    both = read([*left.entities, *(Move(shift=(shift, 0.0)).of(e) for e in right.entities)])
    assert len(both) == 2
    assert_same(a, both[0], staying, 1e-9)
    assert_same(b, both[1], lambda x, y: (x + shift, y), 1e-9)


def test_the_moves_of_these_tests_are_rigid():
    rng = random.Random(3)  # noqa: S311 - a drawing is no secret
    move = Move(mirror=True, turn=33.0, shift=(5.0, -7.0))
    for _ in range(20):
        a, b = [(rng.uniform(-9, 9), rng.uniform(-9, 9)) for _ in range(2)]
        assert math.dist(move.at(*a), move.at(*b)) == pytest.approx(math.dist(a, b))
