"""Curves that are neither line nor arc, turned into lines and arcs within a stated tolerance.

Every function takes and gives one unit of length, whichever it is; the tolerance is in it too.
A curve is halved until a biarc (two arcs that touch, leaving and arriving in the curve's own
direction) lies close enough to points sampled along each stretch.

Source
------
L. Piegl, W. Tiller, "The NURBS Book", 2nd ed. (1997), chapters 3, 4 and 9.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from holeschedule.errors import GeometryError
from holeschedule.geometry import circles
from holeschedule.geometry.edges import (
    BoolArray,
    Edges,
    FloatArray,
    IntArray,
    arc_edges,
    join_edges,
    line_edges,
    no_edges,
)

SAMPLES = 12
"""Steps in a stretch. A biarc's error has up to four humps: each is seen at 87 % or more."""
SHARE_OF_TOLERANCE = 0.8
"""What the samples may use up; the rest covers what lies between them."""
MOST_TURN = 2.0
"""Most [rad] a stretch may turn: within it, curve and biarc cannot run in opposite ways."""
MOST_UNEVEN = 5.0
"""Longest over mean step of samples: above, something may hide between two of them; below stay
curves that start at speed 0, their control points on one spot."""
STRAIGHT, STRAIGHT_BULGE = 1e-6, 4e-8
"""Turn [rad] up to which a piece of a curve is a line: its radius is above 10⁶ chords. A bulge
may be flatter, until it rises less than its far centre can be held."""
FLAT = 1e-12
"""Ratio of axes below which an ellipse is a line: less is lost in rounding."""
FULL_TURN_SLACK = 1e-5
"""How far [rad] the parameters of a whole ellipse may miss 2π, written with 5 decimals."""
MOST_PIECES = 20_000
"""Stretches of one curve. An outline has some hundred; more is damage or a mistaken unit."""
MOST_DEGREE = 25
"""Highest degree of a spline. CAD programs stop at 11 or at 25."""
MOST_FIT_POINTS, WRAP = 5_000, 60
"""Fit points of one spline: twice as many take four times as long. Those repeated on either side
of a closed one: what its ends are told fades by half or more a point, and 2⁻⁶⁰ is rounding."""
_MOST_HALVINGS = 64  # 53 use up the digits of a parameter
_NUDGE = 1e-4  # share of a stretch to look ahead where the speed is 0

_Curve = Callable[[IntArray, FloatArray], tuple[FloatArray, FloatArray]]
"""(c,) stretches and (c, s) parameters → (c, s, 2) points and derivatives."""


def bulge_edges(points: FloatArray, bulges: FloatArray, closed: bool) -> Edges:  # noqa: FBT001 - the drawing's own flag
    """Lines and arcs of a polyline whose vertices carry DXF bulges.

    Parameters
    ----------
    points : (n, 2) array [any unit]
        Vertices. An edge between equal ones is left out.
    bulges : (n,) array [-]
        tan(sweep / 4) of the edge leaving each vertex, positive counter-clockwise; 0 is a line.
    closed : bool
        Whether an edge runs from the last vertex to the first.

    Returns
    -------
    Edges [unit of `points`]
        In drawing order; empty if there are fewer than two different vertices.

    Raises
    ------
    GeometryError
        A coordinate or bulge is not finite.

    Source
    ------
    Group code 42 of LWPOLYLINE and VERTEX in the DXF reference.
    """
    points, bulges = np.asarray(points, float).reshape(-1, 2), np.asarray(bulges, float)
    circles.require_finite("polyline", points, bulges)
    following = np.roll(points, -1, axis=0)
    kept = np.any(points != following, axis=1)
    if not closed:
        kept[-1:] = False
    turn = 4 * np.arctan(bulges[kept])
    return circles.arcs_between(points[kept], following[kept], turn, STRAIGHT_BULGE)


