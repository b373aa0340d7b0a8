"""Every distance of a panel of 1,000 holes, as the command prints it, against outside answers.

Edge distances: closed forms of the signed distance to a rounded rectangle, a circle and a slot
(the distance to the box or segment of its arc centres, less the radius).
Nearest holes: the k-d tree of scipy.spatial.
Both again, coarser: the enclosure and space checks of klayout, which works on a grid.
"""

from __future__ import annotations

import math
from typing import Any

import klayout.db as kdb
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from tests.cli.commands import Ran, in_own_process
from tests.makers import draw_circles, new_drawing, save

FloatArray = NDArray[np.float64]

WIDE, HIGH, CORNER = 36.0, 16.0, 1.5
ROUND = ((6.0, 5.0, 1.25), (18.0, 11.0, 2.0), (30.0, 4.0, 0.6))
"""Centre and radius of the round cutouts."""
SLOTS = ((11.0, 8.0, 3.0, 0.75, 0.6), (25.0, 6.0, 4.5, 1.0, 2.1))
"""Middle, length between the arc centres, radius and direction [rad] of the slots."""
OFFSET = (112.5, -340.25)
"""Where the panel lies on the sheet."""
HOLE = 0.098
EXACT = 1e-9


def centres() -> FloatArray:
    """A thousand places, on the panel and in its cutouts, none near another."""
    grid = np.stack(np.meshgrid(np.arange(50), np.arange(20)), axis=-1).reshape(-1, 2)
    jitter = np.random.default_rng(12).uniform(-0.2, 0.2, grid.shape)
    return (grid + 0.5 + jitter) * (WIDE / 50, HIGH / 20)


# closed forms ----------------------------------------------------------------------------------


def outside_rectangle(points: FloatArray) -> FloatArray:
    """Signed distance to the outline, positive inside."""
    away = np.abs(points - (WIDE / 2, HIGH / 2)) - (WIDE / 2 - CORNER, HIGH / 2 - CORNER)
    beyond = np.hypot(*np.maximum(away, 0).T)
    return CORNER - beyond - np.minimum(away.max(axis=1), 0)


def outside_circle(points: FloatArray, x: float, y: float, radius: float) -> FloatArray:
    """Signed distance to a round cutout, positive in the metal."""
    return np.hypot(*(points - (x, y)).T) - radius


def outside_slot(
    points: FloatArray, x: float, y: float, length: float, radius: float, turn: float
) -> FloatArray:
    """Signed distance to a slot, positive in the metal."""
    ahead = np.array([math.cos(turn), math.sin(turn)])
    along = (points - (x, y)) @ ahead
    foot = np.clip(along, -length / 2, length / 2)
    return np.hypot(*(points - (x, y) - foot[:, None] * ahead).T) - radius


def closed_forms(points: FloatArray) -> FloatArray:
    """(edges, n) signed distance [in] of each point to each edge, positive in the metal."""
    return np.array(
        [
            outside_rectangle(points),
            *(outside_circle(points, *cutout) for cutout in ROUND),
            *(outside_slot(points, *slot) for slot in SLOTS),
        ]
    )


# the drawing -----------------------------------------------------------------------------------


def draw_panel(points: FloatArray) -> Any:
    """Outline and slots as polylines with bulges, round cutouts and holes as circles."""
    doc = new_drawing()
    space = doc.modelspace()
    quarter = math.tan(math.pi / 8)
    c = CORNER
    corners = [
        (c, 0, 0.0), (WIDE - c, 0, quarter), (WIDE, c, 0.0), (WIDE, HIGH - c, quarter),
        (WIDE - c, HIGH, 0.0), (c, HIGH, quarter), (0, HIGH - c, 0.0), (0, c, quarter),
    ]  # fmt: skip
    dx, dy = OFFSET
    space.add_lwpolyline([(x + dx, y + dy, b) for x, y, b in corners], format="xyb", close=True)
    for x, y, length, radius, turn in SLOTS:
        u, v = math.cos(turn), math.sin(turn)
        ends = [(1, -1, 1.0), (1, 1, 0.0), (-1, 1, 1.0), (-1, -1, 0.0)]
        slot = [
            (
                x + along * u * length / 2 - side * v * radius + dx,
                y + along * v * length / 2 + side * u * radius + dy,
                bulge,
            )
            for along, side, bulge in ends
        ]
        space.add_lwpolyline(slot, format="xyb", close=True)
    for x, y, radius in ROUND:
        space.add_circle((x + dx, y + dy), radius)
    draw_circles(space, (points + OFFSET).tolist(), HOLE)
    return doc


