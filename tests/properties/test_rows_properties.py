"""What never changes about rows: order of drawing, place of the part, unit, side seen from."""

import re
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holeschedule.holes.labels import ROW_LETTERS, label_holes
from holeschedule.holes.neighbours import neighbouring_rows, pitches
from holeschedule.holes.rows import find_rows
from tests.layouts import LAYOUTS, NUMBER_30, NUMBER_40, rows_of

LABEL = re.compile(rf"(?:X|[{ROW_LETTERS}]+)[1-9][0-9]*")

quick = settings(max_examples=40)
patterns = st.sampled_from(sorted(LAYOUTS))
drawn = st.sampled_from([name for name in sorted(LAYOUTS) if name != "scattered"])
shifts = st.tuples(st.floats(-900, 900), st.floats(-900, 900))
seeds = st.integers(0, 2**32 - 1)
clouds = st.builds(
    lambda holes, cells, seed: np.random.default_rng(seed).integers(0, cells, (holes, 2)) / 8.0,
    st.integers(0, 60),
    st.integers(4, 60),
    seeds,
)


def labels_of(centres, diameters=NUMBER_40):
    return label_holes(centres, rows_of(centres, diameters))


@cache
def labels_as_drawn(name):
    return labels_of(LAYOUTS[name])


def members(rows):
    return {frozenset(row.places) for row in rows}


@quick
@given(patterns, seeds)
def test_the_order_in_which_holes_are_drawn_changes_no_label(name, seed):
    centres = LAYOUTS[name]
    order = np.random.default_rng(seed).permutation(len(centres))
    labels = labels_as_drawn(name)
    assert labels_of(centres[order]) == tuple(labels[i] for i in order)


@quick
@given(patterns, shifts)
def test_moving_a_part_changes_no_label(name, shift):
    centres = LAYOUTS[name]
    assert labels_of(centres + shift) == labels_as_drawn(name)


@quick
@given(patterns, seeds)
def test_noise_far_below_any_tolerance_changes_no_label(name, seed):
    centres = LAYOUTS[name]
    noise = np.random.default_rng(seed).uniform(-1e-9, 1e-9, centres.shape)
    assert labels_of(centres + noise) == labels_as_drawn(name)


@quick
@given(patterns, shifts)
def test_going_through_millimetres_changes_no_label(name, shift):
    centres = LAYOUTS[name]
    assert labels_of(((centres + shift) * 25.4) / 25.4) == labels_as_drawn(name)


@pytest.mark.parametrize("name", [n for n in sorted(LAYOUTS) if n != "on a grid of eighths"])
@pytest.mark.parametrize("mirror", [(-1, 1), (1, -1), (-1, -1)])
def test_a_part_seen_from_the_other_side_has_the_same_rows(name, mirror):
    centres = LAYOUTS[name]
    assert members(rows_of(centres * mirror)) == members(rows_of(centres))


@quick
@given(clouds, seeds)
def test_every_hole_has_one_label_of_the_agreed_form(centres, seed):
    sizes = np.random.default_rng(seed).choice([NUMBER_40, NUMBER_30], len(centres))
    labels = labels_of(centres, sizes)
    assert len(set(labels)) == len(labels) == len(centres)
    assert all(LABEL.fullmatch(label) for label in labels)


@quick
@given(clouds, seeds)
def test_rows_hold_distinct_holes_of_one_size_and_count_their_places_from_one(centres, seed):
    sizes = np.random.default_rng(seed).choice([NUMBER_40, NUMBER_30], len(centres))
    rows = find_rows(centres, sizes)
    placed = [hole for row in rows for hole in row.places]
    labels = label_holes(centres, rows)
    assert len(set(placed)) == len(placed)
    for row in rows:
        assert len(row.places) >= 3
        assert len(set(sizes[list(row.places)])) == 1
        gaps = pitches(centres, row)
        assert gaps.min() > 0
        assert gaps.min() - 1e-9 <= row.pitch <= gaps.max() + 1e-9
        assert set(row.missing) <= set(range(1, len(gaps) + 1))
        assert [labels[hole] for hole in row.places] == [
            f"{row.letter}{place}" for place in range(1, len(row.places) + 1)
        ]


@quick
@given(st.integers(3, 40), st.floats(0.3, 3.0), st.floats(0, 360), shifts)
def test_holes_in_line_at_one_pitch_are_one_row_whatever_its_direction(holes, pitch, turn, start):
    step = pitch * np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])
    centres = start + np.arange(holes)[:, None] * step
    (row,) = rows_of(centres)
    assert row.places in (tuple(range(holes)), tuple(reversed(range(holes))))
    assert row.pitch == pytest.approx(pitch)
    assert row.missing == ()


@quick
@given(st.integers(6, 60), st.floats(0.3, 1.5), st.floats(0, 360), shifts)
def test_holes_evenly_round_a_centre_are_one_closed_row(holes, pitch, first, centre):
    angle = np.radians(first) + 2 * np.pi * np.arange(holes) / holes
    radius = pitch / (2 * np.sin(np.pi / holes))
    centres = centre + radius * np.column_stack((np.cos(angle), np.sin(angle)))
    (row,) = rows_of(centres)
    assert row.closed
    start = row.places[0]
    assert row.places == tuple((start + k) % holes for k in range(holes))
    assert centres[start, 1] <= centres[:, 1].min() + 0.02


@quick
@given(st.integers(5, 40), st.data())
def test_a_hole_taken_out_of_a_row_is_reported_there(holes, data):
    gone = data.draw(st.integers(2, holes - 3))
    centres = np.delete(np.column_stack((np.arange(holes) * 0.75, np.zeros(holes))), gone, axis=0)
    (row,) = rows_of(centres)
    assert row.missing == (gone,)


@quick
@given(drawn, shifts, st.floats(0.3, 1.2))
def test_moving_a_part_changes_no_transverse_pitch(name, shift, within):
    def found(centres):
        rows = rows_of(centres)
        pairs = neighbouring_rows(centres, rows, np.full(len(rows), within + 0.01234))
        return [(p.row_a, p.row_b, round(p.transverse_pitch, 6)) for p in pairs]

    assert found(LAYOUTS[name] + shift) == found(LAYOUTS[name])
