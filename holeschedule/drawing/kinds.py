"""Kinds of entities: what annotates a drawing, what geometry cannot do without, what is flat."""

from __future__ import annotations

from typing import Any

import numpy as np

from holeschedule.geometry.edges import FloatArray

LEVEL = 1e-6
"""How far one end of an edge may lie above the other, as a share of its length or of a unit: it
shortens the edge by less than a millionth of that."""

NOT_GEOMETRY = frozenset(
    (
        "ACAD_TABLE",
        "ARC_DIMENSION",
        "ATTDEF",
        "ATTRIB",
        "DIMENSION",
        "GEODATA",
        "HATCH",
        "IMAGE",
        "LARGE_RADIAL_DIMENSION",
        "LEADER",
        "MLEADER",
        "MPOLYGON",
        "MTEXT",
        "MULTILEADER",
        "OLE2FRAME",
        "OLEFRAME",
        "PDFUNDERLAY",
        "DWFUNDERLAY",
        "DGNUNDERLAY",
        "RTEXT",
        "SHAPE",
        "SUN",
        "TEXT",
        "TOLERANCE",
        "VIEWPORT",
        "WIPEOUT",
    )
)
"""Entities that annotate; they are left out with one notice."""

_REQUIRED = {
    "LINE": (("start", 10), ("end", 11)),
    "ARC": (("center", 10), ("radius", 40), ("start_angle", 50), ("end_angle", 51)),
    "CIRCLE": (("center", 10), ("radius", 40)),
    "POINT": (("location", 10),),
    "ELLIPSE": (("center", 10), ("major_axis", 11), ("ratio", 40)),
    "INSERT": (("name", 2), ("insert", 10)),
    "VERTEX": (("location", 10),),
}
"""What an entity cannot do without, with its group code: the library would put in a default, a
radius of 1 or a centre at (0, 0)."""
_REQUIRED_NAMES = {kind: frozenset(name for name, _ in held) for kind, held in _REQUIRED.items()}
_NONE: frozenset[str] = frozenset()
_WORDS = {
    "center": "centre",
    "start_angle": "start angle",
    "end_angle": "end angle",
    "major_axis": "major axis",
    "insert": "insertion point",
}


def what_is_missing(entity: Any) -> str | None:
    """What a library entity lacks, as 'a CIRCLE has no radius (group code 40)'; None if nothing."""
    kind = entity.dxftype()
    held = vars(entity.dxf)  # asked of every entity: once, and not name by name
    if _REQUIRED_NAMES.get(kind, _NONE) <= held.keys():
        return None
    for name, code in _REQUIRED[kind]:
        if name not in held:
            article = "an" if kind[0] in "AEI" else "a"
            return f"{article} {kind} has no {_WORDS.get(name, name)} (group code {code})"
    return None


def is_steep(points: FloatArray) -> bool:
    """Whether points (n, 3 or more) leave the level of the drawing."""
    if not len(points):
        return False
    return bool(np.ptp(points[:, 2]) > LEVEL * max(1.0, float(np.ptp(points[:, :2], axis=0).max())))
