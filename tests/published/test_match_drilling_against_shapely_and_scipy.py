"""Legal shares and least shifts against two other libraries.

shapely 2 (GEOS): areas of overlapping shapes, curves flattened into 4096 chords.
scipy 1.13 and later: `scipy.optimize.minimize`, method SLSQP, for the least shift.
"""

import math

import numpy as np
import pytest
import shapely
from scipy.optimize import LinearConstraint, minimize

from holeschedule.joints.misalignment import legal_share
from holeschedule.joints.room import Room
from holeschedule.joints.shifts import least_in_half_planes, least_shift
from tests.plates import Plate

T, L, SPACING = 0.05, 0.2, 0.28
CHORDS = 1024
"""A quarter circle: chords err by 3e-7 of the radius."""
NOTCHED = [(0, 0), (4, 0), (4, 1.2), (2.2, 1.2), (2.2, 2), (0, 2)]


def room(spot):
    holes = np.array([(1.0, 1.0), (3.0, 0.45)])
    plate = Plate(corners=NOTCHED, round_cutouts=[(1.6, 0.6, 0.25)])
    spots = np.array([spot], dtype=float)
    return Room(plate.part(), spots, np.array([L]), holes, np.full((1, 2), SPACING))


def legal_region(here):
    """Where the centre of a hole may be, by buffers of shapely."""
    metal = shapely.Polygon(NOTCHED).difference(shapely.Point(1.6, 0.6).buffer(0.25, CHORDS))
    region = metal.difference(metal.boundary.buffer(L, CHORDS))
    for hole in here.holes:
        region = region.difference(shapely.Point(hole).buffer(SPACING, CHORDS))
    return region


SPOTS = [
    *((0.22, 1.0), (0.19, 0.21), (1.03, 0.72), (1.28, 1.02), (1.6, 1.07), (2.05, 1.06)),
    *((1.98, 1.4), (2.4, 1.0), (3.0, 0.74), (3.79, 0.98), (1.15, 0.6), (0.2, 1.8)),
]


@pytest.mark.parametrize("spot", SPOTS, ids=str)
def test_the_legal_share_is_the_area_that_shapely_finds(spot):
    here = room(spot)
    disc = shapely.Point(spot).buffer(T, CHORDS)
    expected = legal_region(here).intersection(disc).area / disc.area
    assert 0 < expected < 1
    found = legal_share(lambda shifts: here.margins_of(0, shifts, T), T)
    # where limits meet in a corner, the corner falls within one of 5,760 triangles
    assert found == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize("spot", [*SPOTS, (0.1, 0.1), (2.1, 1.1), (1.6, 0.9), (3.9, 0.3)], ids=str)
def test_the_least_shift_is_the_distance_to_the_legal_region_of_shapely(spot):
    here = room(spot)
    expected = legal_region(here).distance(shapely.Point(spot))
    shift = least_shift(here, 0.6)
    assert math.hypot(*shift) == pytest.approx(expected, abs=2e-6)
    assert here.margins(shift)[0] >= -1e-9


@pytest.mark.parametrize("seed", range(12))
def test_the_nearest_point_of_half_planes_is_the_one_scipy_finds(seed):
    rng = np.random.default_rng(seed)
    angles = rng.uniform(-1.2, 1.2, 6)
    normals = np.column_stack((np.cos(angles), np.sin(angles)))
    bounds = rng.uniform(-0.1, 0.3, 6)
    found = least_in_half_planes(normals, bounds)
    answer = minimize(
        lambda s: s @ s,
        np.array([5.0, 0.0]),
        jac=lambda s: 2 * s,
        method="SLSQP",
        constraints=[LinearConstraint(normals, bounds)],
        options={"ftol": 1e-15},
    )
    assert found == pytest.approx(answer.x, abs=1e-6)
