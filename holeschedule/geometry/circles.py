"""Circles: arcs of them from ends and directions, and whole ones however they are drawn.

Every function takes and gives one unit of length, whichever it is; the tolerance is in it too.

Source
------
Biarc of equal arms: K. M. Bolton, "Biarc curves", Computer-Aided Design 7 (1975). Circle through
points: I. Kåsa, "A circle fitting procedure and its error analysis", IEEE Transactions on
Instrumentation and Measurement 25 (1976), then Gauss–Newton steps on the true distances.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holeschedule.errors import GeometryError
from holeschedule.geometry.edges import BoolArray, Edges, FloatArray, IntArray, join_edges

SAME = 1e-9
"""Relative difference that is rounding: of axes, centres, directions, knots."""
LARGEST = 1e50
"""Larger values overflow in products of five of them, and are no lengths of anything."""
LONGEST_ARM = 1e6
"""Chords from an end to where its tangent meets the common one; longer only if both ends point
straight back, where arcs grow without limit."""
FEWEST_CORNERS = 8
"""Corners from which a regular polygon is a circle. Six is a nut; exporters draw 8 and more."""
UNEVEN_STEPS = 0.05
"""Share by which the angles between corners may differ, rounding of the corners apart."""
MANY_CORNERS = 24
"""Corners from which nothing but a circle is drawn with so many on one circle …"""
UNEVEN_MANY = 0.25
"""… so that some may stand closer, as where an exporter joined two pieces of it."""
ROUNDING_STEPS = 3.0
"""Rounding shifts a corner along the circle as far as across it: two corners move by twice the
residual, and the largest residual seen may fall short of the largest shift."""
OUT_OF_ROUND = 0.02
"""Residual over radius above which a curve is no circle, whatever the tolerance: a tolerance as
large as the hole would take a square for a circle."""
SAMPLES_OF_ARC = 4
"""Points looked at on each edge of a curved loop: start, quarter, middle, three quarters."""
_FIT_ROUNDS = 4  # near a circle, each round leaves about a fiftieth of the error
_LONE_FIT_ROUNDS = 30
_IN_LINE = 1e-14  # determinant over trace², up to which points lie in a line


@dataclass(frozen=True, slots=True)
class FittedCircle:
    """A circle found in a drawing. Equality is by value.

    Parameters
    ----------
    centre : (x, y) [unit of the loop]
    radius : float [unit of the loop]
        Of the circle through the corners, if it was drawn as a polygon: exporters put the
        corners on the circle.
    residual : float [unit of the loop]
        Largest distance of a corner, or of a point of the drawn curve, from the circle.
    drawn_as : str
        "circle", "two arcs", "arcs", "polygon of 32 corners" or "closed curve".
    """

    centre: tuple[float, float]
    radius: float
    residual: float
    drawn_as: str


def require_finite(what: str, *arrays: FloatArray) -> None:
    """Refuse a value that is not finite, or too large to square, by a GeometryError of `what`."""
    for array in arrays:
        bad = array[~(np.abs(array) < LARGEST)]
        if len(bad):
            raise GeometryError(
                f"{what}: a value is {bad[0]:g}; expected finite numbers below {LARGEST:g}. "
                "Redraw it"
            )


def require_tolerance(what: str, tolerance: float) -> None:
    """Refuse a tolerance that is not above 0 by a GeometryError of `what`."""
    if not 0 < tolerance < np.inf:
        raise GeometryError(f"{what}: the tolerance is {tolerance}; expected one above 0. Raise it")


def lengths_of(vectors: FloatArray) -> FloatArray:
    """Lengths of (…, 2) vectors."""
    return np.hypot(vectors[..., 0], vectors[..., 1])


def angles_between(a: FloatArray, b: FloatArray) -> FloatArray:
    """Signed turns [rad] from directions (…, 2) `a` to directions `b`, −π to π."""
    turn: FloatArray = np.arctan2(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0], _dot(a, b))
    return turn


def arcs_between(start: FloatArray, end: FloatArray, turn: FloatArray, straight: float) -> Edges:
    """Arcs from (n, 2) `start` to `end` with (n,) signed `turn` [rad], at most 2π.

    An edge is a line where it turns by `straight` [rad] or less.
    """
    bent = np.abs(turn) > straight
    half = np.where(bent, turn, np.pi) / 2
    chord = end - start
    left = np.column_stack((-chord[:, 1], chord[:, 0]))
    centre = (start + end) / 2 + left / (2 * np.tan(half))[:, None]
    return Edges(
        start,
        end,
        np.where(bent[:, None], centre, start),
        np.where(bent, lengths_of(chord) / (2 * np.abs(np.sin(half))), 0.0),
        np.where(bent, turn, 0.0),
    )


def biarcs(
    start: FloatArray, leaving: FloatArray, end: FloatArray, arriving: FloatArray, straight: float
) -> tuple[Edges, Edges]:
    """Two arcs that touch, from (n, 2) `start` to `end` with given unit tangents there.

    Lines where an arc turns by `straight` [rad] or less. NaN where no such pair exists, or none
    whose arcs meet within `LONGEST_ARM` chords.
    """
    chord, bend = end - start, leaving - arriving
    square, along = _dot(chord, chord), _dot(chord, leaving + arriving)
    with np.errstate(divide="ignore", invalid="ignore"):
        arm = square / (along + np.sqrt(along * along + _dot(bend, bend) * square))
        arm = np.where(arm <= LONGEST_ARM * np.sqrt(square), arm, np.nan)
        joint = (start + end + arm[:, None] * bend) / 2
        head = arcs_between(start, joint, 2 * angles_between(leaving, joint - start), straight)
        tail = arcs_between(joint, end, 2 * angles_between(end - joint, arriving), straight)
    return head, tail


def distances_from(points: FloatArray, edges: Edges) -> FloatArray:
    """(n, s) distances of (n, s, 2) points, row i from edge i; arcs are measured exactly."""
    start, end, centre = (p[:, None] for p in (edges.start, edges.end, edges.centre))
    chord, radius = end - start, edges.radius[:, None]
    along = _dot(points - start, chord) / np.maximum(_dot(chord, chord), 1e-300)
    from_line = lengths_of(points - start - np.clip(along, 0.0, 1.0)[..., None] * chord)
    radial = points - centre
    middle = edges.points_at(0.5)[:, None] - centre
    beside = _dot(radial, middle) >= lengths_of(radial) * radius * np.cos(edges.sweep / 2)[:, None]
    from_end = np.minimum(lengths_of(points - start), lengths_of(points - end))
    from_arc = np.where(beside, np.abs(lengths_of(radial) - radius), from_end)
    return np.where(edges.is_arc[:, None], from_arc, from_line)


def joined_alike(edges: Edges) -> Edges:
    """Chain in which neighbours on one line, or on one circle, are made one edge."""
    if len(edges) == 0:
        return edges
    a, b = edges.take(slice(None, -1)), edges.take(slice(1, None))
    round_on = (a.sweep * b.sweep > 0) & (lengths_of(a.centre - b.centre) <= SAME * a.radius)
    straight_on = ~(a.is_arc | b.is_arc) & (
        np.abs(angles_between(a.end - a.start, b.end - b.start)) <= SAME
    )
    new = ~(np.all(a.end == b.start, axis=1) & (round_on | straight_on))
    first = np.flatnonzero(np.append(True, new))
    last = np.append(first[1:], len(edges)) - 1
    sweep = np.add.reduceat(edges.sweep, first)
    if np.any(np.abs(sweep) > 2 * np.pi + SAME):  # a circle gone round more than once
        return edges
    whole = np.abs(sweep) > 2 * np.pi - SAME
    return Edges(
        edges.start[first],
        np.where(whole[:, None], edges.start[first], edges.end[last]),
        edges.centre[first],
        edges.radius[first],
        np.where(whole, np.copysign(2 * np.pi, sweep), sweep),
    )


def fit_circle(points: FloatArray) -> tuple[tuple[float, float], float, float]:
    """Circle nearest to points, by least squares of their distances from it.

    Parameters
    ----------
    points : (n, 2) array [any unit]
        Three or more, spread round the circle or a good part of it.

    Returns
    -------
    centre, radius, residual : (x, y), float, float [unit of `points`]
        The residual is the largest distance of a point from the circle.

    Raises
    ------
    GeometryError
        Fewer than three points, points in a line, or a coordinate that is not finite.

    Examples
    --------
    >>> fit_circle(np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]]))
    ((0.0, 0.0), 1.0, 0.0)
    """
    points = np.asarray(points, float).reshape(-1, 2)
    require_finite("circle", points)
    if len(points) < 3:
        raise GeometryError(
            f"circle: it has {len(points)} points; expected 3 or more. Redraw it as a circle"
        )
    groups = _Groups.of(np.array([len(points)]))
    centre, radius = _least_squares(points, np.ones(len(points)), groups, _LONE_FIT_ROUNDS)
    if not np.isfinite(radius[0]):
        raise GeometryError(
            f"circle: its {len(points)} points lie in a line; expected points round a circle. "
            "Redraw it as a circle"
        )
    off = np.abs(lengths_of(points - centre) - radius).max()
    x, y = centre[0].tolist()
    return (x, y), float(radius[0]), float(off)


def circles_of_loops(loops: list[Edges], tolerance: float) -> list[FittedCircle | None]:
    """Find the circle that each closed loop is; None where it is something else.

    A circle is one full arc; arcs of one centre and radius; arcs and lines (of a converted
    curve) whose points lie on one circle; or a regular polygon of `FEWEST_CORNERS` or more.

    Parameters
    ----------
    loops : list of Edges [any unit]
        Each in order, end to start. An empty one, or one that does not close, is no circle.
    tolerance : float [unit of `loops`]
        Most that a corner, a point of the curve, or the centre or radius of an arc may be off.

    Returns
    -------
    list of FittedCircle or None
        In the order of `loops`.

    Raises
    ------
    GeometryError
        A value is not finite, or the tolerance is not above 0.
    """
    require_tolerance("circles", tolerance)
    found: list[FittedCircle | None] = [None] * len(loops)
    index = np.array([i for i, loop in enumerate(loops) if len(loop)], np.intp)
    if not len(index):
        return found
    edges = join_edges([loops[i] for i in index])
    require_finite("circles", *(getattr(edges, name) for name in Edges.__slots__))
    groups = _Groups.of(np.array([len(loops[i]) for i in index]))
    arcs = groups.total(edges.is_arc.astype(np.intp))
    closed = groups.most(lengths_of(edges.end - edges.start[groups.following()])) <= tolerance
    polygon = closed & (arcs == 0) & (groups.count >= FEWEST_CORNERS)
    for kind, judge in ((polygon, _polygons), (closed & (arcs > 0), _curves)):
        mine = np.flatnonzero(kind)
        if len(mine):
            part = edges.take(kind[groups.owner])
            circles = judge(part, _Groups.of(groups.count[mine]), tolerance)
            for place, circle in zip(index[mine].tolist(), circles, strict=True):
                found[place] = circle
    return found


@dataclass(frozen=True, slots=True)
class _Groups:
    """Rows in groups that follow each other: what is asked of all loops at one go."""

    count: IntArray
    first: IntArray
    owner: IntArray

    @classmethod
    def of(cls, count: IntArray) -> _Groups:
        return cls(count, np.cumsum(count) - count, np.repeat(np.arange(len(count)), count))

    def total(self, rows: NDArray[Any]) -> NDArray[Any]:
        return np.add.reduceat(rows, self.first)

    def most(self, rows: FloatArray) -> FloatArray:
        return np.maximum.reduceat(rows, self.first)

    def following(self) -> IntArray:
        """Index of the next row of the group, the first after the last."""
        index = np.arange(len(self.owner)) + 1
        index[self.first + self.count - 1] = self.first
        return index


def _polygons(edges: Edges, groups: _Groups, tolerance: float) -> list[FittedCircle | None]:
    centre, radius = _least_squares(edges.start, np.ones(len(edges)), groups, _FIT_ROUNDS)
    residual = _residuals(edges.start, groups, centre, radius)
    even = 2 * np.pi / groups.count
    share = np.where(groups.count >= MANY_CORNERS, UNEVEN_MANY, UNEVEN_STEPS)
    most = share * even + ROUNDING_STEPS * residual / radius
    step, turn = _steps(edges.start, groups, centre)
    regular = groups.most(np.abs(step - (np.copysign(1, turn) * even)[groups.owner])) <= most
    names = [f"polygon of {n} corners" for n in groups.count]
    fits = regular & _is_round(residual, radius, turn, tolerance)
    return _circles(fits, centre, radius, residual, names)


def _curves(edges: Edges, groups: _Groups, tolerance: float) -> list[FittedCircle | None]:
    shares = np.arange(SAMPLES_OF_ARC) / SAMPLES_OF_ARC
    points = np.stack([edges.points_at(share) for share in shares], axis=1).reshape(-1, 2)
    sampled = _Groups.of(groups.count * SAMPLES_OF_ARC)
    # long arcs count more, and each point for the stretch on either side of it
    ahead = lengths_of(points[sampled.following()] - points)
    weight = ahead.copy()
    weight[sampled.following()] += ahead
    centre, radius = _least_squares(points, weight, sampled, _FIT_ROUNDS)
    own_centre, own_radius, alike = _common_circles(edges, groups, tolerance)
    centre = np.where(alike[:, None], own_centre, centre)
    radius = np.where(alike, own_radius, radius)
    residual = _residuals(points, sampled, centre, radius)
    step, turn = _steps(points, sampled, centre)
    back = sampled.most(-step * np.sign(turn)[sampled.owner])
    onward = back <= ROUNDING_STEPS * residual / radius
    kinds = {1: "circle", 2: "two arcs"}
    names = [
        kinds.get(n, "arcs") if same else "closed curve"
        for n, same in zip(groups.count.tolist(), alike.tolist(), strict=True)
    ]
    fits = onward & _is_round(residual, radius, turn, tolerance)
    return _circles(fits, centre, radius, residual, names)


def _common_circles(
    edges: Edges, groups: _Groups, tolerance: float
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Mean centre and radius of each loop's arcs, longer arcs counting more; and do they agree."""
    base = edges.centre[groups.first]
    base_radius = edges.radius[groups.first]
    weight = np.abs(edges.sweep)
    share = weight / np.maximum(groups.total(weight), 1e-300)[groups.owner]
    shift = edges.centre - base[groups.owner]
    grown = edges.radius - base_radius[groups.owner]
    centre = base + groups.total(share[:, None] * shift)
    radius = base_radius + groups.total(share * grown)
    off = groups.most(lengths_of(edges.centre - centre[groups.owner]))
    uneven = groups.most(np.abs(edges.radius - radius[groups.owner]))
    all_arcs = groups.total(edges.is_arc.astype(np.intp)) == groups.count
    return centre, radius, all_arcs & (off <= tolerance) & (uneven <= tolerance)


