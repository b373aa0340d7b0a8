"""`holeschedule audit`: what it prints, what it answers, and what it says when it can't."""

import csv
import io
import json
import os
import shlex
import subprocess
import sys

import pytest

from holeschedule.audit.rules import rule_set_names
from holeschedule.model import Role
from holeschedule.views.audit_data import COLUMNS
from holeschedule.views.explain import CAUTION
from tests.cli.commands import ROOT, SAMPLES, in_own_process
from tests.makers import (
    NUMBER_40,
    draw_circles,
    draw_polygon,
    new_drawing,
    plate_drawing,
    row_of,
    save,
)

COMMANDS = ("", "audit", "demo")


# exit status -----------------------------------------------------------------------------------


def test_a_clean_drawing_ends_with_0(command, folder):
    ran = command("audit", folder / "clean.dxf")
    assert (ran.status, ran.err) == (0, "")
    assert "rules faa: 5 ok" in ran.out


def test_a_missed_rule_ends_with_1(command, folder):
    ran = command("audit", folder / "short.dxf")
    assert (ran.status, ran.err) == (1, "")
    assert "SHORT A1-A5 each: edge distance 0.1500 in (1.60 D) to the outline;" in ran.words


def test_tight_holes_and_wide_rows_end_with_0(command, tmp_path):
    holes = [*row_of(0.5, 0.19, 0.75, 5), *row_of(0.5, 1.4, 0.75, 5)]
    ran = command("audit", save(plate_drawing(holes=holes), tmp_path))
    assert ran.status == 0
    assert "5 tight, 5 ok, 1 wide row" in ran.out


def test_a_drawing_that_cannot_be_read_ends_with_2_and_one_line(command, folder):
    said = command("audit", folder / "broken.dxf").complaint_only()
    assert said.startswith(f"holeschedule: {folder / 'broken.dxf'}, line 1: 'not a drawing'")


def test_a_file_that_is_not_there_ends_with_2(command, folder):
    said = command("audit", folder / "none.dxf").complaint_only()
    assert said == (
        f"holeschedule: {folder / 'none.dxf'}: no such file. Check the name and the folder."
    )


def test_a_folder_ends_with_2(command, folder):
    assert "is a folder. Name the DXF files in it" in command("audit", folder).complaint_only()


def test_a_drawing_without_a_unit_ends_with_2_and_names_the_option(command, tmp_path):
    said = command("audit", save(plate_drawing(unit=None), tmp_path)).complaint_only()
    assert "no unit stated: 4 × 2 in, holes 0.098 in; or 4 × 2 mm, holes 0.098 mm?" in said
    assert said.endswith("Say --units in or --units mm.")


# many files ------------------------------------------------------------------------------------


def test_many_files_are_printed_in_the_order_given_with_a_summary(command, folder):
    names = ["short.dxf", "metric.dxf", "clean.dxf", "short.dxf"]
    ran = command("audit", *(folder / name for name in names))
    heads = [line.split()[1] for line in ran.out.splitlines() if ".dxf  " in line]
    assert heads == names
    assert ran.status == 1
    assert "4 parts, 19 holes: 10 findings miss a rule, in SHORT, SHORT." in ran.words


def test_one_bad_file_among_good_ones_is_told_and_the_others_are_printed(command, folder):
    names = ["clean.dxf", "broken.dxf", "short.dxf", "none.dxf"]
    ran = command("audit", *(folder / name for name in names))
    assert ran.status == 2
    assert "CLEAN  clean.dxf" in ran.out
    assert "SHORT  short.dxf" in ran.out
    first, second = ran.err.splitlines()
    assert "broken.dxf, line 1: 'not a drawing'" in first
    assert "none.dxf: no such file" in second


@pytest.mark.parametrize("form", ["--json", "--csv"])
def test_one_bad_file_leaves_the_data_of_the_others_whole(command, folder, form):
    ran = command("audit", folder / "broken.dxf", folder / "clean.dxf", form)
    assert ran.status == 2
    assert "broken.dxf" in ran.complaint
    if form == "--json":
        assert [part["part"] for part in ran.audit["parts"]] == ["CLEAN"]
    else:
        assert {row["part"] for row in csv.DictReader(io.StringIO(ran.out))} == {"CLEAN"}