def ellipse_edges(
    centre: FloatArray,
    major: FloatArray,
    minor: FloatArray,
    start: float,
    end: float,
    tolerance: float,
) -> Edges:
    """Lines and arcs along centre + cos t · major + sin t · minor, from t = start up to end.

    Parameters
    ----------
    centre, major, minor : (2,) arrays [any unit]
        Centre and two half diameters; any conjugate pair will do, perpendicular or not. A DXF
        ELLIPSE has minor = ratio · (−major_y, major_x), the other sign if its extrusion is −Z.
    start, end : float [rad]
        Parameters. An end below the start is meant one turn further on. A whole turn between
        them is the closed ellipse; no difference is a point.
    tolerance : float [unit of `centre`]
        Most that any point of the result lies off the curve, and of the curve off the result.

    Returns
    -------
    Edges [unit of `centre`]
        Touching arcs, the ends exact; one arc or full circle if the axes are equal; empty if it
        is a point. A flat ellipse is the lines it runs along, a closed one without the way back.

    Raises
    ------
    GeometryError
        A value is not finite, the tolerance is not above 0, or more than `MOST_PIECES` pieces
        are needed.
    """
    centre, major, minor = (np.asarray(v, float).reshape(2) for v in (centre, major, minor))
    circles.require_finite("ellipse", centre, major, minor, np.array([start, end]))
    circles.require_tolerance("ellipse", tolerance)
    turns = round((end - start) / (2 * np.pi))
    whole = turns != 0 and abs(end - start - turns * 2 * np.pi) <= FULL_TURN_SLACK
    span = 2 * np.pi if whole else (end - start) % (2 * np.pi)
    phase = float(np.arctan2(2 * major @ minor, major @ major - minor @ minor)) / 2
    cos, sin = np.cos(phase), np.sin(phase)
    longer, shorter = cos * major + sin * minor, cos * minor - sin * major
    first, a, b = start - phase, np.hypot(*longer), np.hypot(*shorter)
    if a == 0 or span == 0:
        return no_edges()
    if b <= FLAT * a:
        return _shifted(_flat_ellipse(longer, first, span), centre)
    if a - b <= circles.SAME * a:
        turn = np.sign(longer[0] * shorter[1] - longer[1] * shorter[0])
        angle = np.arctan2(longer[1], longer[0]) + turn * first
        edges = arc_edges(np.zeros((1, 2)), *np.array([[(a + b) / 2], [angle], [turn * span]]))
    else:
        edges = _bent_ellipse(longer, shorter, first, span, tolerance)
    begin, finish = (np.cos(t) * major + np.sin(t) * minor for t in (start, start + span))
    return _pinned(edges, centre, begin, begin if whole else finish)


def spline_edges(
    degree: int,
    control: FloatArray,
    knots: FloatArray | None,
    weights: FloatArray | None,
    closed: bool,  # noqa: FBT001 - the drawing's own flag
    tolerance: float,
) -> Edges:
    """Lines and arcs along a rational B-spline (NURBS) in the plane.

    Parameters
    ----------
    degree : int
        1 to `MOST_DEGREE`.
    control : (n, 2) array [any unit]
        Control points, n > degree.
    knots : (n + degree + 1,) array [-] or None
        In rising order. None or empty: evenly spaced, beginning and ending at control points.
    weights : (n,) array [-] or None
        Above 0. None: all equal.
    closed : bool
        The curve is meant to close: a gap within the tolerance is closed. A wider one, or a
        jump of the curve, stays as drawn for the chaining of edges to report.
    tolerance : float [unit of `control`]
        Most that any point of the result lies off the curve, and of the curve off the result.

    Returns
    -------
    Edges [unit of `control`]
        Arcs that touch where the curve is smooth, corners where it has corners, lines where it
        is straight; ends exact. Empty if all control points are one.

    Raises
    ------
    GeometryError
        A value is not finite; the degree, knots or weights cannot make a spline; the tolerance
        is not above 0; or more than `MOST_PIECES` pieces are needed.
    """
    control = np.asarray(control, float).reshape(-1, 2)
    if knots is None or len(knots) == 0:
        knots = np.clip(np.arange(len(control) + degree + 1.0), degree, max(degree, len(control)))
    knots = np.asarray(knots, float)
    weights = np.ones(len(control)) if weights is None else np.asarray(weights, float)
    circles.require_finite("spline", control, knots, weights)
    circles.require_tolerance("spline", tolerance)
    _require_spline(degree, len(control), knots, weights)
    origin = control[0].copy()
    curve, lo, hi = _nurbs(degree, control - origin, _merged(knots, degree), weights)
    edges = _follow("spline", curve, lo, hi, tolerance)
    if len(edges) == 0:
        return edges
    rounding = circles.SAME * np.abs(control - origin).max()
    if np.hypot(*edges.start[0]) <= rounding:
        edges.start[0] = 0.0
    placed = _shifted(edges, origin)
    if np.hypot(*(placed.end[-1] - control[-1])) <= rounding:
        placed.end[-1] = control[-1]
    gap = np.hypot(*(placed.end[-1] - placed.start[0]))
    if closed and gap <= rounding:
        placed.end[-1] = placed.start[0]
    elif closed and gap <= tolerance:
        placed = join_edges([placed, line_edges(placed.end[-1:], placed.start[:1])])
    return placed


