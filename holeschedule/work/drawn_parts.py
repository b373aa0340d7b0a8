"""The parts of a build as their drawings show them, their holes under the labels of the record."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from holeschedule.build.folder import BuildFolder
from holeschedule.build.intent import BuildIntent, PartIntent
from holeschedule.errors import BuildError, RecordError
from holeschedule.holes.alignment import Alignment
from holeschedule.holes.identity import KnownHole, match_revision
from holeschedule.holes.part import Part
from holeschedule.holes.parts import read_parts
from holeschedule.model import Row
from holeschedule.options import read_options
from holeschedule.record.database import Connection
from holeschedule.record.store import Record
from holeschedule.work.in_force import revisions_in_force
from holeschedule.work.readings import read_reading

_ALIKE = 1e-6
"""Inches. What a drawing and the record of it may differ by."""


class DrawnParts:
    """Parts of a build by id, each drawing read once, when it is first asked for.

    `moves` take recorded places to the axes of the drawing in force, by part, where it is a
    revision whose zero lies elsewhere.
    """

    def __init__(
        self, folder: BuildFolder, record: Record, db: Connection, intent: BuildIntent
    ) -> None:
        self._folder = folder
        self._record = record
        self._intent = intent
        self._in_force = revisions_in_force(db, folder.record)
        self._sheets: dict[str, Sequence[Part]] = {}
        self._parts: dict[str, Part] = {}
        self.moves: dict[str, Alignment] = {}

    def __getitem__(self, name: str) -> Part:
        """Return a part as drawn.

        Raises
        ------
        HoleScheduleError
            The part is not in build.toml or in the record, or its drawing cannot be read.
        """
        part = self._intent.part_named(name)
        if part.id not in self._parts:
            held = self._in_force.get(part.id)
            if held is None:
                raise RecordError(
                    f"{part.id}: is not in the record yet. Bring its drawing in: import FILE.dxf"
                    f" --part {part.id}."
                )
            self._parts[part.id] = self._read(part, held.drawing)
        return self._parts[part.id]

    def _read(self, part: PartIntent, drawing: str) -> Part:
        parts = self._sheet(drawing)
        if part.number > len(parts):
            raise BuildError(
                f"{part.id}: number is {part.number} in build.toml, and {drawing} shows"
                f" {len(parts)} parts. Correct it."
            )
        read = replace(parts[part.number - 1], name=part.id)
        known = [
            KnownHole(hole.label, hole.x, hole.y, hole.diameter)
            for hole in self._record.holes(part.id).values()
            if hole.diameter is not None
        ]
        labels = {hole.label for hole in read.holes}
        if labels == {hole.label for hole in known} and _lie_alike(read, known):
            return read
        retired = self._record.states(part.id)[part.id].retired
        revision = match_revision(known, retired, read.holes, read.rows)
        if not revision.alignment.is_unmoved:
            self.moves[part.id] = revision.alignment
        return _relabelled(read, revision.labels)

    def _sheet(self, drawing: str) -> Sequence[Part]:
        if drawing not in self._sheets:
            path = self._folder.drawings / drawing
            held = read_reading(path)
            options = {key: held.get(key) for key in ("units", "gap", "largest_hole")}
            self._sheets[drawing] = read_parts(
                path, read_options({**options, "layers": held.get("layers", ())})
            )
        return self._sheets[drawing]


def _lie_alike(read: Part, known: Iterable[KnownHole]) -> bool:
    """Whether each hole lies where the record has the hole of that label."""
    places = {hole.label: (hole.x, hole.y) for hole in read.holes}
    return all(
        max(abs(places[hole.label][0] - hole.x), abs(places[hole.label][1] - hole.y)) < _ALIKE
        for hole in known
    )


def _relabelled(part: Part, labels: Sequence[str]) -> Part:
    holes = tuple(
        replace(hole, label=label) for hole, label in zip(part.holes, labels, strict=True)
    )
    return replace(part, holes=holes, rows=tuple(_renamed(row, labels) for row in part.rows))


def _renamed(row: Row, labels: Sequence[str]) -> Row:
    letters = [labels[place].rstrip("0123456789") for place in row.places]
    return replace(row, letter=max(letters, key=letters.count))
