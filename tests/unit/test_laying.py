"""Joints of build.toml laid out: how each part lies, what is refused, what goes into each place."""

import math

import pytest

from holeschedule.errors import HoleScheduleError
from holeschedule.model import Head
from holeschedule.operations import Treatment
from tests.joints import BUILD, Parts, build_of, laid_in, written
from tests.plates import Plate, level

LOW, HIGH = level(1, 1, 0.75, 4), level(1.2, 3, 0.7, 4)


def parts(**more):
    """A skin of two rows, a rib of one and a cap of the other; all lie as they are drawn."""
    found = {
        "SKIN": Plate(rows=[LOW, HIGH]).part(),
        "RIB": Plate(rows=[LOW], size=(10.0, 2.0)).part(),
        "CAP": Plate(rows=[HIGH]).part(),
    }
    return Parts(**{**found, **more})


def lay(*layers, of_joint="", build=BUILD, **more):
    intent = build_of(written("J1", *layers, of_joint=of_joint), parts=build)
    (laid,) = laid_in(intent, parts(**more))
    return laid


def refused(*layers, **more):
    with pytest.raises(HoleScheduleError) as caught:
        lay(*layers, **more)
    return str(caught.value)


RIB = 'RIB#1 by = "A1=A1, A4=A4"; flip = false'
CAP = 'CAP by = "B1=A1, B4=A4"; flip = false'


def stacks(laid):
    """Names of the layers and rivet at each place."""
    return [
        ("+".join(at.name for at in rivet.place.layers), rivet.designation) for rivet in laid.rivets
    ]


def test_places_with_three_layers_get_the_longer_rivet():
    rib_over_all = Plate(rows=[LOW], size=(10.0, 5.0)).part()
    laid = lay("SKIN", RIB, CAP, RIB=rib_over_all)
    assert {name for name, _ in stacks(laid)} == {"SKIN+RIB#1+CAP"}
    two = lay("SKIN", CAP)
    assert {rivet for _, rivet in stacks(two)} == {"MS20470AD3-3"}
    assert {rivet for _, rivet in stacks(laid)} == {"MS20470AD3-4"}


def test_a_part_lies_where_its_pairs_say_and_only_there():
    laid = lay("SKIN", 'RIB#2 by = "A1=A4, A4=A1"; flip = false')
    placement = laid.joint.layers[1].placement
    assert placement.turn % math.tau == pytest.approx(math.pi)
    assert [place.layers[1].label for place in laid.places[:4]] == ["A4", "A3", "A2", "A1"]


def test_a_flipped_part_lies_on_its_other_face():
    laid = lay("SKIN", 'RIB#1 by = "A1=A1, A4=A4"; flip = true')
    assert laid.joint.layers[1].placement.flip
    assert [place.layers[1].label for place in laid.places[:4]] == ["A1", "A2", "A3", "A4"]


def test_a_shift_is_from_the_zero_of_one_drawing_to_that_of_the_other():
    blank = Plate(singles=[(0.5, 0.5)], size=(10.0, 2.0)).part()
    laid = lay('SKIN holes = "A"', 'CAP shift = "0.5, 0.5"', CAP=blank)
    (first, *_) = laid.places
    assert [at.label for at in first.layers] == ["A1", "X1"]
    assert first.layers[1].offset == pytest.approx((0.0, 0.0), abs=1e-12)
    assert all(not place.layers[1].has_hole for place in laid.places[1:])


def test_a_turn_turns_about_the_zero_of_the_drawing():
    tall = Plate(rows=[[(1, 1), (1, 1.75), (1, 2.5), (1, 3.25)]]).part()
    laid = lay('SKIN holes = "A"', 'CAP shift = "0, 2"; turn = -90', CAP=tall)
    assert [place.layers[1].label for place in laid.places] == ["A1", "A2", "A3", "A4"]
    assert max(math.hypot(*place.layers[1].offset) for place in laid.places) < 1e-9


