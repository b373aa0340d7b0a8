"""Rule sets: what the packaged ones hold, and how a user's own is read."""

import itertools
import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holeschedule.audit.rules import (
    DEFAULT_RULES,
    QUANTITIES,
    VERDICTS,
    LimitUnit,
    Rows,
    Rule,
    RuleSet,
    Sense,
    load_rule_set,
    rule_set_names,
)
from holeschedule.errors import RuleError
from holeschedule.fastener_tables import LengthRule, shop_head_limits
from holeschedule.model import Head, HoleSize, Quantity, Verdict
from holeschedule.tables import RivetSize, rivet_for_hole, rivet_sizes

DOCS = Path(__file__).parents[2] / "docs" / "rules.md"
NAMES = ("faa", "mil-r-47196a", "navedtra")

WHOLE = """
layout_tolerance = "1/64"
neighbour_rows_within = 7.5
rivet_length = "next above"
shop_head = "mil-hdbk-5"
[[rule]]
code = "edge.min"
quantity = "edge distance"
sense = "min"
limit = 2
unit = "D"
verdict = "short"
source = "a manual"
"""


def own(folder: Path, text: str, name: str = "own.toml") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def limit_text(rule: Rule | None) -> str:
    """The limit as the page on rules shows it: `≥ 2 D`, `≤ 0.5 in`."""
    assert rule is not None
    return f"{'≥' if rule.sense is Sense.MIN else '≤'} {rule.limit:g} {rule.unit}"


def load(folder: Path, text: str) -> RuleSet:
    return load_rule_set(own(folder, text))


def refusal(folder: Path, text: str) -> str:
    """The message that refuses `text`, without the path of its file."""
    path = own(folder, text)
    with pytest.raises(RuleError) as caught:
        load_rule_set(path)
    message = str(caught.value)
    assert message.startswith(str(path))
    assert "\n" not in message
    return message.removeprefix(str(path)).lstrip(",: ")


def rule_named(rules: RuleSet, code: str) -> Rule:
    return next(rule for rule in rules.rules if rule.code == code)


# The packaged sets -----------------------------------------------------------------------------


def test_the_packaged_sets_are_listed_by_name() -> None:
    assert rule_set_names() == NAMES
    assert DEFAULT_RULES in NAMES


@pytest.mark.parametrize("name", NAMES)
def test_a_packaged_set_is_complete_and_every_line_has_its_source(name: str) -> None:
    rules = load_rule_set(name)
    assert rules.name == name
    assert rules.title
    assert rules.layout_tolerance == 1 / 64
    assert rules.neighbour_rows_within == 7.5
    assert rules.layout_tolerance_source.startswith("common practice, no published source")
    assert "FAA-H-8083-31" in rules.neighbour_rows_within_source
    assert rules.rivet_length is LengthRule.NEAREST
    assert rules.shop_head == shop_head_limits("faa")
    assert "FAA" in rules.rivet_length_source
    assert "FAA-H-8083-31" in rules.shop_head_source
    for rule in rules.rules:
        assert rule.source
        assert rule.basis in ("read", "secondary")
        assert rule.origin in (name, *rules.extends)
    for quantity, sense, head, rows, rivet in itertools.product(
        QUANTITIES, (Sense.MIN,), Head, Rows, rivet_sizes()
    ):
        assert rules.rule_for(quantity, sense, head=head, rows=rows, dash=rivet.dash), quantity


FAA = {
    "edge.min.protruding": ("≥ 2 D", Verdict.SHORT),
    "edge.min.flush": ("≥ 2.5 D", Verdict.SHORT),
    "edge.max": ("≤ 4 D", Verdict.WIDE),
    "pitch.min.one-row": ("≥ 3 D", Verdict.CLOSE),
    "pitch.min.two-rows": ("≥ 4 D", Verdict.CLOSE),
    "pitch.min.three-rows": ("≥ 3 D", Verdict.CLOSE),
    "pitch.max": ("≤ 10 D", Verdict.WIDE),
    "transverse.min": ("≥ 2.5 D", Verdict.CLOSE),
    "spacing.min": ("≥ 3 D", Verdict.CLOSE),
}


