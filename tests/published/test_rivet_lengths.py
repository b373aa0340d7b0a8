"""Rivet lengths and designations against published answers.

[L1] FAA airframe knowledge-test question (secondary): two 0.032 sheets take MS20470AD-4-4.
[L2] FAA airframe practice question (secondary): two 0.040 sheets take a length of 1/4.
[L3] Unsigned aircraft rivet notes (secondary): two 0.040 skins take a 1/8 rivet, dash 4; their
     length is 0.267, from an allowance of 0.187.
[L4] EASA Part-66 practice question 33 (secondary): 0.032 and 0.064 take 0.096 + 1.5 D.
[L5] AC 43.13-1B par 4-58g(2)(a), p. 4-27 (read): for 0.032 sheet 3 × 0.032 = 0.096; 1/8 is chosen,
     5/32 would do.
[L6] FAA question 8142 (secondary): MS20426AD-6-5 is 3/16 by 5/16 over all.
[L7] Unsigned aircraft rivet notes (secondary): AN426DD3-5 is 100° flush, 2024, 3/32 by 5/16.
[L8] Practice question (secondary): AN426AD5-6 is 5/32 thick.
[L9] Part-number decoding page (secondary): MS20426AD4-5 is 1/8 by 0.3125, 2117, flush.
[TM] TM 10-7360-208-13&P par 5-3(2)(c) (read): the next length above the sum.
[AC] AC 43.13-1B par 4-57a(4), p. 4-16 (read): half sizes, written MS20470 AD4-3.5.
"""

import pytest

from holeschedule.audit.rules import load_rule_set
from holeschedule.fastener_tables import LengthRule, rivet_alloys, rivet_lengths
from holeschedule.joints.fasteners import RivetChoice, choose_rivet, parse_designation, pick_length
from holeschedule.joints.stack import Sheet, stack_at
from holeschedule.model import Head
from holeschedule.tables import RivetSize, rivet_of_dash, rivet_size, rivet_sizes

FAA = load_rule_set("faa")
NEAREST, ABOVE = LengthRule.NEAREST, LengthRule.NEXT_ABOVE


def choice(*sheets: float, rule: LengthRule = NEAREST, half_sizes: bool = False) -> RivetChoice:
    layers = [Sheet(f"sheet {place}", sheet) for place, sheet in enumerate(sheets)]
    stack = stack_at(layers, rivet_size("1/8"), Head.PROTRUDING)
    return choose_rivet(stack, FAA, rule=rule, half_sizes=half_sizes)


@pytest.mark.parametrize(
    ("sheets", "needed", "answer", "next_above"),
    [
        ((0.032, 0.032), 0.2515, "MS20470AD4-4", "MS20470AD4-5"),  # [L1]
        ((0.040, 0.040), 0.2675, "MS20470AD4-4", "MS20470AD4-5"),  # [L2], [L3]
    ],
)
def test_published_answers_come_out_by_the_nearest_length_and_not_by_the_next_above(
    sheets: tuple[float, float], needed: float, answer: str, next_above: str
) -> None:
    """[L1], [L2], [L3] against [TM]: the sources differ, so both are told."""
    found = choice(*sheets)
    assert found.needed == pytest.approx(needed, abs=1e-9)
    assert found.designation == answer
    assert found.alternative is not None
    assert str(found.alternative.designation) == next_above
    assert choice(*sheets, rule=ABOVE).designation == next_above


def test_the_length_of_the_notes_is_a_cut_off_sum() -> None:
    """[L3]: 0.267, since the notes take 0.187 for 0.1875."""
    found = choice(0.040, 0.040)
    assert found.needed == pytest.approx(0.267, abs=0.0006)
    assert found.dash_length == 4


def test_with_half_sizes_the_published_answer_would_not_come_out() -> None:
    """[L2] is why half sizes have to be asked for: 0.2675 is nearer to 9/32 than to 1/4."""
    assert choice(0.040, 0.040, half_sizes=True).designation == "MS20470AD4-4.5"
    assert choice(0.032, 0.032, half_sizes=True).designation == "MS20470AD4-4"


@pytest.mark.parametrize("rivet", rivet_sizes(), ids=lambda rivet: rivet.name)
def test_the_length_needed_is_grip_and_one_and_a_half_diameters(rivet: RivetSize) -> None:
    """[L4]."""
    layers = [Sheet("one", 0.032), Sheet("other", 0.064)]
    found = choose_rivet(stack_at(layers, rivet, Head.PROTRUDING), FAA)
    assert found.grip == pytest.approx(0.096, abs=1e-12)
    assert found.needed == pytest.approx(0.096 + 1.5 * rivet.dash / 32, abs=1e-12)


def test_where_the_sum_is_a_length_both_rules_agree() -> None:
    """[L1] and [TM] on the limit: 0.0625 + 0.1875 is 1/4 exactly."""
    for rule in LengthRule:
        found = choice(0.0305, 0.032, rule=rule)
        assert (found.designation, found.alternative) == ("MS20470AD4-4", None)
        assert choice(0.0306, 0.032, rule=rule).alternative is not None


def test_the_rivet_of_the_example_is_the_first_at_least_three_sheets_thick() -> None:
    """[L5]: 3/32 is just below 3 × 0.032."""
    fits = [rivet.name for rivet in rivet_sizes() if rivet.shank_diameter >= 3 * 0.032]
    assert fits[:2] == ["1/8", "5/32"]
    assert rivet_size("3/32").shank_diameter < 0.096


@pytest.mark.parametrize(
    ("written", "head", "diameter", "length", "alloy"),
    [
        ("MS20470AD-4-4", Head.PROTRUDING, "1/8", 1 / 4, "2117"),  # [L1]
        ("MS20426AD-6-5", Head.FLUSH, "3/16", 5 / 16, "2117"),  # [L6]
        ("AN426DD3-5", Head.FLUSH, "3/32", 5 / 16, "2024"),  # [L7]
        ("AN426AD5-6", Head.FLUSH, "5/32", 6 / 16, "2117"),  # [L8]
        ("MS20426AD4-5", Head.FLUSH, "1/8", 0.3125, "2117"),  # [L9]
        ("MS20470 AD4-3.5", Head.PROTRUDING, "1/8", 3.5 / 16, "2117"),  # [AC]
    ],
)
def test_designations_are_read_as_published(
    written: str, head: Head, diameter: str, length: float, alloy: str
) -> None:
    """[L1], [L6] to [L9], [AC]."""
    rivet = parse_designation(written)
    assert rivet.head is head
    assert rivet_of_dash(rivet.dash).name == diameter
    assert rivet.length == length
    assert rivet_alloys()[rivet.alloy].startswith(alloy)


def test_a_flush_length_is_over_all() -> None:
    """[L6]: the head is inside the grip, so head style does not change the length."""
    layers = [Sheet("one", 0.063), Sheet("other", 0.032)]
    rivet = rivet_size("1/8")
    flush, universal = (choose_rivet(stack_at(layers, rivet, head), FAA) for head in Head)
    assert flush.dash_length == universal.dash_length
    assert flush.needed == universal.needed


def test_half_sizes_are_half_a_sixteenth() -> None:
    """[AC]."""
    made = rivet_lengths(half_sizes=True)
    assert all(size.length == size.dash / 16 for size in made)
    assert [size.dash for size in made if size.is_half] == [n + 0.5 for n in range(2, 16)]
    found = pick_length(3.5 / 16, ABOVE, half_sizes=True)
    assert found is not None
    assert found.dash == 3.5
