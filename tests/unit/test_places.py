"""Which holes of several layers make a place, which layers are there, and in what order."""

import math

import numpy as np
import pytest

from holeschedule.geometry.placement import Placement
from holeschedule.joints.places import find_places, place_notices, place_tolerance
from holeschedule.model import HoleSize
from tests.joints import demo_joint, joint_of, layer_of
from tests.plates import NUMBER_30, NUMBER_40, At, D, Plate, level

ROW = level(1, 1, 0.75, 4)


def plate(spots=ROW, **more):
    return Plate(rows=[spots], **more).part()


def strip(spots, **more):
    """A plate of single holes."""
    return Plate(singles=spots, **more).part()


def labels_at(place):
    return [layer.label for layer in place.layers]


def test_holes_that_lie_on_each_other_are_one_place():
    places = find_places(joint_of(layer_of(plate(), "A"), layer_of(plate(), "B")))
    assert [place.number for place in places] == [1, 2, 3, 4]
    assert [place.at for place in places] == ROW
    assert [labels_at(place) for place in places] == [[f"A{n}"] * 2 for n in range(1, 5)]
    assert all(layer.offset == (0.0, 0.0) for place in places for layer in place.layers)


def test_places_follow_the_labels_of_the_first_layer_and_then_of_the_next():
    first = strip([(3, 1), (1, 1), (2, 1)])
    second = strip([(5, 1), (2, 1), (4, 1)])
    places = find_places(joint_of(layer_of(first, "A"), layer_of(second, "B")))
    assert [place.at[0] for place in places] == [3, 1, 2, 5, 4]


def test_labels_are_ordered_as_numbers_and_not_as_text():
    places = find_places(joint_of(layer_of(plate(level(0.5, 1, 0.75, 12)), "A")))
    assert [labels_at(place)[0] for place in places] == [f"A{n}" for n in range(1, 13)]


@pytest.mark.parametrize(
    ("away", "count"), [(D / 2 - 1e-6, 1), (D / 2, 1), (D / 2 + 1e-6, 2)], ids=str
)
def test_holes_belong_to_one_place_up_to_half_the_shank_apart(away, count):
    one, other = strip([(1, 1)]), strip([(1 + away, 1)])
    places = find_places(joint_of(layer_of(one, "A"), layer_of(other, "B"), rivet="3/32"))
    assert len(places) == count


def test_the_tolerance_is_half_the_thinnest_shank_where_no_rivet_is_stated():
    mixed = strip([At(1, 1, NUMBER_30), At(2, 1, NUMBER_40)])
    assert place_tolerance(joint_of(layer_of(mixed, "A"))) == D / 2
    assert place_tolerance(joint_of(layer_of(mixed, "A"), rivet="5/32")) == 5 / 64


def test_a_stated_tolerance_counts():
    joint = joint_of(layer_of(strip([(1, 1)]), "A"), layer_of(strip([(1.1, 1)]), "B"))
    assert len(find_places(joint)) == 2
    assert len(find_places(joint, tolerance=0.1)) == 1


def test_a_layer_has_one_hole_a_place_the_nearest():
    crowded = strip([(1.04, 1), (1.01, 1)])
    places = find_places(joint_of(layer_of(strip([(1, 1)]), "A"), layer_of(crowded, "B")))
    assert [labels_at(place) for place in places] == [["X1", "X2"], [None, "X1"]]


def test_an_offset_is_told_in_the_frame_of_the_first_layer():
    turned = Placement(math.pi / 2, (3.0, 0.0))
    own = turned.inverse().move(np.array([(1.01, 1.02)]))[0]
    second = layer_of(strip([tuple(own.tolist())]), "B", placement=turned)
    (place,) = find_places(joint_of(layer_of(strip([(1, 1)]), "A"), second))
    assert place.layers[1].offset == pytest.approx((0.01, 0.02))
    assert place.layers[1].position == pytest.approx(tuple(own))


