"""The rivet schedule: counts, spares, weights, what is to buy."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holeschedule.audit.rules import load_rule_set
from holeschedule.errors import BuildError, TableError
from holeschedule.joints.fasteners import RivetChoice, choose_rivet, parse_designation
from holeschedule.joints.schedule import (
    Schedule,
    rivet_schedule,
    rivet_volume,
    rivet_weight,
    shopping_list,
)
from holeschedule.joints.stack import Sheet, stack_at
from holeschedule.model import Head
from holeschedule.tables import flush_head, rivet_size

FAA = load_rule_set("faa")


def choice(*sheets: float | None, rivet: str = "1/8", head: Head = Head.PROTRUDING) -> RivetChoice:
    layers = [Sheet(str(place), sheet) for place, sheet in enumerate(sheets)]
    return choose_rivet(stack_at(layers, rivet_size(rivet), head), FAA)


THIN, THICK = choice(0.032, 0.032), choice(0.032, 0.063)
FLUSH = choice(0.025, 0.025, rivet="3/32", head=Head.FLUSH)
UNKNOWN = choice(0.032, None)


def counts(schedule: Schedule) -> list[tuple[str, str, int]]:
    return [(row.joint, str(row.designation), row.count) for row in schedule.rows]


def test_rivets_are_counted_by_joint_and_kind() -> None:
    schedule = rivet_schedule({"J2": [THIN, THICK, THIN, FLUSH], "J1": [THIN]})
    assert counts(schedule) == [
        ("J2", "MS20426AD3-3", 1),
        ("J2", "MS20470AD4-4", 2),
        ("J2", "MS20470AD4-5", 1),
        ("J1", "MS20470AD4-4", 1),
    ]
    assert [(str(row.designation), row.count) for row in schedule.totals] == [
        ("MS20426AD3-3", 1),
        ("MS20470AD4-4", 3),
        ("MS20470AD4-5", 1),
    ]


@pytest.mark.parametrize(
    ("count", "percent", "spares"),
    [(10, None, 1), (11, None, 2), (1, None, 1), (9, 0, 0), (20, 5, 1), (21, 5, 2), (30, 10, 3)],
)
def test_spares_are_a_share_of_the_total_rounded_up(
    count: int, percent: float | None, spares: int
) -> None:
    # in two joints, so that it is the total that counts
    schedule = rivet_schedule({"J1": [THIN] * (count - 1), "J2": [THIN]}, spares=percent)
    (total,) = schedule.totals
    assert (total.count, total.spares, total.needed) == (count, spares, count + spares)
    assert schedule.spares == (10 if percent is None else percent)


@pytest.mark.parametrize("spares", [-1.0, math.nan, math.inf])
def test_a_share_of_spares_that_is_none_is_refused(spares: float) -> None:
    with pytest.raises(BuildError, match=r"^spares of .* percent are none; write a number from 0"):
        rivet_schedule({"J1": [THIN]}, spares=spares)


def test_what_the_rules_of_length_would_change_is_told_by_joint() -> None:
    schedule = rivet_schedule({"J1": [THIN, THICK, THIN], "J2": [THICK], "J3": [THIN]})
    assert [(r.joint, str(r.chosen), str(r.other), r.count) for r in schedule.differing] == [
        ("J1", "MS20470AD4-4", "MS20470AD4-5", 2),
        ("J3", "MS20470AD4-4", "MS20470AD4-5", 1),
    ]


def test_places_without_a_rivet_are_counted_apart() -> None:
    schedule = rivet_schedule({"J1": [THIN, UNKNOWN, UNKNOWN], "J2": [THIN]})
    assert schedule.undecided == (("J1", 2),)
    assert counts(schedule) == [("J1", "MS20470AD4-4", 1), ("J2", "MS20470AD4-4", 1)]


def test_without_joints_there_is_nothing_to_buy() -> None:
    schedule = rivet_schedule({})
    assert (schedule.rows, schedule.totals, schedule.weight) == ((), (), 0)
    assert shopping_list(schedule, {"MS20470AD4-4": 7}) == ()


# Stock -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stock", "there", "to_buy"),
    [
        ({}, 0, 22),
        ({"MS20470AD4-4": 21}, 21, 1),
        ({"MS20470AD4-4": 22}, 22, 0),
        ({"MS20470AD4-4": 23}, 23, 0),
        ({"ms20470ad-4-4": 10, "MS20470AD4-4": 2, "MS20470AD4-5": 90}, 12, 10),
        ({"AN470AD4-4": 22}, 0, 22),
    ],
)
def test_the_shopping_list_is_what_the_stock_leaves_open(
    stock: dict[str, int], there: int, to_buy: int
) -> None:
    (row,) = shopping_list(rivet_schedule({"J1": [THIN] * 20}), stock)
    assert (row.needed, row.stock, row.to_buy) == (22, there, to_buy)


def test_a_stock_that_is_no_rivet_is_refused() -> None:
    with pytest.raises(TableError, match=r"^'bolts' is not a rivet; write standard, alloy, dia"):
        shopping_list(rivet_schedule({"J1": [THIN]}), {"bolts": 3})


# Weight ----------------------------------------------------------------------------------------


def test_a_flush_rivet_is_a_cone_and_a_shank() -> None:
    head = flush_head(4)
    # in slices across the axis, the cone narrowing evenly from head to shank
    steps = 10_000
    volume = 0.0
    for step in range(steps):
        z = (step + 0.5) * 0.25 / steps
        wide = max(0.125, head.diameter - (head.diameter - 0.125) * z / head.height)
        volume += math.pi / 4 * wide**2 * 0.25 / steps
    assert rivet_volume(parse_designation("MS20426AD4-4")) == pytest.approx(volume, rel=1e-4)


def test_a_universal_rivet_is_a_cap_and_a_shank() -> None:
    whole = rivet_volume(parse_designation("MS20470AD4-4"))
    longer = rivet_volume(parse_designation("MS20470AD4-8"))
    assert whole is not None
    assert longer is not None
    shank = math.pi / 4 * 0.125**2 * 0.25
    assert longer - whole == pytest.approx(shank)
    cap = whole - shank
    # less than the cylinder about it, more than the cone in it
    cylinder = math.pi / 4 * 0.25**2 * 0.054
    assert cylinder / 3 < cap < cylinder


def test_the_weight_is_volume_times_density() -> None:
    rivet = parse_designation("MS20470AD4-4")
    volume = rivet_volume(rivet)
    assert volume is not None
    assert rivet_weight(rivet) == pytest.approx(volume * 0.0994)


@pytest.mark.parametrize("rivet", ["MS20470AD10-8", "MS20426AD12-8", "MS20470DD4-4"])
def test_a_rivet_whose_head_or_metal_is_not_in_the_tables_has_no_weight(rivet: str) -> None:
    assert rivet_weight(parse_designation(rivet)) is None


def test_a_schedule_weighs_as_much_as_its_rivets() -> None:
    schedule = rivet_schedule({"J1": [THIN] * 40, "J2": [FLUSH] * 3})
    each = [rivet_weight(parse_designation(d)) or 0 for d in ("MS20470AD4-4", "MS20426AD3-3")]
    assert schedule.weight == pytest.approx(40 * each[0] + 3 * each[1])
    assert [row.weight for row in schedule.totals] == pytest.approx([3 * each[1], 40 * each[0]])


def test_a_schedule_with_a_rivet_of_unknown_weight_has_none() -> None:
    heavy = choice(0.1, 0.1, rivet="5/16")
    assert rivet_schedule({"J1": [THIN, heavy]}).weight is None


@given(
    st.dictionaries(
        st.sampled_from(["J1", "J2", "J3"]),
        st.lists(st.sampled_from([THIN, THICK, FLUSH, UNKNOWN]), max_size=30),
    ),
    st.integers(min_value=0, max_value=100),
)
def test_every_place_is_counted_once(joints: dict[str, list[RivetChoice]], spares: int) -> None:
    schedule = rivet_schedule(joints, spares=spares)
    places = sum(len(choices) for choices in joints.values())
    counted = sum(row.count for row in schedule.rows)
    assert counted + sum(count for _, count in schedule.undecided) == places
    assert sum(row.count for row in schedule.totals) == counted
    for total in schedule.totals:
        share = total.count * spares / 100
        assert share - 1e-6 <= total.spares < share + 1
    for row in shopping_list(schedule, {"MS20470AD4-4": 12}):
        assert row.stock + row.to_buy >= row.needed
        assert row.to_buy in (0, row.needed - row.stock)
