"""Moves of a drawing: forward, back, and how they are found among many holes."""

import math

import numpy as np
import pytest

from holeschedule.holes.alignment import (
    MOST_ANSWERS,
    UNMOVED,
    Alignment,
    count_kept,
    find_shifts,
    find_turns,
)
from holeschedule.holes.pairing import Spots

TOLERANCE = 0.005


def spots(points) -> Spots:
    at = np.sort_complex(np.asarray(points, dtype=complex))
    return Spots(at, np.full(len(at), 0.098))


def field(across: int, up: int, pitch: float = 0.75):
    return spots([pitch * complex(i, j) for i in range(across) for j in range(up)])


def scattered(count: int, seed: int = 1):
    rng = np.random.default_rng(seed)
    return spots(rng.uniform(0, 4 * math.sqrt(count), count) + 1j * rng.uniform(0, 9, count))


def test_a_move_turns_about_zero_and_then_shifts() -> None:
    moved = Alignment(10.0, 1.0, 90.0).apply(np.array([2 + 1j]))
    assert moved[0] == 9 + 3j


@pytest.mark.parametrize("move", [UNMOVED, Alignment(3.0, -2.0), Alignment(3.0, -2.0, 123.4)])
def test_a_move_undone_leads_back(move: Alignment) -> None:
    points = np.array([0j, 1 + 2j, -7.5 + 0.25j])
    assert move.undo(move.apply(points)) == pytest.approx(points)
    assert move.inverse().apply(move.apply(points)) == pytest.approx(points)


@pytest.mark.parametrize("turn", [0.0, 90.0, -90.0, 180.0])
def test_quarter_turns_are_exact(turn: float) -> None:
    there = Alignment(0.0, 0.0, turn).apply(np.array([3 + 1j]))[0]
    assert there == {0.0: 3 + 1j, 90.0: -1 + 3j, -90.0: 1 - 3j, 180.0: -3 - 1j}[turn]


def test_turned_half_round_and_back_is_180_degrees_either_way() -> None:
    assert Alignment(0.0, 0.0, 180.0).inverse().turn == 180.0


@pytest.mark.parametrize("find", [find_shifts, find_turns])
def test_nothing_is_found_where_there_are_no_holes(find) -> None:
    assert find(spots([]), field(3, 3), TOLERANCE) == []
    assert find(field(3, 3), spots([]), TOLERANCE) == []


def test_one_hole_can_be_shifted_onto_another_but_tells_no_turn() -> None:
    one, other = spots([1 + 1j]), spots([4 + 5j])
    (answer,) = find_shifts(one, other, TOLERANCE)
    assert (answer.move.dx, answer.move.dy, answer.kept) == (3.0, 4.0, 1)
    assert find_turns(one, other, TOLERANCE) == []


def test_holes_all_in_one_place_count_as_the_one_that_can_be_met() -> None:
    heap = spots([2 + 2j] * 30)
    assert find_shifts(heap, field(4, 4), TOLERANCE)[0].kept == 1
    assert find_turns(heap, field(4, 4), TOLERANCE) == []


def test_answers_are_few_and_the_best_comes_first() -> None:
    holes = field(12, 9)
    answers = find_shifts(holes, holes, TOLERANCE)
    assert len(answers) == MOST_ANSWERS
    assert [answer.kept for answer in answers] == sorted(
        (answer.kept for answer in answers), reverse=True
    )
    assert (answers[0].kept, answers[0].move.size) == (108, (0.0, 0.0))


def test_a_field_fits_itself_in_four_ways_and_all_are_found() -> None:
    holes = field(8, 8)
    whole = [a for a in find_turns(holes, holes, TOLERANCE) if a.kept == 64]
    assert sorted(round(abs(a.move.turn)) for a in whole) == [0, 90, 90, 180]


@pytest.mark.parametrize("count", [40, 1000, 3000])
@pytest.mark.parametrize("turn", [0.0, 61.7])
def test_a_move_is_found_though_half_the_holes_vanish_and_as_many_are_new(
    count: int, turn: float
) -> None:
    holes = scattered(count)
    move = Alignment(3.1, -2.2, turn)
    left = move.apply(holes.at)[::2]
    new = spots([*left, *(scattered(count // 2, 2).at + 0.5)])
    best = (find_turns if turn else find_shifts)(holes, new, TOLERANCE)[0]
    assert best.kept >= count // 2
    assert best.move.turn == pytest.approx(turn, abs=1e-6)
    assert (best.move.dx, best.move.dy) == pytest.approx((3.1, -2.2), abs=1e-6)


def test_a_large_field_with_gaps_is_not_found_a_pitch_away() -> None:
    holes = field(60, 40)
    move = Alignment(0.75, 0.0, 30.0)
    gone = np.arange(len(holes)) % 7 != 3
    best = find_turns(holes, spots(move.apply(holes.at)[gone]), TOLERANCE)[0]
    assert best.kept == np.count_nonzero(gone)


def test_a_move_found_from_inexact_places_is_the_mean_of_them() -> None:
    holes = scattered(400)
    rng = np.random.default_rng(3)
    noise = rng.uniform(-0.002, 0.002, (2, 400))
    new = spots(Alignment(1.0, 2.0, 15.0).apply(holes.at) + noise[0] + 1j * noise[1])
    best = find_turns(holes, new, TOLERANCE)[0]
    assert best.kept == 400
    assert best.move.turn == pytest.approx(15.0, abs=0.003)


def test_holes_are_counted_by_place_and_by_size() -> None:
    known, new = spots([0, 1, 2, 3]), spots([0, 1.004, 2.006])
    new.diameters[0] = 0.191
    answer = count_kept(known, new, UNMOVED, TOLERANCE)
    assert (answer.kept, answer.same_size) == (2, 1)