@pytest.mark.parametrize(
    ("layers", "said"),
    [
        (('SKIN holes = "K"', CAP), "J1: SKIN has no holes K; it has A1-A4, B1-B4."),
        (("SKIN", 'CAP by = "B1=A1, B9=A4"'), "J1: by names SKIN:B9, which is not there; SKIN has"),
        (("SKIN", 'CAP by = "B1=A1, B4=A9"'), "J1: by names CAP:A9, which is not there; CAP has"),
        (("SKIN", 'CAP by = "B1=A1, B3=A4"'), "1.4000 in apart on the base and 2.1000 in on the"),
        (("SKIN", 'CAP by = "B1=A1, B4=A4"'), "J1: CAP lies as well on its other face, by B1=A1,"),
    ],
)
def test_what_does_not_lie_as_is_said_is_refused_with_what_is_there(layers, said):
    assert said in refused(*layers)


def test_holes_that_take_no_rivet_are_no_part_of_a_joint():
    build = BUILD + '[[part.holes]]\nselect = "A2"\nrivet = "none"\n'
    laid = lay('SKIN holes = "B"', CAP, build=build)
    cap = laid.joint.layers[1]
    assert [cap.part.holes[i].label for i in cap.holes.tolist()] == ["A1", "A3", "A4"]


def test_treatments_are_those_of_the_hole_then_of_the_layer_then_of_the_stack():
    build = BUILD + '[[part.holes]]\nselect = "A2"\ntreatment = "countersink"\n'
    laid = lay(
        'SKIN holes = "B"; treatment = "dimple"', CAP, of_joint='head = "flush"', build=build
    )
    found = [[layer.treatment for layer in rivet.stack.layers] for rivet in laid.rivets]
    assert [first for first, _ in found] == [Treatment.DIMPLE] * 4
    assert found[1][1] is Treatment.COUNTERSINK
    assert found[0][1] is not Treatment.COUNTERSINK
    assert laid.joint.head is Head.FLUSH


WEDGE = BUILD.replace('drawing = "cap.dxf"\nthickness = 0.040', 'drawing = "cap.dxf"\n{}')


def test_a_tapered_layer_is_as_thick_as_it_is_at_each_hole():
    build = WEDGE.format('taper = "A1=0.10, A4=0.04"')
    laid = lay('SKIN holes = "B"', CAP, build=build)
    grips = [rivet.stack.grip for rivet in laid.rivets]
    assert grips == pytest.approx([0.132, 0.112, 0.092, 0.072])
    assert set(laid.tapers) == {1}


@pytest.mark.parametrize(
    ("taper", "said"),
    [
        ("A1=0.10, A9=0.04", "J1: taper names CAP:A9, which is not there; CAP has A1-A4."),
        ("A1=0.10, A2=0.04", "J1: CAP has no thickness left at ("),
    ],
)
def test_a_taper_that_cannot_be_is_refused(taper, said):
    build = WEDGE.format(f'taper = "{taper}"')
    assert said in refused('SKIN holes = "B"', CAP, build=build)


def test_a_wedge_that_cannot_be_judged_cannot_be_laid():
    build = WEDGE.format('taper = "A1=0.20, A4=0.10"').replace("thickness = 0.032\n", "")
    layers = ('SKIN holes = "B"; treatment = "dimple"', CAP)
    said = refused(*layers, build=build, of_joint='head = "flush"')
    assert "SKIN: its thickness is not stated" in said


def test_a_trimmed_layer_ends_at_its_trim_line():
    strip = Plate(rows=[LOW], trim=[((0.0, 2.8), (10.0, 2.8))]).part()
    there = lay("SKIN", RIB, RIB=strip)
    cut = lay("SKIN", RIB + "; trimmed = true", RIB=strip)
    assert [len(place.layers) for place in there.places] == [2] * 8
    assert [len(place.layers) for place in cut.places] == [2] * 4 + [1] * 4


def test_a_stated_rivet_is_that_of_every_place():
    laid = lay("SKIN", CAP, of_joint='rivet = "1/8"')
    assert {place.rivet.name for place in laid.places} == {"1/8"}
    assert {place.rivet.name for place in lay("SKIN", CAP).places} == {"3/32"}
