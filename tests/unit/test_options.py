"""Options of the command line as what the library takes."""

import pytest

from holeschedule.drawing.layers import LayerRole
from holeschedule.errors import DrawingError, HoleScheduleError
from holeschedule.holes.parts import GAP, LARGEST_HOLE
from holeschedule.model import Head, Role
from holeschedule.options import audit_request, layer_roles, read_options
from holeschedule.units import LengthUnit

INCH, MILLIMETRE = LengthUnit.INCH, LengthUnit.MILLIMETRE
NOTHING = {
    "rivet": None,
    "head": None,
    "rules": "faa",
    "units": None,
    "layers": (),
    "gap": None,
    "largest_hole": None,
    "part": None,
    "as_json": False,
    "as_csv": False,
}


def test_without_options_the_drawing_tells_everything():
    request = audit_request(NOTHING)
    assert request.rules.name == "faa"
    assert (request.intent.rivet, request.intent.head, request.part) == (None, None, None)
    assert (request.read.unit, request.read.gap) == (None, GAP)
    assert (request.read.largest_hole, dict(request.read.layers.stated)) == (LARGEST_HOLE, {})


def test_options_become_what_they_say():
    request = audit_request(
        NOTHING | {"rivet": "-4", "head": "flush", "units": "MM", "gap": "0.1", "part": 2}
    )
    assert request.intent.rivet is not None
    assert (request.intent.rivet.name, request.intent.head) == ("1/8", Head.FLUSH)
    assert (request.read.unit, request.part) == ("mm", 2)


@pytest.mark.parametrize(
    ("units", "text", "inches"),
    [
        (None, "0.01", 0.01),
        ("in", "0.01", 0.01),
        ("mm", "0.254", 0.01),
        ("mm", "0.01 in", 0.01),
        ("in", "0.254 mm", 0.01),
        ("cm", "0.254 mm", 0.01),
        ("cm", "0", 0.0),
    ],
)
def test_a_length_without_a_unit_is_in_that_of_the_drawing(units, text, inches):
    read = read_options(NOTHING | {"units": units, "gap": text, "largest_hole": text})
    assert (read.gap, read.largest_hole) == pytest.approx((inches, inches))


def test_a_length_without_a_unit_is_refused_where_it_could_mean_two_things():
    with pytest.raises(HoleScheduleError, match=r"^--gap: '0\.1' has no unit; write it in inches"):
        read_options(NOTHING | {"units": "cm", "gap": "0.1"})


@pytest.mark.parametrize(
    ("text", "name", "role"),
    [
        ("HOLES=holes", "HOLES", LayerRole(Role.HOLES)),
        ("A=B=cutouts", "A=B", LayerRole(Role.CUTOUTS)),
        ("my layer = Bend ", "my layer", LayerRole(Role.BEND)),
        ("A:B=trim", "A:B", LayerRole(Role.TRIM)),
        ("P=holes:#40", "P", LayerRole(Role.HOLES, 0.098)),
        ("P=holes:f", "P", LayerRole(Role.HOLES, 0.257)),
        ("P=holes:1/8", "P", LayerRole(Role.HOLES, 0.125)),
    ],
)
def test_a_layer_is_named_before_the_last_equals_sign(text, name, role):
    assert layer_roles([text], INCH).stated == {name: role}


def test_a_diameter_without_a_unit_is_in_that_of_the_drawing():
    assert layer_roles(["P=holes:2.54"], MILLIMETRE).point_diameter("p") == pytest.approx(0.1)


@pytest.mark.parametrize("text", ["HOLES", "=holes", "HOLES=", "HOLES=hole", "HOLES=holes=", ""])
def test_a_layer_without_a_role_is_refused_with_the_roles(text):
    with pytest.raises(DrawingError) as caught:
        layer_roles([text], INCH)
    assert str(caught.value) == (
        f"--layer {text!r}: write NAME=ROLE, with one of the roles bend, cutouts, holes, ignored,"
        " outline, trim."
    )


@pytest.mark.parametrize("second", ["A=cutouts", "a=cutouts", " a = cutouts"])
def test_two_roles_for_one_layer_are_refused(second):
    with pytest.raises(DrawingError) as caught:
        layer_roles(["A=holes", second], INCH)
    said = f"--layer {second!r}: layer 'A' has the role holes already. Give one."
    assert str(caught.value) == said


def test_one_role_said_twice_is_one_role():
    assert layer_roles(["A=holes", "A=holes"], INCH).stated == {"A": LayerRole(Role.HOLES)}


def test_two_forms_of_output_are_refused():
    with pytest.raises(HoleScheduleError, match="--json and --csv"):
        audit_request(NOTHING | {"as_json": True, "as_csv": True})
