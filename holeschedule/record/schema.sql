-- The record of a build, version 1. Later versions are reached from here by the migrations in
-- database.py; this file is not edited after it has been released.
--
-- What was done is in entry, revision, hole and event. Rows are added and never changed: the
-- triggers below refuse UPDATE and DELETE, and INSERT OR REPLACE, which triggers on UPDATE and
-- DELETE alone do not stop. An entry's rows are written before the entry itself: once it is
-- there it is closed, and nothing can be added to it.

-- One command. Times are ISO 8601: `recorded` in UTC, `at` (when the work was done) with the
-- offset of the place, so that its date is the builder's own.
CREATE TABLE entry (
    number INTEGER PRIMARY KEY,
    recorded TEXT NOT NULL,
    at TEXT NOT NULL,
    who TEXT NOT NULL,
    command TEXT NOT NULL,
    note TEXT NOT NULL,
    origin TEXT NOT NULL,
    takes_back INTEGER,
    previous TEXT NOT NULL,
    hash TEXT NOT NULL
);

-- A drawing brought in: the part and revision it is of, its file, and the SHA-256 of the file.
CREATE TABLE revision (
    entry INTEGER NOT NULL,
    place INTEGER NOT NULL,
    part TEXT NOT NULL,
    revision TEXT NOT NULL,
    drawing TEXT NOT NULL,
    sha256 TEXT NOT NULL,
    PRIMARY KEY (entry, place)
) WITHOUT ROWID;

-- What a revision changes in the holes of its part: add, move, resize, retire. `number` is the
-- hole's for ever. Inches; `diameter` is null where the drawing has no hole.
CREATE TABLE hole (
    entry INTEGER NOT NULL,
    place INTEGER NOT NULL,
    part TEXT NOT NULL,
    number INTEGER NOT NULL,
    label TEXT NOT NULL,
    change TEXT NOT NULL,
    x REAL NOT NULL,
    y REAL NOT NULL,
    diameter REAL,
    drawn TEXT NOT NULL,
    PRIMARY KEY (entry, place)
) WITHOUT ROWID;

-- What was done to holes of one copy of a part. `holes` are their numbers, as 3-9,12; it is empty
-- where the event is about that copy as a whole. `value` is inches.
CREATE TABLE event (
    entry INTEGER NOT NULL,
    place INTEGER NOT NULL,
    part TEXT NOT NULL,
    copy INTEGER NOT NULL,
    holes TEXT NOT NULL,
    what TEXT NOT NULL,
    as_found INTEGER NOT NULL,
    detail TEXT NOT NULL,
    value REAL,
    PRIMARY KEY (entry, place)
) WITHOUT ROWID;

CREATE INDEX entry_takes_back ON entry (takes_back) WHERE takes_back IS NOT NULL;
CREATE INDEX entry_day ON entry (substr(at, 1, 10));

-- The two tables below are kept for speed, and derived from those above; `verify` recomputes
-- them. First the holes that each part has had, by number: their labels, parted by spaces (- for
-- a number that was taken back), and a letter for each: N, P, F for drawn none, pilot, final, and
-- - for a hole that is not there any more.
CREATE TABLE kept_part (
    part TEXT PRIMARY KEY,
    labels TEXT NOT NULL,
    drawn TEXT NOT NULL
) WITHOUT ROWID;

-- Then how far each copy is: the operations done on it as a whole, parted by commas, and a state
-- number for each hole (see state.py), as 84*5 0 for five holes in state 84 and one in state 0;
-- holes after the last one are new.
CREATE TABLE kept_copy (
    part TEXT NOT NULL,
    copy INTEGER NOT NULL,
    operations TEXT NOT NULL,
    states TEXT NOT NULL,
    PRIMARY KEY (part, copy)
) WITHOUT ROWID;

CREATE TRIGGER entry_update BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'the record is append-only: an entry is never changed'); END;
CREATE TRIGGER entry_delete BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'the record is append-only: an entry is never deleted'); END;
CREATE TRIGGER entry_insert BEFORE INSERT ON entry
WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM entry)
BEGIN SELECT RAISE(ABORT, 'the record is append-only: entries follow on each other'); END;

CREATE TRIGGER revision_update BEFORE UPDATE ON revision
BEGIN SELECT RAISE(ABORT, 'the record is append-only: a revision is never changed'); END;
CREATE TRIGGER revision_delete BEFORE DELETE ON revision
BEGIN SELECT RAISE(ABORT, 'the record is append-only: a revision is never deleted'); END;
CREATE TRIGGER revision_insert BEFORE INSERT ON revision
WHEN EXISTS (SELECT 1 FROM entry WHERE number >= NEW.entry)
BEGIN SELECT RAISE(ABORT, 'the record is append-only: the entry is closed'); END;

CREATE TRIGGER hole_update BEFORE UPDATE ON hole
BEGIN SELECT RAISE(ABORT, 'the record is append-only: a hole is never changed'); END;
CREATE TRIGGER hole_delete BEFORE DELETE ON hole
BEGIN SELECT RAISE(ABORT, 'the record is append-only: a hole is never deleted'); END;
CREATE TRIGGER hole_insert BEFORE INSERT ON hole
WHEN EXISTS (SELECT 1 FROM entry WHERE number >= NEW.entry)
BEGIN SELECT RAISE(ABORT, 'the record is append-only: the entry is closed'); END;

CREATE TRIGGER event_update BEFORE UPDATE ON event
BEGIN SELECT RAISE(ABORT, 'the record is append-only: an event is never changed'); END;
CREATE TRIGGER event_delete BEFORE DELETE ON event
BEGIN SELECT RAISE(ABORT, 'the record is append-only: an event is never deleted'); END;
CREATE TRIGGER event_insert BEFORE INSERT ON event
WHEN EXISTS (SELECT 1 FROM entry WHERE number >= NEW.entry)
BEGIN SELECT RAISE(ABORT, 'the record is append-only: the entry is closed'); END;
