"""`rivets`: the rivets of a small build, with its stock, its spares and what cannot be told."""

import csv
import io
import json

import pytest

from tests.cli.builds import LOW

JOINTS = """
spares = 25

[stock]
MS20470AD3-3 = 3

[[joint]]
id = "J1"
title = "flange"

[[joint.layer]]
part = "SKIN"

[[joint.layer]]
part = "RIB"
by = "A1=A1, A5=A5"
flip = false

[[joint]]
id = "J2"
length = "next above"

[[joint.layer]]
part = "RIB"

[[joint.layer]]
part = "WEB"
by = "A1=A1, A5=A5"
flip = false
"""


@pytest.fixture
def bay(shop):
    """Three plates with one row each, joined two by two."""
    for name, thickness in (("skin", "0.032"), ("rib", "0.032"), ("web", "0.063")):
        stated = ("--thickness", thickness, "--material", "2024-T3 clad")
        assert shop.bring(f"{name}.dxf", *stated, holes=LOW).status == 0
    write_toml(shop, JOINTS)
    return shop


def write_toml(shop, joints):
    top, _, rest = joints.partition("[stock]")
    text = shop.toml()
    at = text.index("[[part]]\nid")
    whole = f"{text[:at]}{top}\n{text[at:]}\n[stock]{rest}"
    (shop.build / "build.toml").write_text(whole, encoding="utf-8")


def told(ran):
    return [line.split() for line in ran.out.splitlines()]


def test_rivets_are_listed_by_joint_and_in_all_with_stock_and_spares(bay):
    ran = bay("rivets")
    assert (ran.status, ran.err) == (0, "")
    assert "2 joints, 10 places, 10 rivets; rules faa" in ran.out
    assert ["J1", "MS20470AD3-3", "5", "0.064", "in", "1-5"] in told(ran)
    assert ["J2", "MS20470AD3-4", "5", "0.095", "in", "1-5"] in told(ran)
    assert "spares 25 %" in ran.out
    # five and a quarter of them, three in stock
    assert ["MS20470AD3-3", "7", "3", "4"] in told(ran)
    assert ["J1", "5", "MS20470AD3-3", "MS20470AD3-4", "nearest"] in told(ran)
    assert ran.out.endswith("decide; measure the part before you drill it.\n")
    assert "Strength" not in ran.out


def test_joints_are_named_in_any_case_and_the_rest_is_left_out(bay):
    ran = bay("rivets", "j2")
    assert "1 joint, 5 places, 5 rivets" in ran.out
    assert "J1" not in ran.out
    assert "J7: there is no such joint; the joints are J1, J2." in bay("rivets", "J7").complaint


def test_length_and_spares_on_the_line_go_before_build_toml(bay):
    ran = bay("rivets", "--length", "next above", "--spares", 0)
    assert ["J1", "MS20470AD3-4", "5", "0.064", "in", "1-5"] in told(ran)
    assert "spares 0 %" in ran.out
    nearest = bay("rivets", "J2", "--length", "nearest", "--json")
    assert {lot["rivet"] for lot in json.loads(nearest.out)["joints"]} == {"MS20470AD3-4"}


def test_strength_is_told_when_it_is_asked_for(bay):
    ran = bay("rivets", "--strength")
    assert ran.status == 0
    assert "Information only: the plans govern" in ran.words
    assert "2024-T3 clad" in ran.out
    read = json.loads(bay("rivets", "--strength", "--json").out)
    assert [row["joint"] for row in read["strength"]["joints"]] == ["J1", "J2"]
    assert read["strength"]["joints"][0]["row_per_inch"] == pytest.approx(1 / 0.75)


def test_lengths_are_shown_in_the_unit_asked_for(bay):
    assert "1.63 mm" in bay("rivets", "--show", "mm").out
    read = json.loads(bay("rivets", "--show", "mm", "--json").out)
    assert (read["format"], read["units"]) == ("holeschedule.rivets/1", "mm")
    assert read["joints"][0]["grip_least"] == pytest.approx(0.064 * 25.4)


def test_a_joint_that_cannot_be_laid_is_told_and_the_others_are_counted(bay):
    text = bay.toml().replace(
        'by = "A1=A1, A5=A5"\nflip = false\n\n[[joint]]', 'by = "A1=C1"\n\n[[joint]]'
    )
    (bay.build / "build.toml").write_text(text, encoding="utf-8")
    ran = bay("rivets")
    assert ran.status == 1
    assert "1 joint, 5 places, 5 rivets" in ran.out
    assert "J1 cannot be laid, and is not counted: by names RIB:C1" in ran.words
    (missing,) = json.loads(bay("rivets", "--json").out)["not_laid"]
    assert missing["joint"] == "J1"


def test_places_without_a_thickness_have_no_rivet_and_the_list_says_so(bay):
    (bay.build / "build.toml").write_text(
        bay.toml().replace("thickness = 0.063\n", "").replace('thickness = "0.063"\n', ""),
        encoding="utf-8",
    )
    ran = bay("rivets")
    assert ran.status == 1
    assert "J2:1-5 without a rivet: WEB: no thickness is stated" in ran.words


def test_a_stock_that_is_no_rivet_is_refused_with_its_place(bay):
    text = bay.toml().replace("MS20470AD3-3 = 3", "MS20470 = 3")
    (bay.build / "build.toml").write_text(text, encoding="utf-8")
    complaint = bay("rivets").complaint_only()
    assert "build.toml, stock: 'MS20470' is not a rivet; write standard, alloy" in complaint


def test_a_build_without_joints_says_how_to_define_one(shop):
    shop.bring()
    ran = shop("rivets")
    assert ran.status == 0
    assert ran.out.startswith("There are no joints yet.")
    assert json.loads(shop("rivets", "--json").out)["joints"] == []


def test_the_csv_has_each_joint_and_the_totals_with_stock(bay):
    rows = list(csv.DictReader(io.StringIO(bay("rivets", "--csv").out)))
    by_joint = [(row["joint"], row["rivet"], row["count"]) for row in rows if row["joint"]]
    assert by_joint == [("J1", "MS20470AD3-3", "5"), ("J2", "MS20470AD3-4", "5")]
    first = next(row for row in rows if not row["joint"])
    assert (first["rivet"], first["needed"], first["in_stock"], first["to_buy"]) == (
        *("MS20470AD3-3", "7", "3", "4"),
    )
