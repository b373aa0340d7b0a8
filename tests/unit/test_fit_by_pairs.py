"""Parts placed by stated pairs of holes."""

import math

import numpy as np
import pytest

from holeschedule.errors import JointError
from holeschedule.joints.by_pairs import place_by_pairs
from tests.patterns import FLIPPED, TURNED, farthest, grid, row, scattered

ENDS = [0, 8]
"""The first and the ninth hole of a row."""


def place(base, part, *, on=ENDS, of=ENDS, **stated):
    """Holes `of` the part placed on holes `on` the base."""
    return place_by_pairs(base[on], part[of], base=base, part=part, **stated)


@pytest.mark.parametrize("placement", [TURNED, FLIPPED])
def test_two_pairs_settle_the_turn_and_the_other_holes_the_face(placement):
    base = scattered(30)
    result = place(base, placement.inverse().move(base))
    assert not result.is_ambiguous
    assert result.best.count == 30
    assert result.best.placement.flip is placement.flip
    assert farthest(result.best.placement, placement, base) < 1e-9


def test_two_pairs_of_a_row_tell_end_from_end_and_leave_the_face():
    result = place(row(9), row(9), of=[8, 0])
    assert [fit.placement.flip for fit in result.fits] == [False, True]
    assert [fit.count for fit in result.fits] == [9, 9]
    assert [f.placement.move(row(9))[8] for f in result.fits] == pytest.approx(np.zeros((2, 2)))
    assert result.rival_count == 1


@pytest.mark.parametrize("flip", [False, True])
def test_a_stated_face_settles_a_row(flip):
    result = place(row(9), row(9), flip=flip)
    assert not result.is_ambiguous
    assert result.best.placement.flip is flip


def test_three_pairs_out_of_line_tell_the_face_themselves():
    base = scattered(3)
    result = place(base, FLIPPED.inverse().move(base), on=[0, 1, 2], of=[0, 1, 2])
    assert not result.is_ambiguous
    assert result.best.placement.flip


def test_the_stated_pairs_decide_and_nothing_else():
    """Of a grid, which fits in many ways, the one that was asked for."""
    result = place(grid(9, 9), grid(9, 9), on=[0, 1], of=[1, 2], flip=False)
    assert result.best.placement.shift == pytest.approx((-0.75, 0.0))
    assert result.best.count == 72
    assert result.best.left_part.tolist() == list(range(0, 81, 9))
    assert result.best.left_base.tolist() == list(range(8, 81, 9))


def test_the_move_is_the_least_squares_of_the_pairs():
    part = row(9) * (6.01 / 6.0)
    result = place(row(9), part, flip=False)
    # each end is off by half of 0.010 in
    assert result.best.placement.move(part)[[0, 8], 0] == pytest.approx([-0.005, 6.005])


def test_a_stated_hole_that_is_off_shows_by_itself_and_carries_no_other_with_it():
    part = row(9)
    part[8, 0] += 0.010
    best = place(row(9), part, flip=False).best
    # of nine holes one is off: the least squares give it all but a ninth of it
    assert best.offsets[8] == pytest.approx(0.010 * 8 / 9)
    assert best.offsets[:8] == pytest.approx([0.010 / 9] * 8)


def test_stated_holes_that_are_not_counted_help_to_place_the_part_all_the_same():
    """Tooling holes far apart settle the turn of a short row better than the row would."""
    tooling = np.array([(0.0, 0.0), (20.0, 0.0)])
    rivets = row(3, 0.5) + np.array([9.0, 1.0])
    off = rivets + np.array([(0, 0.004), (0, 0), (0, -0.004)])
    result = place_by_pairs(tooling, tooling, base=rivets, part=off, flip=False, tolerance=0.03)
    assert result.best.count == 3
    assert result.best.pairs.tolist() == [[0, 0], [1, 1], [2, 2]]
    assert abs(result.best.placement.turn) < 1e-4
    alone = place(rivets, off, on=[0, 2], of=[0, 2], flip=False)
    assert abs(alone.best.placement.turn) > 5e-3


def test_a_stated_turn_is_kept_and_the_other_holes_settle_the_shift():
    part = row(9)
    part[0] += (0.009, 0)
    best = place(row(9), part, on=[0], of=[0], flip=False, turn=0.0).best
    assert best.placement.turn == 0.0
    assert best.placement.shift == pytest.approx((-0.001, 0.0))


def test_one_pair_and_a_turn_are_enough():
    base = scattered(8)
    part = TURNED.inverse().move(base)
    result = place(base, part, on=[3], of=[3], turn=TURNED.turn)
    assert not result.is_ambiguous
    assert farthest(result.best.placement, TURNED, part) < 1e-9


def test_one_pair_alone_is_refused():
    with pytest.raises(JointError, match="A1=C1 alone does not tell how the part is turned"):
        place(row(9), row(9), on=[0], of=[0], names=["A1=C1"])


def test_pairs_whose_distances_disagree_are_refused_with_both_distances():
    part = row(9) * (6.1 / 6.0)
    with pytest.raises(
        JointError, match=r"A1=C1 and A9=C9 are 6\.0000 in apart on the base and 6\.1000 in on the"
    ):
        place(row(9), part, names=["A1=C1", "A9=C9"])


@pytest.mark.parametrize(("longer", "is_refused"), [(0.0200, False), (0.0201, True)])
def test_distances_may_differ_by_just_the_tolerance(longer, is_refused):
    part = row(9) * ((6.0 + longer) / 6.0)
    if is_refused:
        with pytest.raises(JointError, match=r"they may differ by 0\.0200 in"):
            place(row(9), part, tolerance=0.02)
    else:
        assert place(row(9), part, tolerance=0.02).best.count == 9


@pytest.mark.parametrize(
    ("on", "of", "where"), [([0, 0], [0, 8], "base"), ([0, 8], [8, 8], "part")]
)
def test_two_pairs_in_one_place_are_refused(on, of, where):
    with pytest.raises(JointError, match=f"pair 1 and pair 2 name the same place on the {where}"):
        place(row(9), row(9), on=on, of=of)


def test_pairs_that_show_the_other_face_are_refused_where_the_face_is_stated():
    base = scattered(3)
    part = FLIPPED.inverse().move(base)
    with pytest.raises(JointError, match="do not come together not flipped: one is"):
        place(base, part, on=[0, 1, 2], of=[0, 1, 2], flip=False)


def test_pairs_that_contradict_the_stated_turn_are_refused():
    with pytest.raises(JointError, match=r"do not come together turned by 90° and not flipped"):
        place(row(9), row(9), flip=False, turn=math.pi / 2)


def test_holes_stated_for_one_side_only_are_refused():
    with pytest.raises(JointError, match="2 holes of the base are stated and 1 of the part"):
        place(row(9), row(9), on=[0, 8], of=[0])
