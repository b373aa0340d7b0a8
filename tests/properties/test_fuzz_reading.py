"""Damaged drawings: whatever was done, parts or one clear line, and never less in silence."""

from __future__ import annotations

import logging
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holeschedule.errors import HoleScheduleError
from holeschedule.holes.part import Part
from holeschedule.holes.parts import read_parts
from tests.makers import CIRCLE_HABITS, NUMBER_40, options_of, plate_drawing, save

FEW = settings(max_examples=60, deadline=None)
MANY = settings(max_examples=5000, deadline=None)
TEXTS = ["R12", "R2010"]
BINARIES = ["binary R12", "binary R2010"]
ODD_VALUES = [
    *("nan", "inf", "-inf", "1e308", "-1e308", "1e-308", "0", "-1", "-0.0", "4", "0.5", "1e9"),
    *("2,5", "", "abc", "99999999999999999999", "65535", "CIRCLE", "EOF", "ENDSEC", "SECTION"),
]
OPTIONAL = {5, 8, 30, 100, 330}
"""Group codes that a circle can do without."""


@pytest.fixture(scope="module", autouse=True)
def _no_log() -> Iterator[None]:
    """The library logs what it finds, broken Unicode too, which test workers cannot pass on."""
    logging.disable(logging.CRITICAL)
    yield
    logging.disable(logging.NOTSET)


@cache
def base(name: str) -> bytes:
    """A good drawing with holes in many manners, a block, a bend line and a text."""
    version = name.rsplit(maxsplit=1)[-1]
    doc = plate_drawing(version=version)
    space = doc.modelspace()
    habits = ["two half arcs", "loose lines, 8 corners", "old polyline"]
    if version != "R12":
        habits += ["ellipse of equal axes", "rational spline", "spline through fit points"]
    for i, habit in enumerate(habits):
        CIRCLE_HABITS[habit](space, 0.5 + i / 2, 1.5, NUMBER_40 / 2)
    doc.blocks.new("H").add_circle((0, 0), NUMBER_40 / 2)
    grid = {"column_count": 2, "column_spacing": 0.25}
    space.add_blockref("H", (3.5, 1.5), dxfattribs=grid)
    space.add_line((0, 1.2), (4, 1.2), dxfattribs={"layer": "BEND"})
    space.add_text("PLATE")
    with tempfile.TemporaryDirectory() as folder:
        fmt = "bin" if "binary" in name else "asc"
        return save(doc, Path(folder), fmt=fmt).read_bytes()


@dataclass(frozen=True)
class Outcome:
    """What became of a file: parts, or the one line that says why not."""

    parts: tuple[Part, ...] = ()
    message: str = ""

    @property
    def schedule(self) -> list[tuple[float, float, float]]:
        return sorted((h.x, h.y, h.diameter) for part in self.parts for h in part.holes)

    @property
    def notices(self) -> set[tuple[str, str]]:
        return {(n.code, n.text) for part in self.parts for n in part.notices}


def outcome(data: bytes) -> Outcome:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.dxf"
        path.write_bytes(data)
        try:
            return Outcome(read_parts(path, options_of(unit="in")))
        except HoleScheduleError as error:
            message = str(error)
    assert message.isprintable()
    assert message.startswith(str(path))
    assert len(message) < 1500
    return Outcome(message=message)


@cache
def whole(name: str) -> Outcome:
    return outcome(base(name))


def assert_nothing_lost_in_silence(name: str, damaged: Outcome) -> None:
    """Refused, or no hole less unless a notice more says so."""
    if damaged.message or len(damaged.schedule) >= len(whole(name).schedule):
        return
    assert damaged.notices - whole(name).notices


# mutations --------------------------------------------------------------------------------------


def with_bytes(data: bytes, changes: Iterable[tuple[int, int, str]]) -> bytes:
    """Put another byte in, take one out, or set one in, at places modulo the size."""
    out = bytearray(data)
    for place, value, how in changes:
        at = place % len(out)
        if how == "set":
            out[at] = value
        elif how == "drop":
            del out[at]
        else:
            out.insert(at, value)
    return bytes(out)


def with_lines(data: bytes, changes: Iterable[tuple[int, int, str, str]]) -> bytes:
    """Drop, double or replace lines at places modulo their number."""
    lines = data.decode("utf-8", "surrogateescape").split("\n")
    for place, count, how, value in changes:
        at = place % len(lines)
        if how == "drop" and len(lines) > count:
            del lines[at : at + count]
        elif how == "double":
            lines[at:at] = lines[at : at + count]
        else:
            lines[at] = value
    return "\n".join(lines).encode("utf-8", "surrogateescape")


