"""The two test writers write what they are asked for, and ezdxf's strict reader takes it."""

from __future__ import annotations

import math

import ezdxf
import pytest
from ezdxf.lldxf.const import DXFStructureError

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
    circle_corners,
    write_klayout,
    write_r12,
)

PLATE = [(0.0, 0.0), (4.0, 0.0), (4.0, 2.0), (0.0, 2.0)]
STYLES = [
    Style(),
    Style(header=False),
    Style(layer_table=False),
    Style(header=False, layer_table=False),
    Style(unit=1),
    Style(newline="\r\n"),
    Style(spacing=Spacing.BARE),
    Style(spacing=Spacing.WIDE),
    Style(number=Number.EXPONENT),
    Style(number=Number.NO_LEADING_ZERO),
    Style(unit=4, newline="\r\n", spacing=Spacing.BARE, number=Number.EXPONENT),
]


def everything() -> list:
    return [
        Line(0.125, 0.0, 4.0, 0.5, "OUTLINE"),
        Arc(1.0, 1.0, 0.5, 90.0, 270.0, "OUTLINE"),
        Circle(0.25, 0.75, 0.049, "HOLES"),
        Polyline([(0.0, 0.0, 1.0), (2.0, 0.0, -0.5), (2.0, 2.0, 0.0)], closed=True, layer="CUT"),
        PointMark(3.0, 1.0, "MARKS"),
        Text(0.0, -0.5, 0.125, "PLATE"),
        Insert("HOLE", 1.0, 1.0, xscale=-1.0, rotation=30.0),
        Insert("HOLE", 0.5, 0.25, columns=5, rows=2, column_spacing=0.75, row_spacing=1.5),
    ]


BLOCKS = [Block("HOLE", [Circle(0.1, 0.0, 0.049, "HOLES")], x=0.0, y=0.0)]


@pytest.mark.parametrize("style", STYLES, ids=lambda style: repr(style)[5:])
def test_every_style_reads_back_strictly_with_every_number_as_given(tmp_path, style):
    path = write_r12(tmp_path / "all.dxf", everything(), blocks=BLOCKS, style=style)
    space = ezdxf.readfile(path).modelspace()
    line, arc, circle, polyline, point, text, mirrored, array = space
    assert [e.dxftype() for e in space] == [
        *("LINE", "ARC", "CIRCLE", "POLYLINE", "POINT", "TEXT", "INSERT", "INSERT")
    ]
    assert (line.dxf.start.x, line.dxf.end.x, line.dxf.end.y) == (0.125, 4.0, 0.5)
    assert (arc.dxf.start_angle, arc.dxf.end_angle, arc.dxf.radius) == (90.0, 270.0, 0.5)
    assert (circle.dxf.center.x, circle.dxf.radius, circle.dxf.layer) == (0.25, 0.049, "HOLES")
    assert [v.dxf.get("bulge", 0.0) for v in polyline.vertices] == [1.0, -0.5, 0.0]
    assert polyline.is_closed
    assert (point.dxf.location.x, text.dxf.text) == (3.0, "PLATE")
    assert (mirrored.dxf.xscale, mirrored.dxf.rotation) == (-1.0, 30.0)
    assert (array.mcount, array.dxf.column_spacing) == (10, 0.75)


def test_the_unit_is_stated_only_when_asked_for(tmp_path):
    units = {
        unit: ezdxf.readfile(
            write_r12(tmp_path / f"{unit}.dxf", everything(), blocks=BLOCKS, style=Style(unit=unit))
        ).header.get("$INSUNITS")
        for unit in (None, 0, 1, 4)
    }
    assert units == {None: None, 0: 0, 1: 1, 4: 4}


def test_a_header_and_a_layer_table_are_left_out_when_asked(tmp_path):
    style = Style(header=False, layer_table=False)
    text = write_r12(tmp_path / "bare.dxf", everything(), style=style).read_text()
    assert "HEADER" not in text
    assert "TABLES" not in text
    assert text.splitlines()[:4] == ["  0", "SECTION", "  2", "ENTITIES"]


def test_line_ends_are_the_ones_asked_for(tmp_path):
    crlf = write_r12(tmp_path / "a.dxf", everything(), style=Style(newline="\r\n")).read_bytes()
    lf = write_r12(tmp_path / "b.dxf", everything()).read_bytes()
    assert crlf.count(b"\r\n") == crlf.count(b"\n")
    assert b"\r" not in lf
    assert crlf.replace(b"\r\n", b"\n") == lf


def test_a_circle_extruded_downwards_lies_where_it_was_asked(tmp_path):
    path = write_r12(tmp_path / "down.dxf", [Circle(5.0, 3.0, 0.049, down=True)])
    (circle,) = ezdxf.readfile(path).modelspace()
    assert circle.dxf.center.x == -5.0
    assert circle.ocs().to_wcs(circle.dxf.center).isclose((5.0, 3.0, 0.0))


@pytest.mark.parametrize(
    ("mode", "kinds", "count"),
    [(PolygonMode.POLYLINE, {"POLYLINE"}, 3), (PolygonMode.LINE, {"LINE"}, 4 + 2 * 16)],
    ids=["polyline", "line"],
)
def test_klayout_writes_outline_and_circles_as_polygons(tmp_path, mode, kinds, count):
    circles = [(1.0, 1.0, 0.049), (2.0, 1.0, 0.049)]
    path = write_klayout(tmp_path / "k.dxf", [PLATE], circles, corners=16, mode=mode)
    doc = ezdxf.readfile(path)
    entities = list(doc.modelspace())
    assert {e.dxftype() for e in entities} == kinds
    assert {e.dxf.layer for e in entities} == {"OUTLINE", "HOLES"}
    assert len(entities) == count
    assert doc.header.get("$INSUNITS") is None


@pytest.mark.parametrize("corners", [8, 12, 32, 64])
def test_the_corners_klayout_writes_lie_on_the_circle_to_its_grid(tmp_path, corners):
    path = write_klayout(tmp_path / "k.dxf", [PLATE], [(1.5, 1.0, 0.06425)], corners=corners)
    (hole,) = ezdxf.readfile(path).modelspace().query('POLYLINE[layer=="HOLES"]')
    radii = [math.hypot(x - 1.5, y - 1.0) for x, y, *_ in hole.points()]
    assert len(radii) == corners
    assert radii == pytest.approx([0.06425] * corners, abs=1e-6)


def test_klayout_writes_filled_polygons_as_solids(tmp_path):
    path = write_klayout(tmp_path / "k.dxf", [PLATE], [(1.0, 1.0, 0.049)], mode=PolygonMode.SOLID)
    assert {e.dxftype() for e in ezdxf.readfile(path).modelspace()} == {"SOLID"}


def test_klayouts_light_polylines_lack_the_subclass_marks_ezdxf_asks_for(tmp_path):
    path = write_klayout(tmp_path / "k.dxf", [PLATE], [], mode=PolygonMode.LWPOLYLINE)
    with pytest.raises(DXFStructureError, match="missing 'AcDbPolyline' subclass"):
        ezdxf.readfile(path)


def test_circle_corners_start_at_three_oclock_and_go_round():
    assert circle_corners(1.0, 2.0, 0.5, 4) == [
        pytest.approx(corner) for corner in [(1.5, 2.0), (1.0, 2.5), (0.5, 2.0), (1.0, 1.5)]
    ]
