"""Which hole of a revised drawing is which recorded hole, and what new ones are called."""

import math
import re
from pathlib import Path

import pytest

from holeschedule.errors import GeometryError, SelectionError
from holeschedule.holes import identity
from holeschedule.holes.alignment import Alignment
from holeschedule.holes.identity import (
    SAME_PLACE,
    ChangeKind,
    HoleChange,
    KnownHole,
    Revision,
    match_revision,
)
from holeschedule.holes.pairing import MOST_MOVED
from holeschedule.model import Hole, Row

Point = tuple[float, float]

NUMBER_40 = 0.098
LEVEL = [(0.75 * place, 0.0) for place in range(10)]
"""A row of ten at a pitch of 0.75 in."""
UPPER = [(0.75 * place, 2.0) for place in range(10)]
ODD = [(0.4, 0.7), (5.3, 1.1), (2.9, 3.7)]
"""Single holes that fit no pattern."""


def hole(point: Point, diameter: float = NUMBER_40, label: str = "") -> Hole:
    return Hole(label, *point, diameter, "0", "circle")


def draw(*rows: list[Point], singles: list[Point] = (), diameter: float = NUMBER_40):
    """Holes of rows A, B, … and of no row, and the rows."""
    holes: list[Hole] = []
    found = []
    for letter, points in zip("ABCDEFGH", rows, strict=False):
        places = tuple(range(len(holes), len(holes) + len(points)))
        holes += [hole(point, diameter, f"{letter}{n}") for n, point in enumerate(points, 1)]
        found.append(Row(letter, places, 0.75))
    holes += [hole(point, diameter, f"X{n}") for n, point in enumerate(singles, 1)]
    return holes, found


def record(holes: list[Hole]) -> list[KnownHole]:
    return [KnownHole(h.label, h.x, h.y, h.diameter) for h in holes]


def revise(before, after, retired=(), **options) -> Revision:
    (old, _), (new, rows) = before, after
    return match_revision(record(old), retired, new, rows, **options)


def labels(revision: Revision, kind: ChangeKind) -> list[str]:
    return [change.label for change in revision.of_kind(kind)]


def the_change(revision: Revision, kind: ChangeKind) -> HoleChange:
    (change,) = revision.of_kind(kind)
    return change


def codes(revision: Revision) -> list[str]:
    return [notice.code for notice in revision.notices]


def moved(points: list[Point], dx: float, dy: float, turn: float = 0.0) -> list[Point]:
    factor = complex(math.cos(math.radians(turn)), math.sin(math.radians(turn)))
    placed = [complex(x, y) * factor + complex(dx, dy) for x, y in points]
    return [(place.real, place.imag) for place in placed]


# Kept, moved, resized, new, retired ------------------------------------------------------------


def test_an_unchanged_drawing_keeps_every_hole_without_a_word() -> None:
    revision = revise(draw(LEVEL, singles=ODD), draw(LEVEL, singles=ODD))
    assert len(revision.of_kind(ChangeKind.KEPT)) == len(revision.changes) == 13
    assert revision.notices == ()
    assert (revision.shift, revision.turn) == ((0.0, 0.0), 0.0)


def test_the_first_drawing_of_a_part_is_labelled_as_drawn() -> None:
    holes, rows = draw(LEVEL, UPPER, singles=[(0.4, 0.7), (5.3, 1.1), (2.9, 3.7)])
    revision = match_revision([], (), holes, rows)
    assert revision.labels == tuple(h.label for h in holes)
    assert {change.kind for change in revision.changes} == {ChangeKind.NEW}
    assert revision.notices == ()


def test_without_holes_on_either_side_nothing_changes() -> None:
    assert match_revision([], (), [], []).changes == ()


def test_a_drawing_that_lost_all_holes_retires_them() -> None:
    revision = revise(draw(LEVEL), draw())
    assert labels(revision, ChangeKind.RETIRED) == [f"A{n}" for n in range(1, 11)]


