"""Small builds for the tests of the record, and a clock that goes when it is told to."""

from datetime import datetime, timedelta, timezone

from holeschedule.operations import Treatment
from holeschedule.record import database
from holeschedule.record.drawn import Change, HoleAsDrawn, Import, Revision
from holeschedule.record.events import EntryDraft, Request
from holeschedule.record.needs import HoleNeeds, PartNeeds
from holeschedule.record.routes import Drawn
from holeschedule.record.store import open_record
from holeschedule.selection import Pick, parse_selection, pick_holes


def without_waiting(monkeypatch):
    """Let commits not wait for the disk: right where nothing is about crashes."""
    monkeypatch.setattr(database, "SYNCHRONOUS", "OFF")


EAST = timezone(timedelta(hours=10))
DIMPLED = HoleNeeds(Treatment.DIMPLE, pilot_drill="#40", final_drill="#30", rivet="1/8")
SKIN = PartNeeds(holes=DIMPLED)


class Clock:
    """Says the same until it is moved on."""

    def __init__(self, now=datetime(2026, 3, 5, 8, 0, tzinfo=EAST)):
        self.now = now

    def __call__(self):
        return self.now

    def forward(self, **how_long):
        self.now += timedelta(**how_long)


def drawn_row(row, last, *, first=1, drawn=Drawn.PILOT, y=1.0):
    """Holes `row``first` to `row``last`, an inch apart, as a revision adds them."""
    diameter = None if drawn is Drawn.NONE else 0.098
    return [
        HoleAsDrawn(Change.ADD, f"{row}{place}", float(place), y, diameter, drawn)
        for place in range(first, last + 1)
    ]


def change(change, label, *, x=0.0, y=0.0, diameter=0.098, drawn=Drawn.PILOT):
    return HoleAsDrawn(Change(change), label, x, y, diameter, drawn)


def import_of(part, holes, revision="A"):
    return Import(
        Revision(part, revision, f"{part.lower()}-{revision}.dxf", "0" * 64), tuple(holes)
    )


def import_draft(part, holes, revision="A"):
    return EntryDraft("import", "Ada", imports=(import_of(part, holes, revision),))


class Build:
    """A record with part FL-101 in it: rows A and B of five pilots, C of three final holes.

    `needs` can be changed; what `do` records goes by it.
    """

    def __init__(self, folder, *, clock=None, parts=("FL-101",), needs=SKIN, name="record.sqlite"):
        self.path = folder / name
        self.clock = clock or Clock()
        self.record = open_record(self.path, create=True, clock=self.clock)
        self.needs = dict.fromkeys(parts, needs)
        holes = [*drawn_row("A", 5), *drawn_row("B", 5), *drawn_row("C", 3, drawn=Drawn.FINAL)]
        for part in parts:
            self.record.append(import_draft(part, holes), self.needs)

    def picks(self, selection):
        labels = {name: list(part.numbers) for name, part in self.record.states().items()}
        copies = {name: needs.quantity for name, needs in self.needs.items()}
        return pick_holes(parse_selection(selection), labels, copies)

    def ask(self, what, selection, *, detail="", value=None, as_found=False):
        """Return a request about holes, or, if the selection ends in `!`, about whole copies."""
        if selection.endswith("!"):
            part, _, copy = selection[:-1].partition("#")
            picks = (Pick(part, int(copy or 1)),)
        else:
            picks = self.picks(selection)
        return Request(what, picks, detail, value, as_found)

    def do(self, what, selection, *, who="Ada", note="", at=None, partial=False, **request):
        asked = (self.ask(what, selection, **request),)
        draft = EntryDraft("mark", who, asked, note=note, at=at, partial=partial)
        return self.record.append(draft, self.needs)

    def stages(self, selection):
        states = self.record.states()
        return [str(states[p.part].stage(p.copy, p.label)) for p in self.picks(selection)]

    def hole(self, selection):
        (pick,) = self.picks(selection)
        return self.record.states(pick.part)[pick.part].hole(pick.copy, pick.label)
