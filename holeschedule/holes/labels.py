"""Letters of rows and labels of holes: `C7` is the seventh hole of row C, `X2` a single hole."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import count, product

import numpy as np

from holeschedule.geometry.edges import FloatArray
from holeschedule.holes.nearest import reading_order
from holeschedule.model import Row

SINGLE = "X"
"""Letter of the holes that belong to no row."""
ROW_LETTERS = "ABCDEFGHJKLMNPQRSTUVWYZ"
"""Letters of rows. I and O are misread in the shop as 1 and 0; X is for single holes."""


def row_letters() -> Iterator[str]:
    """A, B, … Z, AA, AB, … ZZ, AAA and so on without end, of `ROW_LETTERS` alone.

    Examples
    --------
    >>> from itertools import islice
    >>> " ".join(islice(row_letters(), 20, 26))
    'W Y Z AA AB AC'
    """
    for length in count(1):
        for letters in product(ROW_LETTERS, repeat=length):
            yield "".join(letters)


def label_holes(centres: FloatArray, rows: Sequence[Row]) -> tuple[str, ...]:
    """A label for every hole.

    Places count from 1 over the holes that exist, as a builder counts them with a finger: where
    a hole is missing no number is left free. Holes of no row are X1, X2, … from the bottom left.

    Parameters
    ----------
    centres : (n, 2) array [in]
        Hole centres. May be empty.
    rows : sequence of Row
        Rows of these holes, no hole in two of them; `Row.places` are indices into `centres`.

    Returns
    -------
    tuple of str
        In the order of `centres`; no two are equal.

    Examples
    --------
    >>> centres = np.array([[2.0, 1.0], [0.0, 0.0], [1.0, 0.0], [2.0, 0.0]])
    >>> label_holes(centres, [Row("A", (1, 2, 3), 1.0)])
    ('X1', 'A1', 'A2', 'A3')
    """
    labels = [""] * len(centres)
    for row in rows:
        for place, hole in enumerate(row.places, 1):
            labels[hole] = f"{row.letter}{place}"
    single = np.flatnonzero([not label for label in labels])
    for number, hole in enumerate(single[reading_order(centres[single])].tolist(), 1):
        labels[hole] = f"{SINGLE}{number}"
    return tuple(labels)
