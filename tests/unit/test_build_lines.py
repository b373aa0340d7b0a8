"""The line on which a key of a TOML file stands."""

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holeschedule.build.lines import last_line, line_of

FILE = '''\
# name = "not here"
name = "a # no comment"  # name
units = """
[[part]]
id = "not here either"
"""
"quoted key" = 'x'

[[part]]           # the first
id = "A"
holes = [
    # {select = "no"},
    {select = "A", rivet = "}"},
    {select = 'B]', "head" = "flush"},
    # ] not yet
]

  [[part]]
id = "B\\" = 3"
finish.kind = "prime"

[[part.holes]]
select = """""two quotes at the ends"""""

[[part.holes]]
select = \'\'\'it''s\'\'\'
[part.note]
by = 1979-05-27 07:32:00

[ "rules" . 'own' ]
faa = [1, [2,
3]]
'''

PLACES = [
    (("name",), 2),
    (("units",), 3),
    (("quoted key",), 7),
    (("part", 0), 9),
    (("part", 0, "id"), 10),
    (("part", 0, "holes"), 11),
    (("part", 0, "holes", 0), 13),
    (("part", 0, "holes", 0, "rivet"), 13),
    (("part", 0, "holes", 1, "select"), 14),
    (("part", 0, "holes", 1, "head"), 14),
    (("part", 1), 18),
    (("part", 1, "id"), 19),
    (("part", 1, "finish"), 20),
    (("part", 1, "finish", "kind"), 20),
    (("part", 1, "holes"), 22),
    (("part", 1, "holes", 0, "select"), 23),
    (("part", 1, "holes", 1), 25),
    (("part", 1, "holes", 1, "select"), 26),
    (("part", 1, "note", "by"), 28),
    (("rules", "own"), 30),
    (("rules", "own", "faa", 1), 31),
    (("rules", "own", "faa", 1, 1), 32),
]


@pytest.mark.parametrize(("keys", "line"), PLACES)
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_a_key_is_found_however_it_is_written(keys, line: int, ends: str) -> None:
    tomllib.loads(FILE)
    assert line_of(FILE.replace("\n", ends), keys) == line


@pytest.mark.parametrize(
    ("keys", "line"),
    [
        ((), 1),
        (("title",), 1),
        (("part", 1, "title"), 18),
        (("part", 7, "title"), 9),
        (("part", 1, "holes", 1, "head"), 25),
        (("part", 0, "holes", 1, "rivet"), 14),
    ],
)
def test_a_key_that_is_missing_is_looked_for_where_it_should_stand(keys, line: int) -> None:
    assert line_of(FILE, keys) == line


@pytest.mark.parametrize(
    "text", ["", "=", "[", "[[a", "a = ", "a = {", "a = [1", "a = '", "\x00", "[a]]]", "a.b"]
)
def test_text_that_is_not_sound_does_no_harm(text: str) -> None:
    assert line_of(text, ("a", "b")) == 1
    assert last_line(text) == 1


def test_nesting_beyond_measure_does_no_harm() -> None:
    assert line_of("\na = " + "[" * 50_000, ("a", 0)) == 2


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("a = 1\nb = '''x\n\nc = 1\n", 2),
        ("a = 1\n\nb = [\n 1,\n 2\n", 5),
        ("a = 1\n[[b]]\nc = {d = 1,", 3),
        ("a = 1\n\n\n", 1),
    ],
)
def test_where_a_text_was_left_open_is_found(text: str, line: int) -> None:
    assert last_line(text) == line


KEYS = st.text(st.characters(codec="utf-8", exclude_characters='"\\', categories=["L", "N", "P"]))
VALUES = st.sampled_from(
    ["1", '"x # ["', "'\"'", '"""\n[[t]]\n"""', "[\n1, 2]", "{a = 1}", "true # [", "'''\n'''"]
)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.lists(st.tuples(KEYS, VALUES), max_size=5), st.booleans()), max_size=6)
)
def test_every_key_of_any_file_is_found_on_its_line(tables) -> None:
    lines: list[str] = []
    places = {}
    for number, (pairs, is_commented) in enumerate(tables):
        lines.append("[[t]] # [[x]]" if is_commented else "[['t']]")
        for place, (key, value) in enumerate(pairs):
            places["t", number, f"{place}{key}"] = len(lines) + 1
            lines += f'"{place}{key}" = {value}'.split("\n")
    text = "\n".join(lines)
    tomllib.loads(text)
    for keys, line in places.items():
        assert line_of(text, keys) == line