def test_many_files_at_once_give_the_same_as_one_by_one(command, folder):
    names = [folder / name for name in ("short.dxf", "clean.dxf", "metric.dxf")]
    together = command("audit", *names, "--json", "--show", "in").audit["parts"]
    single = [command("audit", n, "--json", "--show", "in").audit["parts"] for n in names]
    assert together == [part for parts in single for part in parts]


# options ---------------------------------------------------------------------------------------


def test_rivet_sets_the_rivet_of_every_hole(command, folder):
    (part,) = command("audit", folder / "clean.dxf", "--rivet", "1/8", "--json").audit["parts"]
    assert {(hole["rivet"], hole["size"]) for hole in part["holes"]} == {("1/8", "pilot")}
    by_dash = command("audit", folder / "clean.dxf", "--rivet", "4", "--json").audit["parts"]
    assert by_dash == [part]


def test_a_rivet_too_small_for_the_holes_is_told(command, folder):
    ran = command("audit", folder / "metric.dxf", "--rivet", "1/16")
    assert ran.status == 1
    assert "OVERSIZE A1-A4 each: the hole is 2.500 mm, the 1/16 rivet's largest 1.702 mm:" in (
        ran.words
    )


def test_head_asks_for_more_edge_distance(command, tmp_path):
    path = save(plate_drawing(holes=row_of(0.5, 0.21, 0.75, 5)), tmp_path)
    protruding = command("audit", path)
    assert protruding.status == 0
    assert "With flush heads 5 more holes would be short (--head flush)." in protruding.out
    flush = command("audit", path, "--head", "flush")
    assert flush.status == 1
    assert "at least 2.5 D = 0.2344 in" in flush.words
    assert command("audit", path, "--head", "protruding").status == 0


def test_rules_picks_a_packaged_set_or_a_file(command, tmp_path):
    path = save(plate_drawing(holes=row_of(0.5, 0.158, 0.75, 5)), tmp_path)
    own = tmp_path / "shop.toml"
    own.write_text(
        'extends = "faa"\n[[rule]]\ncode = "edge.min.protruding"\nlimit = 1\nsource = "note 4"\n',
        encoding="utf-8",
    )
    assert command("audit", path).status == 1
    assert command("audit", path, "--rules", "mil-r-47196a").status == 0
    ran = command("audit", path, "--rules", own)
    assert ran.status == 0
    assert "rules shop.toml: 5 ok" in ran.out
    assert command("audit", path, "--rules", own, "--json").audit["rules"] == "shop.toml"
    assert command("audit", path, "--rules", "FAA", "--json").audit["rules"] == "faa"


def test_units_settles_the_unit_of_the_drawing(command, tmp_path):
    path = save(plate_drawing(unit=None, diameter=0.35), tmp_path)
    inch = command("audit", path, "--units", "in", "--largest-hole", "0.35in", "--json").audit
    metric = command("audit", path, "--units", "mm", "--json").audit
    assert (inch["units"], inch["parts"][0]["outline_area"]) == ("in", 8.0)
    assert metric["units"] == "mm"
    assert metric["parts"][0]["outline_area"] == pytest.approx(8.0)


def test_the_unit_shown_follows_the_drawing_unless_asked(command, folder):
    shown = {
        (name, asked): command(
            "audit", folder / name, "--json", *(["--show", asked] if asked else [])
        ).audit["units"]
        for name in ("clean.dxf", "metric.dxf")
        for asked in (None, "in", "mm")
    }
    assert shown == {
        ("clean.dxf", None): "in",
        ("clean.dxf", "in"): "in",
        ("clean.dxf", "mm"): "mm",
        ("metric.dxf", None): "mm",
        ("metric.dxf", "in"): "in",
        ("metric.dxf", "mm"): "mm",
    }
    assert "100.00 × 50.00 mm" in command("audit", folder / "metric.dxf").out
    assert "3.937 × 1.969 in" in command("audit", folder / "metric.dxf", "--show", "in").out


