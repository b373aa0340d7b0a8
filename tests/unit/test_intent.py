"""build.toml: what it says, and the one line for each thing that can be wrong with it."""

import math
import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holeschedule.build.folder import BuildFolder
from holeschedule.build.intent import (
    NO_RIVET,
    PART_KEYS,
    THICKEST,
    BuildIntent,
    HoleIntent,
    PartIntent,
    parse_intent,
    parse_part,
    read_intent,
    treatment_for,
)
from holeschedule.build.joints import JOINT_KEYS, LAYER_KEYS
from holeschedule.build.keys import LARGEST_FILE, LONGEST_LINE, LONGEST_TEXT, MOST_COPIES
from holeschedule.build.start import create_build
from holeschedule.errors import BuildError, SelectionError, TableError
from holeschedule.model import Head
from holeschedule.operations import Finish, PartOperation, Treatment
from holeschedule.tables import countersink_least_sheet, dimple_most_sheet
from holeschedule.units import LengthUnit

DOCS = Path(__file__).parents[2] / "docs" / "build-folder.md"
PART = 'units = "in"\n[[part]]\nid = "FL-101"\ndrawing = "fl-101.dxf"\n'
"""A part, to which a test adds the lines it is about, from line 5 on."""


def read(text: str) -> BuildIntent:
    return parse_intent(text, "build.toml")


def part(lines: str = "") -> PartIntent:
    (found,) = read(PART + lines).parts
    return found


def refusal(text: str) -> str:
    """The one line with which `text` is refused."""
    with pytest.raises(BuildError) as caught:
        read(text)
    message = str(caught.value)
    assert "\n" not in message
    return message


# What it says ----------------------------------------------------------------------------------


def test_an_empty_file_is_a_build_without_parts() -> None:
    assert read("") == BuildIntent("", None, "faa", ())


def test_a_part_needs_no_more_than_an_id_and_a_drawing() -> None:
    assert part() == PartIntent("FL-101", "fl-101.dxf")
    assert part().finish is Finish.NONE
    assert (part().thickness, part().head, part().rivet) == (None, None, None)


def test_every_key_is_read() -> None:
    found = part(
        'number = 2\nthickness = 0.032\nmaterial = " 2024-T3 "\nfinish = "prime faying"\n'
        'quantity = 4\nmirror = true\nhead = "flush"\nrivet = "0.125"\n'
        '[[part.holes]]\nselect = "A"\nhead = "protruding"\n'
    )
    assert (found.number, found.thickness, found.material) == (2, 0.032, "2024-T3")
    assert (found.finish, found.quantity, found.mirror) == (Finish.PRIME_FAYING, 4, True)
    assert (found.head, found.rivet) == (Head.FLUSH, "1/8")
    assert found.holes[0].head is Head.PROTRUDING


@pytest.mark.parametrize(
    ("written", "units", "inches"),
    [
        ("0.032", "in", 0.032),
        ("1", "in", 1.0),
        ("0.8", "mm", 0.8 / 25.4),
        ('"0.032"', "in", 0.032),
        ('"1/32"', "in", 1 / 32),
        ('"0.8 mm"', "in", 0.8 / 25.4),
        ('"0.8mm"', None, 0.8 / 25.4),
        ('"0.032 in"', "mm", 0.032),
        ("25.4", "mm", 1.0),
    ],
)
def test_a_thickness_is_read_in_its_own_unit_else_in_the_builds(written, units, inches) -> None:
    stated = f'units = "{units}"\n' if units else ""
    text = f'{stated}[[part]]\nid = "A"\ndrawing = "a.dxf"\nthickness = {written}\n'
    assert read(text).parts[0].thickness == inches


def test_only_a_finish_with_primer_waits_for_it() -> None:
    assert [finish for finish in Finish if finish.is_primed] == [Finish.PRIME_FAYING, Finish.PRIME]


def test_a_part_is_found_by_its_id_in_any_case() -> None:
    build = read(PART)
    assert build.part_named("fl-101") is build.parts[0]
    with pytest.raises(BuildError, match=r"no part 'FL-110'; choose from FL-101 \(did you mean"):
        build.part_named("FL-110")
    with pytest.raises(BuildError, match=r"no part 'FL-101', nor any other\. Bring one in"):
        read("").part_named("FL-101")