def test_the_default_set_holds_the_limits_of_faa_practice() -> None:
    rules = load_rule_set("faa").rules
    assert {rule.code: (limit_text(rule), rule.verdict) for rule in rules} == FAA


def test_a_packaged_set_is_found_in_any_case() -> None:
    assert load_rule_set("FAA") == load_rule_set("faa")


def test_the_navy_set_changes_the_pitch_and_keeps_the_rest_with_its_source() -> None:
    faa, navy = load_rule_set("faa"), load_rule_set("navedtra")
    assert navy.extends == ("faa",)
    changed = {rule.code for rule in navy.rules if rule.origin == "navedtra"}
    assert changed == {"pitch.min", "pitch.max"}
    assert limit_text(rule_named(navy, "pitch.max")) == "≤ 8 D"
    assert rule_named(navy, "edge.max") == rule_named(faa, "edge.max")
    for rows in Rows:
        found = navy.rule_for(Quantity.PITCH, Sense.MIN, rows=rows)
        assert found is not None
        assert limit_text(found) == "≥ 3 D"


def test_the_specification_set_is_special_only_for_protruding_three_thirtyseconds() -> None:
    rules = load_rule_set("mil-r-47196a")
    for head, rivet in itertools.product(Head, rivet_sizes()):
        found = rules.rule_for(Quantity.EDGE_DISTANCE, Sense.MIN, head=head, dash=rivet.dash)
        assert found is not None
        special = head is Head.PROTRUDING and rivet.dash == 3
        assert (found.origin == "mil-r-47196a") == special
    found = rules.rule_for(Quantity.EDGE_DISTANCE, Sense.MIN, head=Head.PROTRUDING, dash=3)
    assert found is not None
    assert found.limit_for(0.09375) == 0.156


# Picking a rule --------------------------------------------------------------------------------


def test_head_and_rows_pick_their_line() -> None:
    faa = load_rule_set("faa")
    edge = {h: faa.rule_for(Quantity.EDGE_DISTANCE, Sense.MIN, head=h) for h in Head}
    assert {head: rule and rule.code for head, rule in edge.items()} == {
        Head.PROTRUDING: "edge.min.protruding",
        Head.FLUSH: "edge.min.flush",
    }
    pitch = [faa.rule_for(Quantity.PITCH, Sense.MIN, rows=rows) for rows in Rows]
    assert [rule and rule.limit for rule in pitch] == [3, 4, 3]


def test_what_is_not_known_fits_no_scope() -> None:
    faa = load_rule_set("faa")
    assert faa.rule_for(Quantity.EDGE_DISTANCE, Sense.MIN) is None
    assert faa.rule_for(Quantity.PITCH, Sense.MIN, head=Head.FLUSH) is None
    assert faa.rule_for(Quantity.SPACING, Sense.MIN) == rule_named(faa, "spacing.min")


def test_a_case_without_a_rule_has_none() -> None:
    assert load_rule_set("faa").rule_for(Quantity.SPACING, Sense.MAX) is None


SCOPES = [
    dict(zip(("rivet", "head", "rows"), scope, strict=True))
    for scope in itertools.product((None, 4), (None, Head.FLUSH), (None, Rows.TWO))
]
BY_RANK = ["rivet head rows", "rivet head", "rivet rows", "head rows", "rivet", "head", "rows", ""]


@given(st.permutations(SCOPES), st.integers(0, 7))
def test_the_line_that_states_most_wins_whatever_the_order(
    scopes: list[dict[str, object]], gone: int
) -> None:
    base = rule_named(load_rule_set("faa"), "edge.max")
    lines = {" ".join(k for k, v in scope.items() if v is not None): scope for scope in scopes}
    left = BY_RANK[gone:]
    rules = tuple(
        replace(base, code=code or "any", **scope) for code, scope in lines.items() if code in left
    )
    chosen = replace(load_rule_set("faa"), rules=rules).rule_for(
        Quantity.EDGE_DISTANCE, Sense.MAX, head=Head.FLUSH, rows=Rows.TWO, dash=4
    )
    assert chosen is not None
    assert chosen.code == (left[0] or "any")


