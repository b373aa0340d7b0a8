"""Rows compared along their length: offsets hole by hole, drift, missing holes, both directions."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from holeschedule.errors import JointError
from holeschedule.joints.along import along_row, compare_rows
from tests.patterns import TURNED, noisy, row

SAMPLES = Path(__file__).parents[2] / "sample_dxf"


def arc(count, radius, pitch=0.75):
    """A row at equal pitch along a circle."""
    angle = np.arange(count) * pitch / radius
    return radius * np.column_stack((np.cos(angle), np.sin(angle)))


def uneven(count, seed=1):
    """A row whose pitches differ."""
    pitches = np.random.default_rng(seed).uniform(0.5, 1.1, count - 1)
    along = np.concatenate([[0.0], np.cumsum(pitches)])
    return np.column_stack((along, np.zeros(count)))


# unrolled ---------------------------------------------------------------------------------------


def test_a_straight_row_is_as_long_as_it_looks():
    slanted = TURNED.move(row(5))
    assert along_row(slanted) == pytest.approx([0.0, 0.75, 1.5, 2.25, 3.0])


@pytest.mark.parametrize("radius", [2.0, 12.0, 300.0])
def test_a_row_round_a_circle_is_measured_along_the_arc(radius):
    assert along_row(arc(9, radius)) == pytest.approx(np.arange(9) * 0.75, abs=1e-12)


def test_a_missing_hole_changes_nothing_round_a_circle():
    kept = [0, 1, 2, 4, 5, 8]
    assert along_row(arc(9, 6.0)[kept]) == pytest.approx(np.array(kept) * 0.75, abs=1e-12)


def test_a_corner_is_no_curve():
    corner = np.array([[0.0, 0.0], [0.75, 0.0], [1.5, 0.0], [1.5, 0.75], [1.5, 1.5]])
    assert along_row(corner) == pytest.approx([0.0, 0.75, 1.5, 2.25, 3.0])


def test_a_row_of_one_hole_is_refused():
    with pytest.raises(JointError, match="a row of one hole has no pitch"):
        compare_rows(row(5), row(1))


def test_two_holes_in_one_place_are_refused():
    with pytest.raises(JointError, match="holes 2 and 3 of the row are in one place"):
        along_row(np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 0.0]]))


# equal rows -------------------------------------------------------------------------------------


def test_a_flat_row_of_equal_pitch_agrees_either_way():
    fit = compare_rows(row(10), TURNED.move(row(10)))
    assert fit.pairs.tolist() == [[k, k] for k in range(10)]
    assert fit.largest < 1e-9
    assert not fit.way.is_reversed
    assert [way.is_reversed for way in fit.rivals] == [True]
    assert fit.rivals[0].shift == pytest.approx(0.0)


def test_a_stated_direction_has_no_rival():
    fit = compare_rows(row(10), row(10), is_reversed=True)
    assert fit.pairs.tolist() == [[k, 9 - k] for k in range(10)]
    assert fit.rivals == ()


def test_an_uneven_row_tells_its_direction():
    fit = compare_rows(uneven(12), uneven(12)[::-1])
    assert fit.way.is_reversed
    assert fit.pairs.tolist() == [[k, 11 - k] for k in range(12)]
    assert fit.rivals == ()


def test_a_row_round_a_curve_meets_its_flat_flange():
    fit = compare_rows(arc(20, 8.0), row(20))
    assert fit.largest < 1e-9
    assert abs(fit.drift) < 1e-9


def test_part_of_a_row_is_found_and_the_rest_is_left():
    base = uneven(20)
    fit = compare_rows(base, base[5:12])
    assert fit.pairs.tolist() == [[5 + k, k] for k in range(7)]
    assert fit.way.shift == pytest.approx(along_row(base)[5])
    assert fit.left_base.tolist() == [*range(5), *range(12, 20)]
    assert fit.left_part.tolist() == []


def test_a_short_row_of_equal_pitch_has_as_many_rivals_as_places():
    fit = compare_rows(row(10), row(4))
    # seven places, either direction
    assert len(fit.rivals) == 13
    assert fit.way.shift == pytest.approx(0.0)


def test_holes_missing_from_both_are_left():
    base, part = uneven(12), uneven(12)
    fit = compare_rows(np.delete(base, 3, axis=0), np.delete(part, [6, 7], axis=0))
    assert fit.left_base.tolist() == [5, 6]
    assert fit.left_part.tolist() == [3]
    assert len(fit.pairs) == 9
    assert fit.largest < 1e-9


# drift ------------------------------------------------------------------------------------------


def test_a_stretched_row_is_off_at_its_ends_and_not_in_the_middle():
    part = row(15) * (10.524 / 10.5)
    fit = compare_rows(row(15), part, is_reversed=False)
    assert fit.offsets[[0, 7, 14]] == pytest.approx([-0.012, 0.0, 0.012])
    assert fit.pitch_differences == pytest.approx(np.full(14, 0.024 / 14))
    assert fit.drift == pytest.approx(0.024)
    assert fit.stretch == pytest.approx(0.024 / 10.5)
    assert fit.in_step.all()
    assert not fit.off.any()


@pytest.mark.parametrize(("end", "off"), [(0.0199, 0), (0.0200, 0), (0.0201, 2)])
def test_a_hole_just_on_the_tolerance_is_not_off(end, off):
    part = row(15) * ((10.5 + 2 * end) / 10.5)
    fit = compare_rows(row(15), part, tolerance=0.02, is_reversed=False)
    assert int(fit.off.sum()) == off
    assert len(fit.pairs) == 15


def test_a_row_that_drifts_beyond_the_tolerance_is_still_followed_hole_by_hole():
    part = row(15) * (10.6 / 10.5)
    fit = compare_rows(row(15), part, is_reversed=False)
    assert fit.pairs.tolist() == [[k, k] for k in range(15)]
    assert fit.largest == pytest.approx(0.05)
    assert fit.off.sum() == 10
    assert fit.in_step.all()
    assert fit.rivals == ()


def test_one_hole_that_is_off_is_told_and_moves_no_other():
    part = row(15)
    part[4, 0] += 0.06
    fit = compare_rows(row(15), part, is_reversed=False)
    assert np.flatnonzero(fit.off).tolist() == [4]
    assert np.flatnonzero(~fit.in_step).tolist() == [4]
    assert fit.offsets[4] == pytest.approx(0.06)
    assert np.abs(np.delete(fit.offsets, 4)).max() < 1e-9
    assert fit.pitch_differences[[3, 4]] == pytest.approx([0.06, -0.06])


def test_noise_is_not_taken_for_drift():
    rng = np.random.default_rng(1)
    fit = compare_rows(row(26), noisy(row(26), rng), is_reversed=False)
    assert len(fit.pairs) == 26
    assert abs(fit.drift) < 0.004
    assert fit.rms < 0.004


def test_long_rows_are_compared_too():
    kept = np.delete(np.arange(500), [7, 300])
    fit = compare_rows(row(500), row(500)[kept], is_reversed=False)
    assert fit.left_base.tolist() == [7, 300]
    assert fit.rivals == ()


# the demo ---------------------------------------------------------------------------------------


def flange_and_skin():
    with (SAMPLES / "mating.csv").open(encoding="utf-8", newline="") as file:
        held = {line["part"]: line for line in csv.DictReader(file) if line["joint"] == "J5"}
    return [
        np.array([[float(v) for v in at.split()] for at in held[part]["positions_in"].split(";")])
        for part in ("FL-101", "FL-104")
    ]


def test_the_stretched_flange_of_the_demo_is_found_hole_by_hole():
    skin, flange = flange_and_skin()
    fit = compare_rows(skin, flange, is_reversed=False)
    assert len(fit.pairs) == 14
    assert fit.left_base.tolist() == [5]  # the sixth place has no hole in the flange
    assert fit.left_part.tolist() == []
    # 0.012 in at both ends; the missing hole moves the middle by 0.00025
    assert fit.offsets[[0, -1]] == pytest.approx([-0.012, 0.012], abs=0.0003)
    assert fit.drift == pytest.approx(0.024, abs=1e-6)
    assert np.abs(fit.offsets[[5, 6, 7]]).max() < 0.0025
    assert fit.pitch_differences == pytest.approx(
        [0.024 / 14 * (2 if k == 4 else 1) for k in range(13)], abs=2e-6
    )


def test_the_missing_hole_of_the_demo_does_not_tell_the_direction():
    fit = compare_rows(*flange_and_skin())
    assert len(fit.rivals) == 1
    assert fit.rivals[0].is_reversed is not fit.way.is_reversed


def test_an_uneven_pitch_of_the_skin_would_tell_it():
    skin, flange = flange_and_skin()
    moved = skin.copy()
    moved[2, 1] += 0.2
    flange[2, 0] += 0.2
    fit = compare_rows(moved, flange)
    assert fit.rivals == ()
    assert not fit.way.is_reversed
    assert math.isclose(fit.drift, 0.024, abs_tol=1e-3)
