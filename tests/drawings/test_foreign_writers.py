"""Drawings that the package's own library did not write: a plain R12 writer, and klayout."""

from __future__ import annotations

import math
import re

import pytest

from holeschedule.errors import DrawingError, UnitError
from holeschedule.holes.parts import read_parts
from tests.makers import (
    CIRCLE_HABITS,
    NUMBER_40,
    PLATE,
    ROW,
    centres_of,
    codes_of,
    diameters_of,
    notice_of,
    options_of,
    plate_drawing,
    save,
)
from tests.writers import (
    Arc,
    Block,
    Circle,
    Insert,
    Line,
    Number,
    PointMark,
    PolygonMode,
    Polyline,
    Spacing,
    Style,
    Text,
    write_klayout,
    write_r12,
)

R = NUMBER_40 / 2
STYLES = {
    "plain": Style(unit=1),
    "other line ends": Style(unit=1, newline="\r\n"),
    "bare group codes": Style(unit=1, spacing=Spacing.BARE),
    "wide group codes": Style(unit=1, spacing=Spacing.WIDE),
    "exponents": Style(unit=1, number=Number.EXPONENT),
    "no leading zero": Style(unit=1, number=Number.NO_LEADING_ZERO),
    "no layer table": Style(unit=1, layer_table=False),
    "no header": Style(header=False),
    "entities only": Style(header=False, layer_table=False),
}


def plate_lines(layer="OUTLINE"):
    return [
        Line(4.0, 0.0, 0.0, 0.0, layer),
        Line(4.0, 2.0, 4.0, 0.0, layer),
        Line(0.0, 2.0, 0.0, 0.0, layer),
        Line(0.0, 2.0, 4.0, 2.0, layer),
    ]


def everything():
    """The plate with seven holes in five manners, a slot, a bend line, and text."""
    return [
        *plate_lines(),
        Circle(0.5, 0.5, R, "HOLES"),
        Circle(1.25, 0.5, R, "HOLES", down=True),
        Arc(2.0, 0.5, R, 0.0, 180.0, "HOLES"),
        Arc(2.0, 0.5, R, 180.0, 360.0, "HOLES"),
        Polyline([(2.75 - R, 0.5, 1.0), (2.75 + R, 0.5, 1.0)], layer="HOLES"),
        Insert("H", 3.5, 0.5, xscale=-1.0, rotation=30.0),
        Insert("H", 0.5, 1.5, columns=2, column_spacing=0.75),
        Polyline([(2.0, 1.2, 0), (3.0, 1.2, 1), (3.0, 1.4, 0), (2.0, 1.4, 1)], layer="CUTOUT"),
        Line(0.0, 1.0, 4.0, 1.0, "BEND"),
        Text(0.0, -0.5, 0.125, "PLATE"),
        PointMark(3.0, 1.0, "MARKS"),
    ]


BLOCKS = [Block("H", [Circle(0.25, 0.25, R, "HOLES")], x=0.25, y=0.25)]


@pytest.mark.parametrize("style", STYLES)
def test_a_plain_r12_drawing_is_read_in_every_style(tmp_path, style):
    path = write_r12(tmp_path / "r12.dxf", everything(), blocks=BLOCKS, style=STYLES[style])
    (part,) = read_parts(path, options_of(unit="in"))
    assert centres_of(part) == sorted([*ROW, (0.5, 1.5), (1.25, 1.5)])
    assert diameters_of(part) == {NUMBER_40: 7}
    assert part.outline.area == 8.0
    assert [c.area for c in part.cutouts] == pytest.approx([0.2 + math.pi * 0.01])
    assert len(part.bends) == 1
    assert codes_of(part) == {"circle.fitted", "entity.annotation", "point.left-out"}


def test_the_unit_of_a_plain_r12_drawing_is_the_one_it_states(tmp_path):
    path = write_r12(tmp_path / "mm.dxf", everything(), blocks=BLOCKS, style=Style(unit=4))
    with pytest.raises(UnitError, match=r"the header states millimetre, but the holes are no"):
        read_parts(path)


def test_a_plain_r12_drawing_without_a_unit_is_refused(tmp_path):
    path = write_r12(tmp_path / "none.dxf", everything(), blocks=BLOCKS)
    with pytest.raises(UnitError, match=r"no unit stated: 4 × 2 in, holes 0\.098 in"):
        read_parts(path)


CIRCLES = [(x, y, R) for x, y in ROW]