@pytest.mark.parametrize(
    ("number", "rows"),
    [(1, Rows.ONE), (2, Rows.TWO), (3, Rows.THREE_OR_MORE), (9, Rows.THREE_OR_MORE)],
)
def test_rows_are_classed_by_their_number(number: int, rows: Rows) -> None:
    assert Rows.counted(number) is rows


@given(st.sampled_from(rivet_sizes()), st.sampled_from(sorted(FAA)))
def test_a_limit_in_diameters_grows_with_the_shank(rivet: RivetSize, code: str) -> None:
    rule = rule_named(load_rule_set("faa"), code)
    times = float(FAA[code][0].split()[1])
    expected = times * rivet.dash / 32
    assert rule.limit_for(rivet.shank_diameter) == pytest.approx(expected, rel=1e-15)


def test_a_limit_in_inches_is_the_same_for_every_shank() -> None:
    rule = rule_named(load_rule_set("mil-r-47196a"), "edge.min.protruding.3-32")
    assert rule.unit is LimitUnit.INCHES
    assert rule.limit_for(0.09375) == rule.limit_for(0.25) == 0.156


@pytest.mark.parametrize("shank", [0.0, -0.125, math.nan, math.inf])
def test_no_limit_is_worked_out_for_a_shank_that_is_none(shank: float) -> None:
    rule = rule_named(load_rule_set("faa"), "spacing.min")
    with pytest.raises(RuleError, match=r"rule spacing\.min: a shank diameter of .* above 0"):
        rule.limit_for(shank)


# A user's own set ------------------------------------------------------------------------------


def test_a_set_can_stand_alone(tmp_path: Path) -> None:
    rules = load(tmp_path, WHOLE)
    assert (rules.name, rules.title, rules.extends) == ("own.toml", "own.toml", ())
    assert rules.rules == (
        Rule(
            "edge.min",
            Quantity.EDGE_DISTANCE,
            Sense.MIN,
            2.0,
            LimitUnit.SHANKS,
            Verdict.SHORT,
            "a manual",
            "own",
            "own.toml",
        ),
    )


def test_a_path_is_taken_as_text_too(tmp_path: Path) -> None:
    assert load_rule_set(str(own(tmp_path, WHOLE))).name == "own.toml"


def test_the_same_code_overrides_what_it_states_and_keeps_the_rest(tmp_path: Path) -> None:
    rules = load(
        tmp_path,
        'extends = "faa"\n[[rule]]\ncode = "edge.min.flush"\nlimit = 3\nsource = "note 4"\n',
    )
    faa = load_rule_set("faa")
    before, after = (rule_named(r, "edge.min.flush") for r in (faa, rules))
    assert after == replace(
        before, limit=3.0, source="note 4", basis="own", origin="own.toml", note=""
    )
    assert [r.code for r in rules.rules] == [r.code for r in faa.rules]
    assert sum(r.origin == "faa" for r in rules.rules) == len(faa.rules) - 1


def test_an_overriding_line_keeps_rivet_and_rows_too(tmp_path: Path) -> None:
    rules = load(
        tmp_path,
        'extends = "mil-r-47196a"\n'
        '[[rule]]\ncode = "edge.min.protruding.3-32"\nlimit = 0.17\nsource = "a"\n'
        '[[rule]]\ncode = "pitch.min.two-rows"\nlimit = 5\nsource = "b"\n',
    )
    assert rule_named(rules, "edge.min.protruding.3-32").rivet == 3
    assert rule_named(rules, "edge.min.protruding.3-32").unit is LimitUnit.INCHES
    assert rule_named(rules, "pitch.min.two-rows").rows is Rows.TWO
    assert rules.extends == ("mil-r-47196a", "faa")


