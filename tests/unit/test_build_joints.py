"""Joints in build.toml: every key read, every mistake one line; written by command."""

import math
import tomllib

import pytest

from holeschedule.build.edit import add_joint, add_part
from holeschedule.build.intent import parse_intent, read_intent
from holeschedule.build.joints import parse_pairs
from holeschedule.build.start import create_build
from holeschedule.errors import BuildError, SelectionError
from holeschedule.fastener_tables import LengthRule
from holeschedule.model import Head
from holeschedule.operations import Treatment

PARTS = """units = "in"

[[part]]
id = "SKIN"
drawing = "skin.dxf"

[[part]]
id = "RIB"
drawing = "rib.dxf"
quantity = 3
"""
START = """
[[joint]]
id = "J1"
{joint}
[[joint.layer]]
part = "SKIN"
{first}
[[joint.layer]]
{second}
"""
RIB = 'part = "RIB#2"'
BY = '\nby = "A1=A1, A9=A9"'


def joint(of_joint="", first="", second=RIB + BY):
    text = PARTS + START.format(joint=of_joint, first=first, second=second)
    return parse_intent(text, "build.toml").joints[0]


def refusal(of_joint="", first="", second=RIB + BY):
    with pytest.raises(BuildError) as caught:
        joint(of_joint, first, second)
    return str(caught.value)


def test_a_joint_says_no_more_than_its_parts():
    found = joint()
    assert (found.id, found.rivet, found.head, found.length) == ("J1", None, Head.PROTRUDING, None)
    assert [(layer.part, layer.copy) for layer in found.layers] == [("SKIN", 1), ("RIB", 2)]
    assert found.layers[0].takes_in("C7")


def test_every_key_is_read():
    found = joint(
        'title = "chine"\nrivet = "3/32"\nhead = "flush"\nshop_head = "flush"\n'
        'length = "next above"',
        'holes = "A, C3-C9"',
        'part = "rib#2"\nholes = "B"\nby = "A1=B9, a9=b1"\nflip = true\nturn = 90\n'
        'treatment = "countersink"\ntrimmed = true',
    )
    assert (found.title, found.rivet) == ("chine", "3/32")
    assert (found.head, found.shop_head, found.length) == (
        Head.FLUSH,
        Head.FLUSH,
        LengthRule.NEXT_ABOVE,
    )
    first, second = found.layers
    assert [first.takes_in(label) for label in ("A1", "C3", "C10", "X1")] == [1, 1, 0, 0]
    assert second.by == (("A1", "B9"), ("A9", "B1"))
    assert (second.flip, second.trimmed, second.treatment) == (True, True, Treatment.COUNTERSINK)
    assert second.turn == pytest.approx(math.pi / 2)


@pytest.mark.parametrize(
    ("of_joint", "first", "second", "said"),
    [
        ('colour = "red"', "", RIB + BY, "build.toml, line 14: the key 'colour' is not known"),
        ('rivet = "9/9"', "", RIB + BY, "build.toml, line 14: rivet: "),
        ('length = "long"', "", RIB + BY, "length is 'long'; choose from nearest, next above"),
        ('head = "round"', "", RIB + BY, "head is 'round'; choose from flush, protruding"),
        ("", 'holes = "C9-C3"', RIB + BY, "holes is 'C9-C3'; write rows and holes of SKIN"),
        ("", 'holes = "C, RIB:A"', RIB + BY, "holes is 'C, RIB:A'; write rows and holes of SKIN"),
        ("", 'by = "A1=A1"', RIB + BY, "place a layer on the first; that has none of them"),
        ("", "", 'part = "RAIL"', "there is no part 'RAIL'; choose from RIB, SKIN"),
        ("", "", 'part = "RIB"', "there are 3 of RIB; say which one lies here: RIB#1"),
        ("", "", 'part = "RIB#4"', "part is 'RIB#4'; RIB has copies 1 to 3"),
        ("", "", 'part = "SKIN"', "SKIN is two layers of it; one piece lies there once"),
        ("", "", RIB + '\nby = "A1"', "by: 'A1' is no pair of holes; write them as A1=C1, A9=C9"),
        ("", "", RIB, "how RIB lies on SKIN is not stated; write by"),
        ("", "", RIB + BY + '\nshift = "0,0"', "RIB has both by and shift"),
        ("", "", RIB + '\nshift = "1"', "shift is '1'; write two lengths"),
        ("", "", RIB + BY + '\nturn = "up"', "turn is 'up'; it has to be degrees from -360 to 360"),
        ("", "", RIB + BY + "\nturn = nan", "turn is nan; it has to be degrees from -360 to 360"),
        ("", "", RIB + BY + '\nflip = "yes"', "flip is 'yes'; it has to be true or false"),
    ],
)
def test_a_mistake_is_one_line(of_joint, first, second, said):
    message = refusal(of_joint, first, second)
    assert said in message
    assert message.startswith("build.toml, line ")
    assert "\n" not in message


