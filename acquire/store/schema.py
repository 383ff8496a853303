"""The tables, guards and views of the store, as ordered migrations.

Base tables have singular names and are append-only: triggers refuse UPDATE, DELETE and any INSERT
over an id that is taken (INSERT OR REPLACE would slip past a delete trigger). What a person opens
in any SQLite tool are the views, with plural names: ``readings`` has one row a reading with all
tags as columns. A reading with the role *run* is refused by the database itself unless a pass of
the same instrument and serial number covers its moment.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from acquire.store.arrays import ARRAYS
from acquire.store.arrays import TABLES as ARRAY_TABLES
from acquire.store.finding import FINDING
from acquire.store.moves import MOVE, old_moves
from acquire.store.reassessing import REASSESSING
from acquire.store.reassessing import TABLES as REASSESSING_TABLES
from acquire.store.register import COLUMNS as CERTIFICATE_COLUMNS
from acquire.store.register import REGISTER
from acquire.store.register import TABLES as REGISTER_TABLES
from acquire.store.script import statements as _statements
from acquire.store.seals import SEALS
from acquire.store.seals import TABLE as SEAL
from acquire.store.spans import SPANS
from acquire.store.spine import SPINE
from acquire.store.steps import Steps
from acquire.store.validity import CLIMATE_COLUMNS, VALIDITY
from acquire.store.validity import COLUMNS as VALIDITY_COLUMNS
from acquire.store.validity import GUARDS as VALIDITY_GUARDS
from acquire.store.validity import TABLES as VALIDITY_TABLES
from acquire.store.views import NAMES, VIEWS
from acquire.store.work import GIVEN_UP, GIVEN_UP_TABLES, TAKEN_BACK, TAKEN_BACK_TABLES, WORK
from acquire.store.work import TABLES as WORK_TABLES

if TYPE_CHECKING:
    from acquire.store.database import Database

MIGRATIONS = Steps("coatbench")

_APPEND_ONLY = (
    "instrument",
    "certificate",
    "connection",
    "disconnection",
    "tape",
    "sitting",
    "sitting_end",
    "trial",
    "run",
    "run_end",
    "check_begin",
    "check_judgement",
    "piece_judgement",
    "pass_end",
    "reading",
    "noise",
    "notice",
    "gap",
    "incident",
    "void",
    "assignment",
    "note",
)

_TRIAL_ZONE = """
CREATE TABLE trial_zone (
    id INTEGER PRIMARY KEY, trial_id INTEGER NOT NULL REFERENCES trial(id), zone TEXT NOT NULL,
    treatment TEXT NOT NULL, treatment_name TEXT NOT NULL,
    is_control INTEGER NOT NULL CHECK (is_control IN (0, 1))
) STRICT;
CREATE INDEX trial_zone_of_trial ON trial_zone (trial_id, zone);
"""

_MOVE = """
CREATE TABLE move (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL,
    run_id INTEGER NOT NULL REFERENCES run(id),
    how TEXT NOT NULL CHECK (how IN ('skip', 'back', 'go to')),
    left_zone TEXT NOT NULL, left_replicate INTEGER NOT NULL,
    zone TEXT NOT NULL, replicate INTEGER NOT NULL, after_reading INTEGER NOT NULL
) STRICT;
CREATE INDEX move_run ON move (run_id);
"""

# What "covered by a valid pass" means, once, for readings at their arrival and for assignments.
_COVERED = """
    SELECT 1 FROM check_judgement AS j JOIN check_begin AS c ON c.id = j.check_id
    LEFT JOIN pass_end AS e ON e.check_id = j.check_id
    WHERE j.check_id = NEW.check_id AND j.outcome = 'pass'
      AND c.instrument = {instrument} AND c.serial = {serial} AND c.quantity = {quantity}
      AND instr(',' || c.geometries || ',', ',' || {geometry} || ',') > 0
      AND {at} >= j.at_utc_ns AND {at} < j.expires_utc_ns
      AND ({at} < e.at_utc_ns OR e.at_utc_ns IS NULL)
      AND {id} > j.after_reading AND ({id} <= e.after_reading OR e.id IS NULL)
"""

_GUARDS = f"""
CREATE TRIGGER reading_needs_a_pass BEFORE INSERT ON reading
WHEN NEW.role = 'run' AND NEW.unchecked = 0
BEGIN
    SELECT RAISE(ABORT, 'a reading may not count without a valid pass')
    WHERE NOT EXISTS ({
    _COVERED.format(
        instrument="NEW.instrument",
        serial="NEW.serial",
        quantity="NEW.quantity",
        geometry="NEW.geometry",
        at="NEW.at_utc_ns",
        id="NEW.id",
    )
});
END;
CREATE TRIGGER reading_unchecked_only_by_plan BEFORE INSERT ON reading
WHEN NEW.role = 'run' AND NEW.unchecked = 1
BEGIN
    SELECT RAISE(ABORT, 'only a trial planned as unchecked takes unchecked readings')
    WHERE NOT EXISTS (SELECT 1 FROM run JOIN trial ON trial.id = run.trial_id
                      WHERE run.id = NEW.run_id AND trial.unchecked = 1);
