"""Options of the command line → what the library takes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from holeschedule.audit.files import AuditRequest
from holeschedule.audit.measure import Intent
from holeschedule.audit.rules import load_rule_set
from holeschedule.drawing.layers import LayerRole, LayerRoles
from holeschedule.errors import DrawingError, HoleScheduleError
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
    rivet, head = options["rivet"], options["head"]
    return AuditRequest(
        load_rule_set(options["rules"]),
        Intent(rivet_size(rivet) if rivet else None, Head(head) if head else None),
        read_options(options),
        options["part"],
    )


def read_options(options: Mapping[str, Any]) -> ReadOptions:
    """How a drawing is to be read. Lengths without a unit are in `--units`, else inches."""
    asked = options["units"]
    unit = drawing_unit_named(asked).symbol if asked else None
    typed = LengthUnit.MILLIMETRE if unit == "mm" else LengthUnit.INCH
    return ReadOptions(
        unit=unit,
        gap=_length("--gap", options["gap"], typed, GAP),
        largest_hole=_length("--largest-hole", options["largest_hole"], typed, LARGEST_HOLE),
        layers=layer_roles(options["layers"], typed),
    )


def _length(option: str, text: str | None, unit: LengthUnit, instead: float) -> float:
    if text is None:
        return instead
    try:
        return parse_length(text, unit)
    except HoleScheduleError as error:
        raise DrawingError(f"{option}: {error}") from error


def layer_roles(texts: Iterable[str], unit: LengthUnit) -> LayerRoles:
    """`NAME=role` and `NAME=holes:0.098` → roles by layer name.

    Raises
    ------
    DrawingError
        A text without `=`, or with a role that is none.
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
        size = parse_size(diameter, unit) if diameter else None
        roles[name.strip()] = LayerRole(Role(role), size)
    return LayerRoles(roles)
