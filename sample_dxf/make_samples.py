"""Write the demo drawings: `python sample_dxf/make_samples.py [FOLDER]`.

Each sheet is drawn in a habit of its own (see README.md). The output is the same byte for byte
on every run: no times, no random identifiers, numbers rounded to ten places.
"""

from __future__ import annotations

import csv
import io
import logging
import sys
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import ezdxf
from ezdxf.layouts.layout import Modelspace
from flat_part import Part
from float_bay import PARTS
from float_joints import FAULTS, JOINTS, Joint, Layer
from sheet_habits import (
    MM_PER_INCH,
    draw_aft_bulkhead,
    draw_bottom_skin,
    draw_fwd_bulkhead,
    draw_gusset,
    draw_hatch_cover,
    draw_hatch_ring,
    draw_hinge_leaf,
    draw_keel_angle,
    draw_side_skin,
    draw_skeg,
    draw_stringer,
    draw_transom_plate,
)

INCH, MILLIMETRE = 1, 4
PER_INCH = {INCH: 1.0, MILLIMETRE: MM_PER_INCH}
EXPECTED_COLUMNS = (
    "drawing,part,name,thickness_in,quantity,version,unit,holes,holes_by_diameter_in,marks,cutouts,"
    "bend_lines,trim_lines,planted_faults"
)
MATING_COLUMNS = (
    "joint,title,rivet,head,places,layer,part,piece,rows,flip,turn_deg,shift_x_in,shift_y_in,holes,"
    "positions_in"
)


@dataclass(frozen=True, slots=True)
class Sheet:
    """One drawing file: its DXF version, its unit, its parts and how it is drawn."""

    name: str
    version: str
    parts: tuple[str, ...]
    draw: Callable[[Modelspace, list[Part]], None]
    unit: int = INCH


SHEETS: tuple[Sheet, ...] = (
    Sheet("fl-101", "R2000", ("FL-101",), draw_bottom_skin),
    Sheet("fl-102", "R2010", ("FL-102",), draw_side_skin),
    Sheet("fl-103", "R2018", ("FL-103",), draw_fwd_bulkhead),
    Sheet("fl-104", "R12", ("FL-104",), draw_aft_bulkhead),
    Sheet("fl-105", "R2007", ("FL-105",), draw_keel_angle, MILLIMETRE),
    Sheet("fl-106", "R2000", ("FL-106",), draw_stringer),
    Sheet("fl-107", "R2010", ("FL-107",), draw_gusset),
    Sheet("fl-108", "R2004", ("FL-108",), draw_transom_plate),
    Sheet("fl-109", "R2018", ("FL-109",), draw_hatch_ring),
    Sheet("fl-110", "R2013", ("FL-110",), draw_hatch_cover),
    Sheet("fl-111", "R12", ("FL-111",), draw_hinge_leaf),
    Sheet("fl-112", "R2010", ("FL-112A", "FL-112B"), draw_skeg),
)


def sheet_text(sheet: Sheet) -> str:
    """Return the DXF text of one sheet."""
    ezdxf.options.write_fixed_meta_data_for_testing = True  # no times, no random identifiers
    doc = ezdxf.new(sheet.version)
    doc.header["$LASTSAVEDBY"] = "demo"
    doc.header["$MEASUREMENT"] = int(sheet.unit == MILLIMETRE)
    doc.header["$INSUNITS"] = sheet.unit  # left out of R12 by the writer: `steady` puts it in
    scale = PER_INCH[sheet.unit]
    sheet.draw(doc.modelspace(), [PARTS[number].on_sheet(scale) for number in sheet.parts])
    for name in sorted(doc.entitydb.dxf_types_in_use()):
        doc.classes.add_class(name)  # the writer would add them in the order of a set
    stream = io.StringIO()
    doc.write(stream)
    return steady(stream.getvalue(), sheet)


