"""What is intended: build.toml read and checked. docs/build-folder.md explains every key.

Only the standard library reads it. A mistake is one line that names the file, the line and the
values allowed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from holeschedule.build.folder import BUILD_FILE, DRAWINGS, BuildFolder
from holeschedule.build.joints import (
    JointIntent,
    holes_of_part,
    read_joints,
    read_spares,
    read_stock,
    read_taper,
)
from holeschedule.build.keys import Table, parse_toml, read_text, shown
from holeschedule.data import choose_from
from holeschedule.errors import BuildError, HoleScheduleError
from holeschedule.model import Head, Notice
from holeschedule.operations import Finish, PartOperation, Treatment
from holeschedule.selection import HoleSelection, check_part_name, is_selected
from holeschedule.tables import (
    SLACK,
    countersink_least_sheet,
    dimple_most_sheet,
    rivet_of_dash,
    rivet_size,
)
from holeschedule.units import LengthUnit, format_length, parse_length

THICKEST = 1.0
"""Inches. Sheet and plate beyond is a slip of the pen, or millimetres taken for inches."""
NO_RIVET = "none"
"""What `rivet` says of holes that take none."""


@dataclass(frozen=True, slots=True)
class HolesIntent:
    """What differs for some holes of a part; None where nothing does. Equality is by value.

    `select` is as written, `selections` as read. `rivet` is the rivet's name, or `NO_RIVET`.
    """

    select: str
    selections: tuple[HoleSelection, ...]
    treatment: Treatment | None = None
    head: Head | None = None
    rivet: str | None = None

    def takes_in(self, label: str) -> bool:
        """Whether a hole is among those selected.

        Raises
        ------
        SelectionError
            It is not the label of a hole.
        """
        return is_selected(label, self.selections)


@dataclass(frozen=True, slots=True)
class HoleIntent:
    """What is intended for one hole; None where nothing is said. Equality is by value."""

    treatment: Treatment | None
    head: Head | None
    rivet: str | None


@dataclass(frozen=True, slots=True)
class PartIntent:
    """What is intended for one part. Equality is by value.

    `drawing` is a file in drawings/, `number` which part on it. `thickness` [in], `head` and
    `rivet` are None where nothing is said. `mirror`: made as the mirror image of the drawing.
    `operations` are those stated; `work` has the primer of the finish as well.
    """

    id: str
    drawing: str
    number: int = 1
    thickness: float | None = None
    material: str = ""
    finish: Finish = Finish.NONE
    quantity: int = 1
    mirror: bool = False
    head: Head | None = None
    rivet: str | None = None
    holes: tuple[HolesIntent, ...] = ()
    operations: tuple[PartOperation, ...] = ()
    taper: tuple[tuple[str, float], ...] = ()

    @property
    def work(self) -> tuple[PartOperation, ...]:
        """Operations that each copy needs as a whole, in the order of work: primer included."""
        primed = (PartOperation.PRIME,) if self.finish.is_primed else ()
        return tuple(o for o in PartOperation if o in (*self.operations, *primed))

    def for_hole(self, label: str) -> HoleIntent:
        """What is intended for one hole; of several entries that select it the last counts.

        Raises
        ------
        SelectionError
            It is not the label of a hole.
        """
        treatment, head, rivet = None, self.head, self.rivet
        for entry in self.holes:
            if entry.takes_in(label):
                treatment = entry.treatment or treatment
                head, rivet = entry.head or head, entry.rivet or rivet
        return HoleIntent(treatment, head, rivet)


@dataclass(frozen=True, slots=True)
class BuildIntent:
    """What is intended for a build. Equality is by value.

    `units` is None where each drawing is shown in its own. `rules` is a packaged rule set by
    name, or the path of one from the build's folder. `stock` are the rivets there are, by
    designation; `spares` a percentage on top of those counted, None for the usual one.
    """

    name: str
    units: LengthUnit | None
    rules: str
    parts: tuple[PartIntent, ...]
    joints: tuple[JointIntent, ...] = ()
    stock: Mapping[str, int] = field(default_factory=dict)
    spares: int | None = None

    def part_named(self, name: str) -> PartIntent:
        """Find a part by its id, in any case.

        Raises
        ------
        BuildError
            There is none; the message lists those there are.
        """
        for part in self.parts:
            if part.id.casefold() == name.casefold():
                return part
        if not self.parts:
            raise BuildError(f"there is no part {name!r}, nor any other. Bring one in: `import`.")
        ids = [part.id for part in self.parts]
        raise BuildError(f"there is no part {name!r}; {choose_from(name, ids)}.")


# Reading ---------------------------------------------------------------------------------------


def read_intent(build: BuildFolder) -> BuildIntent:
    """Read and check the build.toml of a build.

    Raises
    ------
    BuildError
        It cannot be read, is not TOML, or a line of it cannot be used. Names file and line.
    """
    return parse_intent(read_text(build.file), str(build.file))


def parse_intent(text: str, where: str) -> BuildIntent:
    """Read and check the text of a build.toml.

    Parameters
    ----------
    text : str
        The whole file.
    where : str
        How errors call it.

    Raises
    ------
    BuildError
        It is not TOML, or a line of it cannot be used. Names the line.
    """
    return _read_build(Table(parse_toml(text, where), (), where, text))


def parse_build(values: Mapping[str, object]) -> BuildIntent:
    """Read and check a build from its keys and values, as they would stand in build.toml.

    Raises
    ------
    BuildError
        A key or value cannot be used.
    """
    return _read_build(Table(values, (), "a new build", None))


def _read_build(table: Table) -> BuildIntent:
    table.check_keys(_BUILD_KEYS)
    units = table.optional_choice("units", LengthUnit)
    parts = _read_parts(table, units)
    return BuildIntent(
        table.text("name", ""),
        units,
        table.text("rules", "faa"),
        parts,
        read_joints(table, {part.id: part.quantity for part in parts}, units),
        read_stock(table),
        read_spares(table),
    )


def parse_part(values: Mapping[str, object], units: LengthUnit | None) -> PartIntent:
    """Read and check one part from its keys and values, as they would stand in build.toml.

    Raises
    ------
    BuildError
        A key or value cannot be used. Names the part.
    """
    return _read_part(Table(values, (), f"part {values.get('id', 'without id')}", None), units)


_BUILD_KEYS = ("name", "units", "rules", "spares", "stock", "part", "joint")
_HOLES_KEYS = ("select", "treatment", "head", "rivet")
PART_KEYS = (
    *(
        "id",
        "drawing",
        "number",
        "thickness",
        "taper",
        "material",
        "finish",
        "operations",
        "quantity",
    ),
    *("mirror", "head", "rivet", "holes"),
)
"""Keys of a part, in the order in which they are written."""

# Parts -----------------------------------------------------------------------------------------


def _read_parts(table: Table, units: LengthUnit | None) -> tuple[PartIntent, ...]:
    parts: dict[str, PartIntent] = {}
    for entry in table.below("part"):
        part = _read_part(entry, units)
        if part.id.casefold() in parts:
            entry.refuse("id", f"there is a part {part.id!r} above; each needs an id of its own")
        parts[part.id.casefold()] = part
    return tuple(parts.values())


def _read_part(table: Table, units: LengthUnit | None) -> PartIntent:
    table.check_keys(PART_KEYS)
    name = _read_id(table)
    return PartIntent(
        name,
        _read_drawing(table),
        table.count("number"),
        _read_thickness(table, units),
        table.text("material", ""),
        table.optional_choice("finish", Finish) or Finish.NONE,
        table.count("quantity"),
        table.flag("mirror"),
        table.optional_choice("head", Head),
        _read_rivet(table),
        tuple(_read_holes(entry, name) for entry in table.below("holes")),
        table.choices("operations", PartOperation),
        read_taper(table, lambda value: _sheet(table, "taper", value, units)),
    )


def _read_id(table: Table) -> str:
    name = table.text("id")
    if not re.fullmatch(r"[\w.-]+", name):
        table.refuse(
            "id", f"id is {shown(name)}; write letters, digits and . _ - alone, as in FL-101"
        )
    try:
        return check_part_name(name)
    except HoleScheduleError as error:
        table.refuse("id", f"id: {str(error).rstrip('.')}")


def _read_drawing(table: Table) -> str:
    name = table.text("drawing")
    if re.search(r"[/\\:]", name) or name.startswith("."):
        table.refuse(
            "drawing",
            f"drawing is {shown(name)}; it has to be the name of a file in {DRAWINGS}/, without"
            " a folder",
        )
    if not name.casefold().endswith(".dxf"):
        table.refuse("drawing", f"drawing is {shown(name)}; it has to end in .dxf")
    return name


def _read_thickness(table: Table, units: LengthUnit | None) -> float | None:
    if "thickness" not in table.cells:
        return None
    return _sheet(table, "thickness", table.cells["thickness"], units)


def _sheet(table: Table, key: str, value: object, units: LengthUnit | None) -> float:
    """Thickness [in] that a key states."""
    inches = _length(table, key, value, units)
    # written so that NaN is refused
    if not 0 < inches <= THICKEST + SLACK:
        table.refuse(
            key,
            f"{key} is {shown(value)}; it has to be above 0 and at most"
            f" {format_length(THICKEST, units or LengthUnit.INCH)}",
        )
    return inches


def _length(table: Table, key: str, value: object, units: LengthUnit | None) -> float:
    """A length [in] from a number in `units`, or from a text."""
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        table.refuse(
            key,
            f'{key} is {shown(value)}; it has to be a length, as in 0.032, "1/32" or "0.8 mm"',
        )
    try:
        readings = [_inches(value, unit) for unit in ([units] if units else LengthUnit)]
    except HoleScheduleError as error:
        table.refuse(key, f"{key}: {str(error).rstrip('.')}")
    if len(readings) > 1 and readings[0] != readings[1]:
        table.refuse(
            key,
            f"{key} is {shown(value)} without a unit, and the build states no units; write"
            f' "{value} in" or "{value} mm"',
        )
    return readings[0]


def _inches(value: float | str, unit: LengthUnit) -> float:
    if isinstance(value, str):
        return parse_length(value, unit)
    try:
        return unit.to_inches(float(value))
    except OverflowError:
        return float("inf")


def _read_rivet(table: Table) -> str | None:
    if "rivet" not in table.cells:
        return None
    text = table.text("rivet")
    if text == NO_RIVET:
        return text
    try:
        return rivet_size(text).name
    except HoleScheduleError as error:
        what = str(error).rstrip(".")
        table.refuse("rivet", f'rivet: {what}, or "{NO_RIVET}" for holes that take none')


def _read_holes(table: Table, part: str) -> HolesIntent:
    table.check_keys(_HOLES_KEYS)
    select = table.text("select")
    said = [key for key in table.cells if key != "select"]
    if not said:
        table.refuse(
            "select", f"nothing is said of these holes; state {', '.join(sorted(_HOLES_KEYS[1:]))}"
        )
    return HolesIntent(
        select,
        _read_select(table, select, part),
        table.optional_choice("treatment", Treatment),
        table.optional_choice("head", Head),
        _read_rivet(table),
    )


def _read_select(table: Table, select: str, part: str) -> tuple[HoleSelection, ...]:
    try:
        return holes_of_part(part, select)
    except HoleScheduleError:
        table.refuse(
            "select",
            f"select is {shown(select)}; write rows and holes of this part, parted by commas, as"
            ' in "C", "C3-C9" or "A, C7"',
        )


# What belongs together -------------------------------------------------------------------------


def treatment_for(
    part: str, dash: int, thickness: float | None, head: Head | None
) -> tuple[Treatment | None, Notice | None]:
    """What a hole is given for the head, where nobody has said and no joint says.

    Parameters
    ----------
    part : str
        Named in the notice.
    dash : int
        The rivet, in 32nds of an inch.
    thickness : float [in], optional
        Of the sheet.
    head : Head, optional
        Protruding where it is not known.

    Returns
    -------
    Treatment or None, Notice or None
        Plain for a protruding head. For a flush one dimple up to the thickest sheet that is best
        dimpled, countersink from the thinnest that may be; where both would do, dimple. Between
        the two, or where the thickness is not known, None and a notice that says what to choose.

    Raises
    ------
    TableError
        No such rivet is made.
    """
    if head is not Head.FLUSH:
        return Treatment.PLAIN, None
    rivet = rivet_of_dash(dash).name
    if thickness is None:
        return None, _to_choose(
            part,
            f"{rivet} flush rivets are dimpled or countersunk by the thickness of the sheet,"
            " which is not stated: state thickness, or treatment",
        )
    most, least = dimple_most_sheet(), countersink_least_sheet(dash)
    if thickness <= most.value + SLACK:
        return Treatment.DIMPLE, None
    if least is not None and thickness >= least.value - SLACK:
        return Treatment.COUNTERSINK, None
    sheet, limit = _inch_text(thickness), _inch_text(most.value)
    countersunk = (
        "and no thinnest sheet to countersink for them is published"
        if least is None
        else f"and countersunk from {_inch_text(least.value)} up ({least.source})"
    )
    return None, _to_choose(
        part,
        f"{rivet} flush rivets in {sheet} sheet: it is best dimpled up to {limit}"
        f" ({most.source}), {countersunk}: choose a treatment for these holes",
    )


def _to_choose(part: str, what: str) -> Notice:
    return Notice("treatment.choose", f"{part}: {what} in {BUILD_FILE}")


def _inch_text(length: float) -> str:
    return format_length(length, LengthUnit.INCH)