def test_removed_lines_are_gone_and_settings_can_be_changed(tmp_path: Path) -> None:
    rules = load(
        tmp_path,
        'extends = "faa"\nremove = ["edge.max", "pitch.max"]\nlayout_tolerance = "1/32"\n'
        'neighbour_rows_within = 5\nneighbour_rows_within_source = "note 7"\n'
        'rivet_length = "next above"\nshop_head = "mil-hdbk-5"\n',
    )
    codes = {rule.code for rule in rules.rules}
    assert codes == set(FAA) - {"edge.max", "pitch.max"}
    assert rules.layout_tolerance == 1 / 32
    assert rules.layout_tolerance_source.endswith("own.toml")
    assert (rules.neighbour_rows_within, rules.neighbour_rows_within_source) == (5.0, "note 7")
    assert rules.rivet_length is LengthRule.NEXT_ABOVE
    assert rules.shop_head == shop_head_limits("mil-hdbk-5")
    assert rules.shop_head_source.endswith("own.toml")


@pytest.mark.parametrize(
    ("written", "inches"), [('"1/64"', 1 / 64), ('"0.254 mm"', 0.01), ("0.02", 0.02), ("0", 0.0)]
)
def test_the_layout_tolerance_is_a_length(tmp_path: Path, written: str, inches: float) -> None:
    rules = load(tmp_path, f'extends = "faa"\nlayout_tolerance = {written}\n')
    assert rules.layout_tolerance == pytest.approx(inches, rel=1e-15)


@pytest.mark.parametrize(
    ("limit", "unit", "inches"),
    [
        ("0.25", "in", 0.25),
        ('"1/4"', "in", 0.25),
        ("6.35", "mm", 0.25),
        ('"6.35"', "mm", 0.25),
        ('"1/4 in"', "mm", 0.25),
    ],
)
def test_a_limit_can_be_a_length_in_inches_or_millimetres(
    tmp_path: Path, limit: str, unit: str, inches: float
) -> None:
    text = WHOLE.replace("limit = 2", f"limit = {limit}").replace('"D"', f'"{unit}"')
    (rule,) = load(tmp_path, text).rules
    assert rule.unit is LimitUnit.INCHES
    assert rule.limit_for(0.125) == pytest.approx(inches, rel=1e-15)


def test_a_set_extends_another_file_beside_it(tmp_path: Path) -> None:
    own(tmp_path, 'extends = "faa"\nremove = ["edge.max"]\n', "shop.toml")
    rules = load(tmp_path, 'extends = "shop.toml"\nremove = ["pitch.max"]\n')
    assert rules.extends == ("shop.toml", "faa")
    assert {rule.code for rule in rules.rules} == set(FAA) - {"edge.max", "pitch.max"}


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_bytes(b"\xef\xbb\xbf" + WHOLE.encode())
    assert len(load_rule_set(path).rules) == 1


# What is refused -------------------------------------------------------------------------------


def test_an_unknown_name_is_refused_with_the_choices() -> None:
    with pytest.raises(RuleError) as caught:
        load_rule_set("navedra")
    assert str(caught.value) == (
        "'navedra' is not a rule set; choose from faa, mil-r-47196a, navedtra (did you mean"
        " navedtra?), or give the path of a file that ends in .toml."
    )


def test_a_missing_file_is_refused_with_the_packaged_sets(tmp_path: Path) -> None:
    path = tmp_path / "none.toml"
    with pytest.raises(RuleError) as caught:
        load_rule_set(path)
    assert str(caught.value) == (
        f"{path}: there is no such file. Give the path of a TOML file, or one of the packaged rule"
        " sets faa, mil-r-47196a, navedtra."
    )


def test_a_folder_is_no_rule_set(tmp_path: Path) -> None:
    folder = tmp_path / "shop.toml"
    folder.mkdir()
    with pytest.raises(RuleError, match=r"there is no such file"):
        load_rule_set(folder)


