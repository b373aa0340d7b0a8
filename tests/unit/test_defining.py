"""How a layer lies, found out and written down; joints found by name."""

import math

import pytest

from holeschedule.build.joints import read_joint
from holeschedule.joints.fit import fit_holes
from holeschedule.work.defining import (
    far_pairs,
    fit_layers,
    way_text,
)
from tests.joints import layer_of
from tests.plates import Plate, level

ROW = level(1, 1, 0.75, 5)
ODD = [(1, 1), (2, 1.4), (3, 1), (4.5, 2)]


def layers(base, part):
    return layer_of(Plate(rows=[base]).part(), "SKIN"), layer_of(Plate(rows=[part]).part(), "CAP")


def asked(**of_joint):
    values = {"id": "J1", **of_joint}
    values["layer"] = [{"part": "SKIN"}, {"part": "CAP", "shift": "0 in, 0 in"}]
    return read_joint(values, {"SKIN": 1, "CAP": 1}, None)


def test_the_pairs_written_are_those_that_lie_farthest_apart():
    base, part = layers(ODD, ODD)
    found = fit_layers(asked(), base, part)
    assert far_pairs(found.best, base, part) == (("A1", "A1"), ("A4", "A4"))
    assert way_text(found.best, base, part) == "A1=A1,A4=A4"


def test_a_fit_of_one_pair_is_written_as_one_pair():
    base, part = layers(ODD, ODD)
    one = fit_holes(base.centres[:1], part.centres[:1], tolerance=0.01, turn=0.0, flip=False)
    assert far_pairs(one.best, base, part) == (("A1", "A1"),)


def test_a_way_on_the_other_face_says_so():
    base, part = layers(ODD, [(-x, y) for x, y in ODD])
    found = fit_layers(asked(), base, part)
    assert way_text(found.best, base, part).endswith(" flipped")


def test_a_row_fits_in_four_ways_until_face_and_turn_are_stated():
    base, part = layers(ROW, ROW)
    assert fit_layers(asked(), base, part).rival_count == 3
    assert fit_layers(asked(), base, part, flip=False).rival_count == 1
    assert fit_layers(asked(), base, part, flip=False, turn=0.0).rival_count == 0
    assert fit_layers(asked(), base, part, turn=math.pi).best.pairs[0].tolist() == [0, 4]


@pytest.mark.parametrize(("off", "rivet", "count"), [(0.05, None, 3), (0.05, "1/8", 4)])
def test_the_reach_of_a_fit_is_half_the_shank_that_is_stated(off, rivet, count):
    base, part = layers(ODD, [*ODD[:3], (4.5 + 1.6 * off, 2)])
    of_joint = {} if rivet is None else {"rivet": rivet}
    assert fit_layers(asked(**of_joint), base, part).best.count == count


# In a build ------------------------------------------------------------------------------------
