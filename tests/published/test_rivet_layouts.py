"""Published layouts, drawn and audited: what fits by the source fits, and one step less does not.

[P1] FAA airframe knowledge-test question (as quoted on practice pages): a plate of 10 × 5 in with
     MS20470AD-4-6 in a single row round its edge, at the least edge distance and 4 D apart, takes
     56 rivets.
[P2] AC 43.13-1B par 4-58g(2)(c), p. 4-27: 1/8 rivets in a double row over 10 in, at the least
     spacing, are 40.
[P3] the same paragraph: 37 are needed, and two rows of 19 are put in, evenly over the 10 in.
[P4] structural-engineering article: a 1/8 rivet wants 0.25 in of edge distance, 0.50 in of pitch.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.cli.commands import Runner, runner
from tests.makers import Point, plate_drawing, row_of, save

D = 1 / 8
"""Nominal diameter of the rivets: dash 4."""
NUMBER_30 = 0.1285
EDGE = 2 * D
STEP = 1 / 64
"""A step less: the finest mark of a shop scale."""
EXACT = 1e-9


@pytest.fixture
def command(capsys: pytest.CaptureFixture[str]) -> Runner:
    return runner(capsys)


def audited(
    command: Runner, folder: Path, size: Point, holes: list[Point]
) -> tuple[int, dict[str, Any]]:
    """Exit status and the only part of a plate of `size` with `holes` for 1/8 rivets."""
    wide, high = size
    corners = [(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high)]
    path = save(plate_drawing(corners, holes, diameter=NUMBER_30), folder)
    ran = command("audit", path, "--json")
    (part,) = ran.audit["parts"]
    assert len(part["holes"]) == len(holes)
    return ran.status, part


def failing(part: dict[str, Any]) -> set[tuple[str, str]]:
    """Verdict and rule of every finding that fails."""
    told = {(f["verdict"], f["rule"]) for f in part["findings"]}
    return {(verdict, rule) for verdict, rule in told if verdict not in {"tight", "wide"}}


# round the edge --------------------------------------------------------------------------------


def round_the_edge(size: Point, edge: float, across: int, up: int) -> list[Point]:
    """One row round a plate: `across` and `up` pitches along its sides, a hole in each corner."""
    wide, high = (length - 2 * edge for length in size)
    level = [(edge + wide * i / across, y) for y in (edge, edge + high) for i in range(across + 1)]
    upright = [(x, edge + high * i / up) for x in (edge, edge + wide) for i in range(1, up)]
    return level + upright


PLATE = (10.0, 5.0)


def test_56_rivets_round_a_plate_at_the_least_edge_distance_and_4_d(
    command: Runner, tmp_path: Path
) -> None:
    """[P1]: 9.5 and 4.5 in of row in 19 and 9 pitches of 0.5 in."""
    holes = round_the_edge(PLATE, EDGE, 19, 9)
    assert len(holes) == 56
    status, part = audited(command, tmp_path, PLATE, holes)
    assert (status, failing(part)) == (0, set())
    for hole in part["holes"]:
        assert hole["rivet"] == "1/8"
        assert hole["edge_ratio"] == pytest.approx(2, abs=EXACT)
        assert hole["nearest_hole_distance"] == pytest.approx(4 * D, abs=EXACT)
        assert hole["verdict"] == "tight"  # on the limit: met, with nothing to spare


def test_round_a_plate_one_step_less_edge_distance_is_short(
    command: Runner, tmp_path: Path
) -> None:
    """[P1]: 2 D is the least there is."""
    status, part = audited(command, tmp_path, PLATE, round_the_edge(PLATE, EDGE - STEP, 19, 9))
    assert (status, failing(part)) == (1, {("short", "edge.min.protruding")})
    assert {hole["verdict"] for hole in part["holes"]} == {"short"}


@pytest.mark.parametrize(
    ("across", "up", "fits"), [(25, 12, True), (26, 12, False), (25, 13, False)]
)
def test_round_a_plate_the_pitch_is_caught_at_the_first_rivet_too_many(
    command: Runner, tmp_path: Path, across: int, up: int, fits: bool
) -> None:
    """[P1]: 9.5 in hold 25 pitches of 3 D, and 4.5 in hold 12; one more is closer than 3 D."""
    assert fits == (9.5 / across >= 3 * D and 4.5 / up >= 3 * D)
    status, part = audited(command, tmp_path, PLATE, round_the_edge(PLATE, EDGE, across, up))
    assert status == (0 if fits else 1)
    assert failing(part) <= {("close", "pitch.min.one-row"), ("close", "spacing.min")}


# two rows --------------------------------------------------------------------------------------

STRIP = (10.0, 2.0)


def two_rows(per_row: int, between: float = 3 * D, pitch: float | None = None) -> list[Point]:
    """Two rows across the strip, evenly from one edge distance to the other."""
    step = (STRIP[0] - 2 * EDGE) / (per_row - 1) if pitch is None else pitch
    return [*row_of(EDGE, 0.5, step, per_row), *row_of(EDGE, 0.5 + between, step, per_row)]


def test_40_rivets_in_two_rows_over_10_inches_are_at_the_least_spacing(
    command: Runner, tmp_path: Path
) -> None:
    """[P2]: 2 × 20 at 4 D."""
    status, part = audited(command, tmp_path, STRIP, two_rows(20))
    assert (status, failing(part)) == (0, set())
    gaps = [f for f in part["findings"] if f["rule"] == "pitch.min.two-rows"]
    assert len(gaps) == 2 * 19  # every pitch is on the limit
    for gap in gaps:
        assert (gap["measured"], gap["limit"]) == pytest.approx((4 * D, 4 * D), abs=EXACT)


def test_41_rivets_in_two_rows_over_10_inches_are_too_many(command: Runner, tmp_path: Path) -> None:
    """[P2]: one rivet more in a row of 20 brings its pitch below 4 D."""
    holes = [*two_rows(21)[:21], *two_rows(20)[20:]]
    status, part = audited(command, tmp_path, STRIP, holes)
    assert (status, failing(part)) == (1, {("close", "pitch.min.two-rows")})


def test_one_row_alone_may_be_closer_than_one_of_two(command: Runner, tmp_path: Path) -> None:
    """[P2]: 4 D is for two rows; the 21 rivets of a single row meet 3 D."""
    status, part = audited(command, tmp_path, STRIP, two_rows(21)[:21])
    assert (status, failing(part)) == (0, set())


def test_two_rows_of_19_evenly_over_10_inches_fit(command: Runner, tmp_path: Path) -> None:
    """[P3]: within the edge distances, a pitch of 9.5 / 18 in."""
    status, part = audited(command, tmp_path, STRIP, two_rows(19))
    assert (status, failing(part)) == (0, set())
    for hole in part["holes"]:
        assert hole["nearest_hole_distance"] == pytest.approx(3 * D, abs=EXACT)


def test_two_rows_of_19_from_end_to_end_of_10_inches_fit(command: Runner, tmp_path: Path) -> None:
    """[P3]: with rivets at both ends of the 10 in the pitch is 10 / 18 in, more than 4 D."""
    pitch = 10 / 18
    holes = two_rows(19, between=0.75, pitch=pitch)
    status, part = audited(command, tmp_path, (10 + 2 * EDGE, 2.0), holes)
    assert (status, failing(part)) == (0, set())
    assert {"tight", "ok"} >= {hole["verdict"] for hole in part["holes"]}
    for hole in part["holes"]:
        assert hole["nearest_hole_distance"] == pytest.approx(pitch, abs=EXACT)


# one rivet -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("edge", "fits"), [(0.25, True), (0.25 - STEP, False)])
def test_a_rivet_of_one_eighth_wants_a_quarter_inch_of_edge(
    command: Runner, tmp_path: Path, edge: float, fits: bool
) -> None:
    """[P4]."""
    status, part = audited(command, tmp_path, STRIP, row_of(0.5, edge, 0.5, 10))
    assert status == (0 if fits else 1)
    assert failing(part) == (set() if fits else {("short", "edge.min.protruding")})


def test_a_rivet_of_one_eighth_fits_half_an_inch_of_pitch(command: Runner, tmp_path: Path) -> None:
    """[P4]: 4 D, usual in one row and the least in two."""
    for rows in (1, 2):
        holes = [p for r in range(rows) for p in row_of(0.5, 0.3 + 0.5 * r, 0.5, 10)]
        status, part = audited(command, tmp_path, STRIP, holes)
        assert (status, failing(part)) == (0, set())
