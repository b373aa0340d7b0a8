"""What holds of joints of a build wherever a drawing has its zero, and however they were fitted."""

import math
from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from holeschedule.build.joints import read_joint
from holeschedule.geometry.placement import IN_PLACE, Placement
from holeschedule.joints.layers import Joint
from holeschedule.joints.places import find_places, place_tolerance
from holeschedule.work.defining import far_pairs, fit_layers, way_text
from tests.joints import Parts, build_of, laid_in, layer_of, written
from tests.plates import Plate

MOST = 0.0015
"""Inches: what holes of the second part are off by, far less than tells two of them apart."""
TURN = st.floats(-math.pi, math.pi)
SHIFT = st.tuples(st.floats(-5, 5), st.floats(-5, 5))


@st.composite
def patterns(draw):
    """Holes on a grid of 0.6 in, each a little off, so that only one way to lie is as good."""
    cells = draw(st.sets(st.tuples(st.integers(1, 8), st.integers(1, 6)), min_size=4, max_size=12))
    nudges = draw(st.lists(st.integers(-9, 9), min_size=24, max_size=24))
    return [
        (0.6 * x + 0.01 * nudges[2 * i], 0.6 * y + 0.01 * nudges[2 * i + 1])
        for i, (x, y) in enumerate(sorted(cells))
    ]


def plate(spots):
    return Plate(singles=spots, size=(6.0, 5.0)).part()


def moved(part, placement):
    """The same part drawn elsewhere: its own frame, holes and edges stay, its zero does not."""
    spots = [tuple(xy) for xy in placement.move(part.centres).tolist()]
    corners = [(0, 0), (6, 0), (6, 5), (0, 5)]
    corners = [tuple(xy) for xy in placement.move(np.array(corners, dtype=float)).tolist()]
    return Plate(singles=spots, corners=corners).part()


def pairs_at(places):
    return {tuple(at.label for at in place.layers) for place in places}


@settings(max_examples=40)
@given(patterns(), TURN, SHIFT, st.booleans(), st.integers(0, 2**32 - 1))
def test_a_joint_with_the_by_that_was_written_is_laid_as_it_was_fitted(
    spots, turn, shift, flip, seed
):
    noise = np.random.default_rng(seed).uniform(-MOST, MOST, (len(spots), 2))
    skin = plate(spots)
    rib = moved(
        plate([tuple(xy) for xy in (np.array(spots) + noise).tolist()]),
        Placement(turn, shift, flip),
    )
    base, layer = layer_of(skin, "SKIN"), layer_of(rib, "CAP")
    asked = {"id": "J1", "layer": [{"part": "SKIN"}, {"part": "CAP", "shift": "0 in, 0 in"}]}
    joint = read_joint(asked, {"SKIN": 1, "CAP": 1}, None)
    fitted = fit_layers(joint, base, layer, flip=flip)
    if fitted.is_ambiguous:
        return
    as_fitted = find_places(Joint("J1", (base, replace(layer, placement=fitted.best.placement))))
    by = ", ".join(f"{one}={two}" for one, two in far_pairs(fitted.best, base, layer))
    assert way_text(fitted.best, base, layer).startswith(by.replace(", ", ","))
    said = f'CAP by = "{by}"; flip = {str(fitted.best.placement.flip).lower()}'
    (laid,) = laid_in(build_of(written("J1", "SKIN", said)), Parts(SKIN=skin, CAP=rib))
    assert pairs_at(laid.places) == pairs_at(as_fitted)
    assert fitted.best.placement.flip is flip
    reach = place_tolerance(laid.joint)
    assert all(math.hypot(*place.layers[1].offset) < reach / 4 for place in laid.places)


@settings(max_examples=40)
@given(patterns(), TURN, SHIFT)
def test_places_do_not_hang_on_where_a_part_is_drawn(spots, turn, shift):
    skin = plate(spots)
    pair = f'CAP by = "X1=X1, X{len(spots)}=X{len(spots)}"; flip = false'
    build = build_of(written("J1", "SKIN", pair))
    (here,) = laid_in(build, Parts(SKIN=skin, CAP=skin))
    drawn = moved(skin, Placement(turn, shift))
    (there,) = laid_in(build, Parts(SKIN=skin, CAP=drawn))
    assert pairs_at(there.places) == pairs_at(here.places)
    assert [place.at for place in there.places] == [place.at for place in here.places]
    assert here.joint.layers[0].placement == IN_PLACE
    assert [rivet.designation for rivet in there.rivets] == [
        rivet.designation for rivet in here.rivets
    ]
    offsets = [math.hypot(*at.offset) for place in there.places for at in place.layers]
    assert max(offsets) < 1e-9
