"""Identity of holes: what holds for any part and any revision of it."""

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from holeschedule.holes.identity import ChangeKind, KnownHole, Revision, match_revision
from holeschedule.model import Hole, Row

GRID = 0.31
"""Inches between the places that holes are put in; they stand apart, and at no pitch."""
SIZES = (0.098, 0.1285, 0.191)

places = st.lists(
    st.tuples(st.integers(0, 40), st.integers(0, 25), st.sampled_from(SIZES)),
    min_size=0,
    max_size=30,
    unique_by=lambda place: place[:2],
)


def jitter(column: int, line: int) -> tuple[float, float]:
    """A place near a point of the grid that depends on the point alone, so that no row arises."""
    turn = math.sin(12.9898 * column + 78.233 * line) * 43758.5453
    return 0.1 * (turn % 1), 0.1 * (turn * 7 % 1)


def hole(place: tuple[int, int, float]) -> Hole:
    column, line, diameter = place
    dx, dy = jitter(column, line)
    return Hole("", GRID * column + dx, GRID * line + dy, diameter, "0", "circle")


def rows_of(holes: list[Hole], seed: int) -> list[Row]:
    """Rows of any holes, none in two: identity asks for no straight line."""
    free = sorted(range(len(holes)), key=lambda place: (7919 * place + 613 * seed) % 1009)
    found = []
    for step, letter in enumerate("ABC", seed):
        size = step * 5 % 6
        row, free = free[:size], free[size:]
        if row:
            found.append(Row(letter, tuple(row), 1.0, closed=step % 3 == 0))
    return found


def record(revision: Revision) -> list[KnownHole]:
    return [
        KnownHole(c.label, *revision.on_recorded_axes(c.after.x, c.after.y), c.after.diameter)
        for c in revision.changes
        if c.after is not None
    ]


def placed(holes: list[Hole], dx: float, dy: float, turn: float) -> list[Hole]:
    factor = complex(math.cos(math.radians(turn)), math.sin(math.radians(turn)))
    found = []
    for h in holes:
        at = complex(h.x, h.y) * factor + complex(dx, dy)
        found.append(Hole("", at.real, at.imag, h.diameter, "0", "circle"))
    return found


def first(holes: list[Hole], seed: int) -> tuple[list[KnownHole], Revision]:
    revision = match_revision([], (), holes, rows_of(holes, seed))
    return record(revision), revision


@settings(deadline=None, max_examples=25)
@given(places, places, st.integers(0, 99))
def test_every_hole_is_told_once_and_no_label_is_given_twice(before, after, seed) -> None:
    known, _ = first([hole(p) for p in before], seed)
    new = [hole(p) for p in after]
    retired = ["A3", "B11", "X40"]
    revision = match_revision(known, retired, new, rows_of(new, seed + 1))

    assert len(set(revision.labels)) == len(new)
    told = [change.label for change in revision.changes]
    assert len(set(told)) == len(told)
    old = {h.label: h for h in known}
    assert {c.label for c in revision.changes if c.before} == set(old)
    assert sorted(c.label for c in revision.changes if c.after) == sorted(revision.labels)
    fresh = {c.label for c in revision.of_kind(ChangeKind.NEW)}
    assert not fresh & (set(old) | set(retired))
    for change in revision.changes:
        assert (change.before is None) == (change.kind is ChangeKind.NEW)
        assert (change.after is None) == (change.kind is ChangeKind.RETIRED)


@settings(deadline=None, max_examples=25)
@given(places, places, st.randoms(use_true_random=False))
def test_the_order_of_holes_and_rows_changes_nothing(before, after, chooser) -> None:
    known, _ = first([hole(p) for p in before], 5)
    new = [hole(p) for p in after]
    rows = rows_of(new, 7)
    plain = match_revision(known, ["A9"], new, rows)

    order = list(range(len(new)))
    chooser.shuffle(order)
    back = {place: number for number, place in enumerate(order)}
    moved_rows = [
        Row(row.letter, tuple(back[p] for p in row.places), row.pitch, closed=row.closed)
        for row in chooser.sample(rows, len(rows))
    ]
    shuffled = match_revision(
        chooser.sample(known, len(known)), ["A9"], [new[p] for p in order], moved_rows
    )
    assert shuffled.changes == plain.changes
    assert shuffled.notices == plain.notices
    assert [shuffled.labels[back[place]] for place in range(len(new))] == list(plain.labels)


@settings(deadline=None, max_examples=25)
@given(
    places.filter(lambda found: len(found) >= 8),
    st.floats(-50, 50),
    st.floats(-50, 50),
    st.one_of(st.just(0.0), st.sampled_from([90.0, 180.0, -90.0]), st.floats(-179, 179)),
    st.data(),
)
def test_a_part_drawn_elsewhere_with_holes_lost_and_won_keeps_the_rest(
    before, dx, dy, turn, data
) -> None:
    assume(math.hypot(dx, dy) > 0.5 and (turn == 0 or abs(turn) > 1))
    known, start = first([hole(p) for p in before], 3)
    kept = data.draw(
        st.lists(st.sampled_from(range(len(before))), min_size=6, unique=True), label="kept"
    )
    extra = [(60 + k, 3 + 7 * k, SIZES[0]) for k in range(data.draw(st.integers(0, 4)))]
    old = [hole(before[place]) for place in kept]
    revision = match_revision(known, (), placed(old + [hole(p) for p in extra], dx, dy, turn), [])

    assert revision.labels[: len(kept)] == tuple(start.labels[place] for place in kept)
    assert len(revision.of_kind(ChangeKind.KEPT)) == len(kept)
    assert revision.turn == pytest.approx(turn, abs=1e-4)
    for change in revision.of_kind(ChangeKind.KEPT):
        assert change.distance < 1e-4


@settings(deadline=None, max_examples=40)
@given(places, st.floats(-0.0035, 0.0035), st.floats(-0.0035, 0.0035), st.sampled_from([0, 1e6]))
def test_holes_off_by_less_than_the_tolerance_are_kept_however_far_out(before, dx, dy, far) -> None:
    old = [placed([hole(p)], far, -far, 0.0)[0] for p in before]
    known, start = first(old, 11)
    revision = match_revision(known, (), placed(old, dx, dy, 0.0), [])
    assert {change.kind for change in revision.changes} <= {ChangeKind.KEPT}
    assert revision.labels == start.labels
    assert revision.notices == ()


@settings(deadline=None, max_examples=25)
@given(st.lists(st.tuples(places, st.integers(0, 99)), min_size=1, max_size=4))
def test_through_any_chain_of_revisions_a_label_means_one_hole(chain) -> None:
    known: list[KnownHole] = []
    given_out: set[str] = set()
    retired: set[str] = set()
    for drawn, seed in chain:
        new = [hole(p) for p in drawn]
        revision = match_revision(known, retired, new, rows_of(new, seed))
        fresh = {change.label for change in revision.of_kind(ChangeKind.NEW)}
        assert not fresh & given_out
        given_out |= fresh
        retired |= {change.label for change in revision.of_kind(ChangeKind.RETIRED)}
        known = record(revision)
        assert len(known) == len(new)
        assert not retired & {h.label for h in known}
