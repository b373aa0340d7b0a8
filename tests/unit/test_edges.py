"""The median that loads nothing, against numpy's own."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from holeschedule.geometry.edges import median

numbers = st.floats(-1e6, 1e6)


@given(st.lists(numbers, min_size=1, max_size=30))
def test_the_median_is_that_of_numpy(values):
    assert median(np.array(values)) == pytest.approx(np.median(values))


@given(st.lists(st.tuples(numbers, numbers), min_size=1, max_size=9))
def test_the_median_of_points_is_taken_axis_by_axis(points):
    assert median(np.array(points)) == pytest.approx(np.median(points, axis=0))
