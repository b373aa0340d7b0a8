"""Curves against independent answers.

- P. Virtanen et al., "SciPy 1.0", Nature Methods 17 (2020): B-splines after de Boor,
  interpolating cubics, least squares, minimisation.
- Perimeter of an ellipse: 4 a E(1 − b²/a²), E the complete elliptic integral of the second kind.
  M. Abramowitz, I. Stegun, "Handbook of Mathematical Functions" (1964), section 17.
- Perfect circle by quadratic pieces of weight cos 45°: L. Piegl, W. Tiller, "The NURBS Book",
  2nd ed. (1997), section 7.5.
"""

import numpy as np
import pytest
from scipy.interpolate import BSpline, CubicSpline
from scipy.optimize import least_squares, minimize_scalar
from scipy.spatial import KDTree
from scipy.special import ellipe

from holeschedule.geometry.circles import distances_from, fit_circle
from holeschedule.geometry.curves import ellipse_edges, fit_point_spline_edges, spline_edges
from holeschedule.geometry.edges import arc_edges, join_edges, line_edges

TOLERANCE = 1e-4
FULL = 2 * np.pi


def off_edges(points, edges):
    each = np.broadcast_to(points, (len(edges), *points.shape))
    return distances_from(each, edges).min(axis=0).max()


def off_path(edges, path):
    """Largest distance of the edges from a path of dense points, half a step forgiven."""
    own = np.concatenate([edges.points_at(s) for s in np.linspace(0, 1, 9)])
    step = np.hypot(*np.diff(path, axis=0).T).max()
    # a point off the path by d lies within √(d² + (step/2)²) of one of its points
    far = KDTree(path).query(own)[0].max()
    return np.sqrt(max(far**2 - (step / 2) ** 2, 0.0))


def clamped(count, degree):
    return np.clip(np.arange(count + degree + 1.0), degree, count)


@pytest.mark.parametrize("degree", [2, 3, 5])
@pytest.mark.parametrize("count", [6, 20, 100])
def test_splines_lie_on_the_curves_of_scipy(degree, count):
    angle = np.linspace(0, 5, count)
    control = np.column_stack((np.cos(angle), np.sin(2 * angle))) * (3 + np.cos(7 * angle))[:, None]
    knots = clamped(count, degree)
    edges = spline_edges(degree, control, knots, None, False, TOLERANCE)
    path = BSpline(knots, control, degree)(np.linspace(degree, count, 20001))
    assert off_edges(path[::10], edges) <= TOLERANCE
    assert off_path(edges, path) <= TOLERANCE


def test_uneven_knots_and_weights_lie_on_the_curve_of_scipy():
    random = np.random.default_rng(7)
    control, weights = random.uniform(0, 5, (12, 2)), random.uniform(0.2, 5, 12)
    knots = np.concatenate(([0] * 4, np.sort(random.uniform(0, 1, 7)), [0.97], [1] * 4))
    edges = spline_edges(3, control, knots, weights, False, TOLERANCE)
    above = BSpline(knots, np.column_stack((control * weights[:, None], weights)), 3)
    rational = above(np.linspace(0, 1, 40001))
    path = rational[:, :2] / rational[:, 2:]
    assert off_edges(path[::20], edges) <= TOLERANCE
    assert off_path(edges, path) <= TOLERANCE


@pytest.mark.parametrize("ends", ["natural", "clamped", "periodic"])
def test_splines_through_fit_points_are_the_cubics_of_scipy(ends):
    points = np.array([(0, 0), (1, 2), (4, 2.5), (5, 0), (3, -1), (2, -3)], float)
    tangents = np.array([(0, 1.0), (1.0, 0)]) if ends == "clamped" else None
    closed = ends == "periodic"
    edges = fit_point_spline_edges(points, closed, TOLERANCE, tangents)
    through = np.vstack((points, points[:1])) if closed else points
    at = np.append(0, np.cumsum(np.hypot(*np.diff(through, axis=0).T)))
    # directions count at the speed of the parameter, one length of chord for each
    conditions = ((1, tangents[0]), (1, tangents[1])) if ends == "clamped" else ends
    path = CubicSpline(at, through, bc_type=conditions)(np.linspace(0, at[-1], 20001))
    assert off_edges(path[::10], edges) <= TOLERANCE
    assert off_path(edges, path) <= TOLERANCE


