"""Options of the command line → what the library takes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from holeschedule.audit.files import AuditRequest
from holeschedule.audit.measure import Intent
from holeschedule.audit.rules import DEFAULT_RULES, load_rule_set
from holeschedule.drawing.layers import LayerRole, LayerRoles
from holeschedule.errors import DrawingError, HoleScheduleError, LengthError
from holeschedule.holes.parts import GAP, LARGEST_HOLE, ReadOptions
from holeschedule.model import Head, Role
from holeschedule.tables import parse_size, rivet_size
from holeschedule.units import LengthUnit, drawing_unit_named, parse_length


def audit_request(options: Mapping[str, Any]) -> AuditRequest:
    """What `audit` is asked for.

    Raises
    ------
    HoleScheduleError
        An option can't be used; the message names it.
    """
    if options["as_json"] and options["as_csv"]:
        raise HoleScheduleError("--json and --csv are two ways to print the result. Give one.")
    rivet, head = options["rivet"], options["head"]
    with _naming("--rivet"):
        intent = Intent(None if rivet is None else rivet_size(rivet), Head(head) if head else None)
    with _naming("--rules"):
        rules = load_rule_set(options["rules"] or DEFAULT_RULES)
    return AuditRequest(rules, intent, read_options(options), options["part"])


@contextmanager
def _naming(option: str) -> Iterator[None]:
    """Put the option in front of what is wrong with its value."""
    try:
        yield
    except HoleScheduleError as error:
        raise type(error)(f"{option}: {error}") from error


_TYPED = {None: LengthUnit.INCH, "in": LengthUnit.INCH, "mm": LengthUnit.MILLIMETRE}
"""What a length without a unit is in, by the unit of the drawing; in others it has to say so."""


def read_options(options: Mapping[str, Any]) -> ReadOptions:
    """How a drawing is to be read. Lengths without a unit are in `--units`, else inches.

    Raises
    ------
    HoleScheduleError
        A unit or length that is none; the message names the option.
    """
    asked = options["units"]
    with _naming("--units"):
        unit = None if asked is None else drawing_unit_named(asked).symbol
    typed = _TYPED.get(unit)
    return ReadOptions(
        unit=unit,
        gap=_length("--gap", options["gap"], typed, GAP),
        largest_hole=_length("--largest-hole", options["largest_hole"], typed, LARGEST_HOLE),
        layers=layer_roles(options["layers"], typed),
    )


def _length(option: str, text: str | None, unit: LengthUnit | None, instead: float) -> float:
    if text is None:
        return instead
    with _naming(option):
        return _with_unit(text, unit, parse_length)


def _with_unit(
    text: str, unit: LengthUnit | None, parse: Callable[[str, LengthUnit], float]
) -> float:
    read = parse(text, unit or LengthUnit.INCH)
    if unit is None and read != parse(text, LengthUnit.MILLIMETRE):
        raise LengthError(f"{text!r} has no unit; write it in inches (0.01 in) or millimetres.")
    return read


def layer_roles(texts: Iterable[str], unit: LengthUnit | None) -> LayerRoles:
    """`NAME=role` and `NAME=holes:0.098` → roles by layer name.

    Raises
    ------
    HoleScheduleError
        A text without `=`, with a role or diameter that is none, or two roles for one layer.
    """
    roles: dict[str, LayerRole] = {}
    choices = ", ".join(sorted(Role))
    for text in texts:
        name, equals, value = text.rpartition("=")
        role, _, diameter = value.strip().lower().partition(":")
        if not equals or not name or role not in set(Role):
            raise DrawingError(
                f"--layer {text!r}: write NAME=ROLE, with one of the roles {choices}."
            )
        if diameter and role != Role.HOLES:
            raise DrawingError(
                f"--layer {text!r}: only holes have a diameter, as holes:{diameter}."
            )
        said = LayerRole(Role(role), _diameter(text, diameter, unit))
        roles[name.strip()] = _one_role(roles, text, name.strip(), said)
    return LayerRoles(roles)


def _one_role(roles: Mapping[str, LayerRole], text: str, name: str, said: LayerRole) -> LayerRole:
    """The role just said, unless the layer, its name in any case, has another already."""
    for known, role in roles.items():
        if known.casefold() == name.casefold() and role != said:
            raise DrawingError(
                f"--layer {text!r}: layer {known!r} has the role {role.role} already. Give one."
            )
    return said


def _diameter(option: str, text: str, unit: LengthUnit | None) -> float | None:
    if not text:
        return None
    with _naming(f"--layer {option!r}"):
        diameter = _with_unit(text, unit, parse_size)
    if diameter <= 0:
        raise DrawingError(f"--layer {option!r}: a hole has a diameter above 0, not {text}.")
    return diameter
