"""The tables of the first schema: from a byte on a cable to a reading that counts.

They stay as they were written, since migrations change them afterwards. Part of the schema.
"""

from __future__ import annotations

SPINE = """
CREATE TABLE instrument (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL,
    instrument TEXT NOT NULL, kind TEXT NOT NULL, serial TEXT NOT NULL, driver TEXT NOT NULL,
    profile TEXT NOT NULL, profile_text TEXT NOT NULL, address TEXT NOT NULL
) STRICT;
CREATE TABLE certificate (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL,
    piece TEXT NOT NULL, piece_kind TEXT NOT NULL, quantity TEXT NOT NULL, geometry TEXT NOT NULL,
    value TEXT NOT NULL, unit TEXT NOT NULL, expanded_uncertainty TEXT NOT NULL,
    coverage_factor TEXT NOT NULL, issued TEXT NOT NULL, due TEXT NOT NULL, issuer TEXT NOT NULL
) STRICT;
CREATE TABLE connection (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, at_mono_ns INTEGER NOT NULL,
    instrument TEXT NOT NULL, opened_as TEXT NOT NULL, adapter TEXT NOT NULL
) STRICT;
CREATE TABLE disconnection (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL,
    connection_id INTEGER NOT NULL REFERENCES connection(id), message TEXT NOT NULL
) STRICT;
CREATE TABLE tape (
    id INTEGER PRIMARY KEY, connection_id INTEGER NOT NULL REFERENCES connection(id),
    direction TEXT NOT NULL CHECK (direction IN ('received', 'sent')), start INTEGER NOT NULL,
    at_utc_ns INTEGER NOT NULL, at_mono_ns INTEGER NOT NULL, bytes BLOB NOT NULL
) STRICT;
CREATE TABLE sitting (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, bench TEXT NOT NULL
) STRICT;
CREATE TABLE sitting_end (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL,
    sitting_id INTEGER NOT NULL UNIQUE REFERENCES sitting(id), how TEXT NOT NULL
) STRICT;
CREATE TABLE trial (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, trial TEXT NOT NULL, title TEXT NOT NULL,
    unchecked INTEGER NOT NULL CHECK (unchecked IN (0, 1)),
    text TEXT NOT NULL, digest TEXT NOT NULL
) STRICT;
CREATE TABLE run (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL,
    trial_id INTEGER NOT NULL REFERENCES trial(id), measure TEXT NOT NULL, stage TEXT NOT NULL,
    instrument TEXT NOT NULL, serial TEXT NOT NULL,
    sitting_id INTEGER NOT NULL REFERENCES sitting(id)
) STRICT;
CREATE TABLE run_end (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL,
    run_id INTEGER NOT NULL UNIQUE REFERENCES run(id), open_slots INTEGER NOT NULL,
    why TEXT NOT NULL
) STRICT;
CREATE TABLE check_begin (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, instrument TEXT NOT NULL,
    serial TEXT NOT NULL, quantity TEXT NOT NULL, geometries TEXT NOT NULL,
    sitting_id INTEGER NOT NULL REFERENCES sitting(id),
    policy TEXT NOT NULL, policy_json TEXT NOT NULL
) STRICT;
CREATE TABLE check_judgement (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL,
    check_id INTEGER NOT NULL UNIQUE REFERENCES check_begin(id),
    outcome TEXT NOT NULL CHECK (outcome IN ('pass', 'fail', 'undecided')),
    message TEXT NOT NULL, next_step TEXT NOT NULL, expires_utc_ns INTEGER,
    after_reading INTEGER NOT NULL,
    CHECK ((outcome = 'pass') = (expires_utc_ns IS NOT NULL))
) STRICT;
CREATE TABLE piece_judgement (
    id INTEGER PRIMARY KEY, check_id INTEGER NOT NULL REFERENCES check_begin(id),
    piece TEXT NOT NULL, geometry TEXT NOT NULL,
    outcome TEXT NOT NULL CHECK (outcome IN ('pass', 'fail', 'undecided')),
    readings INTEGER NOT NULL, mean TEXT NOT NULL, spread TEXT NOT NULL, certified TEXT NOT NULL,
    deviation TEXT NOT NULL, expanded_uncertainty TEXT NOT NULL, limit_ TEXT NOT NULL,
    spread_limit TEXT NOT NULL, unit TEXT NOT NULL,
    certificate_id INTEGER REFERENCES certificate(id), message TEXT NOT NULL
) STRICT;
CREATE TABLE pass_end (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL,
    check_id INTEGER NOT NULL UNIQUE REFERENCES check_judgement(check_id),
    reason TEXT NOT NULL, message TEXT NOT NULL, after_reading INTEGER NOT NULL
) STRICT;
CREATE TABLE reading (
    id INTEGER PRIMARY KEY, connection_id INTEGER NOT NULL REFERENCES connection(id),
    instrument TEXT NOT NULL, serial TEXT NOT NULL,
    at_utc_ns INTEGER NOT NULL, at_mono_ns INTEGER NOT NULL,
    quantity TEXT NOT NULL, geometry TEXT NOT NULL, text TEXT NOT NULL, sent_unit TEXT NOT NULL,
    value TEXT, value_real REAL, unit TEXT NOT NULL, press INTEGER, flags TEXT NOT NULL,
    raw BLOB NOT NULL, raw_start INTEGER NOT NULL, raw_end INTEGER NOT NULL,
    role TEXT NOT NULL CHECK (role IN ('run', 'check', 'loose')),
    sitting_id INTEGER REFERENCES sitting(id), run_id INTEGER REFERENCES run(id),
    zone TEXT, stage TEXT, replicate INTEGER,
    check_id INTEGER REFERENCES check_begin(id),
    unchecked INTEGER NOT NULL CHECK (unchecked IN (0, 1)), piece TEXT, loose_reason TEXT,
    CHECK ((value IS NULL) = (value_real IS NULL)),
    CHECK (role <> 'run' OR (run_id IS NOT NULL AND zone IS NOT NULL AND stage IS NOT NULL
        AND replicate IS NOT NULL AND value IS NOT NULL AND flags = ''
        AND (check_id IS NOT NULL OR unchecked = 1))),
    CHECK (role <> 'check' OR (check_id IS NOT NULL AND piece IS NOT NULL)),
    CHECK (role = 'run' OR (run_id IS NULL AND zone IS NULL AND unchecked = 0)),
    CHECK ((role = 'loose') = (loose_reason IS NOT NULL))
) STRICT;
CREATE TABLE noise (
    id INTEGER PRIMARY KEY, connection_id INTEGER NOT NULL REFERENCES connection(id),
    at_utc_ns INTEGER NOT NULL, raw BLOB NOT NULL, raw_start INTEGER NOT NULL,
    raw_end INTEGER NOT NULL, reason TEXT NOT NULL
) STRICT;
CREATE TABLE notice (
    id INTEGER PRIMARY KEY, connection_id INTEGER NOT NULL REFERENCES connection(id),
    instrument TEXT NOT NULL, at_utc_ns INTEGER NOT NULL, kind TEXT NOT NULL, text TEXT NOT NULL,
    raw BLOB NOT NULL, raw_start INTEGER NOT NULL, raw_end INTEGER NOT NULL,
    serial TEXT NOT NULL, after_reading INTEGER NOT NULL
) STRICT;
CREATE TABLE gap (
    id INTEGER PRIMARY KEY, instrument TEXT NOT NULL, since_utc_ns INTEGER NOT NULL,
    until_utc_ns INTEGER NOT NULL, lost_bytes INTEGER NOT NULL
) STRICT;
CREATE TABLE incident (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, instrument TEXT NOT NULL,
    kind TEXT NOT NULL, message TEXT NOT NULL
) STRICT;
CREATE TABLE void (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL,
    reading_id INTEGER NOT NULL UNIQUE REFERENCES reading(id),
    reason TEXT NOT NULL CHECK (length(reason) > 0)
) STRICT;
CREATE TABLE assignment (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL,
    reading_id INTEGER NOT NULL UNIQUE REFERENCES reading(id),
    run_id INTEGER NOT NULL REFERENCES run(id), zone TEXT NOT NULL, stage TEXT NOT NULL,
    replicate INTEGER NOT NULL, check_id INTEGER REFERENCES check_judgement(check_id),
    unchecked INTEGER NOT NULL CHECK (unchecked IN (0, 1)),
    reason TEXT NOT NULL CHECK (length(reason) > 0),
    CHECK (check_id IS NOT NULL OR unchecked = 1)
) STRICT;
CREATE TABLE note (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL,
    sitting_id INTEGER REFERENCES sitting(id), trial TEXT NOT NULL, stage TEXT NOT NULL,
    text TEXT NOT NULL
) STRICT;
CREATE INDEX reading_run ON reading(run_id) WHERE run_id IS NOT NULL;
CREATE INDEX reading_check ON reading(check_id) WHERE check_id IS NOT NULL;
CREATE INDEX run_trial ON run(trial_id);
CREATE INDEX trial_name ON trial(trial);
CREATE INDEX tape_place ON tape(connection_id, direction, start);
CREATE INDEX check_serial ON check_begin(serial);
CREATE INDEX notice_kind ON notice(kind, serial);
CREATE INDEX piece_judgement_check ON piece_judgement(check_id);
"""
