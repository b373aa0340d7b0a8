"""`measure` of a driven head: recorded, and held against the limits of its rivet."""

import pytest

from tests.cli.builds import LOW
from tests.cli.test_imports import HEAVY, loaded_after, run

JOINT = """
[[joint]]
id = "J1"
{more}
[[joint.layer]]
part = "SKIN"

[[joint.layer]]
part = "RIB"
by = "A1=A1, A5=A5"
flip = false
"""
D = 3 / 32


def riveted(shop, more="", thickness="0.063"):
    for name in ("skin", "rib"):
        shop.bring(f"{name}.dxf", "--thickness", thickness, holes=LOW)
    path = shop.build / "build.toml"
    path.write_text(shop.toml() + JOINT.format(more=more), encoding="utf-8")
    shop("mark", "SKIN RIB", "deburr")
    if more:
        shop("mark", "SKIN RIB", "countersink")
    assert shop("mark", "J1", "rivet").status == 0
    return shop


@pytest.fixture
def bay(shop):
    """Two plates with five rivets through both."""
    return riveted(shop)


@pytest.mark.parametrize(
    ("what", "value", "word"),
    [
        ("shop-head-width", 1.25 * D, None),
        ("shop-head-width", 1.25 * D - 1e-5, "narrow"),
        ("shop-head-width", 1.66 * D, None),
        ("shop-head-width", 1.66 * D + 1e-5, "wide"),
        ("shop-head-height", 0.33 * D, None),
        ("shop-head-height", 0.33 * D - 1e-5, "low"),
        ("shop-head-height", 0.66 * D, None),
        ("shop-head-height", 0.66 * D + 1e-5, "high"),
    ],
)
def test_a_head_is_within_its_limits_or_a_finding_and_recorded_either_way(bay, what, value, word):
    ran = bay("measure", "J1:2", what, f"{value:.9f}")
    assert ran.err == ""
    assert "RIB:A2: 1 hole measured" in ran.out
    assert what.replace("-", " ").replace("shop head", "shop-head") in bay("history", "RIB:A2").out
    if word is None:
        assert ran.status == 0
        assert "RIB:A2: within the limits of faa for 3/32 rivets" in ran.words
    else:
        assert ran.status == 1
        assert "FINDING: RIB:A2: a shop head" in ran.words
        assert f"is too {word} for a 3/32 rivet" in ran.words


def test_the_limits_are_told_with_the_range(bay):
    ran = bay("measure", "J1:1-5", "shop-head-width", "0.141")
    assert ran.words.endswith(
        "RIB: within the limits of faa for 3/32 rivets, 0.117 in to 0.156 in."
    )


def test_the_limits_are_those_of_the_rule_set_of_the_build(bay):
    (bay.build / "own.toml").write_text(
        'extends = "faa"\nshop_head = "mil-r-47196a"\nshop_head_source = "our plans, sheet 3"\n',
        encoding="utf-8",
    )
    text = bay.toml().replace('rules = "faa"', 'rules = "own.toml"')
    (bay.build / "build.toml").write_text(text, encoding="utf-8")
    assert bay("measure", "J1:2", "shop-head-width", f"{1.27 * D:.9f}").status == 1
    ran = bay("measure", "J1:2", "shop-head-width", "0.2")
    assert ran.status == 0
    assert "within the limits of mil-r-47196a for 3/32 rivets, 0.122 in or more." in ran.words


def test_nothing_is_recorded_where_the_limits_cannot_be_read(bay):
    text = bay.toml().replace('rules = "faa"', 'rules = "own.toml"')
    (bay.build / "build.toml").write_text(text, encoding="utf-8")
    before = bay("history").out
    assert bay("measure", "J1:2", "shop-head-width", "0.141").status == 2
    assert bay("history").out == before


def test_a_head_driven_flush_is_recorded_and_not_judged(shop):
    bay = riveted(shop, 'head = "flush"\nshop_head = "flush"')
    ran = bay("measure", "J1:2", "shop-head-width", "0.3")
    assert ran.status == 0
    assert "RIB:A2: whether that is within limits is not told; its shop head is driven flush." in (
        ran.words
    )


def test_what_is_measured_on_the_hole_is_not_held_against_heads(bay):
    ran = bay("measure", "SKIN:A2", "edge-distance", "0.3")
    assert (ran.status, "limits" in ran.out) == (0, False)


def test_a_rivet_that_is_not_in_a_joint_is_judged_by_the_rivet_of_its_hole(shop):
    shop.bring("skin.dxf", "--thickness", "0.063", holes=LOW)
    shop("mark", "SKIN:A", "deburr")
    shop("mark", "SKIN:A", "rivet")
    ran = shop("measure", "SKIN:A3", "shop-head-width", "0.1")
    assert (ran.status, "SKIN:A3: a shop head 0.100 in in width is too narrow" in ran.words) == (
        1,
        True,
    )


def test_undo_takes_a_measurement_outside_its_limits_back(bay):
    bay("measure", "J1:2", "shop-head-width", "0.1")
    assert bay("undo").status == 0
    assert bay("verify").status == 0


def test_measuring_a_hole_loads_nothing_heavy(bay):
    bay("mark", "J1", "rivet")
    measure = run("measure", "SKIN:A2", "edge-distance", "0.3", "--build", bay.build)
    assert loaded_after(measure, HEAVY) == []