def test_a_part_without_holes_is_placed_by_its_drawing():
    found = joint("", "", RIB + '\nshift = "-0.5, 12.7 mm"\nturn = 90')
    assert found.layers[1].shift == pytest.approx((-0.5, 0.5))


def test_a_joint_of_one_layer_is_none():
    text = PARTS + '\n[[joint]]\nid = "J1"\n[[joint.layer]]\npart = "SKIN"\n'
    with pytest.raises(BuildError, match="J1 has 1 layers; a joint has 2 to 8"):
        parse_intent(text, "build.toml")


@pytest.mark.parametrize("name", ["J0", "K1", "J", "chine"])
def test_a_joint_is_called_by_its_number(name):
    text = PARTS + START.format(joint="", first="", second=RIB + BY).replace("J1", name)
    with pytest.raises(BuildError, match="a joint is called J1, J2, J3"):
        parse_intent(text, "build.toml")


def test_two_joints_of_one_name_are_refused():
    text = PARTS + START.format(joint="", first="", second=RIB + BY) * 2
    with pytest.raises(BuildError, match="there is a joint 'J1' above"):
        parse_intent(text, "build.toml")


def test_pairs_of_holes_are_read_in_any_case_and_refused_when_half():
    assert parse_pairs(" a1 = c9 ,B2=D4") == (("A1", "C9"), ("B2", "D4"))
    with pytest.raises(SelectionError, match="'A1=' is no pair of holes"):
        parse_pairs("A1=")


def test_stock_and_spares_are_read():
    build = parse_intent("spares = 5\n[stock]\nms20470ad3-4 = 250\n", "build.toml")
    assert (dict(build.stock), build.spares) == ({"MS20470AD3-4": 250}, 5)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("spares = -1", "line 1: spares is -1; it has to be percent, from 0 to 100"),
        ("spares = true", "line 1: spares is true; it has to be percent"),
        ("stock = 5", "line 1: stock is a table"),
        ("[stock]\nMS20470AD3-4 = 1.5", "line 2: MS20470AD3-4 is 1.5; it has to be a whole number"),
    ],
)
def test_what_is_no_stock_is_refused(text, said):
    with pytest.raises(BuildError) as caught:
        parse_intent(text, "build.toml")
    assert said in str(caught.value)


def test_a_taper_is_read_at_two_or_three_holes():
    part = '[[part]]\nid = "W"\ndrawing = "w.dxf"\ntaper = "{}"\n'
    held = parse_intent('units = "in"\n' + part.format("A1=0.18, c3=1/16"), "build.toml").parts[0]
    assert held.taper == (("A1", 0.18), ("C3", 0.0625))
    for wrong in ("A1=0.18", "A1=0.1,A1=0.2", "A1", "A1=0.1,A2=0.1,A3=0.1,A4=0.1"):
        with pytest.raises(BuildError, match="taper"):
            parse_intent('units = "in"\n' + part.format(wrong), "build.toml")


VALUES = {
    "id": "J1",
    "rivet": "3/32",
    "layer": [{"part": "SKIN", "holes": "A"}, {"by": "A1=B1, A9=B9", "part": "RIB#2"}],
}


@pytest.fixture
def build(tmp_path):
    made = create_build(tmp_path / "bay")
    add_part(made, {"id": "SKIN", "drawing": "skin.dxf"})
    add_part(made, {"id": "RIB", "drawing": "rib.dxf", "quantity": 3})
    return made


def test_a_joint_is_written_behind_what_is_there(build):
    text = build.file.read_text()
    add_joint(build, VALUES)
    added = build.file.read_text()
    assert added.startswith(text)
    assert tomllib.loads(added)["joint"] == [VALUES]
    intent = add_joint(build, {**VALUES, "id": "J2"})
    assert [joint.id for joint in intent.joints] == ["J1", "J2"]
    assert intent == read_intent(build)
    add_part(build, {"id": "RAIL", "drawing": "rail.dxf"})
    assert [part.id for part in read_intent(build).parts] == ["SKIN", "RIB", "RAIL"]


def test_a_joint_that_is_there_is_left_alone(build):
    add_joint(build, VALUES)
    text = build.file.read_text()
    with pytest.raises(BuildError, match="there is a joint J1 already"):
        add_joint(build, VALUES)
    with pytest.raises(BuildError, match="there is no part 'RAIL'"):
        add_joint(build, {**VALUES, "id": "J2", "layer": [{"part": "RAIL"}, {"part": "SKIN"}]})
    assert build.file.read_text() == text