@pytest.mark.parametrize(
    ("content", "place"),
    [
        (b'title = "a"\nextends faa\n', "at line 2, column 9"),
        (b"title = \xff\n", "'utf-8' codec can't decode byte 0xff"),
        (b"limit = " + b"9" * 5000, "4300 digits"),
        (b"a = " + b"[" * 5000, "recursion"),
    ],
)
def test_a_file_that_is_not_toml_is_refused_with_the_place(
    tmp_path: Path, content: bytes, place: str
) -> None:
    path = tmp_path / "own.toml"
    path.write_bytes(content)
    with pytest.raises(RuleError) as caught:
        load_rule_set(path)
    message = str(caught.value)
    assert message.startswith(f"{path}: is not TOML: ")
    assert place in message
    assert message.endswith("Correct that place.")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "there is no rule in it; extend a set or write a [[rule]]."),
        (WHOLE.replace('layout_tolerance = "1/64"', ""), "layout_tolerance is missing; a set that"),
        (
            WHOLE.replace("neighbour_rows_within = 7.5", ""),
            "neighbour_rows_within is missing; a se",
        ),
        ('extend = "faa"', "the key 'extend' is not known; choose from extends, "),
        ('extends = "fa"', "extends: 'fa' is not a rule set; choose from faa, "),
        ("extends = 3", "extends is 3; it has to be a text in quotes."),
        ('extends = "faa"\nremove = "edge.max"', "remove is 'edge.max'; it has to be a list, as"),
        (
            'extends = "faa"\nremove = ["edge.mx"]',
            "remove: there is no rule 'edge.mx'; choose from edge.max, edge.min.flush, ",
        ),
        ('extends = "faa"\ntitle = ""', "title is ''; it has to be a text in quotes."),
        ('extends = "faa"\nlayout_tolerance = "1/64 inchs"', "layout_tolerance: '1/64 inchs' is"),
        ('extends = "faa"\nlayout_tolerance = -1', "layout_tolerance is -1; it has to be a number"),
        ('extends = "faa"\nneighbour_rows_within = 0', "neighbour_rows_within is 0; it has to be"),
        ('extends = "faa"\nneighbour_rows_within = "7"', "neighbour_rows_within is '7'; it has"),
        (WHOLE.partition("[[rule]]")[0], "there is no rule in it; extend a"),
        (WHOLE.replace('rivet_length = "next above"', ""), "rivet_length is missing; a set that"),
        (WHOLE.replace('shop_head = "mil-hdbk-5"', ""), "shop_head is missing; a set that extends"),
        (
            'extends = "faa"\nrivet_length = "shortest"',
            "rivet_length is 'shortest'; choose from nearest, next above",
        ),
        (
            'extends = "faa"\nshop_head = "mil"',
            "shop_head is 'mil'; choose from faa, mil-hdbk-5, mil-r-47196a",
        ),
        ('extends = "faa"\n[rule]\ncode = "a"', "a rule begins with [[rule]], in two pairs of br"),
    ],
)
def test_a_faulty_key_of_the_set_is_refused(tmp_path: Path, text: str, message: str) -> None:
    assert refusal(tmp_path, text).startswith(message)


