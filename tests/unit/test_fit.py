"""Hole patterns laid on each other: the best answer, its rivals, and what cannot be told."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from holeschedule.errors import JointError
from holeschedule.geometry.placement import IN_PLACE, Placement
from holeschedule.joints.fit import MOST_RIVALS, fit_holes
from tests.patterns import (
    FLIPPED,
    NOISE,
    TURNED,
    farthest,
    grid,
    noisy,
    ring,
    row,
    scattered,
)

SAMPLES = Path(__file__).parents[2] / "sample_dxf"
FIFTH = 0.2
"""Share of the holes that is missing."""
AWAY = np.array([[1000.0, -500.0]])
"""Inches by which a part may lie far from its zero."""


def is_as_placed(result, placement, points, within=1e-9):
    """Whether the best is the placement, and the only one."""
    best = result.best.placement
    return (
        not result.is_ambiguous
        and best.flip is placement.flip
        and farthest(best, placement, points) < within
    )


def trial(seed):
    """500 holes, and the same turned by 37° and flipped, a fifth missing, with noise."""
    rng = np.random.default_rng(seed)
    base = scattered(500, seed)
    kept = np.sort(rng.permutation(500)[: round(500 * (1 - FIFTH))])
    shuffled = rng.permutation(kept)
    return base, FLIPPED.inverse().move(noisy(base[shuffled], rng)), shuffled


def assert_trial_is_solved(seed):
    base, part, holes = trial(seed)
    result = fit_holes(base, part)
    assert is_as_placed(result, FLIPPED, part, within=NOISE)
    assert result.best.pairs[:, 0].tolist() == sorted(holes.tolist())
    assert (holes[result.best.pairs[:, 1]] == result.best.pairs[:, 0]).all()


@pytest.mark.parametrize("seed", range(20))
def test_five_hundred_holes_turned_flipped_thinned_and_noisy_come_out_right(seed):
    assert_trial_is_solved(seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(20, 200))
def test_they_come_out_right_every_time(seed):
    assert_trial_is_solved(seed)


# the best ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("placement", [IN_PLACE, TURNED, FLIPPED])
@pytest.mark.parametrize("count", [3, 4, 9, 60])
def test_a_pattern_without_order_fits_in_one_way(placement, count):
    base = scattered(count, seed=count)
    part = placement.inverse().move(base)
    result = fit_holes(base, part)
    assert is_as_placed(result, placement, part)
    assert result.best.count == count
    assert result.best.largest < 1e-9


def test_the_smaller_pattern_may_be_the_base():
    base = scattered(30)[:12]
    result = fit_holes(base, FLIPPED.inverse().move(scattered(30)))
    assert is_as_placed(result, FLIPPED, base)
    assert result.best.left_part.tolist() == list(range(12, 30))
    assert result.best.left_base.tolist() == []


def test_holes_without_a_partner_are_told_on_both_sides():
    both, rng = scattered(40), np.random.default_rng(3)
    base, part = both[:30], TURNED.inverse().move(noisy(both[10:], rng))
    best = fit_holes(base, part).best
    assert best.pairs.tolist() == [[10 + k, k] for k in range(20)]
    assert best.left_base.tolist() == list(range(10))
    assert best.left_part.tolist() == list(range(20, 30))


def test_one_tenth_of_the_holes_is_enough_where_nothing_repeats():
    rng = np.random.default_rng(5)
    base, others = scattered(500, 6), scattered(450, 7)
    part = FLIPPED.inverse().move(noisy(np.vstack([base[:50], others]), rng))
    assert is_as_placed(fit_holes(base, part), FLIPPED, base, within=2 * NOISE)


def test_a_flange_of_few_holes_is_found_on_a_large_skin():
    base = scattered(3000, 8, size=(90.0, 40.0))
    part = TURNED.inverse().move(base[:12])
    assert is_as_placed(fit_holes(base, part), TURNED, part)


def test_far_from_zero_nothing_is_lost():
    base = scattered(60)
    part = TURNED.inverse().move(base) + AWAY
    best = fit_holes(base + AWAY, part).best
    assert best.count == 60
    assert best.largest < 1e-9


def test_offsets_are_measured_after_the_move():
    base, part = row(5), row(5)
    part[2, 1] = 0.010
    best = fit_holes(base, part, flip=False).best
    # a fifth of 0.010 is taken up by the shift
    assert best.offsets == pytest.approx([0.002, 0.002, 0.008, 0.002, 0.002], abs=1e-6)
    assert best.largest == pytest.approx(0.008, abs=1e-6)
    assert best.rms == pytest.approx(0.004, abs=1e-6)


@pytest.mark.parametrize(("off", "count"), [(0.0199, 6), (0.0201, 5)])
def test_a_hole_on_the_tolerance_comes_together_and_one_beyond_does_not(off, count):
    base = scattered(6)
    moved = base.copy()
    moved[0, 0] += off / (5 / 6)
    # a sixth of it is taken up by the shift at most; the turn is held
    result = fit_holes(base, moved, turn=0.0, flip=False, tolerance=0.02)
    assert result.best.count == count


def test_of_holes_closer_than_the_tolerance_each_is_taken_once():
    base = np.vstack([scattered(12), scattered(12) + np.array([0.006, 0.0])])
    best = fit_holes(base, scattered(12)).best
    assert best.count == 12
    assert len(set(best.pairs[:, 0].tolist())) == 12


def test_the_stated_face_is_kept():
    base = scattered(20)
    part = FLIPPED.inverse().move(base)
    assert fit_holes(base, part, flip=True).best.count == 20
    result = fit_holes(base, part, flip=False)
    assert result.best.count < 5
    assert not any(fit.placement.flip for fit in result.fits)


def test_the_stated_turn_is_kept():
    base = grid(4, 3)
    part = TURNED.inverse().move(base)
    result = fit_holes(base, part, turn=TURNED.turn)
    assert [fit.placement.turn for fit in result.fits] == pytest.approx(
        [TURNED.turn] * len(result.fits)
    )
    assert is_as_placed(fit_holes(base, part, turn=TURNED.turn, flip=False), TURNED, part)


@pytest.mark.parametrize("swapped", [False, True])
@pytest.mark.parametrize("placement", [TURNED, FLIPPED])
def test_a_stated_turn_is_that_of_the_placement_whichever_has_more_holes(placement, swapped):
    base, part = scattered(30), placement.inverse().move(scattered(30))
    base, part = (base[:20], part) if swapped else (base, part[:20])
    result = fit_holes(base, part, turn=placement.turn, flip=placement.flip)
    assert is_as_placed(result, placement, part)


# rivals -----------------------------------------------------------------------------------------


def test_ten_equal_holes_at_equal_pitch_are_ambiguous():
    result = fit_holes(row(10), row(10))
    assert result.is_ambiguous
    assert result.rival_count == 3
    ways = {(round(math.degrees(f.placement.turn)), f.placement.flip) for f in result.fits}
    assert ways == {(0, False), (180, False), (0, True), (180, True)}
    assert [fit.count for fit in result.fits] == [10] * 4


def test_noise_does_not_settle_what_is_ambiguous():
    for seed in range(10):
        rng = np.random.default_rng(seed)
        part = TURNED.inverse().move(noisy(row(10), rng))
        result = fit_holes(noisy(row(10), rng), part, tolerance=4 * NOISE)
        assert result.rival_count == 3


def test_a_row_stated_face_up_is_ambiguous_end_for_end():
    result = fit_holes(row(10), row(10), flip=False)
    assert [round(math.degrees(f.placement.turn)) for f in result.fits] == [0, 180]


def test_a_short_row_fits_at_every_pitch_of_a_longer_one():
    result = fit_holes(row(26), row(3))
    # 24 places, two directions, two faces
    assert result.rival_count == 24 * 2 * 2 - 1
    assert len(result.rivals) == result.rival_count


def test_a_ring_of_twenty_fits_in_twenty_ways_a_face():
    result = fit_holes(ring(20), ring(20))
    assert result.rival_count == 39
    turns = sorted(round(math.degrees(f.placement.turn)) for f in result.fits)
    assert turns == sorted([*range(-162, 181, 18)] * 2)


def test_a_grid_fits_in_four_ways_and_a_square_one_in_eight():
    assert fit_holes(grid(25, 20), grid(25, 20)).rival_count == 3
    assert fit_holes(grid(9, 9), grid(9, 9)).rival_count == 7


def test_rivals_are_counted_beyond_those_that_are_held():
    result = fit_holes(grid(25, 20), grid(10, 10))
    # 16 × 11 places, eight ways each
    assert result.rival_count == 16 * 11 * 8 - 1
    assert len(result.rivals) == MOST_RIVALS
    assert len(fit_holes(grid(9, 9), grid(9, 9), most_rivals=2).rivals) == 2


def test_a_large_grid_thinned_and_noisy_is_told_from_the_same_one_a_pitch_away():
    rng = np.random.default_rng(2)
    base = grid(25, 20)
    part = FLIPPED.inverse().move(noisy(base[rng.permutation(500)[:400]], rng))
    result = fit_holes(base, part)
    assert result.rival_count == 3
    assert any(farthest(f.placement, FLIPPED, part) < NOISE for f in result.fits)


def test_a_long_row_thinned_and_noisy_is_laid_end_to_end():
    rng = np.random.default_rng(4)
    part = TURNED.inverse().move(noisy(row(500)[np.sort(rng.permutation(500)[:400])], rng))
    result = fit_holes(row(500), part)
    assert result.best.count == 400
    assert any(farthest(f.placement, TURNED, part) < 2 * NOISE for f in result.fits)


def test_one_hole_out_of_line_settles_a_row():
    base = np.vstack([row(10), [[1.5, 1.0]]])
    assert is_as_placed(fit_holes(base, FLIPPED.inverse().move(base)), FLIPPED, base)


def test_kinds_of_holes_settle_what_their_places_leave_open():
    kinds = [1, 0, 0, 0, 0, 0, 0, 0, 0, 0]
    result = fit_holes(row(10), row(10), base_kinds=kinds, part_kinds=kinds)
    assert {round(math.degrees(f.placement.turn)) for f in result.fits} == {0, 180}
    assert result.rival_count == 1  # the other face, mirrored about the row itself
    assert all(f.placement.move(row(10))[0] == pytest.approx((0, 0)) for f in result.fits)


def test_holes_of_different_kinds_never_come_together():
    kinds = [0, 1, 1, 1, 1, 1]
    result = fit_holes(scattered(6), scattered(6), base_kinds=[1] * 6, part_kinds=kinds, flip=False)
    assert result.best.pairs.tolist() == [[k, k] for k in range(1, 6)]


# what cannot be told ----------------------------------------------------------------------------


def test_one_hole_alone_needs_the_turn():
    with pytest.raises(JointError, match="do not tell how the part is turned; state the turn"):
        fit_holes(ring(20), np.array([[1.05, 0.42]]))


def test_one_hole_with_a_stated_turn_goes_on_each_hole():
    result = fit_holes(ring(20), np.array([[1.05, 0.42]]), turn=0.0, flip=False)
    assert result.best.count == 1
    assert result.rival_count == 19


def test_holes_all_in_one_place_tell_no_turn():
    with pytest.raises(JointError, match="one hole alone, or several in one place"):
        fit_holes(row(4), np.zeros((3, 2)))


def test_nothing_fits_where_no_distance_is_the_same():
    with pytest.raises(JointError, match=r"within 0\.0156 in; nothing fits"):
        fit_holes(row(4, 0.75), row(2, 0.5))


def test_nothing_fits_where_no_kind_is_the_same():
    with pytest.raises(JointError, match="nothing fits"):
        fit_holes(row(4), row(4), base_kinds=[1] * 4, part_kinds=[2] * 4)


@pytest.mark.parametrize("kinds", [{"base_kinds": [0] * 4}, {"part_kinds": [0] * 3}])
def test_kinds_are_stated_for_every_hole_or_for_none(kinds):
    with pytest.raises(JointError, match=r"kinds are stated for .* state one for each, or none"):
        fit_holes(row(4), row(3), **kinds)


@pytest.mark.parametrize(("base", "part", "name"), [(0, 3, "base"), (3, 0, "part")])
def test_a_pattern_without_holes_is_refused(base, part, name):
    with pytest.raises(JointError, match=f"the {name} has no holes"):
        fit_holes(row(base), row(part))


def test_a_wild_coordinate_is_refused():
    wild = row(3)
    wild[1, 1] = math.nan
    with pytest.raises(JointError, match=r"hole 2 of the part lies at \(0\.75, nan\) in"):
        fit_holes(row(3), wild)


@pytest.mark.parametrize("tolerance", [0.0, -0.01, math.inf, math.nan])
def test_a_tolerance_that_fits_nothing_is_refused(tolerance):
    with pytest.raises(JointError, match="fits nothing; state one above 0"):
        fit_holes(row(3), row(3), tolerance=tolerance)


# the demo ---------------------------------------------------------------------------------------


def layers():
    """Each further layer of each joint of the demo, with the first one's."""
    with (SAMPLES / "mating.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    first = {line["joint"]: line for line in reversed(rows)}
    return [
        pytest.param(first[line["joint"]], line, id=f"{line['joint']}-{line['layer']}")
        for line in rows
        if line["layer"] != "1"
    ]


def positions(line):
    return np.array([[float(v) for v in at.split()] for at in line["positions_in"].split(";")])


@pytest.mark.parametrize(("first", "line"), layers())
def test_the_intended_move_is_among_the_answers(first, line):
    base, part = positions(first), positions(line)
    turn = math.radians(float(line["turn_deg"]))
    shift = float(line["shift_x_in"]), float(line["shift_y_in"])
    intended = Placement(turn, shift, line["flip"] == "yes")
    result = fit_holes(base, part, turn=turn if len(part) == 1 else None)
    assert result.best.count == len(part)
    assert len(result.rivals) == result.rival_count
    assert any(
        fit.placement.flip is intended.flip and farthest(fit.placement, intended, part) < 0.0003
        for fit in result.fits
    )