@pytest.mark.parametrize(
    ("off", "kind"),
    [
        (0.0, ChangeKind.KEPT),
        (0.004, ChangeKind.KEPT),
        (SAME_PLACE, ChangeKind.KEPT),
        (SAME_PLACE + 1e-6, ChangeKind.MOVED),
        (MOST_MOVED, ChangeKind.MOVED),
        (MOST_MOVED + 1e-6, ChangeKind.RETIRED),
    ],
)
def test_a_hole_is_kept_then_moved_then_another_the_farther_it_lies(
    off: float, kind: ChangeKind
) -> None:
    after = draw([(x, off if place == 4 else 0.0) for place, (x, _) in enumerate(LEVEL)])
    revision = revise(draw(LEVEL), after)
    (change,) = [change for change in revision.changes if change.label == "A5"]
    assert change.kind is kind
    if kind is ChangeKind.RETIRED:
        assert change.after is None
        assert labels(revision, ChangeKind.NEW) == ["A11"]
    else:
        assert change.distance == pytest.approx(off)
        assert change.after is not None
        assert (change.after.label, change.after.y) == ("A5", off)
        assert change.before == KnownHole("A5", 3.0, 0.0, NUMBER_40)


@pytest.mark.parametrize(("off", "kind"), [(0.15, "moved"), (0.15 + 1e-6, "retired")])
def test_a_hole_moves_by_half_the_pitch_at_most(off: float, kind: str) -> None:
    close = [(0.3 * place, 0.0) for place in range(10)]
    after = draw([(x, off if place == 4 else 0.0) for place, (x, _) in enumerate(close)])
    revision = revise(draw(close), after)
    assert [c.kind for c in revision.changes if c.label == "A5"] == [kind]


def test_of_two_new_holes_near_an_old_place_neither_is_guessed() -> None:
    twins = [point for point in LEVEL if point != (3.0, 0.0)]
    after = draw(twins, singles=[(3.0, 0.1), (3.0, -0.2)])
    revision = revise(draw(LEVEL), after)
    assert labels(revision, ChangeKind.RETIRED) == ["A5"]
    assert labels(revision, ChangeKind.NEW) == ["X1", "X2"]


def test_of_two_vanished_holes_near_a_new_one_neither_is_guessed() -> None:
    before = draw(LEVEL, singles=[(1.0, 3.0), (1.0, 3.4)])
    revision = revise(before, draw(LEVEL, singles=[(1.0, 3.2)]))
    assert labels(revision, ChangeKind.RETIRED) == ["X1", "X2"]
    assert labels(revision, ChangeKind.NEW) == ["X3"]


def test_a_hole_of_another_size_close_by_is_another_hole() -> None:
    holes, rows = draw(LEVEL)
    holes[4] = hole((3.0, 0.1), 0.191)
    revision = revise(draw(LEVEL), (holes, rows))
    assert labels(revision, ChangeKind.RETIRED) == ["A5"]
    assert labels(revision, ChangeKind.NEW) == ["A11"]


@pytest.mark.parametrize(
    ("diameter", "kind"),
    [
        (NUMBER_40 + 0.0015, ChangeKind.KEPT),
        (NUMBER_40 + 0.0016, ChangeKind.RESIZED),
        (0.1285, ChangeKind.RESIZED),
    ],
)
def test_a_hole_in_its_place_keeps_its_label_whatever_its_size(
    diameter: float, kind: ChangeKind
) -> None:
    holes, rows = draw(LEVEL)
    holes[4] = hole(LEVEL[4], diameter)
    revision = revise(draw(LEVEL), (holes, rows))
    (change,) = [change for change in revision.changes if change.label == "A5"]
    assert change.kind is kind
    assert change.after is not None
    assert (change.before.diameter, change.after.diameter) == (NUMBER_40, diameter)


