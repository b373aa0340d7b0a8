"""The demo drawings, read with ezdxf and shapely alone and checked by brute force.

Nothing of the package is used here: what the sheets show is settled apart from what reads them.
"""

from __future__ import annotations

import csv
import math
import re
import subprocess
import sys
from collections import Counter
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from ezdxf.disassemble import recursive_decompose
from shapely import LineString, Point, Polygon, affinity, node, union_all
from shapely.ops import polygonize

FOLDER = Path(__file__).parents[2] / "sample_dxf"
WRITTEN_WITH = "1.4.5"
LARGEST_HOLE, LARGEST_MARK = 0.328, 0.36
SHANK = {0.098: 3 / 32, 0.1285: 1 / 8, 0.082: 3 / 32}
NOT_EDGES = {"BEND", "TRIM", "FRAME", "DIM", "CENTER", "NOTES", "TEXT", "ANNOTATION"}


@dataclass(frozen=True)
class Seen:
    """One part as it stands on its sheet, inches."""

    face: Polygon
    holes: dict[tuple[float, float], float]
    marked: set[tuple[float, float]]
    bends: int
    trims: list[LineString]

    def edge_distance(self, x: float, y: float) -> float:
        lines = [self.face.boundary, *self.trims]
        return min(line.distance(Point(x, y)) for line in lines)


def rows_of(name: str) -> list[dict[str, str]]:
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


EXPECTED = {row["part"]: row for row in rows_of("expected.csv")}
MATING = rows_of("mating.csv")
JOINTS = sorted({row["joint"] for row in MATING}, key=lambda name: int(name[1:]))
DRAWINGS = sorted(path.name for path in FOLDER.glob("*.dxf"))


def planted(part: str) -> list[tuple[str, float, float, float]]:
    """Kind, x, y and measured value of each planted fault."""
    faults = []
    for text in filter(None, EXPECTED[part]["planted_faults"].split("; ")):
        kind, x, y, value = re.fullmatch(r"(.+) @ (\S+) (\S+)(?: = (\S+) .*)?", text).groups()
        faults.append((kind, float(x), float(y), float(value or 0)))
    return faults


def simple_entities(layout) -> list:
    """Every LINE, ARC, CIRCLE and round ELLIPSE that is geometry, blocks and polylines resolved."""
    found = []
    for entity in recursive_decompose(layout):
        if entity.dxf.layer.upper() in NOT_EDGES:
            continue
        if entity.dxftype() in {"LWPOLYLINE", "POLYLINE"}:
            found += entity.virtual_entities()
        elif entity.dxftype() in {"LINE", "ARC", "CIRCLE", "ELLIPSE"}:
            found.append(entity)
    return found


def sweep(arc) -> float:
    """Degrees an ARC covers."""
    return (arc.dxf.end_angle - arc.dxf.start_angle) % 360 or 360.0


def circles_and_rest(entities: list, scale: float) -> tuple[set, list[LineString]]:
    """Full circles as (x, y, radius), doubles once; every other line and arc as a fine chain."""
    covered: Counter = Counter()
    arcs, lines = [], []
    for entity in entities:
        if entity.dxftype() == "LINE":
            ends = [entity.dxf.start, entity.dxf.end]
            lines.append(LineString([(round(v.x * scale, 7), round(v.y * scale, 7)) for v in ends]))
            continue
        round_one = entity.dxftype() == "ELLIPSE"
        radius = entity.dxf.major_axis.magnitude if round_one else entity.dxf.radius
        if round_one:
            assert entity.dxf.ratio == 1.0
        centre = entity.dxf.center if round_one else entity.ocs().to_wcs(entity.dxf.center)
        key = tuple(round(v * scale, 6) for v in (centre.x, centre.y, radius))
        is_arc = entity.dxftype() == "ARC"
        covered[key] += sweep(entity) if is_arc else 360.0
        if is_arc:
            arcs.append((key, entity))
    circles = {key for key, degrees in covered.items() if degrees > 359.9}
    rest = [fine_arc(arc, scale) for key, arc in arcs if key not in circles]
    return circles, lines + rest


def fine_arc(arc, scale: float) -> LineString:
    """Chain chords along an ARC, less than 0.00001 in off."""
    centre, radius = arc.dxf.center, arc.dxf.radius
    angles = np.radians(arc.dxf.start_angle + np.linspace(0, sweep(arc), 400))
    points = np.column_stack(
        (centre.x + radius * np.cos(angles), centre.y + radius * np.sin(angles))
    )
    return LineString(np.round(points * scale, 7))