def test_a_flipped_and_turned_layer_meets_its_places():
    move = Placement(2.5, (0.7, -3.0), flip=True)
    spots = [tuple(xy) for xy in move.inverse().move(np.array(ROW)).tolist()]
    back = Plate(singles=spots, corners=[(-20, -20), (20, -20), (20, 20), (-20, 20)]).part()
    joint = joint_of(layer_of(plate(), "A"), layer_of(back, "B", placement=move))
    places = find_places(joint)
    assert len(places) == 4
    assert all(math.hypot(*p.layers[1].offset) < 1e-12 for p in places)


# the guide ------------------------------------------------------------------------------------


def test_the_first_hole_at_final_size_guides_and_is_the_centre():
    pilot, final = strip([At(1, 1, 0.082)]), strip([At(1.01, 1, NUMBER_40)])
    (place,) = find_places(joint_of(layer_of(pilot, "A"), layer_of(final, "B")))
    assert place.guide_layer.name == "B"
    assert place.at == (1.01, 1)
    assert place.layers[0].offset == pytest.approx((-0.01, 0))
    assert [layer.size for layer in place.layers] == [HoleSize.PILOT, HoleSize.FINAL]


def test_of_pilots_alone_the_first_layer_s_guides():
    one, two = strip([At(1, 1, 0.07)]), strip([At(1.01, 1, 0.082)])
    (place,) = find_places(joint_of(layer_of(one, "A"), layer_of(two, "B")))
    assert (place.guide_layer.name, place.at) == ("A", (1, 1))
    assert (place.rivet.name, place.final_diameter) == ("3/32", 0.098)


def test_the_largest_hole_tells_the_rivet_and_a_stated_one_overrules_it():
    small, large = strip([At(1, 1, NUMBER_40)]), strip([At(1, 1, NUMBER_30)])
    layers = layer_of(small, "A"), layer_of(large, "B")
    (place,) = find_places(joint_of(*layers))
    assert (place.rivet.name, place.guide_layer.name) == ("1/8", "B")
    (place,) = find_places(joint_of(*layers, rivet="5/32"))
    assert (place.rivet.name, place.guide_layer.name) == ("5/32", "A")


def test_a_hole_for_no_known_rivet_is_its_own_size():
    (place,) = find_places(joint_of(layer_of(strip([At(1, 1, 0.5)]), "A")))
    assert (place.rivet, place.final_diameter) == (None, 0.5)


# layers without a hole ------------------------------------------------------------------------


def test_a_layer_that_covers_a_place_without_a_hole_is_match_drilled():
    blank = Plate(singles=[(1, 1)], size=(2.0, 5.0)).part()
    places = find_places(joint_of(layer_of(plate(), "A"), layer_of(blank, "B")))
    assert [[layer.name for layer in place.to_drill] for place in places] == [[], ["B"], [], []]
    (drilled,) = places[1].to_drill
    assert (drilled.label, drilled.diameter, drilled.has_hole) == (None, None, False)
    assert drilled.position == (1.75, 1)
    assert drilled.full_label == "B"


R = NUMBER_40 / 2


@pytest.mark.parametrize(
    ("beyond", "there"),
    [(-0.2, True), (0.0, True), (R - 1e-6, True), (R, False), (R + 1e-6, False), (1.0, False)],
)
def test_a_place_whose_hole_would_cut_the_edge_is_there_and_one_clear_of_it_is_not(beyond, there):
    short = Plate(singles=[(1, 1)], size=(4 - beyond, 5.0)).part()
    long = strip([(1, 1), (4, 1)])
    places = find_places(joint_of(layer_of(long, "A"), layer_of(short, "B"), rivet="3/32"))
    assert bool(places[1].to_drill) is there


def test_a_place_in_a_cutout_is_not_covered():
    frame = Plate(singles=[(8, 1)], round_cutouts=[(2, 2, 0.5)]).part()
    places = find_places(joint_of(layer_of(strip([(2, 2), (8, 1)]), "A"), layer_of(frame, "B")))
    assert [len(place.layers) for place in places] == [1, 2]