def _circles(
    fits: BoolArray, centre: FloatArray, radius: FloatArray, residual: FloatArray, names: list[str]
) -> list[FittedCircle | None]:
    rows = zip(
        fits.tolist(), centre.tolist(), radius.tolist(), residual.tolist(), names, strict=True
    )
    return [
        FittedCircle((x, y), r, off, name) if fit else None for fit, (x, y), r, off, name in rows
    ]


def _is_round(
    residual: FloatArray, radius: FloatArray, turn: FloatArray, tolerance: float
) -> BoolArray:
    """Close to the circle everywhere, and once round it."""
    close = residual <= np.minimum(tolerance, OUT_OF_ROUND * radius)
    return close & (np.abs(np.abs(turn) - 2 * np.pi) <= UNEVEN_STEPS)


def _residuals(
    points: FloatArray, groups: _Groups, centre: FloatArray, radius: FloatArray
) -> FloatArray:
    off = lengths_of(points - centre[groups.owner]) - radius[groups.owner]
    return groups.most(np.abs(off))


def _steps(
    points: FloatArray, groups: _Groups, centre: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Angle [rad] from each point to the next as seen from the centre; their sum per loop."""
    radial = points - centre[groups.owner]
    step = angles_between(radial, radial[groups.following()])
    return step, groups.total(step)


def _least_squares(
    points: FloatArray, weight: FloatArray, groups: _Groups, rounds: int
) -> tuple[FloatArray, FloatArray]:
    """Centres and radii of the circles nearest to each group; NaN where points lie in a line."""
    share = weight / groups.total(weight)[groups.owner]

    def about_mean(rows: FloatArray) -> tuple[FloatArray, FloatArray]:
        mean = groups.total(share[:, None] * rows)
        return mean, rows - mean[groups.owner]

    # shifted first: far from the origin, squares would use up the digits
    base = points[groups.first]
    middle, local = about_mean(points - base[groups.owner])
    centre = _solved(groups, share, local, _dot(local, local) / 2)
    for _ in range(rounds):
        radial = local - centre[groups.owner]
        distance = lengths_of(radial)
        _, rows = about_mean(radial / np.maximum(distance, 1e-300)[:, None])
        centre = centre + _solved(groups, share, rows, distance)
    radius = groups.total(share * lengths_of(local - centre[groups.owner]))
    return base + middle + centre, radius


def _solved(groups: _Groups, share: FloatArray, rows: FloatArray, right: FloatArray) -> FloatArray:
    """Least-squares answer of two unknowns for each group, `rows` having mean 0."""
    x, y = rows[:, 0], rows[:, 1]
    a, b, c = (groups.total(share * product) for product in (x * x, x * y, y * y))
    p, q = groups.total(share * x * right), groups.total(share * y * right)
    determinant = a * c - b * b
    in_line = determinant <= _IN_LINE * (a + c) ** 2
    determinant = np.where(in_line, np.nan, determinant)
    return np.column_stack((c * p - b * q, a * q - b * p)) / determinant[:, None]


def _dot(a: FloatArray, b: FloatArray) -> FloatArray:
    product: FloatArray = a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1]
    return product
