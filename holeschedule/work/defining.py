"""Joints defined: how each part lies is found out, build.toml says it, its holes are entered."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from holeschedule.audit.rules import RuleSet
from holeschedule.build.edit import add_joint
from holeschedule.build.folder import BuildFolder
from holeschedule.build.intent import BuildIntent, read_intent
from holeschedule.build.joints import JointIntent, LayerIntent, read_joint
from holeschedule.errors import BuildError, JointError
from holeschedule.joints.fit import Fit, FitResult, fit_holes
from holeschedule.joints.laid import LaidJoint
from holeschedule.joints.layers import Joint, Layer
from holeschedule.joints.places import place_tolerance
from holeschedule.record.database import Connection
from holeschedule.record.events import EntryDraft
from holeschedule.record.store import Record
from holeschedule.selection import label_key
from holeschedule.tables import rivet_size
from holeschedule.units import LengthUnit
from holeschedule.work.drawn_parts import DrawnParts
from holeschedule.work.in_force import revisions_in_force
from holeschedule.work.joining import imports_for, join_up, lay_joints, rules_of
from holeschedule.work.laying import JointsLaid

MOST_WAYS = 4
"""Ways to lie that an error tells one by one."""
_IN_PLACE = "0 in, 0 in"
_FEWEST = 2


@dataclass(frozen=True)
class JoinRequest:
    """A joint as it is asked for. Equality is by value.

    `layers` are parts with their holes as typed, `FL-107#2:A,C3-C9`, manufactured head first.
    `values` are keys of the joint as build.toml has them; `of_layers` keys of its layers, by the
    part as typed before the colon, in any case.
    """

    id: str
    layers: tuple[str, ...]
    values: Mapping[str, object] = field(default_factory=dict)
    of_layers: Mapping[str, Mapping[str, object]] = field(default_factory=dict)


@dataclass(frozen=True)
class Defined:
    """What came of it: the joints as laid, those that could not be, what was recorded.

    `units` are those of the build, None where each drawing is shown in its own.
    """

    laid: Mapping[str, LaidJoint]
    unlaid: Mapping[str, str]
    rules: RuleSet
    entry: int | None = None
    added: int = 0
    retired: int = 0
    notices: tuple[str, ...] = ()
    units: LengthUnit | None = None


def define_joint(
    folder: BuildFolder,
    record: Record,
    db: Connection,
    request: JoinRequest,
    who: str,
    *,
    dry_run: bool = False,
) -> Defined:
    """Define a joint: find out how its parts lie, write it into build.toml, enter its holes.

    Parameters
    ----------
    folder, record, db : BuildFolder, Record, Connection
        The build.
    request : JoinRequest
        The joint.
    who : str
        Who defines it.
    dry_run : bool
        Only say what comes of it.

    Raises
    ------
    HoleScheduleError
        A key cannot be used, a part cannot be read or does not fit, or fits in several ways.
        Nothing is changed.
    """
    intent = read_intent(folder)
    rules = rules_of(folder, intent)
    laying = JointsLaid(intent, DrawnParts(folder, record, db, intent), rules)
    values = _placed_values(laying, intent, _values(request, intent))
    joint = _read(values, intent)
    laid = laying.lay(joint)
    if dry_run:
        return Defined({joint.id: laid}, {}, rules, units=intent.units)
    add_joint(folder, values)
    done = enter_joints(folder, record, db, f"join {joint.id}", who)
    return replace(done, laid={joint.id: laid}, unlaid={})


def enter_joints(
    folder: BuildFolder,
    record: Record,
    db: Connection,
    command: str,
    who: str,
    *,
    dry_run: bool = False,
) -> Defined:
    """Enter the holes that match-drilling will make, for every joint that build.toml has.

    With `dry_run` they are only counted.

    Raises
    ------
    HoleScheduleError
        build.toml or the record cannot be used.
    """
    intent = read_intent(folder)
    rules = rules_of(folder, intent)
    drawn = DrawnParts(folder, record, db, intent)
    laid, unlaid = lay_joints(drawn, intent, rules)
    recorded = {part.id: record.holes(part.id) for part in intent.parts}
    joined = join_up(intent, laid, unlaid, drawn.moves, recorded)
    in_force = revisions_in_force(db, folder.record)
    imports = imports_for(joined, record.states(), recorded, in_force)
    entry = None
    if imports and not dry_run:
        made, _ = record.append(EntryDraft(command, who, imports=imports), {})
        entry = None if made is None else made.number
    holes = [hole for imported in imports for hole in imported.holes]
    added = sum(hole.change == "add" for hole in holes)
    return Defined(
        laid,
        unlaid,
        rules,
        entry,
        added,
        len(holes) - added,
        joined.notices,
        intent.units,
    )


# What is asked for -----------------------------------------------------------------------------


def _values(request: JoinRequest, intent: BuildIntent) -> dict[str, Any]:
    """Keys of the joint as build.toml has them; how a layer lies may still be missing."""
    asked = {name.casefold(): dict(values) for name, values in request.of_layers.items()}
    layers: list[dict[str, object]] = []
    for text in request.layers:
        part, colon, holes = text.partition(":")
        layer: dict[str, object] = {"part": _in_its_case(part, intent)}
        if colon:
            layer["holes"] = holes
        layers.append({**layer, **asked.pop(part.casefold(), {})})
    unknown = [name for name in request.of_layers if name.casefold() in asked]
    if unknown:
        raise JointError(
            f"{request.id}: {', '.join(unknown)} is none of its layers; they are"
            f" {', '.join(text.partition(':')[0] for text in request.layers)}."
        )
    return {"id": request.id.upper(), **request.values, "layer": layers}


def _in_its_case(part: str, intent: BuildIntent) -> str:
    name, sharp, copy = part.partition("#")
    known = {held.id.casefold(): held.id for held in intent.parts}
    return f"{known.get(name.casefold(), name)}{sharp}{copy}"


def _read(values: Mapping[str, object], intent: BuildIntent) -> JointIntent:
    return read_joint(values, {part.id: part.quantity for part in intent.parts}, intent.units)


# How the layers lie ----------------------------------------------------------------------------


def _placed_values(
    laying: JointsLaid, intent: BuildIntent, values: dict[str, Any]
) -> dict[str, Any]:
    """Complete the keys with how each layer lies, found out by its holes."""
    asked: list[dict[str, Any]] = values["layer"]
    if len(asked) < _FEWEST:
        raise JointError(
            f"{values['id']}: a joint has a name and two layers or more; name them, manufactured"
            " head first: join J1 FL-101:A FL-102:B."
        )
    if any(joint.id == values["id"] for joint in intent.joints):
        raise JointError(
            f"{values['id']}: there is such a joint already. Change it in build.toml and then run"
            " `join`, or take the next free name."
        )
    first, *further = asked
    taken = [
        layer if "by" in layer or "shift" in layer else {**layer, "shift": _IN_PLACE}
        for layer in further
    ]
    joint = _read({**values, "layer": [first, *taken]}, intent)
    base = laying.layer(joint, joint.layers[0])
    placed = [
        layer
        if "by" in layer or "shift" in layer
        else {**layer, **_fitted(laying, joint, base, said)}
        for layer, said in zip(further, joint.layers[1:], strict=True)
    ]
    return {**values, "layer": [first, *placed]}


def _fitted(
    laying: JointsLaid, joint: JointIntent, base: Layer, said: LayerIntent
) -> dict[str, object]:
    """`by` and `flip` of a layer by the best fit of its holes."""
    layer = laying.layer(joint, said)
    if not len(layer.holes) or not len(base.holes):
        raise JointError(
            f"{joint.id}: {layer.name} has no hole to be placed by; say --shift"
            f' "{layer.name}=X,Y", where the zero of its drawing lies on that of {base.name}.'
        )
    found = fit_layers(joint, base, layer, flip=said.flip, turn=said.turn)
    if found.is_ambiguous:
        ways = [f"({way_text(fit, base, layer)})" for fit in found.fits[:MOST_WAYS]]
        more = found.rival_count + 1 - len(ways)
        pairs = way_text(found.best, base, layer).removesuffix(" flipped")
        flip = "--flip" if found.best.placement.flip else "--no-flip"
        raise JointError(
            f"{joint.id}: {layer.name} fits {base.name} in {found.rival_count + 1} ways, each with"
            f" {found.best.count} holes: {' or '.join(ways)}{f' and {more} more' if more else ''}."
            f" Say which, as in --by {layer.name}:{pairs} {flip} {layer.name}."
        )
    by = ", ".join(f"{one}={two}" for one, two in far_pairs(found.best, base, layer))
    one_alone = {"turn": round(math.degrees(said.turn or 0.0), 6)} if "," not in by else {}
    return {"by": by, **one_alone, "flip": found.best.placement.flip}


def fit_layers(
    joint: JointIntent,
    base: Layer,
    layer: Layer,
    *,
    flip: bool | None = None,
    turn: float | None = None,
) -> FitResult:
    """Fit the holes of a layer on those of the first.

    Raises
    ------
    JointError
        They do not tell how it lies.
    """
    tolerance = place_tolerance(Joint(joint.id, (base, layer)))
    if joint.rivet is not None:
        tolerance = rivet_size(joint.rivet).shank_diameter / 2
    return fit_holes(
        base.centres,
        layer.part.centres[layer.holes],
        tolerance=tolerance,
        flip=flip,
        turn=turn,
    )


def far_pairs(fit: Fit, base: Layer, layer: Layer) -> tuple[tuple[str, str], ...]:
    """Labels of the first pair of a fit, and of the pair farthest from it; one where it has one."""
    named = [
        (
            base.part.holes[int(base.holes[on])].label,
            layer.part.holes[int(layer.holes[hole])].label,
        )
        for on, hole in fit.pairs.tolist()
    ]
    spots = base.centres[fit.pairs[:, 0]]
    first = min(range(len(named)), key=lambda i: label_key(named[i][0]))
    away = [round(float(math.dist(spot, spots[first])), 6) for spot in spots]
    # of pairs equally far, as on a circle, the one with the first label
    last = min(range(len(named)), key=lambda i: (-away[i], label_key(named[i][0])))
    return (named[first],) if first == last else (named[first], named[last])


def way_text(fit: Fit, base: Layer, layer: Layer) -> str:
    """One way to lie as it is said: `A1=C26,A26=C1 flipped`."""
    pairs = ",".join(f"{one}={two}" for one, two in far_pairs(fit, base, layer))
    return f"{pairs}{' flipped' if fit.placement.flip else ''}"


def selected_layer(laying: JointsLaid, intent: BuildIntent, text: str) -> Layer:
    """A part with its holes as typed, `FL-101:C`, lying as drawn.

    Raises
    ------
    HoleScheduleError
        There is no such part or hole.
    """
    other = next((part.id for part in intent.parts if part.id != _part_of(text, intent)), None)
    if other is None:
        raise JointError(f"{text}: there is no other part in this build to fit it to.")
    request = JoinRequest("J1", (text, other), of_layers={other: {"shift": _IN_PLACE}})
    values = _values(request, intent)
    for layer in values["layer"]:
        quantity = intent.part_named(str(layer["part"]).partition("#")[0]).quantity
        if quantity > 1 and "#" not in layer["part"]:
            layer["part"] += "#1"
    try:
        joint = _read(values, intent)
        return laying.layer(joint, joint.layers[0])
    except (BuildError, JointError) as error:  # of a joint that is none yet
        raise JointError(str(error).removeprefix("joint ").removeprefix("J1: ")) from error


def _part_of(text: str, intent: BuildIntent) -> str:
    return intent.part_named(text.partition(":")[0].partition("#")[0]).id