def test_of_two_holes_in_one_place_the_one_of_the_old_size_is_the_old_one() -> None:
    holes, rows = draw(LEVEL)
    holes.append(hole((3.001, 0.0), 0.191))
    holes[4] = hole((3.003, 0.0))
    revision = revise(draw(LEVEL), (holes, rows))
    assert revision.labels[4] == "A5"
    assert labels(revision, ChangeKind.NEW) == ["X1"]


def test_changes_come_in_the_order_of_the_labels_each_hole_once() -> None:
    after = draw(LEVEL[:3] + LEVEL[4:], singles=[(9.0, 9.0)])
    revision = revise(draw(LEVEL), after)
    told = [change.label for change in revision.changes]
    assert told == [f"A{n}" for n in range(1, 11)] + ["X1"]


def test_a_tolerance_can_be_stated() -> None:
    after = draw([(x, 0.02) if x == 3.0 else (x, y) for x, y in LEVEL])
    kept = revise(draw(LEVEL), after, tolerance=0.03).of_kind(ChangeKind.KEPT)
    assert len(kept) == 10


# The labels of new holes -----------------------------------------------------------------------


def test_a_hole_added_to_a_row_takes_the_next_number_wherever_it_stands() -> None:
    after = draw([(0.0, 0.0), (0.375, 0.0), *LEVEL[1:]])
    assert revise(draw(LEVEL), after).labels[:3] == ("A1", "A11", "A2")


def test_a_label_that_a_hole_once_had_is_not_given_again() -> None:
    longer = [*LEVEL, (7.5, 0.0), (8.25, 0.0)]
    revision = revise(draw(LEVEL), draw(longer), retired=["A11", "A14"])
    assert labels(revision, ChangeKind.NEW) == ["A15", "A16"]


def test_a_hole_that_vanishes_and_another_that_comes_do_not_share_a_label() -> None:
    after = draw([*LEVEL[:-1], (7.5, 0.0)])
    revision = revise(draw(LEVEL), after)
    assert labels(revision, ChangeKind.RETIRED) == ["A10"]
    assert labels(revision, ChangeKind.NEW) == ["A11"]


def test_a_new_row_takes_the_next_letter_that_was_never_used() -> None:
    below = [(x, -1.0) for x, _ in LEVEL]
    revision = revise(draw(LEVEL, singles=ODD), draw(below, LEVEL, singles=ODD), retired=["B3"])
    assert labels(revision, ChangeKind.NEW) == [f"C{n}" for n in range(1, 11)]


def test_two_new_rows_take_two_letters_in_their_order() -> None:
    below, above = [(x, -1.0) for x, _ in LEVEL], [(x, 1.0) for x, _ in LEVEL]
    revision = revise(draw(LEVEL, singles=ODD), draw(below, LEVEL, above, singles=ODD))
    assert revision.labels[0] == "B1"
    assert revision.labels[20] == "C1"


def test_in_rows_that_have_grown_together_a_new_hole_takes_the_row_of_its_neighbour() -> None:
    left, right = LEVEL[:4], LEVEL[6:]
    revision = revise(draw(left, right), draw(LEVEL))
    assert revision.labels == ("A1", "A2", "A3", "A4", "A5", "B5", "B1", "B2", "B3", "B4")


def test_between_two_rows_the_row_before_goes_first() -> None:
    revision = revise(draw(LEVEL[:4], LEVEL[5:]), draw(LEVEL))
    assert revision.labels[4] == "A5"


def test_in_a_closed_row_the_last_hole_stands_beside_the_first() -> None:
    ring = [(3 * math.cos(a), 3 * math.sin(a)) for a in [math.tau * k / 12 for k in range(12)]]
    before = [hole(point, label=f"A{n}") for n, point in enumerate(ring[:3], 1)]
    before += [hole(point, label=f"B{n}") for n, point in enumerate(ring[3:9], 1)]
    row = Row("A", tuple(range(12)), 1.55, closed=True)
    revision = match_revision(record(before), (), [hole(point) for point in ring], [row])
    assert revision.labels[9:] == ("B7", "B8", "A4")