def fit_point_spline_edges(
    points: FloatArray,
    closed: bool,  # noqa: FBT001 - the drawing's own flag
    tolerance: float,
    tangents: FloatArray | None = None,
) -> Edges:
    """Lines and arcs along the smooth cubic through fit points, as CAD programs draw it.

    Parameters
    ----------
    points : (n, 2) array [any unit]
        Fit points in order; equal ones in a row count once.
    closed : bool
        Whether the curve runs on from the last point to the first without a corner.
    tolerance : float [unit of `points`]
        As for `spline_edges`.
    tangents : (2, 2) array [-] or None
        Directions at start and end of an open curve, of any length. None: not bent there.

    Returns
    -------
    Edges [unit of `points`]
        As for `spline_edges`; empty for fewer than two different points.

    Raises
    ------
    GeometryError
        As for `spline_edges`, or more than `MOST_FIT_POINTS` points.

    Source
    ------
    Chord lengths as parameter, section 9.2 of "The NURBS Book".
    """
    points = np.asarray(points, float).reshape(-1, 2)
    ends = np.zeros((2, 2)) if tangents is None else np.asarray(tangents, float)
    circles.require_finite("spline", points, ends)
    points = points[np.append(True, np.any(np.diff(points, axis=0) != 0, axis=1))[: len(points)]]
    if closed and len(points) > 1 and np.array_equal(points[0], points[-1]):
        points = points[:-1]
    n = len(points)
    if n > MOST_FIT_POINTS:
        expected = f"expected at most {MOST_FIT_POINTS}. Save it with control points"
        raise GeometryError(f"spline: it has {n} fit points; {expected}")
    if n < 2:
        return no_edges()
    if not closed or n == 2:
        control, knots = _interpolated(points, ends if np.all(circles.lengths_of(ends)) else None)
    else:
        control, knots = _interpolated(points[np.arange(-WRAP, n + WRAP + 1) % n], None)
        control, knots = control[WRAP : WRAP + n + 3], knots[WRAP : WRAP + n + 7]
    return spline_edges(3, control, knots, None, closed, tolerance)


def _interpolated(points: FloatArray, ends: FloatArray | None) -> tuple[FloatArray, FloatArray]:
    """Control points and knots of the cubic through points."""
    from ezdxf.math import fit_points_to_cad_cv  # noqa: PLC0415 - heavy, seldom used

    local = [(x, y, 0.0) for x, y in (points - points[0]).tolist()]
    spline = fit_points_to_cad_cv(local, None if ends is None else ends.tolist())
    control = np.array([(p.x, p.y) for p in spline.control_points]) + points[0]
    control[[0, -1]] = points[[0, -1]]  # solved for, and so rounded
    return control, np.array(spline.knots())