def test_layer_states_what_a_layer_is_for(command, tmp_path):
    doc = plate_drawing()
    draw_circles(doc.modelspace(), [(2.0, 1.5)], 0.25, layer="Big ones")
    path = save(doc, tmp_path)
    plain = command("audit", path, "--json").audit["parts"][0]
    as_cutout = command("audit", path, "--json", "--layer", "Big ones=cutouts").audit["parts"][0]
    ignored = command("audit", path, "--json", "--layer", "BIG ONES=IGNORED").audit["parts"][0]
    assert (len(plain["holes"]), plain["cutouts"]) == (6, 0)
    assert (len(as_cutout["holes"]), as_cutout["cutouts"]) == (5, 1)
    assert (len(ignored["holes"]), ignored["cutouts"]) == (5, 0)


@pytest.mark.parametrize("size", ["0.098", "#40", "98/1000 in"])
def test_layer_states_the_diameter_of_points(command, tmp_path, size):
    doc = new_drawing()
    draw_polygon(doc.modelspace(), [(0, 0), (4, 0), (4, 2), (0, 2)])
    for x in (1.0, 2.0, 3.0):
        doc.modelspace().add_point((x, 1.0), dxfattribs={"layer": "PTS"})
    ran = command("audit", save(doc, tmp_path), "--json", "--layer", f"PTS=holes:{size}")
    (part,) = ran.audit["parts"]
    assert [hole["diameter"] for hole in part["holes"]] == pytest.approx([NUMBER_40] * 3)


def test_gap_closes_an_outline(command, tmp_path):
    doc = new_drawing()
    ends = [((0, 0), (4, 0)), ((4, 0), (4, 2)), ((4, 2), (0, 2)), ((0, 2), (0, 0.05))]
    for start, end in ends:
        doc.modelspace().add_line(start, end)
    draw_circles(doc.modelspace(), row_of(0.5, 0.5, 0.75, 5))
    path = save(doc, tmp_path)
    assert "--gap" in command("audit", path).complaint_only()
    for gap in ("0.06", "1/16", "1.6 mm"):
        assert command("audit", path, "--gap", gap).status == 0


def test_largest_hole_tells_holes_from_cutouts(command, tmp_path):
    doc = plate_drawing()
    draw_circles(doc.modelspace(), [(2.0, 1.3)], 0.25)
    path = save(doc, tmp_path)
    small = command("audit", path, "--json", "--largest-hole", "0.2").audit["parts"][0]
    assert (len(small["holes"]), small["cutouts"]) == (5, 1)
    large = command("audit", path, "--json", "--largest-hole", "6.35 mm").audit["parts"][0]
    assert (len(large["holes"]), large["cutouts"]) == (6, 0)


def test_part_picks_one_part_of_a_drawing(command):
    path = SAMPLES / "fl-112.dxf"
    both = [part["part"] for part in command("audit", path, "--json").audit["parts"]]
    assert both == ["FL-112.1", "FL-112.2"]
    for number, name in enumerate(both, start=1):
        (part,) = command("audit", path, "--json", "--part", number).audit["parts"]
        assert part["part"] == name
    said = command("audit", path, "--part", "3").complaint_only()
    assert said.endswith(
        "no part 3: the drawing has 2 parts, counted from the left. Correct --part."
    )


def test_holes_lists_every_hole(command, folder):
    ran = command("audit", folder / "clean.dxf", "--holes")
    first = [line.split()[0] for line in ran.out.splitlines() if line]
    assert [word for word in first if word in {f"A{n}" for n in range(1, 6)}] == (
        ["A1", "A2", "A3", "A4", "A5"]
    )


def test_json_and_csv_print_nothing_but_the_result(command, folder):
    ran = command("audit", folder / "short.dxf", "--json")
    assert ran.status == 1
    assert json.loads(ran.out)["parts"][0]["part"] == "SHORT"
    ran = command("audit", folder / "short.dxf", "--csv")
    assert ran.out.splitlines()[0] == ",".join(COLUMNS)
    assert len(ran.out.splitlines()) == 1 + 5


