"""What must hold whatever the patterns: moves and order change nothing but the placement."""

import math
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holeschedule.geometry.placement import Placement
from holeschedule.joints.along import compare_rows
from holeschedule.joints.fit import fit_holes
from tests.patterns import noisy, scattered

TOLERANCE = 1 / 64
SLACK = 1e-9

length = st.floats(-50, 50)
moves = st.builds(
    Placement, st.floats(-math.pi, math.pi), st.tuples(length, length), flip=st.booleans()
)
seeds = st.integers(0, 10_000)
few = settings(max_examples=25)


def two_patterns(seed):
    """A pattern, and one that shares some of its holes, with noise; and their intended move."""
    rng = np.random.default_rng(seed)
    base = scattered(int(rng.integers(12, 60)), seed)
    kept = rng.permutation(len(base))[: max(8, int(len(base) * rng.uniform(0.6, 1.0)))]
    others = rng.uniform(0, 1, (int(rng.integers(0, 8)), 2)) * (40.0, 24.0)
    return base, np.vstack([noisy(base[kept], rng), others])


def row_like(seed):
    """Rows on a lattice with holes missing, which fit in several ways."""
    rng = np.random.default_rng(seed)
    lattice = np.stack(np.meshgrid(np.arange(8), np.arange(3)), -1).reshape(-1, 2) * 0.75
    return [lattice[np.sort(rng.permutation(24)[: rng.integers(4, 24)])] for _ in range(2)]


def pairs_of(fit):
    return {tuple(pair) for pair in fit.pairs.tolist()}


@given(seeds, moves, moves)
@few
def test_moving_either_pattern_changes_nothing_but_the_placement(seed, of_base, of_part):
    base, part = two_patterns(seed)
    before = fit_holes(base, part)
    after = fit_holes(of_base.move(base), of_part.move(part))
    assert pairs_of(after.best) == pairs_of(before.best)
    assert after.best.rms == pytest.approx(before.best.rms, abs=SLACK)
    expected = of_part.inverse().then(before.best.placement).then(of_base)
    assert after.best.placement.flip is expected.flip
    moved = of_part.move(part)
    assert after.best.placement.move(moved) == pytest.approx(expected.move(moved), abs=1e-7)


@given(seeds, moves)
@few
def test_moving_a_pattern_that_fits_in_many_ways_changes_not_how_many(seed, move):
    base, part = row_like(seed)
    before, after = fit_holes(base, part), fit_holes(base, move.move(part))
    assert (after.best.count, after.rival_count) == (before.best.count, before.rival_count)


@given(seeds)
@few
def test_shuffling_changes_nothing(seed):
    base, part = row_like(seed)
    rng = np.random.default_rng(seed)
    a, b = rng.permutation(len(base)), rng.permutation(len(part))
    before, after = fit_holes(base, part), fit_holes(base[a], part[b])
    assert [fit.placement for fit in after.fits] == [fit.placement for fit in before.fits]
    for one, other in zip(before.fits, after.fits, strict=True):
        assert pairs_of(one) == {(int(a[i]), int(b[j])) for i, j in other.pairs.tolist()}


def every_way(base, part):
    """(most holes on holes, ways that bring so many there), every pair laid on every other."""
    still, ways = base @ [1, 1j], {}
    apart = still[None, :] - still[:, None]
    for flip in (False, True):
        moved = -(part @ [1, 1j]).conj() if flip else part @ [1, 1j]
        for k, m in combinations(range(len(part)), 2):
            along = moved[m] - moved[k]
            for i, j in np.argwhere(np.isclose(np.abs(apart), abs(along))):
                factor = apart[i, j] / along
                shift = still[i] - factor * moved[k]
                off = np.abs((moved * factor + shift)[:, None] - still[None, :]).min(axis=1)
                move = [round(float(v), 3) + 0.0 for z in (factor, shift) for v in (z.real, z.imag)]
                ways[flip, *move] = int((off < 1e-6).sum())
    most = max(ways.values())
    return most, sum(count == most for count in ways.values())


@given(seeds)
@settings(max_examples=8)
def test_no_way_is_missed(seed):
    base, part = row_like(seed)
    result = fit_holes(base, part[:12])
    assert (result.best.count, 1 + result.rival_count) == every_way(base, part[:12])


@given(seeds, st.booleans())
@few
def test_pairs_are_one_to_one_within_the_tolerance_and_the_rest_is_left(seed, is_regular):
    base, part = row_like(seed) if is_regular else two_patterns(seed)
    for fit in fit_holes(base, part, tolerance=TOLERANCE).fits:
        on, of = fit.pairs.T
        assert len(set(on.tolist())) == len(set(of.tolist())) == fit.count
        off = np.hypot(*(fit.placement.move(part)[of] - base[on]).T)
        assert fit.offsets == pytest.approx(off, abs=SLACK)
        assert off.max() <= TOLERANCE + 2 * SLACK
        assert sorted([*on, *fit.left_base]) == list(range(len(base)))
        assert sorted([*of, *fit.left_part]) == list(range(len(part)))


@given(seeds)
@few
def test_base_and_part_may_change_places(seed):
    base, part = two_patterns(seed)
    there, back = fit_holes(base, part).best, fit_holes(part, base).best
    assert pairs_of(there) == {(i, j) for j, i in back.pairs.tolist()}
    home = there.placement.then(back.placement).move(part)
    assert home == pytest.approx(part, abs=1e-7)


def row_with_gaps(seed):
    rng = np.random.default_rng(seed)
    along = np.cumsum(rng.uniform(0.5, 1.1, 20))
    return np.column_stack((along, np.zeros(20))), np.sort(rng.permutation(20)[:15])


@given(seeds, moves, st.booleans())
@few
def test_a_row_is_found_along_another_wherever_it_lies(seed, move, turned_round):
    base, kept = row_with_gaps(seed)
    part = move.move(base[kept])
    fit = compare_rows(base, part[::-1] if turned_round else part)
    assert fit.way.is_reversed is turned_round
    assert fit.pairs[:, 0].tolist() == kept.tolist()
    assert fit.largest < 1e-6


@given(seeds, st.floats(-0.002, 0.002))
@few
def test_the_drift_of_a_row_is_what_it_was_stretched_by(seed, stretch):
    base, kept = row_with_gaps(seed)
    fit = compare_rows(base, base[kept] * (1 + stretch))
    assert fit.stretch == pytest.approx(stretch, abs=1e-6)
    assert fit.pairs[:, 0].tolist() == kept.tolist()
    assert float(fit.offsets.mean()) == pytest.approx(0.0, abs=1e-7)