def steady(text: str, sheet: Sheet) -> str:
    """Round all numbers to ten places and state the unit in R12 too."""
    lines = text.splitlines()
    tags = list(zip(lines[0::2], lines[1::2], strict=True))
    out: list[str] = []
    for i, (code, value) in enumerate(tags):
        if is_real(int(code)):
            value = repr(round(float(value), 10) + 0.0)  # noqa: PLW2901 - + 0.0 turns -0.0 into 0.0
        out += [code, value]
        if sheet.version == "R12" and i and tags[i - 1][1] == "$ACADVER":
            out += ["  9", "$INSUNITS", " 70", str(sheet.unit)]
    return "\n".join(out) + "\n"


def is_real(code: int) -> bool:
    """Whether a group code carries a real number (DXF reference, group code value types)."""
    return 10 <= code <= 59 or 110 <= code <= 149 or 210 <= code <= 239 or 1010 <= code <= 1059


def expected_rows() -> Iterable[list[str]]:
    """One line a part: what a reader has to find on the sheet."""
    yield EXPECTED_COLUMNS.split(",")
    for sheet in SHEETS:
        for number in sheet.parts:
            part = PARTS[number]
            sizes = Counter(hole.diameter for hole in part.holes)
            yield [
                f"{sheet.name}.dxf",
                number,
                part.name,
                f"{part.thickness:.3f}",
                str(part.quantity),
                sheet.version,
                "mm" if sheet.unit == MILLIMETRE else "in",
                str(len(part.holes)),
                "; ".join(f"{size:.4f}: {count}" for size, count in sorted(sizes.items())),
                str(sum(hole.mark is not None for hole in part.holes)),
                str(len(part.cutouts)),
                str(len(part.bends)),
                str(len(part.trims)),
                "; ".join(fault_words(number)),
            ]


def fault_words(number: str) -> Iterable[str]:
    """`kind @ x y = measured (limit)` of each fault of a part, inches, in the sheet's axes."""
    for fault in FAULTS:
        if fault.part == number:
            x, y = fault.on_sheet()
            sizes = f" = {fault.measured:.6f} ({fault.limit:.6f})" if fault.measured else ""
            yield f"{fault.kind} @ {x:.6f} {y:.6f}{sizes}"


def mating_rows() -> Iterable[list[str]]:
    """One line a joint and layer: where the part lies on the joint's first layer, and its holes."""
    yield MATING_COLUMNS.split(",")
    for joint in JOINTS:
        for i, layer in enumerate(joint.layers, 1):
            yield layer_row(joint, i, layer)


def layer_row(joint: Joint, place: int, layer: Layer) -> list[str]:
    """One layer of a joint; positions and placement in the axes of the sheets, inches."""
    dx, dy = offset = PARTS[layer.part].offset
    base = PARTS[joint.layers[0].part].offset
    move = layer.placement.on_sheets(base, offset)
    holes = layer.holes()
    return [
        joint.name,
        joint.title,
        joint.rivets,
        joint.head,
        str(joint.places),
        str(place),
        layer.part,
        layer.piece,
        "; ".join(layer.rows),
        "yes" if move.flip else "no",
        f"{move.turn:g}",
        *(f"{round(value, 6) + 0.0:.6f}" for value in move.shift),
        str(len(holes)),
        "; ".join(f"{h.x + dx:.6f} {h.y + dy:.6f}" for h in holes),
    ]


def csv_text(rows: Iterable[list[str]]) -> str:
    """Rows as CSV with LF line ends."""
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\n").writerows(rows)
    return stream.getvalue()


def write_samples(folder: Path) -> list[Path]:
    """Write every drawing and both tables into `folder`; return the paths."""
    texts = {f"{sheet.name}.dxf": sheet_text(sheet) for sheet in SHEETS}
    texts["expected.csv"] = csv_text(expected_rows())
    texts["mating.csv"] = csv_text(mating_rows())
    for name, text in texts.items():
        (folder / name).write_bytes(text.encode("utf-8"))
    return [folder / name for name in texts]


if __name__ == "__main__":
    # new() warns that R12 states no unit; here it does
    logging.getLogger("ezdxf").addHandler(logging.NullHandler())
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent
    for path in write_samples(target):
        print(path.name)