def test_what_is_said_of_some_holes_goes_before_the_part_and_the_last_word_counts() -> None:
    found = part(
        'head = "flush"\nrivet = "3/32"\n'
        '[[part.holes]]\nselect = "A3-A9, C, X2"\ntreatment = "countersink"\n'
        '[[part.holes]]\nselect = "a9"\nrivet = "none"\n'
        '[[part.holes]]\nselect = "C7-C8"\ntreatment = "dimple"\nhead = "protruding"\n'
    )
    plain = HoleIntent(None, Head.FLUSH, "3/32")
    countersunk = HoleIntent(Treatment.COUNTERSINK, Head.FLUSH, "3/32")
    assert [found.for_hole(label) for label in ("A2", "A10", "X1", "CA3")] == [plain] * 4
    assert [found.for_hole(label) for label in ("A3", "A8", "C1", "X2")] == [countersunk] * 4
    assert found.for_hole("A9") == HoleIntent(Treatment.COUNTERSINK, Head.FLUSH, NO_RIVET)
    assert found.for_hole("C7") == HoleIntent(Treatment.DIMPLE, Head.PROTRUDING, "3/32")
    with pytest.raises(SelectionError, match="'seven' is not a label"):
        found.for_hole("seven")


def test_line_ends_a_byte_order_mark_and_inline_tables_make_no_difference(tmp_path: Path) -> None:
    build = create_build(tmp_path / "bay")
    text = PART + 'holes = [{select = "A", head = "flush"}]\n'
    for content in (text, text.replace("\n", "\r\n"), "\ufeff" + text):
        build.file.write_bytes(content.encode())
        assert read_intent(build) == read(text)
    inline = 'units = "in"\npart = [{id = "FL-101", drawing = "fl-101.dxf"}]\n'
    assert read(inline) == read(PART)


# What is wrong with it -------------------------------------------------------------------------