def test_the_order_of_options_and_files_does_not_matter(command, folder):
    path = folder / "clean.dxf"
    assert command("audit", "--json", path).out == command("audit", path, "--json").out


# wrong options ---------------------------------------------------------------------------------

ROLES = ", ".join(sorted(Role))
LENGTHS = "write a decimal (0.098), a fraction (3/32, 1 1/8) or millimetres (2.5 mm)."
WRONG = {
    "--rivet 9/9": "--rivet: '9/9' is not a rivet size; choose from 1/16 (-2), 3/32 (-3), ",
    "--rivet ''": "--rivet: '' is not a rivet size; choose from 1/16 (-2), ",
    "--head round": "'round' is not one of 'protruding', 'flush'.",
    "--rules fa": "--rules: 'fa' is not a rule set; choose from faa, mil-r-47196a, navedtra"
    " (did you mean faa?), or give the path of a file that ends in .toml.",
    "--rules none.toml": "--rules: none.toml: there is no such file.",
    "--units furlong": "--units: 'furlong' is not a unit of length; choose from cm, ",
    "--units ''": "--units: '' is not a unit of length; choose from cm, ",
    "--show cm": "'cm' is not one of 'in', 'mm'.",
    "--layer A": f"--layer 'A': write NAME=ROLE, with one of the roles {ROLES}.",
    "--layer A=rib": f"--layer 'A=rib': write NAME=ROLE, with one of the roles {ROLES}.",
    "--layer =holes": "--layer '=holes': write NAME=ROLE",
    "--layer A=holes:big": f"--layer 'A=holes:big': 'big' is not a length; {LENGTHS}",
    "--layer A=holes:#99": "--layer 'A=holes:#99': '#99' is not a drill size;",
    "--layer A=holes:0": "--layer 'A=holes:0': a hole has a diameter above 0, not 0.",
    "--layer A=bend:0.1": "--layer 'A=bend:0.1': only holes have a diameter, as holes:0.1.",
    "--gap 1,5": "--gap: '1,5' is not a length: a comma is not read",
    "--gap=-1": "--gap: '-1' is not a length: a length is 0 or more;",
    "--gap nan": "--gap: 'nan' is not a length: it is not a finite number;",
    "--units cm --gap 1": "--gap: '1' has no unit; write it in inches (0.01 in) or millimetres.",
    "--largest-hole wide": f"--largest-hole: 'wide' is not a length; {LENGTHS}",
    "--part one": "'one' is not a valid integer. Try: holeschedule audit --help",
    "--part 0": "no part 0: the drawing has 1 part. Correct --part.",
    "--part 2": "no part 2: the drawing has 1 part. Correct --part.",
    "--json --csv": "--json and --csv are two ways to print the result. Give one.",
    "--colour": "No such option",
}


@pytest.mark.parametrize(("options", "said"), WRONG.items(), ids=WRONG)
def test_a_wrong_option_is_one_line_with_what_was_expected(command, folder, options, said):
    ran = command("audit", folder / "clean.dxf", *shlex.split(options))
    assert said in ran.complaint_only()
    assert ran.err.startswith("holeschedule: ")


def test_a_layer_the_drawing_does_not_have_is_named_with_those_it_has(command, folder):
    said = command("audit", folder / "clean.dxf", "--layer", "HOLE=holes").complaint_only()
    assert "no geometry on layer 'HOLE'; the layers with geometry are 0." in said


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["audit"], "Missing argument 'FILE.dxf ...'. Try: holeschedule audit --help"),
        (["aduit"], "No such command 'aduit'."),
        (["--colour"], "No such option"),
    ],
)
def test_a_command_line_that_is_none_is_one_line(command, arguments, said):
    assert said in command(*arguments).complaint_only()


def test_a_bare_command_prints_the_help(command):
    bare = command()
    assert (bare.status, bare.err) == (0, "")
    assert bare.out == command("--help").out