@pytest.fixture(scope="module")
def points() -> FloatArray:
    return centres()


@pytest.fixture(scope="module")
def part(points: FloatArray, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The panel as `holeschedule audit --json` prints it."""
    path = save(draw_panel(points), tmp_path_factory.mktemp("panel"), "panel.dxf")
    ran = in_own_process(["audit", path, "--json"], capture_output=True)
    (found,) = Ran(ran.returncode, ran.stdout, ran.stderr).audit["parts"]
    return dict(found)


def column(part: dict[str, Any], key: str) -> FloatArray:
    return np.array([hole[key] for hole in part["holes"]])


@pytest.fixture(scope="module")
def order(part: dict[str, Any], points: FloatArray) -> NDArray[np.intp]:
    """For each hole printed which of the points it is."""
    printed = np.column_stack([column(part, "x"), column(part, "y")]) - OFFSET
    away, which = cKDTree(points).query(printed)
    assert away.max() < EXACT
    assert sorted(which.tolist()) == list(range(len(points)))
    return np.asarray(which)


# exact -----------------------------------------------------------------------------------------


def test_the_panel_has_a_thousand_holes_in_metal_and_in_every_cutout(
    part: dict[str, Any], points: FloatArray
) -> None:
    forms = closed_forms(points)
    assert len(part["holes"]) == 1000
    assert part["cutouts"] == len(ROUND) + len(SLOTS)
    assert all((form < -HOLE / 2).any() for form in forms[1:])
    assert {hole["edge"] for hole in part["holes"]} == {
        "outline",
        *(f"cutout {n}" for n in range(1, 6)),
    }


def test_every_edge_distance_is_that_of_the_closed_form(
    part: dict[str, Any], points: FloatArray, order: NDArray[np.intp]
) -> None:
    forms = closed_forms(points)[:, order]
    expected = np.where((forms > 0).all(axis=0), 1, -1) * np.abs(forms).min(axis=0)
    assert np.abs(column(part, "edge_distance") - expected).max() < EXACT


def test_every_edge_is_named_as_the_nearest_one(
    part: dict[str, Any], points: FloatArray, order: NDArray[np.intp]
) -> None:
    """Cutouts are numbered by the tool: each number stands for one closed form, and the same."""
    nearest = np.abs(closed_forms(points)[:, order]).argmin(axis=0)
    named = [hole["edge"] for hole in part["holes"]]
    assert len(set(zip(nearest.tolist(), named, strict=True))) == 1 + len(ROUND) + len(SLOTS)
    assert {named[i] for i in np.flatnonzero(nearest == 0)} == {"outline"}


def test_every_nearest_hole_is_that_of_the_k_d_tree(
    part: dict[str, Any], points: FloatArray, order: NDArray[np.intp]
) -> None:
    away, which = cKDTree(points).query(points, k=2)
    assert np.abs(column(part, "nearest_hole_distance") - away[order, 1]).max() < EXACT
    place = {hole["hole"]: int(order[i]) for i, hole in enumerate(part["holes"])}
    found = [place[hole["nearest_hole"]] for hole in part["holes"]]
    assert found == which[order, 1].tolist()


def test_the_area_within_the_outline_is_that_of_the_closed_form(part: dict[str, Any]) -> None:
    assert part["outline_area"] == pytest.approx(WIDE * HIGH - (4 - math.pi) * CORNER**2, rel=1e-12)


# on a grid -------------------------------------------------------------------------------------

DBU = 1e-5
"""Inches a database unit."""
CHORDS = 1200
SAG = 1e-5
"""Inches between so many chords and the largest circle, at most: 2 × (1 − cos(π / 1200))."""
COARSE = 6 * DBU + SAG
"""Centres are squares of 2 units, and everything is rounded to the grid."""


def grid(value: float) -> int:
    return round(value / DBU)


def marks(points: FloatArray) -> kdb.Region:
    """A square of two database units at each centre."""
    region = kdb.Region()
    for x, y in points.tolist():
        region.insert(kdb.Box(grid(x) - 1, grid(y) - 1, grid(x) + 1, grid(y) + 1))
    return region


def circle(x: float, y: float, radius: float) -> kdb.Region:
    angles = 2 * np.pi * np.arange(CHORDS) / CHORDS
    around = np.column_stack((x + radius * np.cos(angles), y + radius * np.sin(angles)))
    return kdb.Region(kdb.Polygon([kdb.Point(grid(a), grid(b)) for a, b in around.tolist()]))


def metal() -> kdb.Region:
    """The panel as klayout's polygons."""
    inner = kdb.Region(
        kdb.Box(grid(CORNER), grid(0), grid(WIDE - CORNER), grid(HIGH))
    ) + kdb.Region(kdb.Box(grid(0), grid(CORNER), grid(WIDE), grid(HIGH - CORNER)))
    for x in (CORNER, WIDE - CORNER):
        for y in (CORNER, HIGH - CORNER):
            inner += circle(x, y, CORNER)
    cutouts = kdb.Region()
    for cutout in ROUND:
        cutouts += circle(*cutout)
    for x, y, length, radius, turn in SLOTS:
        along = np.array([math.cos(turn), math.sin(turn)])
        aside = np.array([-along[1], along[0]]) * radius
        ends = [np.array([x, y]) + s * along * length / 2 for s in (-1, 1)]
        box = [ends[0] - aside, ends[1] - aside, ends[1] + aside, ends[0] + aside]
        cutouts += kdb.Region(kdb.Polygon([kdb.Point(grid(a), grid(b)) for a, b in box]))
        for end in ends:
            cutouts += circle(*end, radius)
    return inner.merged() - cutouts.merged()


def holes_in(pairs: kdb.EdgePairs, points: FloatArray) -> set[int]:
    """Which points the first edges of edge pairs belong to."""
    found = np.array([(p.first.p1.x * DBU, p.first.p1.y * DBU) for p in pairs.each()])
    away, which = cKDTree(points).query(found)
    assert away.max() < COARSE
    return set(which.tolist())


@pytest.mark.parametrize("limit", [0.1, 0.1875, 0.3])
def test_holes_too_near_an_edge_are_those_that_klayout_finds(
    part: dict[str, Any], points: FloatArray, order: NDArray[np.intp], limit: float
) -> None:
    e = np.empty(len(points))
    e[order] = column(part, "edge_distance")
    in_metal = np.flatnonzero(e > COARSE)
    pairs = marks(points[in_metal]).enclosed_check(
        metal(), grid(limit), metrics=kdb.Region.Euclidian
    )
    found = {int(in_metal[i]) for i in holes_in(pairs, points[in_metal])}
    sure = set(np.flatnonzero((e > COARSE) & (e < limit - COARSE)).tolist())
    possible = set(np.flatnonzero((e > COARSE) & (e < limit + COARSE)).tolist())
    assert sure
    assert sure <= found <= possible


@pytest.mark.parametrize("limit", [0.5, 0.55, 0.6])
def test_holes_too_near_each_other_are_those_that_klayout_finds(
    part: dict[str, Any], points: FloatArray, order: NDArray[np.intp], limit: float
) -> None:
    near = np.empty(len(points))
    near[order] = column(part, "nearest_hole_distance")
    pairs = marks(points).space_check(grid(limit), metrics=kdb.Region.Euclidian)
    both = kdb.EdgePairs([kdb.EdgePair(p.second, p.first) for p in pairs.each()])
    found = holes_in(pairs, points) | holes_in(both, points)
    sure = set(np.flatnonzero(near < limit - COARSE).tolist())
    possible = set(np.flatnonzero(near < limit + COARSE).tolist())
    assert sure
    assert sure <= found <= possible