MISTAKES = [
    # the lines added to PART, the line named, and what is said
    ('fnish = "prime"', 5, "the key 'fnish' is not known; choose from drawing, finish, head"),
    ('fnish = "prime"', 5, "(did you mean finish?)."),
    ("thickness = 32", 5, "thickness is 32; it has to be above 0 and at most 1.000 in."),
    ("\n\nthickness = 1.0001", 7, "thickness is 1.0001; it has to be above 0 and at most"),
    ("thickness = 0", 5, "thickness is 0; it has to be above 0"),
    ("thickness = -0.032", 5, "thickness is -0.032; it has to be above 0"),
    ("thickness = nan", 5, "thickness is nan; it has to be above 0"),
    ("thickness = inf", 5, "thickness is inf; it has to be above 0"),
    (f"thickness = 1{'0' * 400}", 5, "…; it has to be above 0"),
    (f"thickness = 0x1{'0' * 3900}", 5, "a number of thousands of digits; it has to be above 0"),
    ('thickness = "0 mm"', 5, "thickness is '0 mm'; it has to be above 0"),
    ('thickness = "0,8 mm"', 5, "thickness: '0,8 mm' is not a length: a comma is not read"),
    ('thickness = "thin"', 5, "thickness: 'thin' is not a length; write a decimal (0.098)"),
    ("thickness = true", 5, 'thickness is true; it has to be a length, as in 0.032, "1/32"'),
    ("thickness = [0.032]", 5, "thickness is [0.032]; it has to be a length"),
    ('quantity = 2\nquantity = "2"', 6, "is not TOML: a key or table stands there twice."),
    ('operations = "trim"', 5, "operations is 'trim'; it has to be a list, as in [\"cut\"]."),
    ('operations = ["trimm"]', 5, "operations has 'trimm'; choose from cut, deburr edges, flute,"),
    ('operations = ["trimm"]', 5, "scuff, trim (did you mean trim?)."),
    ("operations = [1]", 5, "operations has 1; choose from cut, deburr edges, flute, prime"),
    ("operations = [[1]]", 5, "operations has [1]; choose from cut"),
    ('operations = ["cut", "cut"]', 5, "operations has 'cut' twice; write it once."),
    ("quantity = 0", 5, "quantity is 0; it has to be a whole number from 1 to 999."),
    ("quantity = 1000", 5, "quantity is 1000; it has to be a whole number from 1 to 999."),
    ("quantity = 1.5", 5, "quantity is 1.5; it has to be a whole number"),
    ("quantity = true", 5, "quantity is true; it has to be a whole number"),
    ('quantity = "2"', 5, "quantity is '2'; it has to be a whole number"),
    ("number = 0", 5, "number is 0; it has to be a whole number from 1 to 999."),
    ('mirror = "yes"', 5, "mirror is 'yes'; it has to be true or false, unquoted."),
    ("mirror = 1", 5, "mirror is 1; it has to be true or false"),
    ("mirror = yes", 5, "is not TOML: a value is missing or not in quotes"),
    ('head = "flsh"', 5, "head is 'flsh'; choose from flush, protruding (did you mean flush?)."),
    ("head = 3", 5, "head is 3; choose from flush, protruding."),
    ("head = flush", 5, 'write a text as in head = "flush". Correct that line.'),
    ('finish = "primed"', 5, "finish is 'primed'; choose from none, prime, prime faying (did"),
    ("finish = {}", 5, "finish is {}; choose from none, prime, prime faying."),
    ('rivet = "3/33"', 5, "rivet: '3/33' is not a rivet size; choose from 1/16 (-2), 3/32 (-3)"),
    ('rivet = "3/33"', 5, ', or "none" for holes that take none.'),
    ("rivet = 3", 5, "rivet is 3; it has to be a text in quotes."),
    ("material = 2024", 5, "material is 2024; it has to be a text in quotes."),
    ('material = ""', 5, "material is ''; it has to be one line of plain text"),
    ('material = "a\\u001b[1m"', 5, "material is 'a\\x1b[1m'; it has to be one line of plain text"),
    (f'material = "{"x" * 401}"', 5, f"{'x' * 59}…; it has to be one line of plain text, of 400"),
    ('material = "2024', 5, "is not TOML: a closing quote is missing."),
    ('material = """2024', 5, "is not TOML: a closing quote is missing."),
    ('material = "C:\\parts"', 5, "a backslash in double quotes; write it twice, or use single"),
    ("thickness 0.032", 5, "is not TOML: expected '=' after a key"),
    ("thickness = 0.032 in", 5, "more stands there than a key and its value; a text needs quotes"),
    ("! 3", 5, "a line begins with what is neither a key nor a comment."),
    ('[[part]]\nid = "fl-101"\ndrawing = "b.dxf"', 6, "there is a part 'fl-101' above; each needs"),
    ('[[part]]\n\ndrawing = "b.dxf"', 5, "id is missing, which has to be stated here."),
    ('[[part]]\n\nid = "B"', 5, "drawing is missing, which has to be stated here."),
    ('[[part]]\nid = "J2"', 6, "id: 'J2' reads as a joint; a part needs a name such as FL-101."),
    ('[[part]]\nid = "-1"', 6, "id: '-1' is not a name for a part"),
    ('[[part]]\nid = "FL 102"', 6, "id is 'FL 102'; write letters, digits and . _ - alone"),
    ('[[part]]\nid = "FL/102"', 6, "id is 'FL/102'; write letters, digits and . _ - alone"),
    ('[[part]]\nid = "FL:2"', 6, "id is 'FL:2'; write letters, digits and . _ - alone"),
    ('[[part]]\nid = "B"\ndrawing = "../b.dxf"', 7, "drawing is '../b.dxf'; it has to be the name"),
    ('[[part]]\nid = "B"\ndrawing = "x\\\\b.dxf"', 7, "the name of a file in drawings/, without"),
    ('[[part]]\nid = "B"\ndrawing = ".dxf"', 7, "drawing is '.dxf'; it has to be the name"),
    ('[[part]]\nid = "B"\ndrawing = "b.dwg"', 7, "drawing is 'b.dwg'; it has to end in .dxf."),
    ('[part.holes]\nselect = "A"', 5, "an entry of part.holes begins with [[part.holes]], in two"),
    ('[[part.holes]]\nhead = "flush"', 5, "select is missing, which has to be stated here."),
    ('[[part.holes]]\n\nselect = "A"', 7, "nothing is said of these holes; state head, rivet,"),
    (
        '[[part.holes]]\nselect = "A"\nwhere = "x"',
        7,
        "the key 'where' is not known; choose from head",
    ),
    (
        '[[part.holes]]\nselect = "A"\ntreatment = "dimpled"',
        7,
        "choose from countersink, dimple, plain",
    ),
    ("[[part.holes]]\nselect = 3", 6, "select is 3; it has to be a text in quotes."),
    *(
        (f'[[part.holes]]\nselect = "{text}"\nhead = "flush"', 6, f"select is '{text}'; write rows")
        for text in ("A9-A3", "A1-B3", "A C", "FL-101:A", ",", "A0", "#2:A", "A, FL-102:B")
    ),
]