END;
CREATE TRIGGER assignment_needs_a_pass BEFORE INSERT ON assignment
WHEN NEW.unchecked = 0
BEGIN
    SELECT RAISE(ABORT, 'a reading may not count without a valid pass')
    WHERE NOT EXISTS (SELECT 1 FROM reading AS r WHERE r.id = NEW.reading_id AND r.role = 'loose'
        AND r.value IS NOT NULL AND r.flags = '' AND EXISTS ({
    _COVERED.format(
        instrument="r.instrument",
        serial="r.serial",
        quantity="r.quantity",
        geometry="r.geometry",
        at="r.at_utc_ns",
        id="r.id",
    )
}));
END;
CREATE TRIGGER assignment_unchecked_only_by_plan BEFORE INSERT ON assignment
WHEN NEW.unchecked = 1
BEGIN
    SELECT RAISE(ABORT, 'only a trial planned as unchecked takes unchecked readings')
    WHERE NOT EXISTS (SELECT 1 FROM run JOIN trial ON trial.id = run.trial_id
                      WHERE run.id = NEW.run_id AND trial.unchecked = 1);
END;
"""

# Where a second row of the same thing would push the first one out by INSERT OR REPLACE.
_ONCE = {
    "sitting_end": "sitting_id",
    "run_end": "run_id",
    "check_judgement": "check_id",
    "pass_end": "check_id",
    "void": "reading_id",
    "assignment": "reading_id",
    "certificate_file": "sha256",
    "trial_key": "digest",
    "scorecard": "digest",
    "application_void": "application_id",
}
# Ids are given one after another; a stray one far ahead would leave the writer no room.
_LARGEST_LEAP = 1_000_000


def _append_only(table: str) -> str:
    once = f" OR {_ONCE[table]} = NEW.{_ONCE[table]}" if table in _ONCE else ""
    return f"""
CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table}
BEGIN SELECT RAISE(ABORT, 'the store is append-only: {table} may not be changed'); END;
CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table}
BEGIN SELECT RAISE(ABORT, 'the store is append-only: {table} may not be deleted'); END;
CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table}
WHEN EXISTS (SELECT 1 FROM {table} WHERE id = NEW.id{once})
BEGIN SELECT RAISE(ABORT, 'the store is append-only: this {table} exists'); END;
CREATE TRIGGER {table}_in_order BEFORE INSERT ON {table}
WHEN NEW.id < 1 OR NEW.id > {_LARGEST_LEAP} + (SELECT coalesce(max(id), 0) FROM {table})
BEGIN SELECT RAISE(ABORT, 'the store is append-only: ids of {table} follow one another'); END;
"""


@MIGRATIONS()
def m001_spine(db: Database) -> None:
    """Everything from a byte on a cable to a reading that counts; its views are made anew below."""
    for statement in _statements(SPINE):
        db.execute(statement)
    for table in _APPEND_ONLY:
        for statement in _statements(_append_only(table)):
            db.execute(statement)
    for statement in _statements(_GUARDS):
        db.execute(statement)


@MIGRATIONS()
def m002_channels(db: Database) -> None:
    """A press has channels: geometries of a gloss meter, bands of a transmission head."""
    for view in NAMES:
        db.execute(f"DROP VIEW IF EXISTS {view}")
    db.execute("ALTER TABLE check_begin RENAME COLUMN geometries TO channels")
    for table in ("certificate", "piece_judgement", "reading"):
        db.execute(f"ALTER TABLE {table} RENAME COLUMN geometry TO channel")


@MIGRATIONS()
def m003_arrays(db: Database) -> None:
    """Spectra and traces."""
    for statement in _statements(ARRAYS):
        db.execute(statement)
    for table in ARRAY_TABLES:
        for statement in _statements(_append_only(table)):
            db.execute(statement)


@MIGRATIONS()
def m004_typed(db: Database) -> None:
    """Which readings a person typed: a column of the view, from the connection they came by."""
    _make_views(db)


@MIGRATIONS()
def m005_treatments(db: Database) -> None:
    """What is on each zone, so that the view of readings can name it."""
    for statement in _statements(_TRIAL_ZONE + _append_only("trial_zone")):
        db.execute(statement)
    _make_views(db)


@MIGRATIONS()
def m006_moves(db: Database) -> None:
    """How a hand moved among the places of a run, so that a restart goes on where it stood."""
    for statement in _statements(_MOVE + _append_only("move")):
        db.execute(statement)


@MIGRATIONS()
def m007_stands(db: Database) -> None:
    """Whatever moved the cursor of a run is kept, and which reading a check began after."""
    moves = old_moves(db.conn)
    db.execute("DROP TABLE move")
    for statement in _statements(MOVE):
        db.execute(statement)
    for row in moves:
        db.execute(f"INSERT INTO move VALUES ({', '.join('?' * len(row))})", row)
    for statement in _statements(_append_only("move")):
        db.execute(statement)
    # Of older checks nobody knows it: there the clock has to do.
    db.execute("ALTER TABLE check_begin ADD COLUMN after_reading INTEGER")


@MIGRATIONS()
def m008_brackets(db: Database) -> None:
    """A piece that a check could not judge makes no reading suspect: a view made anew."""
    _make_views(db)


@MIGRATIONS()
def m009_failed_channels(db: Database) -> None:
    """A check that failed at other channels alone makes no reading suspect: a view made anew."""
    _make_views(db)


@MIGRATIONS()
def m010_seals(db: Database) -> None:
    """Every commit is sealed, so that a row changed later is found."""
    for statement in _statements(SEALS):
        db.execute(statement)
    for statement in _statements(_append_only(SEAL)):
        db.execute(statement)


@MIGRATIONS()
def m011_pieces(db: Database) -> None:
    """The register of reference pieces, and the files of their certificates."""
    for statement in _statements(REGISTER):
        db.execute(statement)
    for table in REGISTER_TABLES:
        for statement in _statements(_append_only(table)):
            db.execute(statement)
    for column in CERTIFICATE_COLUMNS:
        db.execute(f"ALTER TABLE certificate ADD COLUMN {column}")


@MIGRATIONS()
def m014_quick_brackets(db: Database) -> None:
    """Brackets of stores with years of checks: the same, found one by one; a view made anew."""
    _make_views(db)


@MIGRATIONS()
def m012_validity(db: Database) -> None:
    """What a pass covers and a judgement used, how straight a meter reads, the room's climate."""
    for statement in _statements(VALIDITY):
        db.execute(statement)
    for table in VALIDITY_TABLES:
        for statement in _statements(_append_only(table)):
            db.execute(statement)
    for column in VALIDITY_COLUMNS:
        db.execute(f"ALTER TABLE check_judgement ADD COLUMN {column}")
    for statement in _statements(VALIDITY_GUARDS):
        db.execute(statement)