def affine_edges(edges: Edges, matrix: FloatArray, shift: FloatArray, tolerance: float) -> Edges:
    """Edges moved, turned, mirrored, scaled or sheared: each point p goes to matrix · p + shift.

    Parameters
    ----------
    edges : Edges [any unit]
    matrix : (2, 2) array [-]
        Where it scales alike in all directions arcs stay arcs, else they become ellipses.
    shift : (2,) array [unit of the result]
    tolerance : float [unit of the result]
        As for `ellipse_edges`; used for nothing else.

    Returns
    -------
    Edges [unit of `edges` times the scale]
        In the same order and direction. Edges squeezed to a point are left out.

    Raises
    ------
    GeometryError
        As for `ellipse_edges`.
    """
    matrix, shift = np.asarray(matrix, float), np.asarray(shift, float)
    circles.require_finite("edges", matrix, shift, *(getattr(edges, n) for n in Edges.__slots__))
    circles.require_tolerance("edges", tolerance)
    (a, b), (c, d) = matrix
    turn = 1.0 if a * d >= b * c else -1.0
    scale = (np.hypot(a, c) + np.hypot(b, d)) / 2
    start, end = _mapped(edges.start, matrix) + shift, _mapped(edges.end, matrix) + shift
    centre = _mapped(edges.centre, matrix) + shift
    moved = Edges(start, end, centre, edges.radius * scale, edges.sweep * turn)
    if np.hypot(a - turn * d, b + turn * c) > circles.SAME * scale:
        single = [moved.take(slice(i, i + 1)) for i in range(len(edges))]
        for i in np.flatnonzero(edges.is_arc):
            single[i] = _stretched_arc(edges.take(slice(i, i + 1)), matrix, single[i], tolerance)
        moved = join_edges(single)
    return moved.take(moved.lengths() > 0)


def _mapped(vectors: FloatArray, matrix: FloatArray) -> FloatArray:
    # spelled out: a matrix product may round equal points differently, and chains would tear
    return np.column_stack([row[0] * vectors[:, 0] + row[1] * vectors[:, 1] for row in matrix])


def _stretched_arc(arc: Edges, matrix: FloatArray, moved: Edges, tolerance: float) -> Edges:
    x, y = (arc.start - arc.centre)[0]
    across = np.sign(arc.sweep[0]) * np.array([-y, x])
    major, minor = _mapped(np.array([[x, y], across]), matrix)
    edges = ellipse_edges(moved.centre[0], major, minor, 0.0, abs(arc.sweep[0]), tolerance)
    if len(edges) == 0 or np.array_equal(arc.start, arc.end):
        return edges
    return _pinned(edges, np.zeros(2), moved.start[0], moved.end[0])


def _flat_ellipse(longer: FloatArray, first: float, span: float) -> Edges:
    turns = np.pi * np.arange(np.ceil(first / np.pi), np.floor((first + span) / np.pi) + 1)
    stops = turns[:2] if span == 2 * np.pi else np.concatenate(([first], turns, [first + span]))
    points = np.cos(stops)[:, None] * longer
    edges = line_edges(points[:-1], points[1:])
    return edges.take(edges.lengths() > 0)


def _bent_ellipse(
    longer: FloatArray, shorter: FloatArray, first: float, span: float, tolerance: float
) -> Edges:
    def curve(_: IntArray, t: FloatArray) -> tuple[FloatArray, FloatArray]:
        cos, sin = np.cos(t)[..., None], np.sin(t)[..., None]
        return cos * longer + sin * shorter, cos * shorter - sin * longer

    # cut where it is flattest and sharpest: between, the bend only grows or only shrinks
    last, quarter = first + span, np.pi / 2
    inner = [q * quarter for q in range(math.ceil(first / quarter), math.ceil(last / quarter))]
    inner = [t for t in inner if first + FULL_TURN_SLACK < t < last - FULL_TURN_SLACK]
    cuts = np.array([first, *inner, last])
    return _follow("ellipse", curve, cuts[:-1], cuts[1:], tolerance)