def ring(x: float, y: float, radius: float) -> LineString:
    angles = np.linspace(0, 2 * np.pi, 2001)
    points = np.column_stack((x + radius * np.cos(angles), y + radius * np.sin(angles)))
    points[-1] = points[0]
    return LineString(points)


def open_lines(doc, layer: str, scale: float) -> list[LineString]:
    found = doc.modelspace().query(f'LINE[layer=="{layer}"]')
    return [
        LineString([(v.x * scale, v.y * scale) for v in (e.dxf.start, e.dxf.end)]) for e in found
    ]


@cache
def seen_on(drawing: str) -> tuple[Seen, ...]:
    """List the parts of a sheet, left to right."""
    doc = ezdxf.readfile(FOLDER / drawing)
    scale = {1: 1.0, 4: 1 / 25.4}[doc.header["$INSUNITS"]]
    circles, chains = circles_and_rest(simple_entities(doc.modelspace()), scale)
    small = {c for c in circles if 2 * c[2] <= LARGEST_MARK}
    rings = [ring(*c) for c in circles - small]
    faces = [
        face
        for face in polygonize(node(union_all(chains + rings)))
        if sum(face.contains(Point(x, y)) for x, y, _ in small)
    ]
    bends, trims = (open_lines(doc, layer, scale) for layer in ("BEND", "TRIM"))
    return tuple(
        seen_part(face, [c for c in small if face.contains(Point(c[:2]))], bends, trims)
        for face in sorted(faces, key=lambda face: face.bounds)
    )


def seen_part(face: Polygon, circles: list, bends: list, trims: list) -> Seen:
    """Holes are the smallest circles of each centre; a larger one round it is its mark."""
    sizes: dict[tuple[float, float], list[float]] = {}
    for x, y, radius in circles:
        sizes.setdefault((round(x, 5), round(y, 5)), []).append(2 * radius)
    return Seen(
        face,
        {centre: round(min(found), 4) for centre, found in sizes.items()},
        {centre for centre, found in sizes.items() if len(found) == 2},
        sum(face.intersects(line) for line in bends),
        [line for line in trims if face.intersects(line)],
    )


def seen(part: str) -> Seen:
    """Find a part by its number; two on one sheet stand left and right in that order."""
    drawing = EXPECTED[part]["drawing"]
    same = [number for number, row in EXPECTED.items() if row["drawing"] == drawing]
    return seen_on(drawing)[same.index(part)]


def positions(row: dict[str, str]) -> np.ndarray:
    return np.array([[float(v) for v in pair.split()] for pair in row["positions_in"].split("; ")])


def placed(row: dict[str, str], points: np.ndarray) -> np.ndarray:
    """Points of a layer carried into the frame of its joint's first layer."""
    a, b, d, e, xoff, yoff = matrix(row)
    return points @ np.array([[a, d], [b, e]]) + (xoff, yoff)


def matrix(row: dict[str, str]) -> tuple[float, ...]:
    """Flip, then turn, then shift, as (a, b, d, e, xoff, yoff)."""
    turn, side = math.radians(float(row["turn_deg"])), -1 if row["flip"] == "yes" else 1
    c, s = math.cos(turn), math.sin(turn)
    return c * side, -s, s * side, c, float(row["shift_x_in"]), float(row["shift_y_in"])


def distances(points: np.ndarray, others: np.ndarray) -> np.ndarray:
    return np.hypot(*(points[:, None, :] - others[None, :, :]).transpose(2, 0, 1))


def layers_of(joint: str) -> list[dict[str, str]]:
    return [row for row in MATING if row["joint"] == joint]


# --- files ----------------------------------------------------------------------------------------


def test_there_is_an_expectation_for_every_drawing_and_none_besides():
    assert sorted({row["drawing"] for row in EXPECTED.values()}) == DRAWINGS
    assert len(DRAWINGS) == 12


@pytest.mark.skipif(
    ezdxf.__version__ != WRITTEN_WITH, reason="another ezdxf may write other boilerplate"
)
def test_the_script_writes_the_committed_files_byte_for_byte(tmp_path):
    script = FOLDER / "make_samples.py"
    subprocess.run(
        [sys.executable, "-B", str(script), str(tmp_path)], check=True, capture_output=True
    )
    written = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    kept = {name: (FOLDER / name).read_bytes() for name in written}
    assert sorted(written) == sorted([*DRAWINGS, "expected.csv", "mating.csv"])
    assert [name for name in written if written[name] != kept[name]] == []


