"""What a pass covers beyond time and channel, what a judgement used, and the room's climate.

The guards that let a reading count are made anew here, since they look at the range of a pass, too.
"""

from __future__ import annotations

TABLES = ("linearity_judgement", "climate")

VALIDITY = """
CREATE TABLE linearity_judgement (
    id INTEGER PRIMARY KEY, check_id INTEGER NOT NULL REFERENCES check_begin(id),
    piece TEXT NOT NULL, channel TEXT NOT NULL, zero TEXT NOT NULL, high TEXT NOT NULL,
    outcome TEXT NOT NULL CHECK (outcome IN ('pass', 'fail', 'undecided')),
    departure TEXT NOT NULL, expanded_uncertainty TEXT NOT NULL, limit_ TEXT NOT NULL,
    unit TEXT NOT NULL, message TEXT NOT NULL
) STRICT;
CREATE INDEX linearity_judgement_check ON linearity_judgement(check_id);
CREATE TABLE climate (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL,
    sitting_id INTEGER REFERENCES sitting(id),
    temperature_c TEXT NOT NULL, humidity_percent TEXT, source TEXT NOT NULL
) STRICT;
"""

COLUMNS = ("used_json TEXT", "least_real REAL", "most_real REAL", "presses INTEGER")
"""Of a judgement: what it used; of a pass: from which value to which, and how many presses."""

CLIMATE_COLUMNS = (
    "temperature_reading_id INTEGER REFERENCES reading(id)",
    "humidity_reading_id INTEGER REFERENCES reading(id)",
)
"""Of the room's climate, where an instrument told it."""

# What "covered by a valid pass" means, once, for readings at their arrival and for assignments.
_COVERED = """
    SELECT 1 FROM check_judgement AS j JOIN check_begin AS c ON c.id = j.check_id
    LEFT JOIN pass_end AS e ON e.check_id = j.check_id
    WHERE j.check_id = NEW.check_id AND j.outcome = 'pass'
      AND c.instrument = {row}.instrument AND c.serial = {row}.serial
      AND c.quantity = {row}.quantity
      AND instr(',' || c.channels || ',', ',' || {row}.channel || ',') > 0
      AND {row}.at_utc_ns >= j.at_utc_ns AND {row}.at_utc_ns < j.expires_utc_ns
      AND ({row}.at_utc_ns < e.at_utc_ns OR e.at_utc_ns IS NULL)
      AND {row}.id > j.after_reading AND ({row}.id <= e.after_reading OR e.id IS NULL)
      AND (j.least_real IS NULL OR {row}.value_real >= j.least_real)
      AND (j.most_real IS NULL OR {row}.value_real <= j.most_real)
"""

GUARDS = f"""
DROP TRIGGER reading_needs_a_pass;
DROP TRIGGER assignment_needs_a_pass;
CREATE TRIGGER reading_needs_a_pass BEFORE INSERT ON reading
WHEN NEW.role = 'run' AND NEW.unchecked = 0
BEGIN
    SELECT RAISE(ABORT, 'a reading may not count without a valid pass')
    WHERE NOT EXISTS ({_COVERED.format(row="NEW")});
END;
CREATE TRIGGER assignment_needs_a_pass BEFORE INSERT ON assignment
WHEN NEW.unchecked = 0
BEGIN
    SELECT RAISE(ABORT, 'a reading may not count without a valid pass')
    WHERE NOT EXISTS (SELECT 1 FROM reading AS r WHERE r.id = NEW.reading_id AND r.role = 'loose'
        AND r.value IS NOT NULL AND r.flags = '' AND EXISTS ({_COVERED.format(row="r")}));
END;
"""  # noqa: S608 - our own names