def test_single_holes_that_become_a_row_keep_their_labels_and_new_ones_start_a_row() -> None:
    before = draw(singles=[(0.0, 0.0), (1.5, 0.0), (3.0, 0.0)])
    revision = revise(before, draw(LEVEL[:5]))
    assert revision.labels == ("X1", "A1", "X2", "A2", "X3")


def test_new_single_holes_are_numbered_from_the_bottom_left() -> None:
    after = draw(LEVEL, singles=[(5.0, 5.0), (6.0, 1.0), (1.0, 1.0)])
    revision = revise(draw(LEVEL, singles=[(3.3, 9.0)]), after)
    assert revision.labels[10:] == ("X4", "X3", "X2")


# The zero of the drawing has moved -------------------------------------------------------------


def test_a_shifted_drawing_keeps_every_hole_and_says_by_how_much() -> None:
    after = draw(moved(LEVEL, 1.3, -0.4), singles=moved(ODD, 1.3, -0.4))
    revision = revise(draw(LEVEL, singles=ODD), after)
    assert len(revision.of_kind(ChangeKind.KEPT)) == 13
    assert revision.shift == pytest.approx((1.3, -0.4))
    assert revision.turn == 0
    (notice,) = revision.notices
    assert notice.code == "revision.zero-moved"
    assert "shifted by (1.300, -0.400) in" in notice.text
    assert "13 of 13 recorded holes" in notice.text


def test_a_turned_drawing_keeps_every_hole_and_says_by_how_much() -> None:
    after = draw(moved(LEVEL, 2.0, 1.0, 90.0), singles=moved(ODD, 2.0, 1.0, 90.0))
    revision = revise(draw(LEVEL, singles=ODD), after)
    assert len(revision.of_kind(ChangeKind.KEPT)) == 13
    assert revision.turn == pytest.approx(90.0)
    assert revision.shift == pytest.approx((2.0, 1.0))
    assert codes(revision) == ["revision.zero-moved"]
    assert "turned by 90.000° about its zero" in revision.notices[0].text


@pytest.mark.parametrize("turn", [180.0, -90.0, 37.5, 0.3])
def test_any_turn_is_found(turn: float) -> None:
    after = draw(moved(LEVEL, -3.0, 8.0, turn), singles=moved(ODD, -3.0, 8.0, turn))
    revision = revise(draw(LEVEL, singles=ODD), after)
    assert len(revision.of_kind(ChangeKind.KEPT)) == 13
    assert revision.turn == pytest.approx(turn)


def test_a_shift_just_over_the_tolerance_is_one_of_the_zero_and_not_of_every_hole() -> None:
    after = draw(moved(LEVEL, 0.006, 0.0), singles=moved(ODD, 0.006, 0.0))
    revision = revise(draw(LEVEL, singles=ODD), after)
    assert len(revision.of_kind(ChangeKind.KEPT)) == 13
    assert revision.shift == pytest.approx((0.006, 0.0))


def test_a_shift_within_the_tolerance_is_none() -> None:
    after = draw(moved(LEVEL, 0.004, 0.0), singles=moved(ODD, 0.004, 0.0))
    revision = revise(draw(LEVEL, singles=ODD), after)
    assert revision.shift == (0.0, 0.0)
    assert [change.distance for change in revision.changes] == pytest.approx([0.004] * 13)


def test_a_hole_that_moved_in_a_shifted_drawing_has_moved_by_its_own_distance() -> None:
    points = moved(LEVEL, 1.0, 1.0)
    points[4] = (points[4][0], points[4][1] + 0.1)
    revision = revise(draw(LEVEL, singles=ODD), draw(points, singles=moved(ODD, 1.0, 1.0)))
    change = the_change(revision, ChangeKind.MOVED)
    assert change.label == "A5"
    assert change.distance == pytest.approx(0.1)


