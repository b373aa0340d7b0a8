"""The picture of a joint: layers over each other, offsets drawn larger by a stated factor."""

from dataclasses import replace

import numpy as np
import pytest

from holeschedule.joints.places import find_places
from holeschedule.units import LengthUnit
from holeschedule.views.callouts import Callout
from holeschedule.views.frame import TitleBlock
from holeschedule.views.joint_picture import JointView, joint_picture
from holeschedule.views.page import Clipped
from tests.joints import demo_joint
from tests.pictures import circles, crossing_texts, texts, texts_off

BLOCK = TitleBlock("J", "The build", (("date", "2026-03-05"),))


def joint_view(name, **how):
    joint = demo_joint(name)
    return JointView(joint, find_places(joint), BLOCK, LengthUnit.INCH, **how)


@pytest.mark.parametrize("name", [f"J{number}" for number in range(1, 17)])
def test_every_joint_of_the_demo_is_drawn_without_overlaps(name):
    for paper in (None, "letter"):
        page = joint_picture(joint_view(name), paper)
        assert crossing_texts(page) == []
        assert texts_off(page) == []
        numbers = [item.text for item in page.texts if item.style in ("single", "number")]
        assert sorted(numbers) == sorted(str(place.number) for place in joint_view(name).places)


@pytest.mark.parametrize("times", [1, 5, 20])
def test_offsets_are_drawn_as_many_times_their_length_as_is_said(times):
    view = joint_view("J5", times=times)
    page = joint_picture(view)
    number = len(view.joint.layers) - 1
    first = {(round(x, 9), round(y, 9)) for x, y, _ in circles(page, "hole")}
    further = np.array(circles(page, "further layer hole"))
    at = [place for place in view.places for a in place.layers if a.layer == number and a.has_hole]
    offsets = [
        a.offset for place in view.places for a in place.layers if a.layer == number and a.has_hole
    ]
    lengths = np.hypot(*np.array(offsets).T)
    base = np.array([place.at for place in at])
    # places on the paper: the first layer has a hole at each of them
    drawn = np.array(sorted(first))
    scale = np.ptp(drawn[:, 1]) / np.ptp(np.array([place.at for place in view.places])[:, 1])
    own = (base - base.mean(axis=0)) * scale
    off = further[:, :2] - further[:, :2].mean(axis=0) - own
    expected = np.array(offsets) * scale * times
    expected -= expected.mean(axis=0)
    assert np.abs(off - expected).max() < 1e-9
    assert lengths.max() == pytest.approx(0.012, abs=2e-4)
    assert ("to scale" if times == 1 else f"drawn {times} times their length") in texts(page)


def test_without_a_factor_offsets_are_large_enough_to_be_seen():
    assert "drawn 10 times their length" in texts(joint_picture(joint_view("J5")))
    assert "to scale" in texts(joint_picture(joint_view("J13")))


def test_layers_are_told_in_the_legend_in_their_order():
    view = joint_view("J13")
    page = joint_picture(view)
    said = [text for text in texts(page) if text.startswith("FL-1")]
    assert said[:3] == ["FL-103", "FL-109", "FL-111"]
    assert "to be match-drilled: 2" in said + texts(page)


def test_every_layer_is_drawn_and_nothing_of_it_beyond_the_window():
    page = joint_picture(joint_view("J4"))
    (window,) = [item for item in page.items if isinstance(item, Clipped)]
    assert len(window.items) == 4
    assert len({path.style for path in window.items}) == 4


def test_what_is_wrong_is_called_out_at_its_place():
    callout = Callout("10", "10  FL-111  SHORT", ("edge distance 0.1500 in", "at least 0.1875 in"))
    page = joint_picture(joint_view("J13", callouts=(callout,)))
    assert {"10  FL-111  SHORT", "edge distance 0.1500 in"} <= set(texts(page))
    assert crossing_texts(page) == []


def test_what_is_wrong_and_finds_no_room_is_counted():
    callouts = tuple(Callout(str(n), f"{n}  SHORT", ("edge distance",)) for n in range(1, 16))
    page = joint_picture(joint_view("J13", callouts=callouts))
    shown = [text for text in texts(page) if text.endswith("  SHORT")]
    (note,) = [text for text in texts(page) if "more finding" in text]
    assert f"{15 - len(shown)} more finding" in note
    assert 0 < len(shown) < 15
    assert crossing_texts(page) == []


def test_a_joint_of_one_place_is_drawn():
    view = joint_view("J13")
    single = replace(view, places=view.places[:1])
    page = joint_picture(single)
    assert "1" in texts(page)
    assert texts_off(page) == []