def _nurbs(
    degree: int, control: FloatArray, knots: FloatArray, weights: FloatArray
) -> tuple[_Curve, FloatArray, FloatArray]:
    """De Boor's scheme, each stretch in its own span of knots: exact up to both of its ends."""
    rational = np.column_stack((control * weights[:, None], weights))
    spans = np.flatnonzero(np.diff(knots) > 0)
    spans = spans[(spans >= degree) & (spans < len(control))]

    def curve(stretch: IntArray, t: FloatArray) -> tuple[FloatArray, FloatArray]:
        span = spans[stretch]
        points = [rational[span - degree + j][:, None] for j in range(degree + 1)]
        for level in range(1, degree + 1):
            width = (knots[span + 1] - knots[span])[:, None, None]
            speed = degree * (points[1] - points[0]) / width  # counts at the last level
            for j in range(degree + 1 - level):
                low, high = knots[span + j + level - degree], knots[span + j + 1]
                share = ((t - low[:, None]) / (high - low)[:, None])[..., None]
                points[j] = (1 - share) * points[j] + share * points[j + 1]
        place, weight = points[0][..., :2] / points[0][..., 2:], points[0][..., 2:]
        return place, (speed[..., :2] - place * speed[..., 2:]) / weight

    return curve, knots[spans], knots[spans + 1]


def _follow(what: str, curve: _Curve, lo: FloatArray, hi: FloatArray, tolerance: float) -> Edges:
    """Edges along the stretches [lo, hi] of one curve, in the order given."""
    source, pieces = np.arange(len(lo)), 0
    done: list[tuple[IntArray, FloatArray, Edges, Edges]] = []
    for _ in range(_MOST_HALVINGS):
        if pieces + len(source) > MOST_PIECES:
            break
        head, tail, fits = _fitted(*_sampled(curve, source, lo, hi), tolerance)
        done.append((source[fits], lo[fits], head.take(fits), tail.take(fits)))
        if fits.all():
            return circles.joined_alike(_in_order(done))
        pieces += len(done[-1][0])
        source, lo, hi = np.tile(source[~fits], 2), lo[~fits], hi[~fits]
        middle = (lo + hi) / 2
        lo, hi = np.concatenate((lo, middle)), np.concatenate((middle, hi))
    raise GeometryError(
        f"{what}: {MOST_PIECES} stretches do not follow it within {tolerance:g}; "
        "expected a smoother curve. Check the drawing unit, or redraw it"
    )


