"""What each hole needs, as it is kept in a cache of the build and read by every command.

Light, since marking loads it. `intents` works it out, `keeping` writes it down.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

from holeschedule.operations import Operation, PartOperation, Treatment
from holeschedule.record.judge import GATES, Gate, HoleGate, Obstacle
from holeschedule.record.needs import HoleNeeds, Needs, PartNeeds
from holeschedule.record.places import NO_PLACES, JointPlace, Places, Unlaid, gate_of_joints
from holeschedule.record.routes import Drawn
from holeschedule.record.state import States
from holeschedule.selection import Pick

CACHE = ".cache"
FORMAT = "holeschedule intents 3"
END = "end"


class Intents(NamedTuple):
    """What the parts of a build need. Equality is by value.

    `undecided` has, by part, the labels of holes whose treatment is still to be chosen. `notices`
    say what is to be chosen. `name` is the build's, `places` are those of its joints.
    """

    needs: Mapping[str, PartNeeds]
    undecided: Mapping[str, frozenset[str]] = MappingProxyType({})
    notices: tuple[str, ...] = ()
    name: str = ""
    places: Places = NO_PLACES

    @property
    def gates(self) -> tuple[Gate, ...]:
        """What lies beyond a hole: primer, treatments not chosen, other layers of its place."""
        gates = (*GATES, self._gate_chosen) if self.undecided else GATES
        return (*gates, gate_of_joints(self.places, gates)) if self.places else gates

    def _gate_chosen(self, _: States, __: Needs, operation: str) -> HoleGate | None:
        """Keep the rivet out of a hole of which nobody said whether it is to be dimpled."""
        if operation != Operation.RIVET:
            return None

        def waits(pick: Pick) -> Obstacle | None:
            if pick.label in self.undecided.get(pick.part, ()):
                return _TO_CHOOSE
            return None

        return waits


_TO_CHOOSE = Obstacle(
    "waits for the treatment to be chosen",
    "state treatment, or the thickness of the sheet, in build.toml",
)


# The cache -------------------------------------------------------------------------------------

# Written by `keeping`. Lines of fields parted by tabs, read without any parser: `need` with the
# fields of a HoleNeeds,
# `part` with its name, quantity, operations and the place of its usual need, `other` with the
# place of a need and the labels that differ, `undecided` with labels, `joint` and, below it, each
# `place` with its rivet, what it lacks and its holes, `unlaid` with a joint, why, and its holes,
# `notice`.


def kept_intents(path: str, key: str) -> Intents | None:
    """Read what is kept under a key; None where it is missing, stale or damaged."""
    try:
        with open(path, encoding="utf-8") as file:  # noqa: PTH123 (no pathlib here)
            head, its_key, *lines = file.read().split("\n")
        if (head, its_key, lines[-1]) != (FORMAT, key, END):
            return None
        return _read_lines([line.split("\t") for line in lines[:-1]])
    except (OSError, ValueError, IndexError, KeyError, TypeError):
        return None


def _read_lines(lines: Sequence[Sequence[str]]) -> Intents:
    kinds: list[HoleNeeds] = []
    needs: dict[str, PartNeeds] = {}
    undecided: dict[str, frozenset[str]] = {}
    notices: list[str] = []
    others: dict[str, HoleNeeds] = {}
    joints: dict[str, list[JointPlace]] = {}
    held: list[JointPlace] = []
    unlaid: dict[str, Unlaid] = {}
    name = title = ""
    for what, *fields in lines:
        if what == "need":
            treatment, takes_rivet, drawn, guided, *sizes = fields
            form = Drawn(drawn) if drawn else None
            pilot, final, rivet = sizes
            kinds.append(
                HoleNeeds(
                    Treatment(treatment),
                    bool(takes_rivet),
                    form,
                    pilot,
                    final,
                    rivet,
                    bool(guided),
                )
            )
        elif what == "part":
            name, quantity, operations, usual = fields
            done = tuple(map(PartOperation, operations.split(",") if operations else ()))
            others = {}
            needs[name] = PartNeeds(int(quantity), done, kinds[int(usual)], others)
        elif what == "other":
            others.update(dict.fromkeys(fields[1].split(), kinds[int(fields[0])]))
        elif what == "undecided":
            undecided[name] = frozenset(fields[0].split())
        elif what == "joint":
            held = joints.setdefault(fields[0], [])
        elif what == "place":
            rivet, lacks, picks = fields[0], tuple(fields[1].split()), _read_picks(fields[2])
            held.append(JointPlace(next(reversed(joints)), len(held) + 1, picks, rivet, lacks))
        elif what == "unlaid":
            unlaid[fields[0]] = Unlaid(fields[1], _read_picks(fields[2]))
        elif what == "name":
            title = fields[0]
        else:
            notices.append(fields[0])
    return Intents(needs, undecided, tuple(notices), title, Places(joints, unlaid))


def _read_picks(text: str) -> tuple[Pick, ...]:
    found = []
    for pick in text.split():
        piece, label = pick.split(":")
        part, copy = piece.split("#")
        found.append(Pick(part, int(copy), label))
    return tuple(found)
