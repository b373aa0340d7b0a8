"""Entity by entity: seen from below, tilted, raised, curved, damaged; and what is no geometry."""

from __future__ import annotations

import math
import re

import pytest

from holeschedule.errors import DrawingError
from holeschedule.holes.parts import read_parts
from tests.makers import (
    CIRCLE_HABITS,
    DOWN,
    NUMBER_40,
    PLATE,
    ROW,
    TILTED,
    centres_of,
    codes_of,
    diameters_of,
    draw_circles,
    draw_lines,
    draw_polygon,
    drop_tags,
    new_drawing,
    notice_of,
    options_of,
    plate_drawing,
    read,
    read_one,
    save,
)

VERSIONS = ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"]
R = NUMBER_40 / 2


def plate_with(add):
    """The plate with one plain hole, and what `add` draws in it."""
    doc = plate_drawing(holes=[(0.5, 0.5)])
    add(doc.modelspace())
    return doc


# versions ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("fmt", ["asc", "bin"])
@pytest.mark.parametrize("version", VERSIONS)
def test_every_version_is_read_as_text_and_binary(tmp_path, version, fmt):
    path = tmp_path / "plate.dxf"
    plate_drawing(version=version).saveas(path, fmt=fmt)
    (part,) = read_parts(path, options_of(unit="in"))
    assert centres_of(part) == list(ROW)
    assert (part.outline.area, part.notices) == (8.0, ())


# seen from below --------------------------------------------------------------------------------


def below(space, kind):
    """One thing round (2, 1), stored mirrored and extruded along -Z; its mirrored twin above."""
    down = {"extrusion": DOWN}
    match kind:
        case "CIRCLE":
            space.add_circle((-2, 1), R, dxfattribs=down)
        case "ARC":
            space.add_arc((-2, 1), R, 0, 180, dxfattribs=down)
            space.add_arc((2, 1), R, 180, 0)
        case "LWPOLYLINE":
            space.add_lwpolyline(
                [(-2 - R, 1, 1), (-2 + R, 1, 1)], format="xyb", close=True, dxfattribs=down
            )
        case "POLYLINE":
            space.add_polyline2d(
                [(-2 - R, 1, 1), (-2 + R, 1, 1)], format="xyb", close=True, dxfattribs=down
            )
        case "ELLIPSE":
            space.add_ellipse((2, 1), (R, 0), 1.0, dxfattribs=down)
        case "SPLINE":
            CIRCLE_HABITS["rational spline"](space, 2, 1, R)
            space[-1].dxf.extrusion = DOWN


@pytest.mark.parametrize("kind", ["CIRCLE", "ARC", "LWPOLYLINE", "POLYLINE", "ELLIPSE", "SPLINE"])
def test_what_is_extruded_downwards_lies_where_it_is_seen(tmp_path, kind):
    part = read_one(plate_with(lambda space: below(space, kind)), tmp_path)
    assert centres_of(part) == [(0.5, 0.5), (2.0, 1.0)]
    assert diameters_of(part) == {NUMBER_40: 2}


def test_bulges_and_arcs_seen_from_below_bend_the_right_way(tmp_path):
    doc = new_drawing()
    down = {"extrusion": DOWN}
    doc.modelspace().add_lwpolyline(
        [(0, 0, 0), (0, 2, 0.3), (-4, 2, 0), (-4, 0, 0.5)], "xyb", close=True, dxfattribs=down
    )
    draw_circles(doc.modelspace(), ROW)
    mirrored = read_one(doc, tmp_path).outline
    doc = new_drawing()
    doc.modelspace().add_lwpolyline(
        [(0, 0, 0), (0, 2, -0.3), (4, 2, 0), (4, 0, -0.5)], "xyb", close=True
    )
    draw_circles(doc.modelspace(), ROW)
    assert mirrored.area == pytest.approx(read_one(doc, tmp_path).outline.area, rel=1e-12)