@pytest.mark.parametrize(("lines", "line", "said"), MISTAKES)
def test_a_mistake_is_one_line_that_names_its_own(lines: str, line: int, said: str) -> None:
    message = refusal(PART + lines + "\n# the end\n")
    assert message.startswith(f"build.toml, line {line}: ")
    assert said in message


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        (
            'unit = "in"',
            1,
            "the key 'unit' is not known; choose from joint, name, part, rules, spares, stock,"
            " units (did",
        ),
        ('\nunits = "cm"', 2, "units is 'cm'; choose from in, mm."),
        ("name = 3", 1, "name is 3; it has to be a text in quotes."),
        ("# x\nrules = []", 2, "rules is []; it has to be a text in quotes."),
        (
            '\n[part]\nid = "A"',
            2,
            "an entry of part begins with [[part]], in two pairs of brackets.",
        ),
        ("part = [1]", 1, "an entry of part begins with [[part]]"),
        ("part = [", 1, "is not TOML: "),
        ("part = [{id = 'A'", 1, "is not TOML: "),
        (
            '[[part]]\nid = "A"\ndrawing = "a.dxf"\nthickness = 0.8',
            4,
            'thickness is 0.8 without a unit, and the build states no units; write "0.8 in" or'
            ' "0.8 mm".',
        ),
        (
            '[[part]]\nid = "A"\ndrawing = "a.dxf"\nthickness = "1/32"',
            4,
            'write "1/32 in" or "1/32 mm".',
        ),
        ('part = [\n{id = "A", drawing = "a.dxf"},\n{id = "B", number = 0}\n]', 3, "drawing is"),
    ],
)
def test_a_mistake_in_the_build_itself_names_its_line_too(text, line, said) -> None:
    message = refusal(text)
    assert message.startswith(f"build.toml, line {line}: ")
    assert said in message


def test_the_limits_themselves_are_allowed() -> None:
    assert part(f"thickness = {THICKEST}").thickness == THICKEST
    assert part(f"quantity = {MOST_COPIES}").quantity == MOST_COPIES
    assert part(f'material = "{"x" * LONGEST_TEXT}"').material == "x" * LONGEST_TEXT


@pytest.mark.parametrize(
    "text", ["x = " + "[" * 3900, "x = " + "{a=" * 1300, "[" + "a." * 1900 + "a]"]
)
def test_deep_nesting_ends_in_a_line(text: str) -> None:
    assert refusal(text).startswith("build.toml")


def test_a_nested_value_is_shown_as_far_as_it_fits() -> None:
    nested = PART + "thickness = " + "[" * 200 + "]" * 200
    assert refusal(nested).startswith("build.toml, line 5: thickness is [[[[[")


def test_an_endless_line_is_refused_before_anything_reads_it() -> None:
    assert refusal("\n# " + "x" * LONGEST_LINE).startswith(
        "build.toml, line 2: is longer than 4000 characters"
    )
    assert read("# " + "x" * (LONGEST_LINE - 2)).parts == ()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"name = 'a'\nname2 = '\xff'", ", line 2: is not UTF-8 text. Save the file as UTF-8"),
        ("name = 'a'".encode("utf-16"), ", line 1: is not UTF-8 text"),
        (b"\x7fELF\x02\x01\x00\x00" * 40, ", line 1: is not TOML: "),
        (b"name = 'a'\n# \x00\n", ", line 2: is not TOML: "),
        (b"name = 'a'\rrules = 'b'\r", ", line 1: is not TOML: "),
        (b"\x00" * 100, ", line 1: is not TOML: "),
        (b" " * (LARGEST_FILE + 1), ": is larger than 1 MB; a build.toml is a short text"),
    ],
)
def test_what_is_no_text_ends_in_a_line(tmp_path: Path, content: bytes, said: str) -> None:
    build = create_build(tmp_path / "bay")
    build.file.write_bytes(content)
    with pytest.raises(BuildError) as caught:
        read_intent(build)
    message = str(caught.value)
    assert message.startswith(f"{build.file}{said}")
    assert message.isprintable()