def test_a_trim_line_does_not_end_the_metal_until_it_is_cut():
    sheet = Plate(singles=[(1, 1)], trim=[((5, 0), (5, 5))]).part()
    places = find_places(joint_of(layer_of(strip([(1, 1), (7, 1)]), "A"), layer_of(sheet, "B")))
    assert [len(place.layers) for place in places] == [2, 2]


def test_a_hole_drawn_off_the_metal_is_at_its_place_all_the_same():
    off = strip([(1, -1)])
    (place,) = find_places(joint_of(layer_of(off, "A")))
    assert place.layers[0].has_hole
    assert not place.layers[0].covers


def test_a_hole_that_was_not_selected_is_taken_in_and_told():
    every, some = plate(), plate()
    joint = joint_of(layer_of(every, "A"), layer_of(some, "B", labels=["A1", "A2"]))
    places = find_places(joint)
    assert [place.layers[1].taken_in for place in places] == [False, False, True, True]
    notices = place_notices(joint, places)
    assert [notice.code for notice in notices] == ["joint.hole-taken-in"] * 2
    assert "B:A3 lies at place 3 of J1" in notices[0].text
    assert (notices[0].x, notices[0].y) == ROW[2]


def test_holes_that_were_not_selected_make_no_place_by_themselves():
    joint = joint_of(layer_of(plate(), "A", labels=["A1"]), layer_of(plate(), "B", labels=["A1"]))
    assert len(find_places(joint)) == 1


def test_a_joint_without_holes_has_no_place():
    joint = joint_of(layer_of(plate(), "A", labels=[]), layer_of(plate(), "B", labels=[]))
    assert find_places(joint) == ()
    assert place_tolerance(joint) == 0


def test_a_place_that_only_one_layer_has_is_a_place():
    far = Plate(singles=[(1, 1)], size=(2, 2)).part()
    places = find_places(joint_of(layer_of(plate(), "A"), layer_of(far, "B")))
    assert [len(place.layers) for place in places] == [2, 2, 1, 1]


# the demo -------------------------------------------------------------------------------------

PLACES = {
    "J1": 25,
    "J2": 26,
    "J3": 26,
    "J4": 15,
    "J5": 15,
    "J6": 26,
    "J7": 26,
    "J8": 7,
    "J9": 7,
    "J10": 7,
    "J11": 7,
    "J12": 33,
    "J13": 20,
    "J14": 16,
    "J15": 9,
    "J16": 11,
}


@pytest.mark.parametrize("name", PLACES)
def test_every_joint_of_the_demo_has_the_places_its_table_states(name):
    joint = demo_joint(name)
    places = find_places(joint)
    assert len(places) == PLACES[name]
    assert place_notices(joint, places) == ()


def test_the_gussets_make_three_layers_where_they_reach_and_are_not_named_elsewhere():
    layers = [len(place.layers) for place in find_places(demo_joint("J4"))]
    assert layers == [2, 2, 3, 3, 3, 2, 2, 2, 2, 2, 3, 3, 3, 2, 2]


def test_the_place_of_the_bulkhead_s_missing_hole_is_to_be_drilled():
    drilled = [(p.number, d.name) for p in find_places(demo_joint("J5")) for d in p.to_drill]
    assert drilled == [(6, "FL-104")]


def test_the_blank_hinge_leaf_is_to_be_drilled_on_both_sides_of_its_pilot():
    places = find_places(demo_joint("J13"))
    leaf = [(p.number, found.has_hole) for p in places for found in p.layers if found.layer == 2]
    assert leaf == [(10, False), (11, True), (12, False)]


def test_two_thousand_places_of_three_layers_are_found():
    grid = [(0.5 + 0.5 * i, 0.5 + 0.5 * j) for i in range(50) for j in range(40)]
    big = Plate(singles=grid, size=(26, 21)).part()
    blank = Plate(singles=grid[:1], size=(26, 21)).part()
    places = find_places(joint_of(layer_of(big, "A"), layer_of(big, "B"), layer_of(blank, "C")))
    assert len(places) == 2000
    assert sum(len(place.to_drill) for place in places) == 1999