def test_an_arc_seen_from_below_meets_its_neighbours(tmp_path):
    doc = new_drawing()
    space = doc.modelspace()
    draw_circles(space, ROW)
    for start, end in (((0.5, 0), (4, 0)), ((4, 0), (4, 2)), ((4, 2), (0, 2)), ((0, 2), (0, 0.5))):
        space.add_line(start, end)
    # from below, 0 degrees points along -X: the quarter from (0.5, 0) up to (0, 0.5)
    space.add_arc((-0.5, 0.5), 0.5, 270, 0, dxfattribs={"extrusion": DOWN})
    part = read_one(doc, tmp_path)
    assert part.outline.area == pytest.approx(8 - 0.25 + math.pi / 16, rel=1e-12)


@pytest.mark.parametrize("start", [0, 1.0])
def test_part_of_an_ellipse_seen_from_below_turns_the_other_way(tmp_path, start):
    doc = new_drawing()
    space = doc.modelspace()
    draw_circles(space, [(2, 0.5), (1.5, 0.5)])
    end = start + math.pi
    space.add_ellipse((2, 0), (2, 0), 0.75, -end, -start, dxfattribs={"extrusion": DOWN})
    at = [(2 + 2 * math.cos(t), 1.5 * math.sin(t)) for t in (start, end)]
    space.add_line(*at)
    part = read_one(doc, tmp_path)
    assert part.outline.area == pytest.approx(math.pi * 2 * 1.5 / 2, abs=1e-3)


# raised and tilted ------------------------------------------------------------------------------


def test_elevation_changes_nothing(tmp_path):
    doc = new_drawing()
    space = doc.modelspace()
    space.add_lwpolyline(PLATE, close=True, dxfattribs={"elevation": 7.0})
    space.add_circle((0.5, 0.5, -3.0), R)
    space.add_polyline3d([(1, 1, 4), (2, 1, 4), (2, 1.5, 4)], close=True)
    space.add_line((0, 1.8, 5), (4, 1.8, 5), dxfattribs={"layer": "BEND"})
    part = read_one(doc, tmp_path)
    assert (len(part.holes), len(part.cutouts), len(part.bends)) == (1, 1, 1)
    assert part.notices == ()


@pytest.mark.parametrize(
    ("kind", "add"),
    [
        ("CIRCLE", lambda s: s.add_circle((2, 1), R, dxfattribs={"extrusion": TILTED})),
        ("ARC", lambda s: s.add_arc((2, 1), R, 0, 90, dxfattribs={"extrusion": TILTED})),
        ("LWPOLYLINE", lambda s: s.add_lwpolyline(PLATE, dxfattribs={"extrusion": TILTED})),
        ("POLYLINE", lambda s: s.add_polyline2d(PLATE, dxfattribs={"extrusion": TILTED})),
        ("POLYLINE", lambda s: s.add_polyline3d([(1, 1, 0), (2, 1, 0), (2, 1.5, 1)])),
        ("ELLIPSE", lambda s: s.add_ellipse((2, 1), (R, 0), 1, dxfattribs={"extrusion": TILTED})),
        ("ELLIPSE", lambda s: s.add_ellipse((2, 1), (R, 0, R), 1)),
        ("LINE", lambda s: s.add_line((1, 1, 0), (2, 1, 1))),
        ("LINE", lambda s: s.add_line((1, 1, 0), (1, 1, 1))),
        ("SPLINE", lambda s: s.add_open_spline([(1, 1, 0), (2, 1, 0), (2, 2, 1), (1, 2, 1)])),
    ],
)
def test_what_is_tilted_is_left_out_and_named_once(tmp_path, kind, add):
    part = read_one(plate_with(add), tmp_path)
    assert (len(part.holes), part.cutouts) == (1, ())
    notice = notice_of(part, "entity.not-flat")
    assert notice.text == f"{kind} is tilted or three-dimensional and was left out"
    assert notice.layer == "0"


