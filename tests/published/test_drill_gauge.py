"""Drill sizes against publications.

[1] Service and repair manual of a US fighter of the Second World War, rivet section, par 16.
[2] TM 10-5410-221-14/1, Table 4-3 (drills for blind rivets, hole limits to three decimals).
[3] ASME B94.11M, the number and letter gauge: 80 numbers from thin to thick, then 26 letters.
[4] BS 328, as restated on a public page of drill sizes: tenths of a millimetre up to 14 mm.
"""

import string

import pytest

from holeschedule.tables import DrillSeries, drill_named, drills


def of_series(series: DrillSeries) -> list[tuple[str, float]]:
    return [(drill.size, drill.diameter) for drill in drills() if drill.series is series]


@pytest.mark.parametrize(
    ("size", "printed"),
    [  # [1] par 16
        ("#52", 0.0635),
        ("#41", 0.096),
        ("#30", 0.1285),
        ("#22", 0.157),
        ("#12", 0.189),
    ],
)
def test_drills_of_the_repair_manual_par_16(size: str, printed: float) -> None:
    assert drill_named(size).diameter == printed


@pytest.mark.parametrize(
    ("size", "least", "most"),
    [  # [2] Table 4-3: the drill cuts within the hole limits printed beside it
        ("#41", 0.096, 0.100),
        ("#30", 0.128, 0.132),
        ("#20", 0.160, 0.164),
        ("F", 0.257, 0.261),
    ],
)
def test_drills_of_table_4_3_cut_within_its_hole_limits(
    size: str, least: float, most: float
) -> None:
    assert least <= drill_named(size).diameter <= most


def test_the_gauge_runs_from_80_to_1_and_on_from_a_to_z() -> None:
    """[3]: each size is thicker than the one before, and the ends are .0135 and .413."""
    numbers, letters = of_series(DrillSeries.NUMBER), of_series(DrillSeries.LETTER)
    assert [size for size, _ in numbers] == [f"#{n}" for n in range(80, 0, -1)]
    assert [size for size, _ in letters] == list(string.ascii_uppercase)
    diameters = [diameter for _, diameter in numbers + letters]
    assert diameters == sorted(set(diameters))
    assert (diameters[0], diameters[-1]) == (0.0135, 0.413)


def test_letter_e_is_a_quarter_of_an_inch() -> None:
    """[3]: the one size that gauge and fractions share."""
    fractions = dict(of_series(DrillSeries.FRACTION))
    gauge = of_series(DrillSeries.NUMBER) + of_series(DrillSeries.LETTER)
    shared = [size for size, diameter in gauge if diameter in fractions.values()]
    assert shared == ["E"]
    assert fractions["1/4"] == drill_named("E").diameter


def test_fractions_are_exact_in_steps_of_a_sixtyfourth_to_half_an_inch() -> None:
    fractions = of_series(DrillSeries.FRACTION)
    assert [diameter * 64 for _, diameter in fractions] == list(range(1, 33))
    for size, diameter in fractions:
        over, under = map(int, size.split("/"))
        assert over / under == diameter


def test_metric_drills_are_whole_tenths_of_a_millimetre_to_14() -> None:
    """[4]: every tenth is a size of BS 328; the finer steps below 3 mm are left out here."""
    metric = of_series(DrillSeries.METRIC)
    assert [round(diameter * 254) for _, diameter in metric] == list(range(5, 141))
    for size, diameter in metric:
        assert diameter * 25.4 == pytest.approx(float(size.removesuffix(" mm")), abs=1e-12)