places = st.integers(0, 2**31)
byte_changes = st.lists(
    st.tuples(places, st.integers(0, 255), st.sampled_from(["set", "drop", "insert"])),
    min_size=1,
    max_size=8,
)
line_changes = st.lists(
    st.tuples(
        places,
        st.integers(1, 6),
        st.sampled_from(["drop", "double", "replace", "replace"]),
        st.sampled_from(ODD_VALUES),
    ),
    min_size=1,
    max_size=4,
)


def lines_of(name: str) -> list[str]:
    return base(name).decode().split("\n")


def circle_lines(name: str) -> list[int]:
    """Numbers of the lines with a group code of a circle, from its centre on."""
    lines = lines_of(name)
    first = lines.index("ENTITIES")
    found = []
    inside = False
    for i in range(first + 1, len(lines) - 1, 2):
        if lines[i].strip() == "0":
            inside = lines[i + 1] == "CIRCLE"
        elif inside:
            found.append(i)
    return found


# properties -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", TEXTS)
@FEW
@given(changes=line_changes)
def test_lines_lost_doubled_or_replaced(name, changes):
    outcome(with_lines(base(name), changes))


@pytest.mark.parametrize("name", [*TEXTS, *BINARIES])
@FEW
@given(changes=byte_changes)
def test_bytes_changed_lost_or_put_in(name, changes):
    outcome(with_bytes(base(name), changes))


@pytest.mark.parametrize("name", [*TEXTS, *BINARIES])
@FEW
@given(share=st.floats(0, 1))
def test_a_drawing_cut_off_anywhere_is_refused(name, share):
    data = base(name)
    end = data.rindex(b"EOF") + 2
    assert outcome(data[: int(share * end)]).message


@pytest.mark.parametrize("name", TEXTS)
@FEW
@given(place=places, how=st.sampled_from(["drop", "double"]))
def test_one_line_lost_or_doubled_never_makes_another_schedule(name, place, how):
    damaged = outcome(with_lines(base(name), [(place, 1, how, "")]))
    assert damaged.message or damaged.schedule == whole(name).schedule


@pytest.mark.parametrize("name", TEXTS)
@FEW
@given(data=st.data())
def test_a_circle_that_lost_centre_or_radius_is_refused(name, data):
    line = data.draw(st.sampled_from(circle_lines(name)))
    code = int(lines_of(name)[line])
    damaged = outcome(with_lines(base(name), [(line, 2, "drop", "")]))
    if code in OPTIONAL:
        assert len(damaged.schedule) == len(whole(name).schedule) or damaged.message
    else:
        assert damaged.message


@pytest.mark.parametrize("name", TEXTS)
@FEW
@given(data=st.data(), value=st.sampled_from(ODD_VALUES))
def test_a_number_of_a_circle_that_is_none_is_refused_and_no_hole_is_lost_in_silence(
    name, data, value
):
    lines = lines_of(name)
    numbers = [i + 1 for i in circle_lines(name) if int(lines[i]) in {10, 20, 40}]
    at = data.draw(st.sampled_from(numbers))
    damaged = outcome(with_lines(base(name), [(at, 1, "replace", value)]))
    try:
        float(value)
    except ValueError:
        assert damaged.message
    else:
        assert_nothing_lost_in_silence(name, damaged)


@pytest.mark.parametrize("name", ["R2010"])
@FEW
@given(place=places, count=st.integers(1, 20))
def test_lines_lost_from_a_drawing_with_marks_of_class_lose_no_circle_in_silence(
    name, place, count
):
    damaged = outcome(with_lines(base(name), [(place, count, "drop", "")]))
    circles = [h for part in damaged.parts for h in part.holes if h.drawn_as == "circle"]
    wanted = [h for part in whole(name).parts for h in part.holes if h.drawn_as == "circle"]
    if not damaged.message and len(circles) < len(wanted):
        assert damaged.notices - whole(name).notices


@pytest.mark.parametrize("name", [*TEXTS, *BINARIES])
def test_the_good_drawings_are_good(name):
    assert len(whole(name).schedule) == (10 if "R12" in name else 13)
    assert whole(name).message == ""


# longer -----------------------------------------------------------------------------------------


@pytest.fixture
def _asked_for(request) -> None:
    """Skip what takes minutes unless the slow tests are asked for."""
    if "slow" not in request.config.option.markexpr:
        pytest.skip("takes minutes; run with -m slow")


@pytest.mark.slow
@pytest.mark.usefixtures("_asked_for")
@pytest.mark.parametrize("name", TEXTS)
@MANY
@given(changes=line_changes)
def test_many_drawings_with_damaged_lines(name, changes):
    outcome(with_lines(base(name), changes))


@pytest.mark.slow
@pytest.mark.usefixtures("_asked_for")
@pytest.mark.parametrize("name", [*TEXTS, *BINARIES])
@MANY
@given(changes=byte_changes)
def test_many_drawings_with_damaged_bytes(name, changes):
    outcome(with_bytes(base(name), changes))
