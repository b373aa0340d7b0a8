"""Words of the work that the build states and the record counts: operations, treatments, finish.

Nothing but words: marking a row loads this module, and has to be done before the builder looks up.
"""

from enum import StrEnum


class Operation(StrEnum):
    """Work on a hole, in the order in which it is done."""

    DRILL = "drill"
    MATCH_DRILL = "match-drill"
    DEBURR = "deburr"
    DIMPLE = "dimple"
    COUNTERSINK = "countersink"
    RIVET = "rivet"


class PartOperation(StrEnum):
    """Work on a part as a whole, in the order in which it is done."""

    CUT = "cut"
    TRIM = "trim"
    DEBURR_EDGES = "deburr edges"
    FLUTE = "flute"
    SCUFF = "scuff"
    PRIME = "prime"


class Treatment(StrEnum):
    """What a hole is given for the manufactured head."""

    PLAIN = "plain"
    DIMPLE = "dimple"
    COUNTERSINK = "countersink"


class Finish(StrEnum):
    """What is put on a part before it is riveted."""

    NONE = "none"
    PRIME_FAYING = "prime faying"
    PRIME = "prime"

    @property
    def is_primed(self) -> bool:
        """Whether rivets wait for primer."""
        return self is not Finish.NONE
