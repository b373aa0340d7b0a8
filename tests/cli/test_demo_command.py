"""`holeschedule demo`: the planted faults are found where they were planted, and nothing else."""

import contextlib
import csv
import io
import json
import re
from collections import Counter

import pytest

from holeschedule.cli import run
from holeschedule.views.explain import CAUTION
from tests.cli.commands import SAMPLES

PLANTED = {
    "short edge": ("short", "edge.min.protruding"),
    "pitch too close": ("close", "spacing.min"),
}
"""Verdict and rule of the faults that an audit of a bare drawing can find."""
LATER = {"missing hole", "pattern off", "short when match-drilled"}
"""Faults that are notices, or show in a joint only."""


def expected():
    with (SAMPLES / "expected.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def faults():
    """Drawing, kind, x, y, measured value and limit of each planted fault."""
    for row in expected():
        for text in filter(None, row["planted_faults"].split("; ")):
            pattern = r"(.+) @ (\S+) (\S+)(?: = (\S+) \((\S+)\))?"
            kind, *numbers = re.fullmatch(pattern, text).groups()
            yield row["drawing"], kind, *(float(n) if n else None for n in numbers)


@pytest.fixture(scope="module")
def parts(tmp_path_factory):
    """Every part of the demo drawings, audited."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        run(["audit", *map(str, sorted(SAMPLES.glob("*.dxf"))), "--json", "--show", "in"])
    return json.loads(out.getvalue())["parts"]


def test_every_planted_fault_is_of_a_kind_these_tests_know():
    assert {kind for _, kind, *_ in faults()} == PLANTED.keys() | LATER


def test_the_planted_faults_fail_where_they_were_planted_and_nothing_else_does(parts):
    planted = {
        (drawing, *PLANTED[kind]): (x, y, measured, limit)
        for drawing, kind, x, y, measured, limit in faults()
        if kind in PLANTED
    }
    found = {}
    for part in parts:
        place = {hole["hole"]: (hole["x"], hole["y"]) for hole in part["holes"]}
        for f in part["findings"]:
            if f["verdict"] not in {"tight", "wide"}:
                key = (part["drawing"], f["verdict"], f["rule"])
                assert key not in found
                found[key] = (*map(abs, place[f["hole"]]), f["measured"], f["limit"])
    assert found.keys() == planted.keys()
    for key, values in planted.items():
        assert found[key] == pytest.approx(values, abs=1e-6)


def test_the_holes_that_fail_are_those_of_the_planted_faults(parts):
    verdicts = {
        (part["drawing"], hole["verdict"]): sum(
            other["verdict"] == hole["verdict"] for other in part["holes"]
        )
        for part in parts
        for hole in part["holes"]
        if hole["verdict"] not in {"ok", "tight"}
    }
    assert verdicts == {("fl-101.dxf", "short"): 1, ("fl-110.dxf", "close"): 2}


def test_the_missing_hole_is_noticed_where_it_is_missing(parts):
    (planted,) = [(d, x, y) for d, kind, x, y, *_ in faults() if kind == "missing hole"]
    (noticed,) = [
        (part["drawing"], notice["x"], notice["y"])
        for part in parts
        for notice in part["notices"]
        if notice["code"] == "row.missing-hole"
    ]
    assert noticed[0] == planted[0]
    assert noticed[1:] == pytest.approx(planted[1:], abs=1e-3)


def test_every_hole_of_the_sheets_is_found(parts):
    found, drawn = Counter(), Counter()
    for part in parts:
        found[part["drawing"], "holes"] += len(part["holes"])
        found[part["drawing"], "cutouts"] += part["cutouts"]
    for row in expected():
        drawn[row["drawing"], "holes"] += int(row["holes"])
        drawn[row["drawing"], "cutouts"] += int(row["cutouts"])
    assert found == drawn


def test_the_demo_shows_both_planted_faults_and_says_that_all_is_invented(demo):
    words = " ".join(demo.out.split())
    assert (demo.status, demo.err) == (0, "")
    assert "SHORT A21 at (18.562, 0.312): edge distance 0.1594 in (1.70 D)" in words
    assert re.search(r"CLOSE X\d-X\d X\d at \(0\.900, -0\.163\): spacing 0\.3250 in", words)
    assert "13 parts, 531 holes: 2 findings miss a rule, in FL-101, FL-110." in words
    assert CAUTION in words
    assert demo.out.endswith(
        "\nThe demo is invented: its faults are planted, to be found. Not for building.\n"
    )