def test_places_of_a_shifted_and_turned_drawing_go_back_to_the_recorded_axes() -> None:
    after = draw(moved(LEVEL, 2.0, 1.0, 37.5), singles=moved(ODD, 2.0, 1.0, 37.5))
    revision = revise(draw(LEVEL, singles=ODD), after)
    back = [revision.on_recorded_axes(h.x, h.y) for h in after[0]]
    for there, here in zip(back, [*LEVEL, *ODD], strict=True):
        assert there == pytest.approx(here, abs=1e-9)


def test_one_row_that_moved_is_not_taken_for_the_zero_though_it_has_most_holes() -> None:
    before = draw(LEVEL, UPPER[:6], singles=ODD[:1])
    after = draw(moved(LEVEL, 0.0, 0.1), UPPER[:6], singles=ODD[:1])
    revision = revise(before, after)
    assert revision.shift == (0.0, 0.0)
    assert labels(revision, ChangeKind.MOVED) == [f"A{n}" for n in range(1, 11)]
    assert "revision.ambiguous" in codes(revision)


def test_a_mirror_image_is_not_matched_but_recognised() -> None:
    points = [*LEVEL[:4], (0.0, 1.0), (0.0, 2.1), (1.9, 2.4)]
    after = draw(singles=[(-x, y) for x, y in points])
    revision = revise(draw(singles=points), after)
    assert codes(revision)[-1] == "revision.mirrored"
    assert "the drawing of the other hand" in revision.notices[-1].text


def test_the_drawing_of_another_part_is_not_matched_and_says_so() -> None:
    other = [(0.31, 4.4), (9.1, 0.2), (4.87, 2.2), (6.1, 8.3), (1.17, 6.6), (7.7, 5.9)]
    revision = revise(draw(singles=[*ODD, (7.0, 7.0), (8.9, 3.3)]), draw(singles=other))
    assert len(revision.of_kind(ChangeKind.RETIRED)) == 5
    assert labels(revision, ChangeKind.NEW) == [f"X{n}" for n in range(6, 12)]
    assert codes(revision) == ["revision.few-kept"]
    assert revision.notices[0].text.startswith("only 0 of 5 recorded holes")


def test_one_hole_elsewhere_proves_no_shift() -> None:
    revision = revise(draw(singles=[(0.0, 0.0)]), draw(singles=[(3.0, 3.0)]))
    assert labels(revision, ChangeKind.RETIRED) == ["X1"]
    assert labels(revision, ChangeKind.NEW) == ["X2"]


def test_two_holes_at_their_old_distance_prove_a_shift() -> None:
    revision = revise(draw(singles=[(0, 0), (1, 0)]), draw(singles=[(3, 3), (4, 3)]))
    assert len(revision.of_kind(ChangeKind.KEPT)) == 2
    assert revision.shift == pytest.approx((3, 3))


# Patterns that fit themselves ------------------------------------------------------------------


def test_a_row_that_lost_an_end_is_read_as_unmoved_and_the_other_reading_is_told() -> None:
    revision = revise(draw(LEVEL), draw(LEVEL[1:]))
    assert labels(revision, ChangeKind.RETIRED) == ["A1"]
    assert revision.shift == (0.0, 0.0)
    (notice,) = revision.notices
    assert notice.code == "revision.ambiguous"
    assert re.match(
        r"9 of 10 recorded holes .* unmoved, and 9 with it shifted by \(0\.75", notice.text
    )
    assert Alignment(0.75, 0.0) in revision.rivals


def test_a_row_shifted_by_its_pitch_is_read_as_unmoved_and_told() -> None:
    revision = revise(draw(LEVEL), draw(moved(LEVEL, 0.75, 0.0)))
    assert revision.shift == (0.0, 0.0)
    assert codes(revision) == ["revision.ambiguous"]
    assert "and 10 with it shifted by (0.750, 0.000) in" in revision.notices[0].text