def test_a_file_that_is_not_there_ends_in_a_line(tmp_path: Path) -> None:
    loop = tmp_path / "build.toml"
    with pytest.raises(BuildError, match=r"there is no such file\. Start a build with `new`"):
        read_intent(BuildFolder(tmp_path))
    loop.symlink_to(loop)
    with pytest.raises(BuildError, match=r"there is no such file"):
        read_intent(BuildFolder(tmp_path))


def outcome(text: str) -> str:
    """What is said of `text`; nothing where it is sound."""
    try:
        read(text)
    except BuildError as error:
        return str(error)
    return ""


@settings(deadline=None)
@given(st.text(max_size=80))
def test_any_text_is_read_or_refused_with_one_line(text: str) -> None:
    said = outcome(text)
    assert said.startswith("build.toml") or not said
    assert "\n" not in said


SCRAPS = st.sampled_from(
    """[[part]]
[[part.holes]]
[part]
part = []
id = "A"
"id" = "é"
drawing = "a.dxf"
select = "A"
holes = [{select = 'A'}]
thickness = 1
units = "mm"
head = "flush"
quantity = 0
mirror = true # [[x
""".splitlines(keepends=True)
)


@settings(deadline=None)
@given(st.lists(SCRAPS, max_size=12))
def test_any_lines_of_a_build_are_read_or_refused_with_a_line_that_is_there(lines) -> None:
    said = outcome("".join(lines))
    match = re.match(r"build\.toml, line (\d+): |$", said)
    assert match
    assert int(match[1] or 0) <= max(1, len(lines))


def test_a_part_given_by_command_is_named_instead_of_a_line() -> None:
    with pytest.raises(BuildError, match=r"^part FL-101: quantity is 0; it has to be"):
        parse_part({"id": "FL-101", "drawing": "a.dxf", "quantity": 0}, LengthUnit.INCH)
    with pytest.raises(BuildError, match=r"^part without id: id is missing"):
        parse_part({}, None)


# Treatment -------------------------------------------------------------------------------------


@pytest.mark.parametrize("thickness", [None, 0.016, 0.25])
@pytest.mark.parametrize("head", [None, Head.PROTRUDING])
def test_a_protruding_head_needs_a_plain_hole(head, thickness) -> None:
    assert treatment_for("FL-101", 3, thickness, head) == (Treatment.PLAIN, None)


@pytest.mark.parametrize(
    ("dash", "thickness", "treatment"),
    [
        (3, 0.025, Treatment.DIMPLE),
        (3, 0.040, Treatment.DIMPLE),
        (3, 0.0401, Treatment.COUNTERSINK),
        (4, 0.040, Treatment.DIMPLE),
        (4, 0.0401, None),
        (4, 0.0499, None),
        (4, 0.050, Treatment.COUNTERSINK),
        (5, 0.063, None),
        (5, 0.064, Treatment.COUNTERSINK),
        (6, 0.071, None),
        (6, 0.072, Treatment.COUNTERSINK),
        (8, 0.040, Treatment.DIMPLE),
        (8, 0.125, None),
    ],
)
def test_a_flush_head_is_dimpled_in_thin_sheet_and_countersunk_in_thick(
    dash, thickness, treatment
) -> None:
    chosen, notice = treatment_for("FL-101", dash, thickness, Head.FLUSH)
    assert chosen is treatment
    assert (notice is None) == (treatment is not None)


def test_a_limit_is_met_whatever_a_float_makes_of_it() -> None:
    on = LengthUnit.MILLIMETRE.to_inches(0.05 * 25.4)
    assert treatment_for("A", 4, on - 1e-12, Head.FLUSH)[0] is Treatment.COUNTERSINK
    assert treatment_for("A", 4, 0.04 + 1e-12, Head.FLUSH)[0] is Treatment.DIMPLE


