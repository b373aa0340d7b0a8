"""Rivets per inch and loads of rivets against publications.

[T]  AC 43.13-1B, Tables 4-9, 4-10 and 4-11, p. 4-37 to 4-39 (read): rivets per inch, every cell
     for a rivet, in ac4313_rivets_per_inch.csv; the column of AN-3 bolts is left out. Dashes are
     empty.
[N1] AC 43.13-1B par 4-58g, p. 4-27 (read): clad 2024 sheet 0.032, 10 in wide, 1/8 rivets, single
     lap: 4.9 per inch × 0.75, 37 rivets.
[N2] AC 43.13-1B fig 4-20, p. 4-41 (read): 2017-T3 flange 0.040, 0.6 in wide, 1/8 rivets: 3.72, 4
     rivets, 60 percent of it 3 for an intermediate frame.
[N3] the same figure, web of 2.0 in: 12.4, 13 rivets, 60 percent 8.
[J1] Published example citing MMPDS-09 (secondary): MS20470AD5 in clad 2024-T3, 0.050: shear
     596 lbf, bearing 121,000 × 0.156 × 0.050 = 944 lbf; shear governs.
[J2] MIL-HDBK-5F as quoted in a discussion note (secondary): MS20426AD3 in 2024-T3, dimpled 217 lbf
     in 0.032, 0.040 and 0.063; countersunk 178, 193 and 216 lbf. 1/8 dimpled in 0.040: 388 lbf.
"""

import csv
import math
from pathlib import Path

import pytest

from holeschedule.fastener_tables import count_factor
from holeschedule.joints.strength import Mode, rivet_load, rivets_per_inch
from holeschedule.operations import Treatment
from holeschedule.tables import rivet_size

with (Path(__file__).parent / "ac4313_rivets_per_inch.csv").open(newline="") as file:
    CELLS = [
        (row["table"], float(row["sheet"]), row["rivet"], float(row["per_inch"]))
        for row in csv.DictReader(file)
        if row["per_inch"]
    ]

MISPRINTED = {("4-9", 0.032, "5/32")}
"""Printed 3.9, as if bearing governed; note b of the same table gives 4.03 in shear."""

PRINTED_TO = 0.08
"""Cells have one decimal: most are rounded, a few cut off or rounded up."""


def test_every_cell_of_the_three_tables_is_here() -> None:
    assert len(CELLS) == 41 + 43 + 47
    assert {table for table, *_ in CELLS} == {"4-9", "4-10", "4-11"}
    assert {cell[:3] for cell in CELLS} >= MISPRINTED


@pytest.mark.parametrize(
    ("table", "sheet", "rivet", "printed"),
    [cell for cell in CELLS if cell[:3] not in MISPRINTED],
)
def test_rivets_per_inch_cell_by_cell(table: str, sheet: float, rivet: str, printed: float) -> None:
    """[T]."""
    found = rivets_per_inch(sheet, rivet_size(rivet), table)
    assert found.number == pytest.approx(printed, abs=PRINTED_TO)


@pytest.mark.parametrize("place", sorted(MISPRINTED))
def test_a_cell_left_out_contradicts_its_own_table(place: tuple[str, float, str]) -> None:
    """[T]: bearing alone would give the printed number, and shear asks for more."""
    table, sheet, rivet = place
    (printed,) = (cell[3] for cell in CELLS if cell[:3] == place)
    found = rivets_per_inch(sheet, rivet_size(rivet), table)
    assert abs(found.number - printed) > PRINTED_TO
    assert found.for_bearing == pytest.approx(printed, abs=PRINTED_TO)
    assert found.governs is Mode.SHEAR


def test_single_lap_over_ten_inches() -> None:
    """[N1]."""
    found = rivets_per_inch(0.032, rivet_size("1/8"), "4-10")
    assert found.number == pytest.approx(4.9, abs=PRINTED_TO)
    assert found.number * count_factor("single-lap") == pytest.approx(3.7, abs=0.05)
    assert found.count(10, count_factor("single-lap")) == 37


@pytest.mark.parametrize(("width", "all_of_them", "for_a_frame"), [(0.6, 4, 3), (2.0, 13, 8)])
def test_frame_of_the_figure(width: float, all_of_them: int, for_a_frame: int) -> None:
    """[N2], [N3]: the circular rounds up before and after the 60 percent; once is the same here."""
    found = rivets_per_inch(0.040, rivet_size("1/8"), "4-10")
    assert found.number == pytest.approx(6.2, abs=PRINTED_TO)
    assert found.count(width) == all_of_them
    assert found.count(width, count_factor("frame")) == for_a_frame
    assert math.ceil(all_of_them * count_factor("frame")) == for_a_frame


def test_load_of_a_rivet_in_a_lap() -> None:
    """[J1]: to the pound in shear; in bearing 0.15625 for the printed 0.156."""
    found = rivet_load(0.050, rivet_size("5/32"), "2024-T3 clad")
    assert found.shear == pytest.approx(596, abs=0.5)
    assert found.bearing == pytest.approx(944, abs=944 * (0.15625 / 0.156 - 1) + 0.5)
    assert (found.governs, found.load) == (Mode.SHEAR, found.shear)


@pytest.mark.parametrize(
    ("sheet", "rivet", "dimpled"),
    [(0.032, "3/32", 217), (0.040, "3/32", 217), (0.063, "3/32", 217), (0.040, "1/8", 388)],
)
def test_load_of_a_dimpled_rivet(sheet: float, rivet: str, dimpled: float) -> None:
    """[J2]: in shear; 388 is printed where 30 ksi give 389."""
    found = rivet_load(sheet, rivet_size(rivet), "2024-T3", Treatment.DIMPLE)
    assert found.load == found.shear == pytest.approx(dimpled, abs=1.1)
    assert found.notices == ()


@pytest.mark.parametrize(("sheet", "countersunk"), [(0.032, 178), (0.040, 193), (0.063, 216)])
def test_a_countersunk_rivet_holds_less_and_a_notice_says_so(
    sheet: float, countersunk: float
) -> None:
    """[J2]: the table is no formula, so the figure here is only not less."""
    found = rivet_load(sheet, rivet_size("3/32"), "2024-T3", Treatment.COUNTERSINK)
    assert found.load >= countersunk
    assert [notice.code for notice in found.notices] == ["strength.countersunk"]