def test_noise_in_the_heights_of_a_flat_drawing_is_no_tilt(tmp_path):
    doc = new_drawing()
    for i, (start, end) in enumerate(zip(PLATE, [*PLATE[1:], PLATE[0]], strict=True)):
        doc.modelspace().add_line((*start, i * 1e-8), (*end, -i * 1e-8))
    doc.modelspace().add_circle((1, 1), R, dxfattribs={"extrusion": (2e-16, -3e-16, 1.0)})
    part = read_one(doc, tmp_path)
    assert (part.outline.area, len(part.holes), part.notices) == (8.0, 1, ())


# curves -----------------------------------------------------------------------------------------


def test_an_ellipse_whose_end_is_rounded_to_five_decimals_is_closed(tmp_path):
    part = read_one(
        plate_with(lambda s: s.add_ellipse((2, 1), (R, 0), 1.0, 0.0, 6.28319)), tmp_path
    )
    assert centres_of(part) == [(0.5, 0.5), (2.0, 1.0)]


def test_a_spline_of_straight_pieces_is_an_outline(tmp_path):
    doc = new_drawing()
    doc.modelspace().add_open_spline([*PLATE, PLATE[0]], degree=1)
    draw_circles(doc.modelspace(), ROW)
    assert read_one(doc, tmp_path).outline.area == pytest.approx(8.0, rel=1e-9)


def test_the_end_tangents_of_a_spline_through_points_are_kept(tmp_path):
    doc = new_drawing()
    space = doc.modelspace()
    spline = space.add_spline([(4, 0), (5, 1), (4, 2)])
    spline.dxf.start_tangent, spline.dxf.end_tangent = (1, 0, 0), (-1, 0, 0)
    for start, end in (((4, 2), (0, 2)), ((0, 2), (0, 0)), ((0, 0), (4, 0))):
        space.add_line(start, end)
    draw_circles(space, ROW)
    # leaving level, the curve bulges further out than the free one, whose area is 9.33
    assert read_one(doc, tmp_path).outline.area > 9.45


@pytest.mark.parametrize(
    ("what", "add"),
    [
        ("polyline", lambda s: s.add_lwpolyline([(1, 1)])),
        ("polyline", lambda s: s.add_lwpolyline([(1, 1), (1, 1)], close=True)),
        ("polyline", lambda s: s.add_polyline2d([(1, 1), (1, 1)])),
        ("ellipse", lambda s: s.add_ellipse((1, 1), (1, 0), 0.5, 1.0, 1.0)),
        ("spline", lambda s: s.add_spline()),
        ("spline", lambda s: s.add_spline([(1, 1), (1, 1)])),
    ],
)
def test_a_curve_of_no_length_is_left_out_and_told(tmp_path, what, add):
    part = read_one(plate_with(add), tmp_path)
    assert notice_of(part, "entity.empty").text == f"a {what} of no length was left out"


def test_the_frame_of_a_fitted_polyline_is_not_its_edge(tmp_path):
    def fitted(space):
        polyline = space.add_polyline2d([(1, 1), (2, 1), (2, 1.5)], close=True)
        polyline.dxf.flags |= 4
        space_points = [(1, 1.8, 16), (2, 1.8, 16)]
        for x, y, flags in space_points:
            polyline.append_vertex((x, y), dxfattribs={"flags": flags})

    part = read_one(plate_with(fitted), tmp_path)
    assert [cutout.area for cutout in part.cutouts] == pytest.approx([0.25])


def test_a_drawn_width_is_told_and_the_centre_line_taken(tmp_path):
    doc = plate_drawing(corners=[(9, 9), (10, 9), (10, 10)])
    doc.modelspace().add_lwpolyline(PLATE, close=True, dxfattribs={"const_width": 0.1})
    part = read_one(doc, tmp_path)
    assert part.outline.area == 8.0
    assert "centre line" in notice_of(part, "polyline.width").text


