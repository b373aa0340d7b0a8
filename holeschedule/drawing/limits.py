"""How much one drawing may hold: beyond, a clear error rather than an exhausted machine."""

from __future__ import annotations

from holeschedule.errors import DrawingError

DEEPEST_BLOCK = 16
"""Blocks inside blocks. Real drawings stay below 6."""
MOST_COPIES = 100_000
"""Inserted copies of blocks in one drawing, arrays counted out."""
MOST_ENTITIES = 2_000_000
"""Edges, circles and points of one drawing, copies counted out."""
MOST_STRETCHED = 5_000
"""Circles and arcs that unequal scales make ellipses of, each of which takes milliseconds."""
LARGEST_COORDINATE = 1e9
"""Drawing units. Beyond, a double holds less than a millionth of a unit."""


def too_many_entities(where: str, count: int) -> DrawingError:
    """The error for a drawing with `count` edges, circles and points."""
    return DrawingError(
        f"{where}: {count:,} entities with the copies of blocks counted out; a drawing may have"
        f" {MOST_ENTITIES:,}. Export the part alone."
    )