def _sampled(
    curve: _Curve, source: IntArray, lo: FloatArray, hi: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """(c, s, 2) points and unit tangents along each stretch."""
    share = np.linspace(0.0, 1.0, SAMPLES + 1)
    t = lo[:, None] * (1 - share) + hi[:, None] * share  # both ends hit to the last digit
    points, velocity = curve(source, t)
    speed = circles.lengths_of(velocity)
    still = speed <= circles.SAME * speed.max(axis=1, keepdims=True)
    rows = np.flatnonzero(still.any(axis=1))
    if len(rows):  # a curve leaves a standstill in the direction it has just after
        ahead = _NUDGE * np.where(share < 1, 1, -1) * (hi - lo)[rows, None]
        soon = curve(source[rows], t[rows] + ahead)[1]
        velocity[rows] = np.where(still[rows, :, None], soon, velocity[rows])
        speed = circles.lengths_of(velocity)
    return points, velocity / np.maximum(speed, 1e-300)[..., None]


def _fitted(
    points: FloatArray, tangents: FloatArray, tolerance: float
) -> tuple[Edges, Edges, BoolArray]:
    """Two touching edges for each sampled stretch, and whether they stay within tolerance."""
    start, end = points[:, 0], points[:, -1]
    head, tail = circles.biarcs(start, tangents[:, 0], end, tangents[:, -1], STRAIGHT)
    off = np.minimum(*(circles.distances_from(points, arc) for arc in (head, tail))).max(axis=1)
    turn = np.abs(circles.angles_between(tangents[:, :-1], tangents[:, 1:])).sum(axis=1)
    step = circles.lengths_of(np.diff(points, axis=1))
    fits = (off <= SHARE_OF_TOLERANCE * tolerance) & (turn <= MOST_TURN)
    fits &= step.max(axis=1) <= MOST_UNEVEN * step.mean(axis=1)
    tiny = circles.lengths_of(points - points[:, :1]).max(axis=1) <= tolerance / 2
    head = _chosen(tiny, line_edges(start, end), head)
    tail = _chosen(tiny, line_edges(end, end), tail)
    return head, tail, fits | tiny


def _in_order(done: list[tuple[IntArray, FloatArray, Edges, Edges]]) -> Edges:
    """All heads and tails along the curve; ends that differ by rounding made equal."""
    source, lo = (np.concatenate([row[i] for row in done]) for i in (0, 1))
    both = join_edges([row[2] for row in done] + [row[3] for row in done])
    order = np.lexsort((lo, source))
    edges = both.take(np.column_stack((order, order + len(order))).ravel())
    edges = edges.take(np.any(edges.start != edges.end, axis=1))
    size = np.abs(edges.end).max(initial=0.0)
    near = circles.lengths_of(edges.start[1:] - edges.end[:-1]) <= circles.SAME * size
    edges.start[1:][near] = edges.end[:-1][near]
    return _shifted(edges, np.zeros(2))


def _chosen(mask: BoolArray, yes: Edges, no: Edges) -> Edges:
    place = np.arange(len(mask))
    return join_edges([yes, no]).take(np.where(mask, place, place + len(mask)))


def _shifted(edges: Edges, by: FloatArray) -> Edges:
    start = edges.start + by
    centre = np.where(edges.is_arc[:, None], edges.centre + by, start)
    return Edges(start, edges.end + by, centre, edges.radius, edges.sweep)


def _pinned(edges: Edges, by: FloatArray, start: FloatArray, end: FloatArray) -> Edges:
    """Shift a chain and put its two ends exactly where they are meant to be."""
    edges.start[0], edges.end[-1] = start, end
    return _shifted(edges, by)


def _merged(knots: FloatArray, degree: int) -> FloatArray:
    """Knots that differ by rounding made equal."""
    rising = np.maximum.accumulate(knots)
    domain = rising[-1 - degree] - rising[degree]
    new = np.append(True, np.diff(rising) > circles.SAME * domain)
    return rising[np.maximum.accumulate(np.where(new, np.arange(len(knots)), 0))]


def _require_spline(degree: int, count: int, knots: FloatArray, weights: FloatArray) -> None:
    need = count + degree + 1
    problem = ""
    if not 1 <= degree <= MOST_DEGREE:
        problem = f"its degree is {degree}; expected 1 to {MOST_DEGREE}"
    elif count <= degree:
        problem = f"it has {count} control points; expected {degree + 1} or more at degree {degree}"
    elif len(knots) != need:
        problem = f"it has {len(knots)} knots; expected {need}, control points + degree + 1"
    elif not knots[degree] < knots[count]:
        problem = f"its knots run from {knots[degree]:g} to {knots[count]:g}; expected a rise"
    elif np.any(fall := np.diff(knots) < -circles.SAME * (knots[count] - knots[degree])):
        at = int(np.argmax(fall)) + 1
        problem = f"knot {at + 1} is {knots[at]:g} after {knots[at - 1]:g}; expected rising order"
    elif len(weights) != count:
        problem = f"it has {len(weights)} weights; expected {count}, one for each control point"
    elif np.any(weights <= 0):
        at = int(np.argmax(weights <= 0))
        problem = f"weight {at + 1} is {weights[at]:g}; expected a weight above 0"
    if problem:
        raise GeometryError(f"spline: {problem}. Redraw it")
