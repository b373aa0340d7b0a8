"""Selections: every form that is documented, what each picks, and what a slip is answered."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holeschedule.errors import SelectionError
from holeschedule.selection import (
    HoleSelection,
    JointSelection,
    Pick,
    check_part_name,
    label_key,
    parse_selection,
    pick_holes,
    pick_parts,
    write_selections,
)

LABELS = {
    "FL-101": ["A1", "A2", "C3", "C4", "C5", "C7", "C8", "C9", "C10", "D1", "X1", "X2"],
    "GU-1": ["A1", "A2"],
}
COPIES = {"GU-1": 4}
FORMS = "write FL-101, FL-101:C, FL-101:C3-C9, FL-101:C7, FL-101#2:C7, J2 or J2:4-9"


def picked(text):
    return [
        f"{p.part}#{p.copy}:{p.label}" for p in pick_holes(parse_selection(text), LABELS, COPIES)
    ]


def holes(part, copy, *labels):
    return [f"{part}#{copy}:{label}" for label in labels]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("FL-101", ("FL-101", None, None, None)),
        ("FL-101:C", ("FL-101", None, "C", None)),
        ("FL-101:C3-C9", ("FL-101", None, "C", (3, 9))),
        ("FL-101:C3-9", ("FL-101", None, "C", (3, 9))),
        ("FL-101:C3–C9", ("FL-101", None, "C", (3, 9))),
        ("FL-101:C7", ("FL-101", None, "C", (7, 7))),
        ("fl-101:c07", ("fl-101", None, "C", (7, 7))),
        ("FL-101#2:C7", ("FL-101", (2, 2), "C", (7, 7))),
        ("FL-101#1-3", ("FL-101", (1, 3), None, None)),
        ("FL-101:X1", ("FL-101", None, "X", (1, 1))),
        ("FL-101:AA12", ("FL-101", None, "AA", (12, 12))),
        ("rib.3/left+2_b", ("rib.3/left+2_b", None, None, None)),
        ("7:A1", ("7", None, "A", (1, 1))),
    ],
)
def test_every_form_of_holes_is_read(text, expected):
    (found,) = parse_selection(text)
    assert found == HoleSelection(*expected, text, 1)


@pytest.mark.parametrize(
    ("text", "expected"),
    [("J2", ("J2", None)), ("j2:4-9", ("J2", (4, 9))), ("J12:4", ("J12", (4, 4)))],
)
def test_joints_are_a_kind_of_their_own(text, expected):
    (found,) = parse_selection(text)
    assert found == JointSelection(*expected, text, 1)


def test_a_part_that_only_begins_like_a_joint_is_a_part():
    assert isinstance(parse_selection("J2-left")[0], HoleSelection)


def test_lists_are_parted_by_commas_and_spaces_and_each_piece_knows_where_it_stands():
    found = parse_selection(" FL-101:C3-C9,D1 , X  GU-1 J2:1,4-5")
    assert [(piece.text, piece.at) for piece in found] == [
        ("FL-101:C3-C9", 2),
        ("D1", 15),
        ("X", 20),
        ("GU-1", 23),
        ("J2:1", 28),
        ("4-5", 33),
    ]
    assert [piece.part for piece in found[:3]] == ["FL-101"] * 3
    assert found[5] == JointSelection("J2", (4, 5), "4-5", 33)


def test_after_a_comma_the_part_and_copy_are_carried_on_but_not_after_a_space():
    carried, spaced = parse_selection("GU-1#2:A1,A2")[1], parse_selection("GU-1#2:A1 A2")[1]
    assert (carried.part, carried.copies, carried.row) == ("GU-1", (2, 2), "A")
    assert (spaced.part, spaced.row) == ("A2", None)


def test_a_part_after_a_comma_is_told_from_a_hole():
    assert [p.part for p in parse_selection("FL-101,GU-1")] == ["FL-101", "GU-1"]
    assert [p.part for p in parse_selection("FL-101:C,GU-1:A")] == ["FL-101", "GU-1"]
    assert parse_selection("FL-101,C7")[1].part == "C7"


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "the selection is empty"),
        (" , ", "the selection is empty"),
        (":C7", "selection ':C7', character 1: ':C7' names no part or joint"),
        ("A1 -FL", "selection 'A1 -FL', character 4: '-FL' names no part or joint"),
        ("FL-101:", "selection 'FL-101:', character 1: '' is no row, hole or range of holes"),
        ("FL-101:7", "character 1: '7' is no row, hole or range of holes"),
        ("FL-101:C7x", "'C7x' is no row, hole or range of holes"),
        ("FL-101:C-D", "'C-D' is no row, hole or range of holes"),
        ("FL-101:C3-", "'C3-' is no row, hole or range of holes"),
        ("FL-101:C3-C5-C7", "'C3-C5-C7' is no row, hole or range of holes"),
        ("FL-101:ABCD1", "'ABCD1' is no row, hole or range of holes"),
        ("FL-101:C1234567", "'C1234567' is no row, hole or range of holes"),
        ("FL-101:C³", "'C³' is no row, hole or range of holes"),
        ("FL-101:C3-D5", "'C3-D5' runs from one row into another; give each row its own range"),
        ("FL-101:C9-C3", "the range runs backwards, from 9 to 3"),
        ("FL-101:C0", "place 0 is not there; the first is 1"),
        ("FL-101#0:C1", "copy 0 is not there; the first is 1"),
        ("FL-101#x:C1", "'x' is not a copy number or a range of them"),
        ("FL-101#:C1", "'' is not a copy number or a range of them"),
        ("J2:", "'' is not a place number or a range of them"),
        ("J2:4-x", "'4-x' is not a place number or a range of them"),
    ],
)
def test_a_slip_is_answered_with_its_place_and_the_forms(text, what):
    with pytest.raises(SelectionError, match=re.escape(what)) as caught:
        parse_selection(text)
    assert str(caught.value).endswith(f"; {FORMS}.")


def test_a_part_takes_in_its_holes_in_the_order_of_rows_and_places():
    assert picked("FL-101") == holes("FL-101", 1, *LABELS["FL-101"])


@pytest.mark.parametrize(
    ("text", "labels"),
    [
        ("FL-101:c", ["C3", "C4", "C5", "C7", "C8", "C9", "C10"]),
        ("FL-101:C5-C9", ["C5", "C7", "C8", "C9"]),
        ("fl-101:x", ["X1", "X2"]),
        ("FL-101:D,C10,D1", ["D1", "C10"]),
    ],
)
def test_rows_and_ranges_take_in_what_is_there_once(text, labels):
    assert picked(text) == holes("FL-101", 1, *labels)


def test_without_a_copy_every_copy_is_meant():
    assert picked("GU-1:A2") == [f"GU-1#{copy}:A2" for copy in (1, 2, 3, 4)]
    assert picked("GU-1#2-3:A2") == ["GU-1#2:A2", "GU-1#3:A2"]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("FL-9:C", "selection 'FL-9:C': there is no part FL-9; the parts are GU-1, FL-101."),
        ("FL-101:B", "selection 'FL-101:B': FL-101 has no row B; the rows are A, C, D, X."),
        (
            "FL-101:C3-C11",
            "selection 'FL-101:C3-C11': FL-101 has no hole C11; row C has C3-C5, C7-C10.",
        ),
        ("FL-101:D2", "selection 'FL-101:D2': FL-101 has no hole D2; row D has D1."),
        ("FL-101#2", "selection 'FL-101#2': FL-101 has no copy 2; there is one copy."),
        ("GU-1#5:A1", "selection 'GU-1#5:A1': GU-1 has no copy 5; there are copies 1 to 4."),
    ],
)
def test_what_is_not_there_is_answered_with_what_is(text, message):
    with pytest.raises(SelectionError) as caught:
        picked(text)
    assert str(caught.value) == message


def test_without_any_part_the_answer_says_so_and_a_long_list_is_cut():
    with pytest.raises(SelectionError, match=r"there is no part A; there are no parts yet\."):
        pick_holes(parse_selection("A"), {}, {})
    many = {f"P-{number:02}": ["A1"] for number in range(1, 20)}
    with pytest.raises(SelectionError, match=r"P-11, P-12 and 7 more\.$"):
        pick_holes(parse_selection("A"), many, {})


def test_whole_parts_are_picked_copy_by_copy():
    picks = pick_parts(parse_selection("gu-1#3-4 FL-101 GU-1#4"), LABELS, COPIES)
    assert picks == (Pick("GU-1", 3), Pick("GU-1", 4), Pick("FL-101", 1))
    message = "selection 'GU-1:A': names holes, where a whole part is meant; write GU-1 or GU-1#1."
    with pytest.raises(SelectionError, match=re.escape(message)):
        pick_parts(parse_selection("GU-1:A"), LABELS, COPIES)


@pytest.mark.parametrize("name", ["FL-101", "7", "rib.3", "A/B", "naïve", "x+", "a_"])
def test_plain_names_are_names_of_parts(name):
    assert check_part_name(name) == name


@pytest.mark.parametrize("name", ["", "FL 101", "a:b", "a#1", "a,b", "-a", "a-", ".", "a\n", "_a"])
def test_a_name_that_a_selection_cannot_say_is_refused(name):
    with pytest.raises(SelectionError, match=r"is not a name for a part; use letters, digits"):
        check_part_name(name)


def test_a_name_that_reads_as_a_joint_is_refused():
    with pytest.raises(SelectionError, match=r"^'j7' reads as a joint; a part needs a name such"):
        check_part_name("j7")


def test_labels_are_in_the_order_of_the_shop():
    labels = ["AA1", "C10", "C9", "B1", "X1", "Z2"]
    assert sorted(labels, key=label_key) == ["B1", "C9", "C10", "X1", "Z2", "AA1"]


@pytest.mark.parametrize("label", ["", "C", "7", "C0", "C7a", "ABCD1", "C-7", "É1"])
def test_what_is_no_label_is_refused(label):
    with pytest.raises(SelectionError, match=r"is not a label of a hole; write C7, AA12 or X1\.$"):
        label_key(label)


@pytest.mark.parametrize(
    ("chosen", "written"),
    [
        (["C3", "C4", "C5"], "FL-101:C3-C5"),
        (["C5", "C7"], "FL-101:C5-C7"),
        (["C3", "C5", "C10", "D1"], "FL-101:C3,C5,C10,D"),
        (["X2", "X1"], "FL-101:X"),
        (LABELS["FL-101"], "FL-101"),
        (["A2"], "FL-101:A2"),
    ],
)
def test_picks_are_written_short(chosen, written):
    picks = [Pick("FL-101", 1, label) for label in chosen]
    assert write_selections(picks, LABELS, COPIES) == (written,)


def test_copies_with_the_same_holes_are_written_together():
    picks = [Pick("GU-1", copy, "A1") for copy in (1, 2, 4)] + [Pick("GU-1", 3, "A2")]
    assert write_selections(picks, LABELS, COPIES) == ("GU-1#1-2:A1", "GU-1#3:A2", "GU-1#4:A1")
    every = [Pick("GU-1", copy, "A1") for copy in (1, 2, 3, 4)]
    assert write_selections(every, LABELS, COPIES) == ("GU-1:A1",)
    assert write_selections([Pick("GU-1", 2)], LABELS, COPIES) == ("GU-1#2",)


@st.composite
def picks_of_builds(draw):
    rows = st.sampled_from(["A", "B", "X", "AA"])
    label = st.builds(lambda row, place: f"{row}{place}", rows, st.integers(1, 14))
    labels = {
        part: sorted(draw(st.sets(label, min_size=1, max_size=25)), key=label_key)
        for part in ("FL-101", "rib.3")
    }
    copies = {part: draw(st.integers(1, 5)) for part in labels}
    every = [
        Pick(part, copy, name)
        for part in labels
        for copy in range(1, copies[part] + 1)
        for name in labels[part]
    ]
    return labels, copies, draw(st.sets(st.sampled_from(every), min_size=1))


@given(picks_of_builds())
def test_what_is_written_reads_back_as_exactly_the_picks(build):
    labels, copies, picks = build
    written = " ".join(write_selections(picks, labels, copies))
    found = pick_holes(parse_selection(written), labels, copies)
    assert set(found) == picks
    assert len(found) == len(picks)


@given(st.text(alphabet="AaCJXx19:#-–,. \n0é", max_size=25))
def test_any_text_is_a_selection_or_a_clear_refusal(text):
    refusal, found = "", ()
    try:
        found = parse_selection(text)
    except SelectionError as error:
        refusal = str(error)
    assert bool(found) is not bool(refusal)
    assert not refusal or ("\n" not in refusal and refusal.endswith(f"{FORMS}."))
    for piece in found:
        assert text[piece.at - 1 :].startswith(piece.text)