def test_an_arc_of_a_vast_radius_is_an_arc_all_the_same(tmp_path):
    doc = new_drawing(unit=4)
    points = [(0, 0, 1e-7), (5000, 0, 0), (5000, 100, 0), (0, 100, 0)]
    doc.modelspace().add_lwpolyline(points, format="xyb", close=True)
    draw_circles(doc.modelspace(), [(100, 50), (200, 50)], 2.5)
    part = read_one(doc, tmp_path)
    assert part.outline.edges.is_arc.sum() == 1
    # two thirds of chord times rise, which is half the chord times the bulge
    rise = 2500 * 1e-7
    assert part.outline.area * 25.4**2 == pytest.approx(500_000 + 5000 * rise * 2 / 3, abs=0.01)


def test_a_bulge_too_flat_to_have_a_centre_is_a_line(tmp_path):
    doc = new_drawing()
    points = [(*PLATE[0], 1e-12), *((x, y, 0) for x, y in PLATE[1:])]
    doc.modelspace().add_lwpolyline(points, format="xyb", close=True)
    draw_circles(doc.modelspace(), ROW)
    part = read_one(doc, tmp_path)
    assert (part.outline.area, part.outline.edges.is_arc.any()) == (pytest.approx(8.0), False)


# no geometry ------------------------------------------------------------------------------------


def test_dimensions_text_hatches_and_leaders_are_not_geometry(tmp_path):
    doc = plate_drawing()
    space = doc.modelspace()
    space.add_text("O 4.0 x R 2.0").set_placement((1, 1))
    space.add_mtext("note")
    space.add_linear_dim(base=(0, -0.5), p1=(0, 0), p2=(4, 0)).render()
    space.add_hatch().paths.add_polyline_path(PLATE, is_closed=True)
    space.add_leader([(1, 1), (2, 2)])
    part = read_one(doc, tmp_path)
    assert (len(part.holes), len(part.edges)) == (5, 4)
    kinds = {n.text.split()[0] for n in part.notices if n.code == "entity.annotation"}
    assert kinds == {"TEXT", "MTEXT", "DIMENSION", "HATCH", "LEADER"}


def test_entities_of_other_kinds_are_left_out_and_told(tmp_path):
    doc = plate_drawing()
    space = doc.modelspace()
    space.add_ray((0, 0), (1, 0))
    space.add_xline((0, 0), (1, 0))
    space.add_solid([(1, 1), (2, 1), (2, 1.5)])
    space.add_3dface([(1, 1), (2, 1), (2, 1.5)])
    part = read_one(doc, tmp_path)
    kinds = {n.text.split()[0] for n in part.notices if n.code == "entity.not-read"}
    assert kinds == {"RAY", "XLINE", "SOLID", "3DFACE"}


def test_equal_notices_are_told_once_with_their_count(tmp_path):
    doc = plate_drawing()
    for i in range(1234):
        doc.modelspace().add_text(str(i))
    (notice,) = read_one(doc, tmp_path).notices
    assert notice.text == "TEXT is not geometry and was left out (1,234 times)"


# numbers that are none --------------------------------------------------------------------------

BAD = [math.nan, math.inf, -math.inf, 1e308, -1e12]


def refusal(doc, folder) -> str:
    with pytest.raises(DrawingError) as caught:
        read(doc, folder)
    return str(caught.value)


@pytest.mark.parametrize("bad", BAD)
@pytest.mark.parametrize(
    ("kind", "add"),
    [
        ("line", lambda s, v: s.add_line((v, 1), (2, 1))),
        ("line", lambda s, v: s.add_line((1, 1), (2, v))),
        ("circle", lambda s, v: s.add_circle((v, 1), R)),
        ("arc", lambda s, v: s.add_arc((1, v), R, 0, 90)),
        ("point", lambda s, v: s.add_point((v, 1))),
        ("polyline", lambda s, v: s.add_lwpolyline([(1, 1), (2, v), (2, 2)])),
        ("polyline", lambda s, v: s.add_polyline2d([(1, 1), (v, 1), (2, 2)])),
        ("ellipse", lambda s, v: s.add_ellipse((v, 1), (R, 0), 0.5)),
        ("spline", lambda s, v: s.add_open_spline([(1, 1), (2, v), (2, 2), (1, 2)])),
        ("spline", lambda s, v: s.add_spline([(1, 1), (v, 1), (2, 2)])),
    ],
)
def test_a_coordinate_that_is_not_finite_or_too_large_is_refused(tmp_path, kind, add, bad):
    message = refusal(plate_with(lambda space: add(space, bad)), tmp_path)
    assert f"layer 0, {kind} at (" in message
    assert "a coordinate must be finite and within ±1e+09" in message
    assert message.endswith("Correct or delete the entity and export again.")