@pytest.mark.parametrize(
    ("line", "instead", "message"),
    [
        ('code = "edge.min"', "", "rule 1: code is missing; it has to be a text in quotes."),
        ('code = "edge.min"', 'code = "Edge min"', "rule 1: code is 'Edge min'; write small"),
        (
            'source = "a manual"',
            "",
            "rule 1 (edge.min): source is missing; a rule has to say where",
        ),
        ('source = "a manual"', 'source = " "', "rule 1 (edge.min): source is ' '; it has to be a"),
        ("limit = 2", "", "rule 1 (edge.min): limit is missing; it has to be a number."),
        ("limit = 2", "limit = 0", "rule 1 (edge.min): limit is 0; it has to be a number above 0"),
        ("limit = 2", "limit = -2", "rule 1 (edge.min): limit is -2; it has to be a number above"),
        ("limit = 2", "limit = nan", "rule 1 (edge.min): limit is nan; it has to be a number abo"),
        ("limit = 2", "limit = inf", "rule 1 (edge.min): limit is inf; it has to be a number abo"),
        ("limit = 2", "limit = 1001", "rule 1 (edge.min): limit is 1001; it has to be a number"),
        ("limit = 2", f"limit = {10**400}", "rule 1 (edge.min): limit is 100000"),
        ("limit = 2", "limit = true", "rule 1 (edge.min): limit is True; it has to be a number."),
        ("limit = 2", 'limit = "2"', "rule 1 (edge.min): limit is '2'; it has to be a number."),
        ('unit = "D"', "", "rule 1 (edge.min): unit is missing, which a new rule has to state."),
        ('unit = "D"', 'unit = "d"', "rule 1 (edge.min): unit is 'd'; choose from D, in, mm."),
        (
            '"edge distance"',
            '"edge"',
            "rule 1 (edge.min): quantity is 'edge'; choose from edge distance, pitch, spacing, tr",
        ),
        ('"min"', '"least"', "rule 1 (edge.min): sense is 'least'; choose from max, min."),
        (
            '"short"',
            '"shrt"',
            "rule 1 (edge.min): verdict is 'shrt'; choose from breaks out, breaks through, close, "
            "figure-eight, misaligned, ok, outside, oversize, short, thin, tight, wide (did you "
            "mean short?).",
        ),
        (
            '"short"',
            '"wide"',
            "rule 1 (edge.min): verdict is 'wide'; for sense 'min' choose from close, short.",
        ),
        ('"min"', '"max"', "rule 1 (edge.min): verdict is 'short'; for sense 'max' choose from w"),
        (
            'unit = "D"',
            'unit = "D"\nhed = "flush"',
            "rule 1 (edge.min): the key 'hed' is not known; choose from basis, code, head, limit,",
        ),
        (
            'unit = "D"',
            'unit = "D"\nhead = "round"',
            "rule 1 (edge.min): head is 'round'; choose from flush, protruding.",
        ),
        ('unit = "D"', 'unit = "D"\nrows = 2', "rule 1 (edge.min): rows is 2; it has to be a text"),
        (
            'unit = "D"',
            'unit = "D"\nrivet = "7/32"',
            "rule 1 (edge.min): rivet: '7/32' is not a rivet size; choose from 1/16 (-2), 3/32 ",
        ),
        (
            'unit = "D"',
            'unit = "D"\nbasis = "hearsay"',
            "rule 1 (edge.min): basis is 'hearsay'; choose from common practice, no published sou",
        ),
    ],
)
def test_a_faulty_line_is_refused_by_place_and_code(
    tmp_path: Path, line: str, instead: str, message: str
) -> None:
    assert WHOLE.count(line) == 1
    refused = refusal(tmp_path, WHOLE.replace(line, instead))
    assert refused.startswith(message)
    assert len(refused) < 300


def test_a_limit_that_is_no_length_is_refused_as_written(tmp_path: Path) -> None:
    text = WHOLE.replace("limit = 2", 'limit = "2,5"').replace('"D"', '"mm"')
    assert refusal(tmp_path, text).startswith("rule 1 (edge.min): limit: '2,5' is not a length:")


def test_a_new_line_with_a_slip_in_its_code_is_refused_with_the_code_meant(tmp_path: Path) -> None:
    text = 'extends = "faa"\n[[rule]]\ncode = "edge.min.flsh"\nlimit = 3\nsource = "note 4"\n'
    message = refusal(tmp_path, text)
    assert message.startswith("rule 1 (edge.min.flsh): quantity is missing, which a new rule has")
    assert message.endswith("(did you mean edge.min.flush?).")


def test_an_overriding_line_without_a_limit_is_refused(tmp_path: Path) -> None:
    text = 'extends = "faa"\n[[rule]]\ncode = "edge.max"\nsource = "note 4"\n'
    assert refusal(tmp_path, text) == "rule 1 (edge.max): limit is missing; it has to be a number."


def test_a_code_that_stands_twice_is_refused(tmp_path: Path) -> None:
    second = WHOLE[WHOLE.index("[[rule]]") :]
    assert refusal(tmp_path, WHOLE + second) == "rule edge.min stands there twice."


def test_two_lines_for_the_same_case_are_refused(tmp_path: Path) -> None:
    second = WHOLE[WHOLE.index("[[rule]]") :].replace('"edge.min"', '"edge.least"')
    assert refusal(tmp_path, WHOLE + second).startswith(
        "rules edge.min and edge.least are for the same case; give the second the code of the first"
    )


