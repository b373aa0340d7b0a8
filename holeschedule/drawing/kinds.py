"""Kinds of entities: what annotates a drawing, and what geometry cannot do without."""

from __future__ import annotations

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

REQUIRED = {
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
