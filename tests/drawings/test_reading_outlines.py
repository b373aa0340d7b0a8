"""Outlines and cutouts: drawn whole or in pieces, clean or not; and what is left beside them."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from holeschedule.errors import DrawingError
from tests.makers import (
    NUMBER_40,
    PLATE,
    ROW,
    centres_of,
    codes_of,
    draw_circles,
    draw_lines,
    draw_polygon,
    draw_shuffled_lines,
    edges_of,
    new_drawing,
    notice_of,
    plate_drawing,
    read,
    read_one,
)

FRAME = ((-2.0, -2.0), (6.0, -2.0), (6.0, 5.0), (-2.0, 5.0))
RADIUS = 0.25
ROUNDED_AREA = 8.0 - (4 - math.pi) * RADIUS**2


def of_lines(*lines, holes=ROW, layer="0", frame=False):
    doc = new_drawing()
    draw_circles(doc.modelspace(), holes)
    for start, end in lines:
        doc.modelspace().add_line(start, end, dxfattribs={"layer": layer})
    if frame:
        draw_polygon(doc.modelspace(), FRAME)
    return doc


def refusal(doc, folder, **options) -> str:
    with pytest.raises(DrawingError) as caught:
        read(doc, folder, **options)
    return str(caught.value)


# each way to draw one ---------------------------------------------------------------------------


def rounded_polyline(space, *, closed=True, old=False):
    """The plate with rounded corners, as a polyline of bulges."""
    r, b = RADIUS, math.tan(math.pi / 8)
    points = [
        *[(r, 0, 0), (4 - r, 0, b), (4, r, 0), (4, 2 - r, b)],
        *[(4 - r, 2, 0), (r, 2, b), (0, 2 - r, 0), (0, r, b)],
    ]
    if not closed:
        points.append((r, 0, 0))
    add = space.add_polyline2d if old else space.add_lwpolyline
    add(points, format="xyb", close=closed)


def rounded_pieces(space):
    """The same as loose lines and arcs, in no order."""
    r = RADIUS
    space.add_arc((r, r), r, 180, 270)
    space.add_line((4, 2 - r), (4, r))
    space.add_arc((4 - r, 2 - r), r, 0, 90)
    space.add_line((0, 2 - r), (0, r))
    space.add_line((4 - r, 0), (r, 0))
    space.add_arc((4 - r, r), r, 270, 0)
    space.add_line((r, 2), (4 - r, 2))
    space.add_arc((r, 2 - r), r, 90, 180)


ROUNDED_HABITS = {
    "closed polyline": rounded_polyline,
    "open polyline that ends where it starts": lambda s: rounded_polyline(s, closed=False),
    "old polyline": lambda s: rounded_polyline(s, old=True),
    "loose lines and arcs": rounded_pieces,
}


@pytest.mark.parametrize("habit", ROUNDED_HABITS)
def test_an_outline_is_the_same_however_it_is_drawn(tmp_path, habit):
    doc = new_drawing()
    ROUNDED_HABITS[habit](doc.modelspace())
    draw_circles(doc.modelspace(), ROW)
    part = read_one(doc, tmp_path)
    assert part.outline.area == pytest.approx(ROUNDED_AREA, rel=1e-12)
    assert part.outline.edges.is_arc.sum() == 4
    assert part.outline.edges.radius[part.outline.edges.is_arc] == pytest.approx([RADIUS] * 4)
    assert part.notices == ()


@pytest.mark.parametrize("draw", [draw_polygon, draw_lines, draw_shuffled_lines])
def test_straight_edges_close_in_any_order_and_direction(tmp_path, draw):
    doc = new_drawing()
    corners = [(0, 0), (4, 0), (4, 1), (3, 1), (3, 2), (0, 2)]
    draw(doc.modelspace(), corners)
    draw_circles(doc.modelspace(), ROW[:3])
    part = read_one(doc, tmp_path)
    assert part.outline.area == pytest.approx(7.0, rel=1e-12)
    assert len(part.outline.edges) == 6
    assert part.notices == ()


def test_pieces_of_different_kinds_and_layers_make_one_outline(tmp_path):
    doc = new_drawing()
    space = doc.modelspace()
    space.add_lwpolyline([(0, 0), (4, 0), (4, 2)], dxfattribs={"layer": "A"})
    space.add_line((0, 0), (0, 2), dxfattribs={"layer": "B"})
    space.add_spline([(4, 2), (3, 2.4), (1, 2.4), (0, 2)])
    draw_circles(space, ROW)
    part = read_one(doc, tmp_path)
    assert 8.0 < part.outline.area < 9.6
    assert len(part.holes) == 5


def test_a_closed_spline_and_an_ellipse_are_outlines(tmp_path):
    for number, add in enumerate(("ellipse", "spline")):
        doc = new_drawing()
        if add == "ellipse":
            doc.modelspace().add_ellipse((2, 1), major_axis=(3, 0), ratio=0.5)
        else:
            angles = np.linspace(0, 2 * np.pi, 37)
            points = [(2 + 3 * math.cos(a), 1 + 1.5 * math.sin(a)) for a in angles]
            doc.modelspace().add_spline(points)
        draw_circles(doc.modelspace(), ROW)
        (tmp_path / str(number)).mkdir()
        part = read_one(doc, tmp_path / str(number))
        assert part.outline.area == pytest.approx(math.pi * 3 * 1.5, abs=2e-3)


def test_a_curve_stays_within_a_ten_thousandth_of_an_inch(tmp_path):
    doc = new_drawing()
    doc.modelspace().add_ellipse((2, 1), major_axis=(3, 0), ratio=0.5)
    draw_circles(doc.modelspace(), ROW)
    part = read_one(doc, tmp_path)
    points = np.concatenate([part.outline.edges.points_at(s) for s in np.linspace(0, 1, 9)])
    x, y = (points + part.zero - (2, 1)).T
    # an ellipse seen along its normal: distance ≈ value of the equation over its gradient
    value, slope = (x / 3) ** 2 + (y / 1.5) ** 2 - 1, np.hypot(2 * x / 9, 2 * y / 2.25)
    assert np.abs(value / slope).max() <= 1e-4


# gaps -------------------------------------------------------------------------------------------


def with_gap(gap, **more):
    return of_lines(
        *[((0, 0), (4, 0)), ((4, 0), (4, 2)), ((4, 2), (0, 2)), ((0, 2), (0, gap))], **more
    )


def test_a_gap_within_the_tolerance_is_closed_and_told(tmp_path):
    part = read_one(with_gap(0.0015), tmp_path)
    assert len(part.holes) == 5
    notice = notice_of(part, "gap.joined")
    assert "0.0015 in" in notice.text
    assert (notice.x, notice.y) == pytest.approx((0.0, 0.00075))


@pytest.mark.parametrize("frame", [False, True])
@pytest.mark.parametrize("gap", [0.0021, 0.0123, 0.5])
def test_a_wider_gap_is_refused_with_place_size_and_a_cure_that_works(tmp_path, gap, frame):
    message = refusal(with_gap(gap, frame=frame), tmp_path)
    assert f"layer 0: the outline is open between (0, 0) in and (0, {gap}) in" in message
    assert f"a gap of {gap} in" in message
    advised = float(re.search(r"--gap ([\d.]+)in", message)[1])
    assert advised == pytest.approx(gap, rel=0.15)
    part = read_one(with_gap(gap, frame=frame), tmp_path, gap=advised)
    assert part.outline.area == pytest.approx(8.0, abs=1e-9)


def test_gaps_at_every_corner_are_refused_with_the_widest(tmp_path):
    doc = of_lines(
        *[((0.01, 0), (4, 0)), ((4, 0.003), (4, 1.995)), ((4, 2), (0, 2)), ((0, 1.997), (0, 0))],
        frame=True,
    )
    message = refusal(doc, tmp_path)
    assert "a gap of 0.01 in" in message
    advised = float(re.search(r"--gap ([\d.]+)in", message)[1])
    assert read_one(doc, tmp_path, gap=advised).outline.area == pytest.approx(8.0, abs=0.05)


def test_an_open_outline_in_millimetres_is_told_in_millimetres(tmp_path):
    doc = new_drawing(unit=4)
    draw_circles(doc.modelspace(), [(20, 20), (40, 20)], 2.5)
    corners = [(0, 0), (100, 0), (100, 50), (0, 50), (0, 0.25)]
    doc.modelspace().add_lwpolyline(corners)
    message = refusal(doc, tmp_path)
    assert "between (0, 0) mm and (0, 0.25) mm, a gap of 0.25 mm" in message
    advised = float(re.search(r"--gap ([\d.]+)in", message)[1])
    assert len(read_one(doc, tmp_path, gap=advised).holes) == 2


def test_a_closed_frame_does_not_stand_in_for_two_halves_of_an_outline(tmp_path):
    doc = of_lines(*[((0, 0), (4, 0)), ((4, 0), (4, 1.98)), ((4, 2), (0, 2)), ((0, 2), (0, 0.03))])
    draw_polygon(doc.modelspace(), FRAME)
    assert "a gap of 0.03 in" in refusal(doc, tmp_path)


def test_an_open_cutout_is_told_with_its_gap(tmp_path):
    doc = plate_drawing()
    doc.modelspace().add_lwpolyline([(1, 1), (2, 1), (2, 1.5), (1, 1.5), (1, 1.05)])
    part = read_one(doc, tmp_path)
    assert part.cutouts == ()
    notice = notice_of(part, "gap.left")
    assert "a gap of 0.05 in" in notice.text
    assert (notice.x, notice.y) == pytest.approx((1.0, 1.0))


def test_many_open_cutouts_are_one_notice_with_the_narrowest_gap(tmp_path):
    doc = plate_drawing()
    for i, gap in enumerate((0.05, 0.02, 0.03)):
        x = 1.0 + i / 2
        doc.modelspace().add_lwpolyline([(x, 1), (x + 0.3, 1), (x + 0.3, 1.3), (x, 1 + gap)])
    notice = notice_of(read_one(doc, tmp_path), "gap.left")
    assert notice.text == "3 lines that close but for a gap were left out, here one of 0.02 in"
    assert notice.x == pytest.approx(1.5)


def test_many_joined_gaps_are_one_notice_with_the_widest(tmp_path):
    lines = [((0, 0), (4, 0)), ((4, 0.001), (4, 2)), ((4, 2), (0, 2)), ((0, 2), (0, 0.0015))]
    notice = notice_of(read_one(of_lines(*lines), tmp_path), "gap.joined")
    assert notice.text == "2 gaps were closed, the widest, 0.0015 in, here"
    assert notice.y == pytest.approx(0.00075)


def test_an_open_cutout_on_the_outlines_layer_is_refused(tmp_path):
    doc = new_drawing()
    draw_polygon(doc.modelspace(), PLATE, "OUTLINE")
    draw_circles(doc.modelspace(), ROW)
    doc.modelspace().add_lwpolyline(
        [(1, 1), (2, 1), (2, 1.5), (1, 1.5), (1, 1.05)], dxfattribs={"layer": "OUTLINE"}
    )
    assert "layer OUTLINE: the outline is open between (1, 1) in" in refusal(doc, tmp_path)


def test_a_tick_on_the_outlines_layer_is_no_open_outline(tmp_path):
    doc = new_drawing()
    draw_polygon(doc.modelspace(), PLATE, "OUTLINE")
    draw_circles(doc.modelspace(), ROW)
    doc.modelspace().add_line((1, 1.2), (1.2, 1.2), dxfattribs={"layer": "OUTLINE"})
    assert codes_of(read_one(doc, tmp_path)) == {"line.open"}


# crossings --------------------------------------------------------------------------------------


@pytest.mark.parametrize("frame", [False, True])
def test_lines_that_run_past_each_other_are_refused_with_the_place(tmp_path, frame):
    doc = of_lines(
        *[((-0.5, 0), (4.5, 0)), ((4, -0.5), (4, 2.5)), ((4.5, 2), (-0.5, 2)), ((0, 2.5), (0, -1))],
        frame=frame,
    )
    message = refusal(doc, tmp_path)
    assert "layer 0: the outline does not close: lines cross or meet at (" in message
    at = re.search(r"meet at \(([-\d.]+), ([-\d.]+)\) in", message)
    assert (float(at[1]), float(at[2])) in set(PLATE)


@pytest.mark.parametrize("frame", [False, True])
def test_a_line_that_ends_on_another_is_refused_with_the_place(tmp_path, frame):
    doc = of_lines(
        *[((0, 0), (4.5, 0)), ((4, 0), (4, 2)), ((4, 2), (0, 2)), ((0, 2), (0, 0))], frame=frame
    )
    assert "lines cross or meet at (4, 0) in without ending there" in refusal(doc, tmp_path)


BOW = [(0, 0), (4, 2), (4, 0), (0, 2)]
UNEVEN_BOW = [(0, 0), (4, 2), (4, 0), (0, 2.5)]
SPIKE = [(0, 0), (4, 0), (4, 2), (4, 3), (4, 2), (0, 2)]


@pytest.mark.parametrize(
    ("draw", "corners", "at"),
    [
        (draw_polygon, BOW, "(2, 1) in"),
        (draw_lines, BOW, "(2, 1) in"),
        (draw_polygon, UNEVEN_BOW, "(2.2222, 1.1111) in"),
        (draw_lines, UNEVEN_BOW, "(2.2222, 1.1111) in"),
        (draw_polygon, SPIKE, "(4, 2) in"),
    ],
)
def test_an_outline_that_crosses_itself_is_refused_with_the_place(tmp_path, draw, corners, at):
    doc = new_drawing()
    draw(doc.modelspace(), corners)
    draw_circles(doc.modelspace(), [(0.5, 1.0), (0.2, 1.2)])
    message = refusal(doc, tmp_path)
    assert f"the outline crosses or touches itself near {at}" in message


def test_cutouts_that_cross_the_outline_or_themselves_are_told(tmp_path):
    doc = plate_drawing()
    draw_polygon(doc.modelspace(), [(3.5, 1), (4.5, 1), (4.5, 1.5), (3.5, 1.5)])
    draw_polygon(doc.modelspace(), [(1, 1), (2, 1.5), (2, 1), (1, 1.6)])
    part = read_one(doc, tmp_path)
    assert len(part.cutouts) == 2
    assert notice_of(part, "cutout.crosses-outline").x == pytest.approx(4.0)
    crossing = notice_of(part, "cutout.crosses-itself")
    assert (1 < crossing.x < 2, 1 < crossing.y < 1.6) == (True, True)


@pytest.mark.parametrize("off", [0.0, 0.0003])
@pytest.mark.parametrize(
    ("centre", "told"),
    [((0.5, 1), (0, 1)), ((3.5, 1), (4, 1)), ((2, 0.5), (2, 0)), ((2, 1.5), (2, 2))],
)
def test_a_round_cutout_that_touches_the_outline_is_told_on_every_side(tmp_path, centre, told, off):
    doc = plate_drawing(holes=[(1.5, 1.0)])
    draw_circles(doc.modelspace(), [centre], 1.0 - 2 * off)
    notice = notice_of(read_one(doc, tmp_path), "cutout.crosses-outline")
    assert (notice.x, notice.y) == pytest.approx(told, abs=0.03)


def test_a_round_cutout_just_clear_of_the_outline_is_not_told(tmp_path):
    doc = plate_drawing(holes=[(1.5, 1.0)])
    draw_circles(doc.modelspace(), [(0.5, 1)], 1.0 - 2 * 0.0006)
    assert "cutout.crosses-outline" not in codes_of(read_one(doc, tmp_path))


# corners where more than two lines meet ---------------------------------------------------------


@pytest.mark.parametrize(("x", "code"), [(3.8, "line.inner"), (2.3, "line.across")])
def test_a_line_between_two_corners_is_no_edge_and_is_told(tmp_path, x, code):
    corners = [(0, 0), (x, 0), (4, 0), (4, 2), (x, 2), (0, 2)]
    doc = of_lines(*edges_of(corners), ((x, 0), (x, 2)))
    part = read_one(doc, tmp_path)
    assert part.outline.area == pytest.approx(8.0)
    assert codes_of(part) == {code, "line.branch"}
    assert (notice_of(part, code).x, notice_of(part, code).y) == (x, 1.0)
    assert "2 times" in notice_of(part, "line.branch").text


@pytest.mark.parametrize(
    ("line", "code"),
    [
        (((2.3, 0), (2.3, 2)), "line.across"),
        (((2.3, 2), (2.6, 0)), "line.across"),
        (((3.8, 0), (3.8, 2)), "line.open"),
        (((2.3, 0), (2.3, 1.9)), "line.open"),
        (((2.3, 0.2), (2.3, 2)), "line.open"),
    ],
)
def test_an_open_line_with_holes_on_both_sides_is_told_as_one_across(tmp_path, line, code):
    doc = plate_drawing()
    doc.modelspace().add_line(*line, dxfattribs={"layer": "LASER"})
    part = read_one(doc, tmp_path)
    assert (codes_of(part), notice_of(part, code).layer) == ({code}, "LASER")


def test_two_parts_with_one_cut_between_them_are_told_as_one_part_cut_across(tmp_path):
    left, right = [(0, 0), (2.3, 0), (2.3, 2), (0, 2)], [(2.3, 0), (4, 0), (4, 2), (2.3, 2)]
    part = read_one(of_lines(*edges_of(left), *edges_of(right)), tmp_path)
    assert "line.across" in codes_of(part)
    doc = plate_drawing(left)
    draw_polygon(doc.modelspace(), right)
    assert [len(part.holes) for part in read(doc, tmp_path)] == [3, 2]


def test_bend_lines_that_cross_inside_are_no_edges(tmp_path):
    doc = of_lines(
        *edges_of([(0, 0), (1, 0), (4, 0), (4, 1), (4, 2), (1, 2), (0, 2), (0, 1)]),
        *[((1, 0), (1, 1)), ((1, 1), (1, 2)), ((0, 1), (1, 1)), ((1, 1), (4, 1))],
    )
    part = read_one(doc, tmp_path)
    assert part.outline.area == pytest.approx(8.0)
    assert "4 times" in notice_of(part, "line.inner").text


def test_a_notch_with_a_line_across_its_mouth_is_refused_as_unclear(tmp_path):
    notched = [(0, 0), (4, 0), (4, 2), (2.5, 2), (2.5, 1.5), (1.5, 1.5), (1.5, 2), (0, 2)]
    message = refusal(of_lines(*edges_of(notched), ((1.5, 2), (2.5, 2))), tmp_path)
    assert "more than two lines meet at (1.5, 2) in, and either could be the edge" in message
    assert "--layer NAME=ignored" in message


def test_the_line_across_the_notch_may_be_ignored_by_its_layer(tmp_path):
    notched = [(0, 0), (4, 0), (4, 2), (2.5, 2), (2.5, 1.5), (1.5, 1.5), (1.5, 2), (0, 2)]
    doc = of_lines(*edges_of(notched))
    doc.modelspace().add_line((1.5, 2), (2.5, 2), dxfattribs={"layer": "PHANTOM"})
    part = read_one(doc, tmp_path, layers={"phantom": "ignored"})
    assert part.outline.area == pytest.approx(7.5)


def test_a_cutout_that_touches_a_corner_of_the_outline_stays_a_cutout(tmp_path):
    doc = of_lines(*edges_of(PLATE), *edges_of([(0, 0), (0.4, 0.1), (0.1, 0.4)]))
    part = read_one(doc, tmp_path)
    assert part.outline.area == pytest.approx(8.0)
    assert [cutout.area for cutout in part.cutouts] == pytest.approx([0.075])


def test_cutouts_that_touch_each_other_in_a_corner_are_two(tmp_path):
    doc = of_lines(
        *edges_of(PLATE),
        *edges_of([(1, 1), (2, 1), (2, 1.5)]),
        *edges_of([(2, 1.5), (3, 1.5), (3, 1.9)]),
    )
    part = read_one(doc, tmp_path)
    assert sorted(cutout.area for cutout in part.cutouts) == pytest.approx([0.2, 0.25])


def test_three_ends_within_the_tolerance_of_a_corner_are_one_corner(tmp_path):
    lines = [((0, 0), (2, 0)), ((2.0005, 0), (4, 0)), *edges_of(PLATE)[1:]]
    doc = of_lines(*lines, ((2, 0.0004), (2, 1.2)))
    part = read_one(doc, tmp_path)
    assert part.outline.area == pytest.approx(8.0, abs=1e-3)
    assert codes_of(part) == {"gap.joined", "line.open"}


# what is drawn twice, or is nothing --------------------------------------------------------------


def test_lines_of_no_length_are_left_out_and_told(tmp_path):
    part = read_one(of_lines(*edges_of(PLATE), ((1, 1.2), (1, 1.2))), tmp_path)
    assert part.outline.area == pytest.approx(8.0)
    assert (notice_of(part, "line.empty").x, notice_of(part, "line.empty").y) == (1.0, 1.2)


@pytest.mark.parametrize("times", [2, 3])
def test_a_line_drawn_again_backwards_counts_once(tmp_path, times):
    again = [(b, a) for a, b in edges_of(PLATE)] * (times - 1)
    part = read_one(of_lines(*edges_of(PLATE), *again), tmp_path)
    assert len(part.outline.edges) == 4
    assert f"{4 * (times - 1)} times" in notice_of(part, "line.doubled").text


def test_a_loose_line_over_an_edge_of_a_polyline_counts_once(tmp_path):
    doc = plate_drawing()
    doc.modelspace().add_line((4, 0), (0, 0))
    part = read_one(doc, tmp_path)
    assert len(part.outline.edges) == 4
    assert codes_of(part) == {"line.doubled"}


@pytest.mark.parametrize(
    "pieces",
    [
        [((0, 0), (2.5, 0)), ((1.5, 0), (4, 0))],
        [((2.5, 0), (0, 0)), ((4, 0), (1.5, 0))],
        [((0, 0), (4, 0)), ((1, 0), (2, 0))],
        [((1, 0), (2, 0)), ((0, 0), (2, 0)), ((1.5, 0), (4, 0))],
    ],
    ids=["partly", "partly, backwards", "wholly", "three"],
)
def test_overlapping_lines_are_one_line(tmp_path, pieces):
    part = read_one(of_lines(*pieces, *edges_of(PLATE)[1:]), tmp_path)
    assert len(part.outline.edges) == 4
    assert part.outline.area == pytest.approx(8.0)
    assert notice_of(part, "line.overlap").y == 0.0


def test_an_outline_drawn_twice_counts_once(tmp_path):
    doc = plate_drawing()
    draw_polygon(doc.modelspace(), [*PLATE[2:], *PLATE[:2]], "CUT")
    part = read_one(doc, tmp_path)
    assert part.cutouts == ()
    assert notice_of(part, "loop.doubled").layer == "CUT"


def test_a_closed_line_without_area_is_left_out(tmp_path):
    doc = plate_drawing()
    doc.modelspace().add_lwpolyline([(1, 1), (2, 1)], close=True)
    part = read_one(doc, tmp_path)
    assert part.cutouts == ()
    assert notice_of(part, "loop.flat").x == 1.0


# strokes ----------------------------------------------------------------------------------------


def test_ticks_centre_marks_and_engraving_are_no_edges(tmp_path):
    doc = plate_drawing()
    space = doc.modelspace()
    for x, y in ROW:
        space.add_line((x - 0.1, y), (x + 0.1, y))
        space.add_line((x, y - 0.1), (x, y + 0.1))
    space.add_line((2, 2), (2, 1.9))
    space.add_lwpolyline([(1, 1.5), (1.2, 1.7), (1.4, 1.5), (1.6, 1.7)])
    part = read_one(doc, tmp_path)
    assert len(part.edges) == 4
    assert "12 times" in notice_of(part, "line.open").text


def test_centre_lines_through_a_pattern_are_no_outline(tmp_path):
    holes = [(1, 0.5), (3, 0.5), (1, 1.5), (3, 1.5)]
    doc = plate_drawing(holes=holes)
    for x, y in ((1, 0.5), (3, 1.5)):
        doc.modelspace().add_line((x, -0.3), (x, 2.3))
        doc.modelspace().add_line((-0.3, y), (4.3, y))
    part = read_one(doc, tmp_path)
    assert (centres_of(part), part.outline.area) == (sorted(holes), pytest.approx(8.0))


def test_bend_lines_of_a_tray_on_the_outlines_own_layer_are_no_edges(tmp_path):
    doc = plate_drawing()
    for x in (0.2, 3.8):
        doc.modelspace().add_line((x, 0), (x, 2))
    for y in (0.2, 1.8):
        doc.modelspace().add_line((0, y), (4, y))
    part = read_one(doc, tmp_path)
    assert part.outline.area == pytest.approx(8.0)
    assert codes_of(part) == {"line.open"}


# frames, parts, cutouts -------------------------------------------------------------------------


def test_a_frame_and_a_title_block_are_told_and_are_no_part(tmp_path):
    doc = plate_drawing()
    draw_polygon(doc.modelspace(), FRAME)
    draw_polygon(doc.modelspace(), [(-1.9, -1.9), (5.9, -1.9), (5.9, 4.9), (-1.9, 4.9)])
    draw_polygon(doc.modelspace(), [(4.5, -1.9), (5.9, -1.9), (5.9, -1), (4.5, -1)])
    part = read_one(doc, tmp_path)
    assert part.outline.area == pytest.approx(8.0)
    assert part.cutouts == ()
    assert "2 times" in notice_of(part, "loop.frame").text
    assert notice_of(part, "loop.no-holes").x == 4.5


def test_several_parts_are_read_from_left_to_right(tmp_path):
    doc = new_drawing()
    for x, count in ((10, 2), (0, 5), (5, 3)):
        draw_polygon(doc.modelspace(), [(x + a, b) for a, b in PLATE])
        draw_circles(doc.modelspace(), [(x + a, b) for a, b in ROW[:count]])
    draw_polygon(doc.modelspace(), [(-1, -1), (15, -1), (15, 3), (-1, 3)])
    parts = read(doc, tmp_path)
    assert [len(part.holes) for part in parts] == [5, 3, 2]
    assert [part.name for part in parts] == ["PLATE.1", "PLATE.2", "PLATE.3"]
    assert [min(h.x for h in part.holes) for part in parts] == [0.5, 5.5, 10.5]


@pytest.mark.parametrize("role", ["BEND", "TRIM"])
def test_a_line_over_two_parts_is_of_both(tmp_path, role):
    doc = plate_drawing()
    draw_polygon(doc.modelspace(), [(5, 0), (9, 0), (9, 2), (5, 2)])
    draw_circles(doc.modelspace(), [(6, 0.5)])
    doc.modelspace().add_line((-1, 1.5), (9.5, 1.5), dxfattribs={"layer": role})
    doc.modelspace().add_line((10, 0), (10, 2), dxfattribs={"layer": role})
    lines = [(len(part.bends), len(part.trim)) for part in read(doc, tmp_path)]
    assert lines == ([(1, 0), (2, 0)] if role == "BEND" else [(0, 1), (0, 2)])


def test_bend_and_trim_lines_belong_to_the_part_they_cross(tmp_path):
    doc = plate_drawing()
    draw_polygon(doc.modelspace(), [(x + 6, y) for x, y in PLATE])
    draw_circles(doc.modelspace(), [(x + 6, y) for x, y in ROW])
    doc.modelspace().add_line((0, 1.2), (4, 1.2), dxfattribs={"layer": "BEND"})
    doc.modelspace().add_line((6, 1.2), (10, 1.2), dxfattribs={"layer": "TRIM"})
    doc.modelspace().add_line((6, 1.5), (10, 1.5), dxfattribs={"layer": "TRIM"})
    left, right = read(doc, tmp_path)
    assert (len(left.bends), len(left.trim)) == (1, 0)
    assert (len(right.bends), len(right.trim)) == (0, 2)


def test_a_part_nested_in_the_window_of_another_is_a_part_of_its_own(tmp_path):
    doc = plate_drawing()
    draw_polygon(doc.modelspace(), [(0.2, 0.8), (3, 0.8), (3, 1.8), (0.2, 1.8)])
    draw_polygon(doc.modelspace(), [(0.4, 0.9), (2.5, 0.9), (2.5, 1.7), (0.4, 1.7)])
    draw_circles(doc.modelspace(), [(0.7, 1.2), (1.4, 1.2)])
    outer, inner = read(doc, tmp_path)
    assert (len(outer.holes), len(inner.holes)) == (5, 2)
    assert [cutout.area for cutout in outer.cutouts] == pytest.approx([2.8])
    assert (inner.outline.area, inner.cutouts) == (pytest.approx(1.68), ())


def test_loops_inside_the_outline_are_cutouts_and_edges(tmp_path):
    doc = plate_drawing()
    space = doc.modelspace()
    draw_polygon(space, [(1, 1), (2, 1), (2, 1.5), (1, 1.5)])
    draw_circles(space, [(3, 1.4)], 0.75)
    space.add_lwpolyline(
        [(0.3, 1, 0), (0.7, 1, 1), (0.7, 1.2, 0), (0.3, 1.2, 1)], "xyb", close=True
    )
    part = read_one(doc, tmp_path)
    areas = [0.08 + math.pi * 0.01, 0.5, math.pi * 0.375**2]
    assert [cutout.area for cutout in part.cutouts] == pytest.approx(areas)
    assert len(part.edges) == 4 + 4 + 1 + 4
    assert part.edge_name(0) == "outline"
    assert part.edge_name(len(part.edges) - 1) == "cutout 3"


@pytest.mark.parametrize(
    "corners",
    [
        [(3.9, 1), (5, 1), (5, 1.5), (3.9, 1.5)],
        [(-1, 1), (5, 1), (5, 1.5), (-1, 1.5)],
        [(3.5, 1.2), (5, 1.5), (5, 1.2), (3.5, 1.5)],
    ],
    ids=["mostly outside", "right across", "crossing itself"],
)
def test_a_closed_line_over_the_edge_of_the_part_is_a_cutout_however_far_it_sticks_out(
    tmp_path, corners
):
    doc = plate_drawing()
    draw_polygon(doc.modelspace(), corners)
    part = read_one(doc, tmp_path)
    assert (len(part.cutouts), len(part.edges)) == (1, 8)
    assert notice_of(part, "cutout.crosses-outline").layer == "0"


def test_a_closed_line_that_only_touches_the_part_is_none_of_its_edges(tmp_path):
    doc = plate_drawing()
    draw_polygon(doc.modelspace(), [(4, 0), (5, 0), (5, 2), (4, 2)])
    part = read_one(doc, tmp_path)
    assert (part.cutouts, codes_of(part)) == ((), {"loop.no-holes"})


def test_what_lies_in_a_cutout_is_left_out_and_told(tmp_path):
    doc = plate_drawing()
    draw_circles(doc.modelspace(), [(2, 1.3)], 1.0)
    draw_polygon(doc.modelspace(), [(1.9, 1.2), (2.1, 1.2), (2.1, 1.4)])
    part = read_one(doc, tmp_path)
    assert len(part.cutouts) == 1
    assert notice_of(part, "loop.in-cutout").x == pytest.approx(1.9)


def test_a_hole_outside_every_outline_is_kept_and_told(tmp_path):
    doc = plate_drawing()
    draw_circles(doc.modelspace(), [(4.5, 1.0)])
    part = read_one(doc, tmp_path)
    outside = [h.x for h, sound in zip(part.holes, part.in_metal, strict=True) if not sound]
    assert outside == [4.5]
    assert (notice_of(part, "hole.outside").x, notice_of(part, "hole.outside").y) == (4.5, 1.0)


def test_a_hole_in_a_cutout_is_kept_and_is_not_in_metal(tmp_path):
    doc = plate_drawing()
    draw_polygon(doc.modelspace(), [(1, 1), (3, 1), (3, 1.8), (1, 1.8)])
    draw_circles(doc.modelspace(), [(1.5, 1.5)])
    part = read_one(doc, tmp_path)
    assert len(part.holes) == 6
    assert [h.y for h, sound in zip(part.holes, part.in_metal, strict=True) if not sound] == [1.5]


def test_a_part_far_from_the_origin_is_as_exact_as_one_at_it(tmp_path):
    far = (2**20, 2**21)
    corners = [(x + far[0], y + far[1]) for x, y in PLATE]
    holes = [(x + far[0], y + far[1]) for x, y in ROW]
    part = read_one(plate_drawing(corners, holes), tmp_path)
    assert part.outline.area == 8.0
    assert centres_of(part) == holes
    assert np.abs(part.centres).max() < 10
    assert part.holes[0].diameter == NUMBER_40


def test_something_drawn_far_off_takes_no_accuracy_from_the_part(tmp_path):
    doc = plate_drawing([(0.1, 0.1), (4.1, 0.1), (4.1, 2.3), (0.1, 2.3)])
    doc.modelspace().add_line((-9e7, -9e7), (-9e7, -9e7 + 1))
    part = read_one(doc, tmp_path)
    assert part.outline.area == pytest.approx(8.8, abs=1e-12)


def test_a_drawing_wider_than_any_part_is_refused(tmp_path):
    doc = plate_drawing()
    doc.modelspace().add_line((-9e8, 0), (-9e8, 1))
    message = refusal(doc, tmp_path)
    assert "the drawing is 9e+08 in across" in message
    assert "--units" in message


# none -------------------------------------------------------------------------------------------


def test_holes_without_an_outline_are_refused(tmp_path):
    doc = new_drawing()
    draw_circles(doc.modelspace(), ROW)
    message = refusal(doc, tmp_path)
    assert "no closed line encloses the 5 holes, the first at (0.5, 0.5) in." in message
    assert "--layer NAME=outline" in message


def test_an_outline_without_holes_is_refused(tmp_path):
    message = refusal(plate_drawing(holes=[]), tmp_path)
    assert "no circle, so no hole, in the model space" in message


def test_holes_that_a_stretched_block_made_ellipses_are_named(tmp_path):
    doc = plate_drawing(holes=[])
    draw_circles(doc.blocks.new("HOLE"), [(0, 0)])
    doc.modelspace().add_blockref("HOLE", (1, 1), dxfattribs={"xscale": 1.5})
    message = refusal(doc, tmp_path)
    assert "no circle, so no hole, in the model space (block 'HOLE' is stretched" in message


def test_an_empty_drawing_is_refused(tmp_path):
    assert "no line, arc or circle in the model space" in refusal(new_drawing(), tmp_path)