def test_between_the_limits_the_builder_is_told_what_to_choose_and_why() -> None:
    _, notice = treatment_for("FL-101", 4, 0.045, Head.FLUSH)
    least, most = countersink_least_sheet(4), dimple_most_sheet()
    assert least is not None
    assert notice is not None
    assert notice.code == "treatment.choose"
    assert notice.text == (
        f"FL-101: 1/8 flush rivets in 0.045 in sheet: it is best dimpled up to 0.040 in"
        f" ({most.source}), and countersunk from 0.050 in up ({least.source}): choose a"
        " treatment for these holes in build.toml"
    )
    _, notice = treatment_for("FL-101", 8, 0.125, Head.FLUSH)
    assert notice is not None
    assert "no thinnest sheet to countersink for them is published" in notice.text
    _, notice = treatment_for("FL-101", 3, None, Head.FLUSH)
    assert notice is not None
    assert "which is not stated: state thickness, or treatment in build.toml" in notice.text


def test_a_rivet_that_is_not_made_is_refused() -> None:
    with pytest.raises(TableError, match="'7' is not a rivet size"):
        treatment_for("FL-101", 7, 0.032, Head.FLUSH)


@given(st.sampled_from([3, 4, 5, 6]), st.floats(0.001, 0.3), st.floats(0.001, 0.3))
def test_thicker_sheet_never_turns_a_countersink_into_a_dimple(dash, one, other) -> None:
    order = [Treatment.DIMPLE, None, Treatment.COUNTERSINK]
    thin, thick = (treatment_for("A", dash, t, Head.FLUSH)[0] for t in sorted((one, other)))
    assert order.index(thin) <= order.index(thick)


# The documentation -----------------------------------------------------------------------------


def blocks(kind: str) -> list[str]:
    return re.findall(rf"```{kind}\n(.*?)```", DOCS.read_text(encoding="utf-8"), re.DOTALL)


def test_the_example_in_the_documentation_is_read() -> None:
    example, joint = blocks("toml")
    build = read(example + joint)
    assert [layer.part for layer in build.joints[0].layers] == ["FL-101", "FL-102-L"]
    assert build.joints[0].layers[1].by == (("A1", "C26"), ("A26", "C1"))
    assert [p.id for p in build.parts] == ["FL-101", "FL-102-L", "FL-102-R"]
    assert build.parts[0].for_hole("C9").treatment is Treatment.COUNTERSINK
    assert build.parts[0].for_hole("X1").rivet == NO_RIVET
    assert [p.mirror for p in build.parts] == [False, False, True]
    assert math.isclose(build.parts[1].thickness or 0, 0.0315, abs_tol=1e-4)


@pytest.mark.parametrize(
    ("lines", "work"),
    [
        ("", []),
        ('operations = ["scuff", "deburr edges", "trim"]', ["trim", "deburr edges", "scuff"]),
        ('operations = ["trim"]\nfinish = "prime"', ["trim", "prime"]),
        ('operations = ["prime"]\nfinish = "prime faying"', ["prime"]),
        ('operations = ["prime"]', ["prime"]),
        ("operations = []", []),
    ],
)
def test_the_work_on_a_whole_part_is_what_is_stated_and_its_primer(lines: str, work) -> None:
    assert [str(operation) for operation in part(lines).work] == work


def test_the_documentation_names_every_key_and_every_word() -> None:
    text = DOCS.read_text(encoding="utf-8")
    keys = re.findall(r"^\| `(\w+)` \|", text, re.MULTILINE)
    build = ["name", "units", "spares", "stock", "rules"]
    of_holes = ["select", "treatment", "head", "rivet"]
    assert keys == [*build, *PART_KEYS, *of_holes, *JOINT_KEYS, *LAYER_KEYS]
    for word in (*Finish, *Treatment, *Head, *LengthUnit, *PartOperation):
        assert f'`"{word}"`' in text, word


def test_the_documented_messages_are_those_given() -> None:
    messages = blocks("text")[1].splitlines()
    start = "\n" * 7 + PART
    assert refusal(start + "thickness = 32") == messages[0]
    assert refusal("\n" * 11 + PART + 'fnish = "none"') == messages[1]


def test_the_documentation_has_the_limits_of_the_tables() -> None:
    text = DOCS.read_text(encoding="utf-8")
    least = [countersink_least_sheet(dash) for dash in (3, 4, 5, 6)]
    told = ", ".join(f"{value.value:.3f}" for value in least if value)
    assert f"{told} in for 3/32, 1/8, 5/32, 3/16" in text
    assert f"up to {dimple_most_sheet().value:.3f} in | dimple" in text


def test_the_documented_example_is_sound_toml() -> None:
    assert tomllib.loads(blocks("toml")[0])["units"] == "in"
