"""Fits of hole patterns against the least squares of scipy.

scipy.linalg.orthogonal_procrustes: the turn, or turn and mirror, that brings points nearest to
others (P. H. Schönemann, Psychometrika 31 (1966) 1-10).
scipy.spatial.transform.Rotation.align_vectors: the turn alone, after W. Kabsch, Acta
Crystallographica A32 (1976) 922-923.
scipy.spatial.cKDTree: which holes lie within the tolerance of each other.
"""

import math

import numpy as np
import pytest
from scipy.linalg import orthogonal_procrustes
from scipy.optimize import linear_sum_assignment
from scipy.spatial import cKDTree, distance
from scipy.spatial.transform import Rotation

from holeschedule.geometry.placement import Placement
from holeschedule.joints.by_pairs import place_by_pairs
from holeschedule.joints.fit import fit_holes
from tests.patterns import NOISE, grid, noisy, scattered

EXACT = 1e-9
TOLERANCE = 1 / 64


def patterns(seed, flip):
    """Two patterns that share 60 holes of 80 and 90, moved at random and with noise."""
    rng = np.random.default_rng(seed)
    base = scattered(80, seed)
    part = np.vstack([noisy(base[:60], rng), rng.uniform(0, 1, (30, 2)) * (40.0, 24.0)])
    move = Placement(rng.uniform(-math.pi, math.pi), tuple(rng.uniform(-30, 30, 2)), flip)
    order = rng.permutation(90)
    return base, move.inverse().move(part)[order], move, order


def by_procrustes(points, onto):
    """(matrix, shift) of the least squares, mirror images allowed."""
    middle, target = points.mean(axis=0), onto.mean(axis=0)
    turned, _ = orthogonal_procrustes(points - middle, onto - target)
    return turned.T, target - turned.T @ middle


@pytest.mark.parametrize("flip", [False, True])
@pytest.mark.parametrize("seed", range(20))
def test_the_best_fit_is_the_least_squares_of_its_pairs(seed, flip):
    """Source: scipy.linalg.orthogonal_procrustes on the holes that come together."""
    base, part, _, _ = patterns(seed, flip)
    best = fit_holes(base, part).best
    on, of = best.pairs.T
    matrix, shift = by_procrustes(part[of], base[on])
    assert best.placement.matrix == pytest.approx(matrix, abs=EXACT)
    assert best.placement.shift == pytest.approx(tuple(shift), abs=1e-7)


@pytest.mark.parametrize("seed", range(20))
def test_the_turn_is_that_of_align_vectors(seed):
    """Source: Rotation.align_vectors about the centroids, in the plane z = 0."""
    base, part, _, _ = patterns(seed, flip=False)
    best = fit_holes(base, part, flip=False).best
    on, of = best.pairs.T
    flat = [np.column_stack((p - p.mean(axis=0), np.zeros(len(p)))) for p in (base[on], part[of])]
    turned, off = Rotation.align_vectors(*flat)
    assert turned.as_rotvec() == pytest.approx([0.0, 0.0, best.placement.turn], abs=EXACT)
    assert best.rms * math.sqrt(best.count) == pytest.approx(off, abs=1e-7)


@pytest.mark.parametrize("flip", [False, True])
@pytest.mark.parametrize("seed", range(20))
def test_the_holes_that_come_together_are_those_of_the_k_d_tree(seed, flip):
    """Source: cKDTree, on the move that scipy makes of the holes known to be the same."""
    base, part, _, order = patterns(seed, flip)
    same = np.flatnonzero(order < 60)
    matrix, shift = by_procrustes(part[same], base[order[same]])
    away, nearest = cKDTree(base).query(part @ matrix.T + shift)
    on = np.flatnonzero(away <= TOLERANCE)
    best = fit_holes(base, part, tolerance=TOLERANCE).best
    assert best.placement.flip is flip
    assert {(int(nearest[k]), int(k)) for k in on} == {tuple(p) for p in best.pairs.tolist()}
    assert len(on) >= 60


@pytest.mark.parametrize("seed", range(10))
def test_holes_closer_than_the_tolerance_are_assigned_as_well_as_can_be(seed):
    """Source: scipy.optimize.linear_sum_assignment, the cheapest of all one-to-one pairings."""
    rng = np.random.default_rng(seed)
    base = grid(6, 5)
    part = noisy(base, rng, 4 * NOISE)[rng.permutation(30)]
    best = fit_holes(base, part, tolerance=0.1, flip=False, turn=0.0).best
    cost = distance.cdist(base, best.placement.move(part))
    rows, columns = linear_sum_assignment(cost)
    expected = set(zip(rows.tolist(), columns.tolist(), strict=True))
    assert {tuple(pair) for pair in best.pairs.tolist()} == expected


@pytest.mark.parametrize("flip", [False, True])
@pytest.mark.parametrize("seed", range(10))
def test_stated_pairs_give_their_least_squares(seed, flip):
    """Source: scipy.linalg.orthogonal_procrustes on the stated pairs, where no other holes are."""
    base, part, _, order = patterns(seed, flip)
    stated = np.flatnonzero(order < 60)[:5]
    on, own = base[order[stated]], part[stated]
    result = place_by_pairs(on, own, base=on, part=own, flip=flip)
    matrix, shift = by_procrustes(own, on)
    assert result.best.placement.matrix == pytest.approx(matrix, abs=EXACT)
    assert result.best.placement.shift == pytest.approx(tuple(shift), abs=1e-7)


@pytest.mark.parametrize("flip", [False, True])
@pytest.mark.parametrize("seed", range(10))
def test_stated_pairs_are_refined_by_the_least_squares_of_all_holes_that_meet(seed, flip):
    """Source: scipy.linalg.orthogonal_procrustes on the pairs that are told."""
    base, part, _, order = patterns(seed, flip)
    stated = np.flatnonzero(order < 60)[:2]
    result = place_by_pairs(base[order[stated]], part[stated], base=base, part=part, flip=flip)
    pairs = result.best.pairs
    assert len(pairs) >= 60
    matrix, shift = by_procrustes(part[pairs[:, 1]], base[pairs[:, 0]])
    assert result.best.placement.matrix == pytest.approx(matrix, abs=EXACT)
    assert result.best.placement.shift == pytest.approx(tuple(shift), abs=1e-7)