# help ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", COMMANDS)
def test_help_shows_an_example_and_the_caution(command, name):
    ran = command(*name.split(), "--help")
    assert (ran.status, ran.err) == (0, "")
    assert f"Example: holeschedule {name or 'audit'}" in ran.out
    assert CAUTION in ran.words
    assert max(map(len, ran.out.splitlines())) <= 100


def test_the_example_in_help_is_a_command_that_runs(command, folder):
    for name in COMMANDS:
        out = command(*name.split(), "--help").out
        (example,) = [line for line in out.splitlines() if "Example:" in line]
        words = shlex.split(example.partition("holeschedule ")[2])
        told = [str(SAMPLES / word) if word.endswith(".dxf") else word for word in words]
        # the demo is run once, for the tests of its own
        assert told == ["demo"] or command(*told).status in {0, 1}


def test_help_names_every_packaged_rule_set_and_every_role(command):
    words = command("audit", "--help").words
    assert ", ".join(rule_set_names()) in words
    assert all(str(role) in words for role in Role)


def test_version(command):
    ran = command("--version")
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.startswith("holeschedule ")


# hostile names ---------------------------------------------------------------------------------

ESCAPES = "\x1b[2J\x1b]0;owned\x07"


def with_hostile_layer(doc, folder, name="plate.dxf"):
    """Save `doc` with a line on a layer that is named like a terminal's escape codes."""
    doc.modelspace().add_line((1, 1), (2, 1.2), dxfattribs={"layer": "HOSTILE"})
    path = save(doc, folder, name)
    text = path.read_bytes().replace(b"HOSTILE", f"L{ESCAPES}\x9b2J\u202e".encode())
    path.write_bytes(text)
    return path


def printable_lines(text):
    return all(line.isprintable() for line in text.split("\n"))


@pytest.mark.parametrize("options", [[], ["--holes"], ["--json"], ["--csv"]], ids=str)
def test_hostile_names_of_files_layers_and_rule_sets_do_not_reach_the_terminal(
    command, tmp_path, options
):
    doc = plate_drawing(holes=row_of(0.5, 0.15, 0.75, 5))
    path = with_hostile_layer(doc, tmp_path, f"a{ESCAPES}\n\u202eb.dxf")
    rules = tmp_path / f"own{ESCAPES}\n.toml"
    source = ESCAPES.encode("unicode_escape").decode().replace("\\x", "\\u00")
    rules.write_text(
        'extends = "faa"\n[[rule]]\ncode = "edge.min.protruding"\nlimit = 2\n'
        f'source = "note {source}"\n',
        encoding="utf-8",
    )
    ran = command("audit", path, "--rules", rules, *options)
    assert ran.status == 1
    assert printable_lines(ran.out)
    assert ran.err == ""


@pytest.mark.parametrize("name", [f"a{ESCAPES}\nb.dxf", "a\u202eb.dxf", "a\udcffb.dxf"], ids=ascii)
def test_a_hostile_name_of_a_bad_file_is_one_printable_line(command, tmp_path, name):
    path = tmp_path / name
    try:
        path.write_bytes(b"junk\n")
    except OSError:
        pytest.skip("this file system takes no such name")
    said = command("audit", path).complaint_only()
    assert said.isprintable()
    assert "line 1: 'junk'" in said


def test_a_hostile_layer_in_an_error_is_escaped(command, tmp_path):
    path = with_hostile_layer(plate_drawing(), tmp_path)
    said = command("audit", path, "--layer", f"{ESCAPES}=bend").complaint_only()
    assert said.isprintable()
    assert "the layers with geometry are 0, L\\x1b[2J" in said


def test_a_hostile_layer_in_a_notice_is_escaped(command, tmp_path):
    ran = command("audit", with_hostile_layer(plate_drawing(), tmp_path))
    assert "layer L\\x1b[2J\\x1b]0;owned\\x07\\x9b2J\\u202e" in ran.out
    assert printable_lines(ran.out)