@pytest.mark.parametrize("corners", [8, 12, 32, 64])
@pytest.mark.parametrize("mode", [PolygonMode.POLYLINE, PolygonMode.LINE])
def test_what_klayout_writes_is_read_with_every_hole(tmp_path, mode, corners):
    path = write_klayout(tmp_path / "k.dxf", [PLATE], CIRCLES, corners=corners, mode=mode)
    (part,) = read_parts(path, options_of(unit="in"))
    assert centres_of(part, 5) == list(ROW)
    assert diameters_of(part) == {NUMBER_40: 5}
    assert part.outline.area == pytest.approx(8.0)
    assert {hole.drawn_as for hole in part.holes} == {f"polygon of {corners} corners"}
    assert all(hole.residual < 2e-6 for hole in part.holes)


@pytest.mark.parametrize("grid", [1e-4, 2e-4])
def test_a_coarse_grid_of_klayout_leaves_circles_circles(tmp_path, grid):
    path = write_klayout(tmp_path / "k.dxf", [PLATE], CIRCLES, corners=32, grid=grid)
    (part,) = read_parts(path, options_of(unit="in"))
    assert centres_of(part, 3) == list(ROW)
    assert all(hole.diameter == pytest.approx(NUMBER_40, abs=2 * grid) for hole in part.holes)


def test_klayouts_file_states_no_unit(tmp_path):
    path = write_klayout(tmp_path / "k.dxf", [PLATE], CIRCLES)
    with pytest.raises(UnitError, match=r"4 × 2 in, holes 0\.098 in; or 4 × 2 mm"):
        read_parts(path)


def test_klayouts_light_polylines_are_read_with_repairs_that_are_told(tmp_path):
    path = write_klayout(tmp_path / "k.dxf", [PLATE], CIRCLES, mode=PolygonMode.LWPOLYLINE)
    (part,) = read_parts(path, options_of(unit="in"))
    assert centres_of(part, 5) == list(ROW)
    assert part.outline.area == pytest.approx(8.0)
    assert "it was read with repairs" in notice_of(part, "file.damaged").text
    texts = [notice.text for notice in part.notices if notice.code == "file.repaired"]
    assert texts[0] == "polylines or splines without the mark of their class (6)"


def without_marks(path, version):
    """Take the marks of their class out of every entity, and set or drop the version."""
    before, after = path.read_text(encoding="utf-8").split("\nENTITIES\n")
    entities, rest = after.split("\nENDSEC\n", 1)
    bare = re.sub(r"100\nAcDb\w+\n", "", entities)
    text = f"{before}\nENTITIES\n{bare}\nENDSEC\n{rest}"
    told = "" if version is None else f"  9\n$ACADVER\n  1\n{version}\n"
    path.write_text(text.replace("  9\n$ACADVER\n  1\nAC1024\n", told), encoding="utf-8")
    return path


@pytest.mark.parametrize("version", ["AC1024", "AC1015", "AC1009", "AC1006", None])
def test_polylines_and_splines_without_marks_are_read_whatever_the_version(tmp_path, version):
    doc = plate_drawing(holes=ROW[:3])
    CIRCLE_HABITS["rational spline"](doc.modelspace(), *ROW[3], R)
    CIRCLE_HABITS["polyline of two bulges"](doc.modelspace(), *ROW[4], R)
    path = without_marks(save(doc, tmp_path), version)
    (part,) = read_parts(path, options_of(unit="in"))
    assert centres_of(part) == list(ROW)
    assert diameters_of(part) == {NUMBER_40: 5}
    texts = [notice.text for notice in part.notices]
    assert "polylines or splines without the mark of their class (3)" in texts


def test_filled_polygons_of_klayout_are_no_outline_and_are_named(tmp_path):
    path = write_klayout(tmp_path / "k.dxf", [PLATE], CIRCLES, mode=PolygonMode.SOLID)
    with pytest.raises(DrawingError, match="SOLID can't be read as a line, arc or curve"):
        read_parts(path, options_of(unit="in"))


def test_a_pattern_of_many_holes_of_klayout_is_complete(tmp_path):
    circles = [(0.5 + 0.5 * i, 0.5 + 0.5 * j, R) for i in range(20) for j in range(10)]
    outline = [(0, 0), (10.5, 0), (10.5, 5.5), (0, 5.5)]
    path = write_klayout(tmp_path / "k.dxf", [outline], circles, mode=PolygonMode.LINE)
    (part,) = read_parts(path, options_of(unit="in"))
    assert centres_of(part, 4) == sorted((round(x, 4), round(y, 4)) for x, y, _ in circles)
