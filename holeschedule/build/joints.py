"""Joints as build.toml has them: which parts lie on each other, on which holes, with what rivet."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from holeschedule.build.keys import MOST_COPIES, Table, shown
from holeschedule.data import choose_from
from holeschedule.errors import HoleScheduleError, SelectionError
from holeschedule.fastener_tables import LengthRule
from holeschedule.model import Head
from holeschedule.operations import Treatment
from holeschedule.selection import HoleSelection, is_selected, label_key, parse_selection
from holeschedule.tables import rivet_size
from holeschedule.units import LengthUnit, parse_length

MOST_LAYERS = 8
"""Sheets that one rivet can hold; more is a slip of the pen."""
LAYER_KEYS = ("part", "holes", "by", "shift", "turn", "flip", "treatment", "trimmed")
JOINT_KEYS = ("id", "title", "rivet", "head", "shop_head", "length", "layer")
"""Keys of a layer and of a joint, in the order in which they are written."""
MOST_RIVETS = 10_000_000
"""Rivets of one kind in stock."""
MOST_SPARES = 100
"""Percent of rivets on top of those counted."""


@dataclass(frozen=True, slots=True)
class LayerIntent:
    """One part in a joint. Equality is by value.

    `copy` is which of several, 1 where there is one. `selections` are empty where every hole of
    the part belongs to the joint. `by` are pairs of labels, of the first layer and of this one,
    that lie on each other. `turn` [rad] is stated where one pair is all there is; `flip` None
    where the holes tell it. `shift` [in] is where the zero of its drawing comes to lie on that of
    the first layer, for a part without a hole to go by. `trimmed`: its trim lines are cut already.
    """

    part: str
    copy: int = 1
    selections: tuple[HoleSelection, ...] = ()
    by: tuple[tuple[str, str], ...] = ()
    flip: bool | None = None
    turn: float | None = None
    shift: tuple[float, float] | None = None
    treatment: Treatment | None = None
    trimmed: bool = False

    def takes_in(self, label: str) -> bool:
        """Whether a hole of the part belongs to the joint.

        Raises
        ------
        SelectionError
            It is not the label of a hole.
        """
        return not self.selections or is_selected(label, self.selections)


@dataclass(frozen=True, slots=True)
class JointIntent:
    """Parts that one lot of rivets holds together, manufactured head first. Equality is by value.

    `rivet` is a size by name, None where the drawn holes tell it. `shop_head` is flush where the
    shop head is driven into a countersink or dimple as well. `length` is how a length that is
    made is picked, None as the rule set says.
    """

    id: str
    layers: tuple[LayerIntent, ...]
    title: str = ""
    rivet: str | None = None
    head: Head = Head.PROTRUDING
    shop_head: Head = Head.PROTRUDING
    length: LengthRule | None = None


def read_joints(
    table: Table, quantities: Mapping[str, int], units: LengthUnit | None
) -> tuple[JointIntent, ...]:
    """Read and check the joints of a build.

    Parameters
    ----------
    table : Table
        The build's.
    quantities : mapping
        How many there are of each part, by id.
    units : LengthUnit, optional
        Of lengths that state none.

    Raises
    ------
    BuildError
        A line cannot be used. Names it.
    """
    joints: dict[str, JointIntent] = {}
    for entry in table.below("joint"):
        joint = _read_joint(entry, quantities, units)
        if joint.id in joints:
            entry.refuse("id", f"there is a joint {joint.id!r} above; each needs an id of its own")
        joints[joint.id] = joint
    return tuple(joints.values())


def read_joint(
    values: Mapping[str, object], quantities: Mapping[str, int], units: LengthUnit | None
) -> JointIntent:
    """Read and check one joint from its keys and values, as they would stand in build.toml.

    Raises
    ------
    BuildError
        A key or value cannot be used. Names the joint.
    """
    where = f"joint {values.get('id', 'without id')}"
    return _read_joint(Table(values, (), where, None), quantities, units)


def _read_joint(
    table: Table, quantities: Mapping[str, int], units: LengthUnit | None
) -> JointIntent:
    table.check_keys(JOINT_KEYS)
    name = table.text("id").upper()
    if not re.fullmatch(r"J[1-9]\d{0,5}", name):
        table.refuse("id", f"id is {shown(table.cells['id'])}; a joint is called J1, J2, J3, …")
    layers = tuple(_read_layer(entry, quantities, units) for entry in table.below("layer"))
    if not 2 <= len(layers) <= MOST_LAYERS:
        table.refuse(
            "layer",
            f"{name} has {len(layers)} layers; a joint has 2 to {MOST_LAYERS}, each a"
            " [[joint.layer]] below it, manufactured head first",
        )
    _check_layers(table, layers)
    return JointIntent(
        name,
        layers,
        table.text("title", ""),
        _read_rivet(table),
        table.optional_choice("head", Head) or Head.PROTRUDING,
        table.optional_choice("shop_head", Head) or Head.PROTRUDING,
        table.optional_choice("length", LengthRule),
    )


def _check_layers(table: Table, layers: Sequence[LayerIntent]) -> None:
    seen: set[tuple[str, int]] = set()
    for layer in layers:
        if (layer.part, layer.copy) in seen:
            table.refuse("layer", f"{layer.part} is two layers of it; one piece lies there once")
        seen.add((layer.part, layer.copy))
    first, *further = layers
    if first != replace(first, by=(), shift=None, flip=None, turn=None):
        table.refuse(
            "layer", "by, shift, turn and flip place a layer on the first; that has none of them"
        )
    for layer in further:
        if layer.by and layer.shift is not None:
            table.refuse(
                "layer", f"{layer.part} has both by and shift; each says how it lies: write one"
            )
        if not layer.by and layer.shift is None:
            table.refuse(
                "layer",
                f"how {layer.part} lies on {first.part} is not stated; write by (holes that lie on"
                " each other), or shift where it has no hole; `join` finds it out",
            )


def _read_rivet(table: Table) -> str | None:
    if "rivet" not in table.cells:
        return None
    try:
        return rivet_size(table.text("rivet")).name
    except HoleScheduleError as error:
        table.refuse("rivet", f"rivet: {str(error).rstrip('.')}")


# Layers ----------------------------------------------------------------------------------------


def _read_layer(
    table: Table, quantities: Mapping[str, int], units: LengthUnit | None
) -> LayerIntent:
    table.check_keys(LAYER_KEYS)
    part, copy = _read_part(table, quantities)
    return LayerIntent(
        part,
        copy,
        _read_holes(table, part),
        _read_pairs(table),
        table.flag("flip") if "flip" in table.cells else None,
        _read_turn(table),
        _read_shift(table, units),
        table.optional_choice("treatment", Treatment),
        table.flag("trimmed"),
    )


def _read_part(table: Table, quantities: Mapping[str, int]) -> tuple[str, int]:
    text = table.text("part")
    said, sharp, number = text.partition("#")
    part = next((name for name in quantities if name.casefold() == said.casefold()), None)
    if part is None:
        there = choose_from(said, quantities) if quantities else "there are no parts yet"
        table.refuse("part", f"there is no part {said!r}; {there}")
    if not sharp:
        if quantities[part] > 1:
            table.refuse(
                "part",
                f"there are {quantities[part]} of {part}; say which one lies here: {part}#1",
            )
        return part, 1
    copy = int(number) if number.isascii() and number.isdigit() and len(number) <= 3 else 0
    if not 1 <= copy <= min(quantities[part], MOST_COPIES):
        table.refuse("part", f"part is {shown(text)}; {part} has copies 1 to {quantities[part]}")
    return part, copy


def _read_holes(table: Table, part: str) -> tuple[HoleSelection, ...]:
    if "holes" not in table.cells:
        return ()
    select = table.text("holes")
    try:
        return holes_of_part(part, select)
    except HoleScheduleError:
        table.refuse(
            "holes",
            f"holes is {shown(select)}; write rows and holes of {part}, parted by commas, as in"
            ' "C", "C3-C9" or "A, C7"',
        )


def holes_of_part(part: str, select: str) -> tuple[HoleSelection, ...]:
    """Read a selection of rows and holes of one part, its name left out: "A, C3-C9".

    Raises
    ------
    SelectionError
        It is not written so.
    """
    pieces = parse_selection(f"{part}:{select}")
    found = tuple(
        piece
        for piece in pieces
        if isinstance(piece, HoleSelection) and piece.part == part and piece.row
    )
    if len(found) < len(pieces):
        raise SelectionError(f"{select!r} names more than holes of {part}; write C, C3-C9 or C7.")
    return found


def _read_pairs(table: Table) -> tuple[tuple[str, str], ...]:
    if "by" not in table.cells:
        return ()
    text = table.text("by")
    try:
        return parse_pairs(text)
    except HoleScheduleError as error:
        table.refuse("by", f"by: {str(error).rstrip('.')}")


def parse_pairs(text: str) -> tuple[tuple[str, str], ...]:
    """Read pairs of holes that lie on each other, "A1=C1, A9=C9".

    Raises
    ------
    SelectionError
        It is not written so.

    Examples
    --------
    >>> parse_pairs("a1=C1, A9=C9")
    (('A1', 'C1'), ('A9', 'C9'))
    """
    found = []
    for piece in text.split(","):
        first, _, second = piece.partition("=")
        found.append((_label(first, piece), _label(second, piece)))
    return tuple(found)


def _label(text: str, piece: str) -> str:
    try:
        _, row, place = label_key(text.strip())
    except SelectionError as error:
        raise SelectionError(
            f"{piece.strip()!r} is no pair of holes; write them as A1=C1, A9=C9: a hole of the"
            " first part, and the hole of the other that lies on it."
        ) from error
    return f"{row}{place}"


def _read_turn(table: Table) -> float | None:
    if "turn" not in table.cells:
        return None
    value = table.cells["turn"]
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    if not is_number or not abs(float(str(value))) <= 360:
        table.refuse("turn", f"turn is {shown(value)}; it has to be degrees from -360 to 360")
    return math.radians(float(str(value)))


def _read_shift(table: Table, units: LengthUnit | None) -> tuple[float, float] | None:
    if "shift" not in table.cells:
        return None
    text = table.text("shift")
    try:
        x, y = (_signed_length(piece.strip(), units) for piece in text.split(","))
    except (HoleScheduleError, ValueError):
        table.refuse(
            "shift",
            f'shift is {shown(text)}; write two lengths, as in "0.5, 1.25" or "12 mm, -3 mm"',
        )
    return x, y


def _signed_length(text: str, units: LengthUnit | None) -> float:
    """A length [in] that may be negative; without a unit it needs one of the build."""
    length = parse_length(text.removeprefix("-"), units or LengthUnit.INCH)
    if units is None and length != parse_length(text.removeprefix("-"), LengthUnit.MILLIMETRE):
        raise ValueError(text)
    return -length if text.startswith("-") else length


# Rivets ----------------------------------------------------------------------------------------


def read_stock(table: Table) -> Mapping[str, int]:
    """Read how many rivets there are, by designation in capitals.

    Raises
    ------
    BuildError
        A line is no number of rivets.
    """
    cells = table.cells.get("stock", {})
    if not isinstance(cells, Mapping):
        table.refuse("stock", "stock is a table: [stock], and below it MS20470AD3-4 = 250")
    found: dict[str, int] = {}
    for name, count in cells.items():
        inside = Table(cells, ("stock",), table.where, table.file_text)
        if isinstance(count, bool) or not isinstance(count, int) or not 0 <= count <= MOST_RIVETS:
            inside.refuse(name, f"{name} is {shown(count)}; it has to be a whole number from 0 up")
        found[name.upper()] = count
    return found


def read_spares(table: Table) -> int | None:
    """Read the percentage of rivets on top of those counted; None where nothing is said.

    Raises
    ------
    BuildError
        It is none.
    """
    if "spares" not in table.cells:
        return None
    value = table.cells["spares"]
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= MOST_SPARES:
        table.refuse(
            "spares", f"spares is {shown(value)}; it has to be percent, from 0 to {MOST_SPARES}"
        )
    return value


# Tapered parts ---------------------------------------------------------------------------------


def read_taper(table: Table, length: Callable[[object], float]) -> tuple[tuple[str, float], ...]:
    """Read the thickness of a tapered part at two or three of its holes, "A1=0.18, C3=0.06".

    Parameters
    ----------
    table : Table
        The part's.
    length : callable
        Turns a number or text as written into inches.

    Raises
    ------
    BuildError
        It is not written so.
    """
    if "taper" not in table.cells:
        return ()
    text = table.text("taper")
    found = []
    for piece in text.split(","):
        label, _, size = piece.partition("=")
        try:
            _, row, place = label_key(label.strip())
        except SelectionError:
            table.refuse("taper", f"taper is {shown(text)}; {_TAPER}")
        found.append((f"{row}{place}", length(_number_or_text(size.strip()))))
    if len(found) not in (2, 3) or len({label for label, _ in found}) < len(found):
        table.refuse("taper", f"taper is {shown(text)}; {_TAPER}")
    return tuple(found)


_TAPER = (
    "write the thickness at two or three of its holes, not on one line if three, as in"
    ' "A1=0.180, C3=0.060"'
)


def _number_or_text(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text