def test_a_part_asked_for_where_there_is_no_build_is_neither_file_nor_part(
    command, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    assert command("audit", "FL-101").complaint_only() == (
        "holeschedule: FL-101: no such file, and no build here or above that could have such a"
        " part. Name a .dxf file, or the build with --build DIR."
    )


def test_a_hostile_option_value_is_escaped(command, folder):
    said = command("audit", folder / "clean.dxf", "--rules", f"{ESCAPES}\n").complaint_only()
    assert said.isprintable()


# output that is not wanted ---------------------------------------------------------------------


def piped_to_nothing(arguments):
    """Run a command whose reader leaves at once: (exit status, stderr)."""
    reader, writer = os.pipe()
    os.close(reader)
    try:
        ran = in_own_process(arguments, stdout=writer, stderr=subprocess.PIPE)
    finally:
        os.close(writer)
    return ran.returncode, ran.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="pipes break in another way there")
@pytest.mark.parametrize("options", [[], ["--json"], ["--help"]], ids=str)
def test_a_reader_that_leaves_early_is_no_error(folder, options):
    assert piped_to_nothing(["audit", folder / "short.dxf", *options]) == (0, "")


@pytest.mark.skipif(sys.platform == "win32", reason="streams are closed in another way there")
@pytest.mark.parametrize(("name", "status"), [("clean.dxf", 0), ("short.dxf", 1)])
def test_a_command_started_without_an_output_ends_with_its_status(folder, name, status):
    ran = in_own_process(
        ["audit", folder / name], stderr=subprocess.PIPE, preexec_fn=lambda: os.close(1)
    )
    assert (ran.returncode, ran.stderr) == (status, "")


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no full device here")  # noqa: PTH110 - not Path
def test_output_that_cannot_be_written_is_one_line(folder):
    with open("/dev/full", "w") as full:  # noqa: PTH123 - as a shell would open it
        ran = in_own_process(["audit", folder / "clean.dxf"], stdout=full, stderr=subprocess.PIPE)
    assert ran.returncode == 2
    (line,) = ran.stderr.splitlines()
    assert line.startswith("holeschedule: the output cannot be written: ")


def test_a_terminal_without_unicode_gets_escapes_and_no_traceback(folder):
    ran = subprocess.run(
        [sys.executable, "-m", "holeschedule", "audit", str(folder / "clean.dxf")],
        check=False,
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": "cp437", "PYTHONUTF8": "0"},
    )
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert rb"4.000 \xd7 2.000 in" in ran.stdout


def test_the_module_and_its_exit_status_are_those_of_the_command(folder):
    for name, status in (("clean.dxf", 0), ("short.dxf", 1), ("broken.dxf", 2)):
        ran = in_own_process(["audit", folder / name], capture_output=True, cwd=ROOT)
        assert ran.returncode == status
        assert bool(ran.stderr) is (status == 2)


# what is printed -------------------------------------------------------------------------------


def test_no_line_of_an_audit_is_wider_than_100_columns(command):
    # metric, with marks and notices; two parts on a sheet; far from zero; findings
    paths = [SAMPLES / f"fl-{number}.dxf" for number in (103, 105, 108, 110, 112)]
    for options in ([], ["--holes"], ["--show", "mm"], ["--rivet", "3/16", "--head", "flush"]):
        out = command("audit", *paths, *options).out
        assert max(map(len, out.splitlines())) <= 100


def test_the_caution_stands_under_every_audit(command, folder):
    for names in (["clean.dxf"], ["short.dxf"], ["clean.dxf", "metric.dxf"]):
        assert command("audit", *(folder / name for name in names)).words.endswith(CAUTION)


def test_csv_of_the_samples_is_one_line_a_hole_with_the_labels_of_json(command):
    paths = sorted(SAMPLES.glob("*.dxf"))
    rows = list(csv.DictReader(io.StringIO(command("audit", *paths, "--csv").out)))
    parts = command("audit", *paths, "--json").audit["parts"]
    wanted = [(part["part"], hole["hole"]) for part in parts for hole in part["holes"]]
    assert [(row["part"], row["hole"]) for row in rows] == wanted
    assert len(set(wanted)) == len(wanted)
