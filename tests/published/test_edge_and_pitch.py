"""Edge distance and pitch against publications.

[1] AC 43.13-1B, par 4-58g(2)(c), p. 4-27: 1/8 rivets in two rows over 10 in, at the least spacing,
    are 40; 37 are needed, and 38 are put in two rows of 19.
[2] FAA airframe knowledge-test question: a plate of 10 × 5 in with MS20470AD-4-6 in one row round
    its edge, at the least edge distance and 4 D apart, takes 56 rivets.
[3] Army aviation subcourse AL0992, "Rivet Spacing and Edge Distance": pitch from 3 D to 10 D; edge
    distance at least 2.5 D for flush and 2 D for other heads, never more than 4 D.
[4] TM 10-5410-229-13&P, par 5-6(3)(b): edge distance 2 D, rivets 3 D, rows 2.5 D apart at least.
[5] NAVEDTRA 14018 ch. 13, "Rivet spacing": never less than 3 D, seldom more than 8 D.
[6] MIL-R-47196A, as quoted in a discussion note: 0.156 in for 3/32 universal heads.
[7] TM 9-2320-303-24-2, WP 0289, rivet-pattern figure: 4 D in two rows, 3 D in three or more.
"""

import pytest

from holeschedule.audit.rules import Rows, Sense, load_rule_set
from holeschedule.model import Head, Quantity
from holeschedule.tables import rivet_size


def limit(
    name: str,
    quantity: Quantity,
    sense: Sense,
    *,
    rivet: str = "1/8",
    head: Head = Head.PROTRUDING,
    rows: Rows = Rows.ONE,
) -> float:
    """The limit [in] of set `name` for a rivet."""
    size = rivet_size(rivet)
    rule = load_rule_set(name).rule_for(quantity, sense, head=head, rows=rows, dash=size.dash)
    assert rule is not None
    return rule.limit_for(size.shank_diameter)


EDGE, PITCH = Quantity.EDGE_DISTANCE, Quantity.PITCH


def test_forty_rivets_in_two_rows_over_ten_inches() -> None:
    """[1]: as the circular counts them, 10 in over the pitch, twice."""
    pitch = limit("faa", PITCH, Sense.MIN, rows=Rows.TWO)
    assert 2 * 10 / pitch == 40


def test_two_rows_of_nineteen_over_ten_inches_are_neither_close_nor_wide() -> None:
    """[1]: 18 pitches between the end rivets, whose edge distance takes some of the 10 in."""
    edge = limit("faa", EDGE, Sense.MIN)
    pitch = (10 - 2 * edge) / 18
    assert limit("faa", PITCH, Sense.MIN, rows=Rows.TWO) <= pitch
    assert pitch <= limit("faa", PITCH, Sense.MAX, rows=Rows.TWO)


def test_fiftysix_rivets_round_a_plate() -> None:
    """[2]: the row is a rectangle, one edge distance inside the plate on every side."""
    edge = limit("faa", EDGE, Sense.MIN)
    shank = rivet_size("1/8").shank_diameter
    row = 2 * (10 - 2 * edge) + 2 * (5 - 2 * edge)
    assert row / (4 * shank) == 56
    assert limit("faa", PITCH, Sense.MIN) <= 4 * shank <= limit("faa", PITCH, Sense.MAX)


@pytest.mark.parametrize("rivet", ["3/32", "1/8", "5/32", "3/16", "1/4"])
def test_the_bounds_of_the_army_subcourse(rivet: str) -> None:
    """[3]."""
    shank = rivet_size(rivet).shank_diameter
    assert limit("faa", PITCH, Sense.MIN, rivet=rivet) == 3 * shank
    assert limit("faa", PITCH, Sense.MAX, rivet=rivet) == 10 * shank
    assert limit("faa", EDGE, Sense.MIN, rivet=rivet, head=Head.FLUSH) == 2.5 * shank
    assert limit("faa", EDGE, Sense.MIN, rivet=rivet, head=Head.PROTRUDING) == 2 * shank
    assert limit("faa", EDGE, Sense.MAX, rivet=rivet) == 4 * shank


@pytest.mark.parametrize(
    ("quantity", "diameters"),
    [(EDGE, 2), (Quantity.SPACING, 3), (Quantity.TRANSVERSE_PITCH, 2.5)],
)
def test_the_bounds_of_the_army_manual(quantity: Quantity, diameters: float) -> None:
    """[4]."""
    assert limit("faa", quantity, Sense.MIN) == diameters * 0.125


@pytest.mark.parametrize("rows", list(Rows))
def test_the_bounds_of_the_navy_manual(rows: Rows) -> None:
    """[5]."""
    assert limit("navedtra", PITCH, Sense.MIN, rows=rows) == 3 * 0.125
    assert limit("navedtra", PITCH, Sense.MAX, rows=rows) == 8 * 0.125


def test_the_edge_distance_of_the_specification() -> None:
    """[6]: a sixtyfourth more than 1.5 D, to the thousandth."""
    assert limit("mil-r-47196a", EDGE, Sense.MIN, rivet="3/32") == 0.156
    assert pytest.approx(1.5 * 3 / 32 + 1 / 64, abs=0.0005) == 0.156


@pytest.mark.parametrize(("rows", "diameters"), [(Rows.TWO, 4), (Rows.THREE_OR_MORE, 3)])
def test_the_pitch_of_the_rivet_pattern_figure(rows: Rows, diameters: float) -> None:
    """[7]."""
    assert limit("faa", PITCH, Sense.MIN, rows=rows) == diameters * 0.125
