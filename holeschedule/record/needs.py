"""What a part and its holes need: the build's intentions, as far as the record is concerned.

The caller brings them, and none of it is recorded: what was intended and what was done stay
apart, so that a change of mind changes the routes of the holes and never the history.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from holeschedule.operations import PartOperation, Treatment
from holeschedule.record.routes import Drawn, HoleFacts


class HoleNeeds(NamedTuple):
    """What a hole is to be given. Sizes are as they are called: drill `#40`, rivet `3/32`.

    `drawn` settles how the drawing is taken where the record's own reading does not fit, as for
    another rivet than it was imported with; None leaves it. `guided`: a hole of another layer leads
    the drill through.
    """

    treatment: Treatment = Treatment.PLAIN
    takes_rivet: bool = True
    drawn: Drawn | None = None
    pilot_drill: str = ""
    final_drill: str = ""
    rivet: str = ""
    guided: bool = False


class PartNeeds(NamedTuple):
    """How many of a part there are, which work each needs as a whole, and what its holes need.

    With `prime` among the `operations` its rivets wait for the primer. `by_label` holds the
    needs of holes that differ from `holes`.
    """

    quantity: int = 1
    operations: tuple[PartOperation, ...] = ()
    holes: HoleNeeds = HoleNeeds()
    by_label: Mapping[str, HoleNeeds] = MappingProxyType({})

    def hole(self, label: str) -> HoleNeeds:
        """What one hole needs."""
        return self.by_label.get(label, self.holes)


Needs = Mapping[str, PartNeeds]
"""Needs by the name of the part. A part that is not in it is not worked on."""


def facts_of(drawn: Drawn, needs: HoleNeeds) -> HoleFacts:
    """What the route of a hole depends on: how it is drawn and what it is to be given."""
    return HoleFacts(needs.drawn or drawn, needs.treatment, needs.takes_rivet, needs.guided)