@pytest.mark.parametrize("bad", [math.nan, math.inf, 1e308])
@pytest.mark.parametrize("attribute", ["insert", "xscale", "rotation", "column_spacing"])
def test_an_insert_with_a_number_that_is_none_is_refused(tmp_path, attribute, bad):
    doc = plate_drawing()
    doc.blocks.new("H").add_circle((0, 0), R)
    insert = doc.modelspace().add_blockref("H", (1, 1), dxfattribs={"column_count": 2})
    insert.dxf.set(attribute, (bad, 1) if attribute == "insert" else bad)
    message = refusal(doc, tmp_path)
    assert "layer 0, insert of block 'H' at (" in message
    assert "must be finite and within ±1e+09" in message


@pytest.mark.parametrize("bad", [0.0, -0.049, -math.inf, math.nan, 1e308])
@pytest.mark.parametrize("kind", ["circle", "arc"])
def test_a_radius_that_is_none_is_refused(tmp_path, kind, bad):
    def add(space):
        if kind == "circle":
            space.add_circle((4.25, 0.31), 1.0).dxf.radius = bad
        else:
            space.add_arc((4.25, 0.31), 1.0, 0, 90).dxf.radius = bad

    message = refusal(plate_with(add), tmp_path)
    assert f"radius is {bad:g}; it has to be above 0 and at most 1e+09" in message
    assert f"{kind} at (4.25, 0.31) drawing units" in message


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_an_angle_that_is_not_finite_is_refused(tmp_path, bad):
    def add(space):
        space.add_arc((1, 1), R, 0, 90).dxf.end_angle = bad

    assert "arc at (1, 1) drawing units: an angle is not finite" in refusal(
        plate_with(add), tmp_path
    )


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_a_bulge_that_is_not_finite_is_refused(tmp_path, bad):
    message = refusal(
        plate_with(lambda s: s.add_lwpolyline([(1, 1, bad), (2, 1, 0)], format="xyb")), tmp_path
    )
    assert "layer 0, polyline at (1, 1) drawing units: a value is" in message
    assert message.endswith(".")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"knots": [0, 0, 0, 1, 1]}, "it has 5 knots; expected 8"),
        ({"knots": [0, 0, 0, 0, math.nan, 1, 1, 1]}, "a value is nan"),
        ({"weights": [1, 1, 1, -1]}, "weight 4 is -1"),
        ({"degree": 40}, "its degree is 40"),
    ],
)
def test_a_spline_that_cannot_be_one_is_refused_with_the_reason(tmp_path, change, words):
    def add(space):
        spline = space.add_open_spline([(1, 1), (2, 1), (2, 1.5), (1, 1.5)])
        if "knots" in change:
            spline.knots = change["knots"]
        if "weights" in change:
            spline.weights = change["weights"]
        if "degree" in change:
            spline.dxf.degree = change["degree"]

    message = refusal(plate_with(add), tmp_path)
    assert "layer 0, spline at (1, 1) drawing units: " in message
    assert words in message


def test_a_curve_far_too_fine_is_refused(tmp_path):
    def add(space):
        points = [(i % 2, (i * 7919) % 1000) for i in range(4000)]
        space.add_open_spline(points)

    message = refusal(plate_with(add), tmp_path)
    assert "layer 0, spline at (0, 0) drawing units:" in message
    assert "Check the drawing unit" in message