@MIGRATIONS()
def m015_straight_brackets(db: Database) -> None:
    """A check that failed by its line, or by readings that were voided: a view made anew."""
    _make_views(db)


@MIGRATIONS()
def m016_re_adjusted(db: Database) -> None:
    """What was read before a re-adjustment with no check as found is suspect: a view made anew."""
    _make_views(db)


@MIGRATIONS()
def m020_work(db: Database) -> None:
    """What a trial has beside readings: keys, applications, washes, ratings, photos, points."""
    for statement in _statements(WORK):
        db.execute(statement)
    for table in WORK_TABLES:
        for statement in _statements(_append_only(table)):
            db.execute(statement)


@MIGRATIONS()
def m021_finding(db: Database) -> None:
    """A report finds its rows in a store with many other trials."""
    for statement in _statements(FINDING):
        db.execute(statement)


@MIGRATIONS()
def m022_given_up(db: Database) -> None:
    """Stages that nobody can or will read any more, with the reason."""
    for statement in _statements(GIVEN_UP):
        db.execute(statement)
    for table in GIVEN_UP_TABLES:
        for statement in _statements(_append_only(table)):
            db.execute(statement)


@MIGRATIONS()
def m023_climate_probe(db: Database) -> None:
    """The readings that the room's climate was made of, where an instrument told it."""
    for column in CLIMATE_COLUMNS:
        db.execute(f"ALTER TABLE climate ADD COLUMN {column}")


@MIGRATIONS()
def m024_taken_back(db: Database) -> None:
    """Applications that were written down wrongly, with the reason."""
    for statement in _statements(TAKEN_BACK):
        db.execute(statement)
    for table in TAKEN_BACK_TABLES:
        for statement in _statements(_append_only(table)):
            db.execute(statement)


@MIGRATIONS()
def m025_reassessed(db: Database) -> None:
    """Checks judged anew without a certificate that was withdrawn: views made anew."""
    for statement in _statements(REASSESSING):
        db.execute(statement)
    for table in REASSESSING_TABLES:
        for statement in _statements(_append_only(table)):
            db.execute(statement)
    _make_views(db)


@MIGRATIONS()
def m026_spans(db: Database) -> None:
    """Where a connection lies on the tape is told by its two ends, and not by each row."""
    for statement in _statements(SPANS):
        db.execute(statement)


def _make_views(db: Database) -> None:
    """The views as they are written now, in place of what is there."""
    for view in NAMES:
        db.execute(f"DROP VIEW IF EXISTS {view}")
    for statement in _statements(VIEWS):
        db.execute(statement)
