"""What must hold of places and offsets however parts lie on their drawings."""

import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from holeschedule.geometry.edges import polygon_edges
from holeschedule.geometry.loops import Loop
from holeschedule.geometry.placement import Placement
from holeschedule.joints.offsets import offset_findings
from holeschedule.joints.places import find_places
from tests.joints import joint_of, layer_of
from tests.plates import NUMBER_40, At, D, Plate

PLATE = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 5.0), (0.0, 5.0)])
moves = st.builds(
    Placement,
    st.floats(-3.2, 3.2),
    st.tuples(st.floats(-50, 50), st.floats(-50, 50)),
    st.booleans(),
)
drifts = st.floats(-0.02, 0.02)


def moved_plate(spots, move):
    """A plate drawn as `move` carries it, and the way back."""
    corners, holes = move.move(PLATE), move.move(np.array(spots, dtype=float))
    part = Plate(singles=[tuple(xy) for xy in holes.tolist()], corners=corners.tolist()).part()
    assert isinstance(Loop(polygon_edges(corners), "", "").area, float)
    return part, move.inverse()


def summary(places):
    return [(p.number, [(found.name, found.label) for found in p.layers], p.guide) for p in places]


@given(moves, st.lists(drifts, min_size=6, max_size=6))
def test_how_a_part_lies_on_its_drawing_changes_no_place_and_no_offset(move, drift):
    first = [(1 + i, 2) for i in range(6)]
    second = [(1 + i + d, 2) for i, d in enumerate(drift)][:4]
    one = Plate(singles=first).part()
    plain = joint_of(layer_of(one, "A"), layer_of(Plate(singles=second).part(), "B"))
    part, back = moved_plate(second, move)
    turned = joint_of(layer_of(one, "A"), layer_of(part, "B", placement=back))
    expected, found = find_places(plain), find_places(turned)
    assert summary(found) == summary(expected)
    for one_place, other in zip(expected, found, strict=True):
        for a, b in zip(one_place.layers, other.layers, strict=True):
            assert math.dist(a.offset, b.offset) < 1e-9


@given(st.permutations(range(8)))
def test_the_order_in_which_holes_are_listed_changes_no_place(order):
    part = Plate(singles=[(1 + i, 2) for i in range(8)]).part()
    layer = layer_of(part, "A")
    shuffled = type(layer)("A", part, np.array(order, dtype=np.intp))
    assert find_places(joint_of(shuffled)) == find_places(joint_of(layer))


@given(st.lists(st.tuples(st.floats(-0.004, 0.004), st.floats(-0.004, 0.004)), min_size=3))
def test_holes_are_in_line_exactly_where_some_axis_lets_the_shank_through_them_all(offsets):
    """Compared with a search on a grid; cases too near the limit for it are left aside."""
    offsets = offsets[:4]
    layers = [
        layer_of(Plate(singles=[At(2 + x, 1 + y, NUMBER_40)]).part(), "ABCD"[i])
        for i, (x, y) in enumerate(offsets)
    ]
    passes = offset_findings(find_places(joint_of(*layers))) == ()
    play = (NUMBER_40 - D) / 2
    line = np.linspace(-0.006, 0.006, 121)
    axis = np.array(np.meshgrid(line, line)).reshape(2, -1).T
    away = np.hypot(*(axis[:, None] - np.array(offsets)[None]).transpose(2, 0, 1)).max(axis=1)
    if away.min() <= play:
        assert passes
    elif away.min() > play + 0.0001:
        assert not passes
