"""What the tables say of a joint's rivets, as information: the plans govern. See docs/rivets.md."""

from __future__ import annotations

import itertools
import math
import statistics
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from holeschedule.fastener_tables import SheetMaterial, sheet_material
from holeschedule.joints.laid import LaidJoint, Rivet
from holeschedule.joints.places import Place
from holeschedule.joints.stack import StackLayer
from holeschedule.joints.strength import RivetLoad, RivetsPerInch, rivet_load, rivets_per_inch
from holeschedule.operations import Treatment
from holeschedule.tables import RivetSize


@dataclass(frozen=True, slots=True)
class JointStrength:
    """Rivets of one size in one joint, held against the tables. Equality is by value.

    `sheet` is the part with the thinnest sheet, `thickness` [in] that of it, `stated` its material
    in the builder's own words and `material` as the tables know it. `pitch` [in] is the usual one
    of the joint's rows. `asked` and `load` are None where the material is in none of the tables.
    """

    joint: str
    rivet: RivetSize
    sheet: str
    thickness: float
    stated: str
    material: SheetMaterial | None
    pitch: float | None
    asked: RivetsPerInch | None
    load: RivetLoad | None

    @property
    def per_inch(self) -> float | None:
        """Rivets per inch that one row of the joint has [1/in]."""
        return None if self.pitch is None else 1 / self.pitch


def joint_strengths(laid: LaidJoint, materials: Mapping[str, str]) -> tuple[JointStrength, ...]:
    """Hold the rivets of a joint against the tables, size by size.

    Parameters
    ----------
    laid : LaidJoint
        The joint.
    materials : mapping
        What each part is made of, in the builder's own words, by its id; empty where not stated.

    Returns
    -------
    tuple of JointStrength
        One for each size of rivet, the thinnest first; a size without a known sheet is left out.
    """
    sizes: dict[int, list[Rivet]] = {}
    for rivet in laid.rivets:
        if rivet.place.rivet is not None:
            sizes.setdefault(rivet.place.rivet.dash, []).append(rivet)
    found = (_strength(laid, sizes[dash], materials) for dash in sorted(sizes))
    return tuple(strength for strength in found if strength is not None)


def _strength(
    laid: LaidJoint, rivets: Sequence[Rivet], materials: Mapping[str, str]
) -> JointStrength | None:
    sheets = list(_sheets(laid, rivets))
    rivet = rivets[0].place.rivet
    if not sheets or rivet is None:
        return None
    thickness, _, part, layer = min(sheets, key=lambda sheet: sheet[:2])
    # a countersunk sheet may give way first although it is thicker
    cut = any(sheet[3].treatment is Treatment.COUNTERSINK for sheet in sheets)
    treatment = Treatment.COUNTERSINK if cut else Treatment.PLAIN
    stated = materials.get(part, "")
    material = sheet_material(stated)
    asked = load = None
    if material is not None and material.table is not None:
        asked = rivets_per_inch(thickness, rivet, material.table)
    if material is not None and material.bearing is not None:
        load = rivet_load(thickness, rivet, material.bearing, treatment)
    return JointStrength(
        laid.joint.name,
        rivet,
        layer.name,
        thickness,
        stated,
        material,
        usual_pitch(laid, [rivet.place for rivet in rivets]),
        asked,
        load,
    )


def _sheets(
    laid: LaidJoint, rivets: Sequence[Rivet]
) -> Iterator[tuple[float, int, str, StackLayer]]:
    """Thickness, place in the joint, part and layer of each sheet that has a thickness."""
    for rivet in rivets:
        layers = rivet.stack.layers if rivet.stack is not None else ()
        for layer, at in zip(layers, rivet.place.layers, strict=False):
            if layer.thickness is not None:
                yield layer.thickness, at.layer, laid.intent.layers[at.layer].part, layer


def usual_pitch(laid: LaidJoint, places: Sequence[Place]) -> float | None:
    """Work out the usual pitch [in] of rows with these places, on the first layer that has rows.

    The median, so that a gap in a row does not count. None where no two places follow on each
    other in a row.
    """
    spots = {
        (at.layer, at.hole): place.at for place in places for at in place.layers if at.has_hole
    }
    for number, layer in enumerate(laid.joint.layers):
        gaps = []
        for row in layer.part.rows:
            held = [spots.get((number, hole)) for hole in row.places]
            held += held[:1] if row.closed else []
            pairs = itertools.pairwise(held)
            gaps += [math.dist(one, two) for one, two in pairs if one and two]
        if gaps:
            return statistics.median(gaps)
    return None