@pytest.mark.parametrize("drawing", DRAWINGS)
def test_a_drawing_opens_without_repairs_and_states_its_unit(drawing):
    raw = (FOLDER / drawing).read_bytes()
    doc = ezdxf.readfile(FOLDER / drawing)
    auditor = doc.audit()
    row = next(row for row in EXPECTED.values() if row["drawing"] == drawing)
    assert b"\r" not in raw
    assert (auditor.errors, auditor.fixes) == ([], [])
    assert doc.header["$INSUNITS"] == {"in": 1, "mm": 4}[row["unit"]]
    assert doc.acad_release == row["version"]


@pytest.mark.parametrize("part", EXPECTED)
def test_every_sheet_says_part_number_and_that_it_is_invented(part):
    doc = ezdxf.readfile(FOLDER / EXPECTED[part]["drawing"])
    texts = " ".join(text.dxf.text for text in doc.modelspace().query("TEXT"))
    assert part in texts
    assert "NOT FOR BUILDING" in texts


@pytest.mark.parametrize("part", EXPECTED)
def test_the_readme_lists_the_part_with_its_pieces_and_holes(part):
    row = EXPECTED[part]
    lines = (FOLDER / "README.md").read_text(encoding="utf-8").splitlines()
    (line,) = [line for line in lines if f"| {part} " in line and line.count("|") == 7]
    cells = [cell.strip() for cell in line.split("|")]
    assert cells[3].startswith(row["thickness_in"])
    assert cells[4:6] == [row["quantity"], row["holes"]]


@pytest.mark.parametrize("part", EXPECTED)
def test_the_readme_gives_the_position_of_every_planted_fault(part):
    text = (FOLDER / "README.md").read_text(encoding="utf-8")
    for kind, x, y, _ in planted(part):
        assert f"({x:.4f}, {y:.4f})" in text.replace("±", ""), kind


# --- each part ------------------------------------------------------------------------------------


@pytest.mark.parametrize("part", EXPECTED)
def test_a_part_shows_what_is_expected_of_it(part):
    row, here = EXPECTED[part], seen(part)
    sizes = Counter(here.holes.values())
    assert len(here.holes) == int(row["holes"])
    assert (
        "; ".join(f"{d:.4f}: {n}" for d, n in sorted(sizes.items())) == row["holes_by_diameter_in"]
    )
    assert len(here.marked) == int(row["marks"])
    assert len(here.face.interiors) == int(row["cutouts"])
    assert here.bends == int(row["bend_lines"])
    assert len(here.trims) == int(row["trim_lines"])


def test_the_demo_has_about_five_hundred_holes_on_its_sheets():
    assert 450 <= sum(int(row["holes"]) for row in EXPECTED.values()) <= 550


def flush_holes(part: str) -> set[tuple[float, float]]:
    """Holes of the part that a flush rivet goes through."""
    rows = [row for row in MATING if row["part"] == part and row["head"] == "flush"]
    return {(round(x, 5), round(y, 5)) for row in rows for x, y in positions(row)}


@pytest.mark.parametrize("part", EXPECTED)
def test_edge_distance_is_kept_clear_of_the_limit_but_where_planted(part):
    here, flush = seen(part), flush_holes(part)
    short = {
        (x, y): here.edge_distance(x, y)
        for (x, y), diameter in here.holes.items()
        if here.edge_distance(x, y)
        < (2.5 if (x, y) in flush else 2.0) * SHANK[diameter] + 1 / 64 - 1e-5
    }
    wanted = {(x, y): value for kind, x, y, value in planted(part) if kind == "short edge"}
    assert short == pytest.approx(wanted, abs=1e-5)


@pytest.mark.parametrize("part", EXPECTED)
def test_no_two_holes_are_too_close_but_where_planted(part):
    holes = seen(part).holes
    centres, shanks = np.array(list(holes)), np.array([SHANK[d] for d in holes.values()])
    apart = distances(centres, centres) + np.diag([np.inf] * len(centres))
    # 4 D rather than the 3 D of the rule: rows here keep to the usual pitch
    close = apart < 4 * np.maximum(shanks[:, None], shanks[None, :]) - 1e-9
    wanted = [value for kind, _, _, value in planted(part) if kind == "pitch too close"]
    assert sorted(apart[np.triu(close)]) == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize("part", [part for part in EXPECTED if part != "FL-111"])