def test_sets_that_extend_each_other_are_refused(tmp_path: Path) -> None:
    own(tmp_path, 'extends = "own.toml"\n', "shop.toml")
    path = own(tmp_path, 'extends = "shop.toml"\n')
    with pytest.raises(RuleError) as caught:
        load_rule_set(path)
    assert str(caught.value) == (
        f"{path}: a rule set cannot extend itself (own.toml → shop.toml → own.toml)."
        " Correct `extends`."
    )


def test_every_verdict_a_rule_can_give_suits_its_sense() -> None:
    assert all(verdict.fails for verdict in VERDICTS[Sense.MIN])
    assert not any(verdict.fails for verdict in VERDICTS[Sense.MAX])


# The documentation -----------------------------------------------------------------------------


def doc_block(language: str) -> str:
    found = re.findall(rf"```{language}\n(.*?)```", DOCS.read_text(encoding="utf-8"), re.DOTALL)
    assert len(found) == 1
    return str(found[0])


def doc_rows(*columns: str) -> list[list[str]]:
    """The rows of every table in the documentation that has these columns."""
    rows: list[list[str]] = []
    header: list[str] | None = None
    for line in DOCS.read_text(encoding="utf-8").splitlines():
        if not line.startswith("|"):
            header = None
            continue
        cells = [cell.strip(" `") for cell in line.split("|")[1:-1]]
        if header is None:
            header = cells
        elif header == list(columns) and set(line) != {"|", "-"}:
            rows.append(cells)
    return rows


def test_the_example_in_the_documentation_is_a_sound_rule_set(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own(tmp_path, doc_block("toml"), "float-shop.toml")
    monkeypatch.chdir(tmp_path)
    scope: dict[str, RuleSet] = {}
    exec(doc_block("python"), scope)  # noqa: S102  # the documentation's own lines
    rules = scope["rules"]
    assert rules.title == "Float shop: flush skins on thin frames"
    assert rules.layout_tolerance == 1 / 32
    limits = {
        dash: rules.rule_for(Quantity.EDGE_DISTANCE, Sense.MIN, head=Head.FLUSH, dash=dash)
        for dash in (3, 4)
    }
    assert [limit_text(rule) for rule in limits.values()] == ["≥ 3 D", "≥ 0.4375 in"]
    assert "edge.max" not in {rule.code for rule in rules.rules}


def test_the_documentation_shows_every_packaged_line_as_it_is() -> None:
    rows = doc_rows("rule", "limit", "for", "missed", "source", "basis")
    packaged = {
        (rule.code, limit_text(rule), rule.verdict.value, rule.source, rule.basis)
        for name in NAMES
        for rule in load_rule_set(name).rules
    }
    assert {(c[0], c[1], c[3], c[4], c[5]) for c in rows} == packaged


def test_the_documentation_shows_the_bounds_of_final_size_as_they_are() -> None:
    rows = doc_rows("rivet", "shank", "driven in", "final size from", "to")
    assert [cells[0] for cells in rows] == [size.name for size in rivet_sizes()]
    for name, shank, drills, first, last in rows:
        size = next(size for size in rivet_sizes() if size.name == name)
        assert shank == f"{size.shank_diameter:.4f} in"
        assert drills.startswith(size.final_drill.size)
        least, most = (float(re.sub("[^0-9.]", "", text)) for text in (first, last))
        inside = least + 0.0001 if first.startswith("over") else least
        for diameter in (inside, most):
            assert rivet_for_hole(diameter) == (size, HoleSize.FINAL)
        for diameter in (least - 0.0001, most + 0.0001):
            assert rivet_for_hole(diameter) != (size, HoleSize.FINAL)


def test_the_documentation_lists_every_key_of_a_rule_set(tmp_path: Path) -> None:
    rows = doc_rows("key", "what it holds") + doc_rows("key of a rule", "what it holds")
    shown = {key.strip(" `[]") for cells in rows for key in cells[0].split(",")}
    assert shown
    for text in ('x = 1\nextends = "faa"', 'extends = "faa"\n[[rule]]\ncode = "a"\nx = 1'):
        listed = refusal(tmp_path, text).split("choose from ")[1].rstrip(".").split(", ")
        assert set(listed) <= shown