def test_a_field_shifted_by_its_pitch_is_read_as_shifted() -> None:
    field = [[(0.75 * i, 0.75 * j) for i in range(8)] for j in range(5)]
    after = [moved(points, 0.75, 0.0) for points in field]
    revision = revise(draw(*field), draw(*after))
    assert len(revision.of_kind(ChangeKind.KEPT)) == 40
    assert revision.shift == pytest.approx((0.75, 0.0))
    assert "and 35 as drawn" in revision.notices[0].text


def test_a_row_turned_upright_says_that_it_could_be_the_other_way_up() -> None:
    revision = revise(draw(LEVEL), draw([(y, x) for x, y in LEVEL]))
    assert len(revision.of_kind(ChangeKind.KEPT)) == 10
    assert abs(revision.turn) == pytest.approx(90)
    assert codes(revision) == ["revision.zero-moved", "revision.ambiguous"]
    assert [rival.turn for rival in revision.rivals] == [pytest.approx(-revision.turn)]


def test_of_two_ways_round_the_one_that_keeps_the_sizes_is_taken() -> None:
    holes, rows = draw(LEVEL)
    holes[0] = hole(LEVEL[0], 0.191, "A1")
    stood = [hole((h.y, h.x), h.diameter) for h in holes]
    revision = revise((holes, rows), (stood, rows))
    assert {change.kind for change in revision.changes} == {ChangeKind.KEPT}
    assert codes(revision) == ["revision.zero-moved"]


def test_the_builder_can_settle_how_the_drawing_lies() -> None:
    revision = revise(draw(LEVEL), draw(LEVEL[1:]), alignment=Alignment(0.75, 0.0))
    assert labels(revision, ChangeKind.RETIRED) == ["A10"]
    assert revision.shift == (0.75, 0.0)
    assert codes(revision) == ["revision.zero-moved"]


# What is refused -------------------------------------------------------------------------------


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, 1e300])
def test_a_coordinate_that_is_none_is_refused_with_the_hole(bad: float) -> None:
    before = [KnownHole("A1", 0.0, bad, NUMBER_40)]
    with pytest.raises(
        GeometryError, match=r"hole A1 at \(0, .*\) in, diameter 0.098 in: not finite"
    ):
        match_revision(before, (), [hole((0.0, 0.0))], [])
    with pytest.raises(GeometryError, match=r"hole B7 at .*Correct it in the drawing"):
        match_revision([], (), [hole((0.0, 0.0), bad, "B7")], [])


@pytest.mark.parametrize("tolerance", [0.0, -1.0, math.nan, math.inf])
def test_a_tolerance_has_to_be_above_0(tolerance: float) -> None:
    with pytest.raises(GeometryError, match=r"a tolerance of .* in is none"):
        match_revision([], (), [], [], tolerance)


@pytest.mark.parametrize("place", [-1, 1])
def test_rows_have_to_be_of_the_drawing(place: int) -> None:
    with pytest.raises(GeometryError, match="of a drawing with 1 holes"):
        match_revision([], (), [hole((0.0, 0.0))], [Row("A", (place,), 0.75)])


def test_a_label_has_to_be_one() -> None:
    with pytest.raises(SelectionError, match="'seven' is not a label"):
        match_revision([], ["seven"], [hole((0.0, 0.0))], [])


# The documentation -----------------------------------------------------------------------------


def test_every_notice_is_documented() -> None:
    source = Path(identity.__file__).read_text(encoding="utf-8")
    given_out = set(re.findall(r'"(revision\.[a-z-]+)"', source))
    docs = Path(__file__).parents[2] / "docs" / "build-folder.md"
    assert set(re.findall(r"^\| `(revision\.[a-z-]+)`", docs.read_text("utf-8"), re.MULTILINE)) == (
        given_out
    )
    assert len(given_out) == 4