def test_every_hole_has_a_neighbour_within_ten_diameters(part):
    holes = seen(part).holes
    centres, shanks = np.array(list(holes)), np.array([SHANK[d] for d in holes.values()])
    apart = distances(centres, centres) + np.diag([np.inf] * len(centres))
    assert (apart.min(axis=1) <= 10 * shanks + 1e-9).all()


# --- joints ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("joint", JOINTS)
def test_the_holes_of_a_joint_are_on_the_sheets(joint):
    for row in layers_of(joint):
        listed = positions(row)
        assert len(listed) == int(row["holes"])
        drawn = np.array(list(seen(row["part"]).holes))
        assert distances(listed, drawn).min(axis=1).max() < 1e-5, row["part"]


@pytest.mark.parametrize("joint", JOINTS)
def test_mating_holes_coincide_but_in_the_stretched_row(joint):
    first, *others = layers_of(joint)
    places = positions(first)
    assert len(places) == int(first["places"])
    for row in others:
        off = distances(placed(row, positions(row)), places).min(axis=1)
        stretched = row["part"] == "FL-104" and row["rows"] == "bottom"
        assert off.max() == pytest.approx(0.012 if stretched else 0.0, abs=3e-6), row["part"]


@pytest.mark.parametrize("joint", JOINTS)
def test_a_layer_that_covers_a_place_has_its_hole_but_where_planted(joint):
    first, *others = layers_of(joint)
    places = positions(first)
    bare = []
    for row in others:
        face = affinity.affine_transform(seen(row["part"]).face, matrix(row))
        near = distances(places, placed(row, positions(row))).min(axis=1) < 0.02
        bare += [
            row["part"]
            for (x, y), has_hole in zip(places, near, strict=True)
            if face.contains(Point(x, y)) and not has_hole
        ]
    assert bare == {"J5": ["FL-104"], "J13": ["FL-111", "FL-111"]}.get(joint, [])


def test_the_bottom_row_of_the_aft_bulkhead_lacks_the_planted_hole():
    kinds = {kind: (x, y) for kind, x, y, _ in planted("FL-104")}
    row = sorted(x for x, y in seen("FL-104").holes if y == 0.3125 and 1 < x < 12)
    pitches = np.diff(row)
    gap = int(pitches.argmax())
    assert pitches[gap] == pytest.approx(2 * pitches[0], abs=1e-4)
    assert (row[gap] + row[gap + 1]) / 2 == pytest.approx(kinds["missing hole"][0], abs=1e-4)


def test_no_shift_brings_the_stretched_row_back_within_the_rivets_play():
    first, *_, web = layers_of("J5")
    off = placed(web, positions(web))[:, 1]
    near = positions(first)[:, 1]
    drift = np.array([y - near[np.abs(near - y).argmin()] for y in off])
    best = (drift.max() - drift.min()) / 2
    assert best == pytest.approx(0.012, abs=3e-6)
    assert best > 0.098 - 3 / 32


def test_the_hinge_leaf_comes_out_short_at_one_of_the_rings_holes():
    ring_row, _, leaf_row = layers_of("J13")
    leaf = seen("FL-111")
    a, b, d, e, xoff, yoff = matrix(leaf_row)
    assert (a, b, d, e) == (1, 0, 0, 1)
    wanted = positions(ring_row) - (xoff, yoff)
    inside = [(x, y) for x, y in wanted if leaf.face.contains(Point(x, y))]
    short = [(x, y) for x, y in inside if leaf.edge_distance(x, y) < 2 * 3 / 32 + 1 / 64]
    ((_, x, y, value),) = planted("FL-111")
    assert len(inside) == 3
    assert short == [pytest.approx((x, y), abs=3e-6)]
    assert leaf.edge_distance(*short[0]) == pytest.approx(value, abs=1e-5)
    assert value == pytest.approx(1.6 * 3 / 32)


def test_each_fault_is_planted_once():
    kinds = Counter(kind for part in EXPECTED for kind, *_ in planted(part))
    assert kinds == {
        "short edge": 1,
        "pitch too close": 1,
        "missing hole": 1,
        "pattern off": 1,
        "short when match-drilled": 1,
    }