# incomplete -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("add", "kind", "code", "words"),
    [
        (lambda s: s.add_circle((1, 1), R), "CIRCLE", 40, "a CIRCLE has no radius"),
        (lambda s: s.add_circle((1, 1), R), "CIRCLE", 10, "a CIRCLE has no centre"),
        (lambda s: s.add_line((1, 1), (2, 1)), "LINE", 10, "a LINE has no start"),
        (lambda s: s.add_line((1, 1), (2, 1)), "LINE", 11, "a LINE has no end"),
        (lambda s: s.add_arc((1, 1), R, 1, 9), "ARC", 10, "an ARC has no centre"),
        (lambda s: s.add_arc((1, 1), R, 1, 9), "ARC", 40, "an ARC has no radius"),
        (lambda s: s.add_arc((1, 1), R, 1, 9), "ARC", 50, "an ARC has no start angle"),
        (lambda s: s.add_arc((1, 1), R, 1, 9), "ARC", 51, "an ARC has no end angle"),
        (lambda s: s.add_ellipse((1, 1), (R, 0)), "ELLIPSE", 10, "an ELLIPSE has no centre"),
        (lambda s: s.add_ellipse((1, 1), (R, 0)), "ELLIPSE", 11, "an ELLIPSE has no major axis"),
        (lambda s: s.add_ellipse((1, 1), (R, 0)), "ELLIPSE", 40, "an ELLIPSE has no ratio"),
        (lambda s: s.add_point((1, 1)), "POINT", 10, "a POINT has no location"),
        (lambda s: s.add_polyline2d([(1, 1), (2, 1)]), "VERTEX", 10, "a VERTEX has no location"),
        (lambda s: s.add_blockref("H", (1, 1)), "INSERT", 10, "an INSERT has no insertion point"),
        (lambda s: s.add_blockref("H", (1, 1)), "INSERT", 2, "an INSERT has no name"),
    ],
)
@pytest.mark.parametrize("version", ["R12", "R2010"])
def test_an_entity_without_what_it_cannot_do_without_is_refused(
    tmp_path, version, add, kind, code, words
):
    if version == "R12" and kind == "ELLIPSE":
        version = "R2018"  # R12 has none
    doc = plate_drawing(version=version)
    doc.blocks.new("H").add_circle((0, 0), R)
    add(doc.modelspace())
    path = drop_tags(save(doc, tmp_path), kind, code)
    with pytest.raises(DrawingError) as caught:
        read_parts(path, options_of(unit="in"))
    assert f"layer 0: {words} (group code {code})" in str(caught.value)
    assert str(caught.value).endswith("Correct or delete the entity and export again.")


@pytest.mark.parametrize(("kind", "code"), [("CIRCLE", 20), ("LINE", 21), ("LINE", 20)])
def test_half_a_point_is_refused_with_its_line(tmp_path, kind, code):
    doc = plate_drawing()
    doc.modelspace().add_line((1, 1), (2, 1))
    path = drop_tags(save(doc, tmp_path), kind, code)
    with pytest.raises(DrawingError) as caught:
        read_parts(path)
    assert f"stands where {code} belongs, the y of a point" in str(caught.value)
    line = int(re.search(r", line (\d+): ", str(caught.value))[1])
    assert path.read_text().splitlines()[line - 3].strip() == str(code - 10)


def test_loose_lines_of_r12_make_the_same_part(tmp_path):
    doc = new_drawing("R12")
    draw_lines(doc.modelspace(), PLATE)
    draw_circles(doc.modelspace(), ROW)
    part = read_one(doc, tmp_path, unit="in")
    assert (part.outline.area, codes_of(part)) == (8.0, set())


def test_a_polygon_of_r12_is_an_old_polyline(tmp_path):
    doc = new_drawing("R12")
    draw_polygon(doc.modelspace(), PLATE)
    draw_circles(doc.modelspace(), ROW)
    assert read_one(doc, tmp_path, unit="in").outline.drawn_as == "polyline"