@pytest.mark.parametrize("ratio", [0.9, 0.5, 0.2, 0.02])
@pytest.mark.parametrize("tolerance", [1e-3, 1e-4, 1e-6])
def test_the_perimeter_of_an_ellipse_is_that_of_the_elliptic_integral(ratio, tolerance):
    """Abramowitz and Stegun, 17.3.3."""
    a = 1.7
    edges = ellipse_edges((4, -2), (0, a), (ratio * a, 0), 0, FULL, tolerance)
    expected = 4 * a * ellipe(1 - ratio**2)
    # shifted by d everywhere, a curve of one turn changes its length by 2π d
    assert edges.lengths().sum() == pytest.approx(expected, abs=FULL * tolerance)


def test_a_circle_of_quadratic_pieces_has_the_length_of_a_circle():
    """The NURBS Book, 7.5: nine control points, weights 1 and √2/2 in turn."""
    square = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    weights = np.where(np.arange(9) % 2, np.sqrt(0.5), 1.0)
    knots = np.array([0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4.0])
    edges = spline_edges(2, np.array(square, float), knots, weights, True, TOLERANCE)
    assert edges.lengths().sum() == pytest.approx(FULL, rel=1e-10)


def test_distances_from_lines_and_arcs_are_those_found_by_searching():
    random = np.random.default_rng(3)
    ends = random.uniform(-2, 2, (2, 10, 2))
    lines = line_edges(*ends)
    round_edges = arc_edges(
        random.uniform(-2, 2, (10, 2)),
        random.uniform(0.1, 2, 10),
        random.uniform(0, FULL, 10),
        random.uniform(-FULL, FULL, 10),
    )
    edges = join_edges([lines, round_edges])
    points = random.uniform(-4, 4, (len(edges), 3, 2))
    found = distances_from(points, edges)
    for i in range(len(edges)):
        one = edges.take(slice(i, i + 1))
        for point, distance in zip(points[i], found[i], strict=True):
            assert distance == pytest.approx(searched(one, point), abs=1e-7)


def searched(edge, point):
    """Least distance along the edge, from the best of 200 places on."""
    shares = np.linspace(0, 1, 201)
    away = [np.hypot(*(edge.points_at(s)[0] - point)) for s in shares]
    best = int(np.argmin(away))
    low, high = shares[max(best - 1, 0)], shares[min(best + 1, 200)]
    answer = minimize_scalar(
        lambda s: np.hypot(*(edge.points_at(s)[0] - point)),
        bounds=(low, high),
        method="bounded",
        options={"xatol": 1e-12},
    )
    return min(answer.fun, away[0], away[-1])


@pytest.mark.parametrize("noise", [1e-4, 1e-2])
def test_a_fitted_circle_is_the_one_of_least_squares(noise):
    random = np.random.default_rng(11)
    angle = np.sort(random.uniform(0, FULL, 40))
    points = np.column_stack((np.cos(angle), np.sin(angle))) + random.normal(0, noise, (40, 2))
    (x, y), radius, residual = fit_circle(points)
    answer = least_squares(
        lambda c: np.hypot(points[:, 0] - c[0], points[:, 1] - c[1]) - c[2],
        (0.1, 0.1, 1.2),
        xtol=1e-15,
        ftol=1e-15,
        gtol=1e-15,
    )
    assert (x, y, radius) == pytest.approx(tuple(answer.x), abs=1e-9)
    assert residual == pytest.approx(np.abs(answer.fun).max(), abs=1e-9)
