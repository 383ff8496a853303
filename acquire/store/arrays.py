"""The tables of what is no single value: spectra, and traces of values at a steady rate."""

from __future__ import annotations

ARRAYS = """
CREATE TABLE spectrum (
    id INTEGER PRIMARY KEY, connection_id INTEGER NOT NULL REFERENCES connection(id),
    instrument TEXT NOT NULL, serial TEXT NOT NULL,
    at_utc_ns INTEGER NOT NULL, at_mono_ns INTEGER NOT NULL,
    quantity TEXT NOT NULL, unit TEXT NOT NULL,
    type TEXT NOT NULL CHECK (type IN ('binary32', 'binary64')),
    start_nm REAL, step_nm REAL, grid_nm BLOB, numbers BLOB NOT NULL,
    press INTEGER, flags TEXT NOT NULL, raw_start INTEGER NOT NULL, raw_end INTEGER NOT NULL,
    sitting_id INTEGER REFERENCES sitting(id),
    CHECK ((start_nm IS NULL) = (step_nm IS NULL) AND (grid_nm IS NULL) <> (start_nm IS NULL))
) STRICT;
CREATE TABLE trace (
    id INTEGER PRIMARY KEY, connection_id INTEGER NOT NULL REFERENCES connection(id),
    instrument TEXT NOT NULL, serial TEXT NOT NULL,
    at_utc_ns INTEGER NOT NULL, at_mono_ns INTEGER NOT NULL,
    quantity TEXT NOT NULL, channel TEXT NOT NULL, unit TEXT NOT NULL,
    step TEXT NOT NULL, rate_hz TEXT NOT NULL, sitting_id INTEGER REFERENCES sitting(id)
) STRICT;
CREATE TABLE trace_block (
    id INTEGER PRIMARY KEY, trace_id INTEGER NOT NULL REFERENCES trace(id),
    at_utc_ns INTEGER NOT NULL, at_mono_ns INTEGER NOT NULL,
    first INTEGER NOT NULL, width INTEGER NOT NULL CHECK (width IN (1, 2, 4)),
    counts BLOB NOT NULL CHECK (length(counts) % width = 0),
    raw_start INTEGER NOT NULL, raw_end INTEGER NOT NULL,
    run_id INTEGER REFERENCES run(id), zone TEXT, stage TEXT, replicate INTEGER
) STRICT;
CREATE INDEX trace_block_of_trace ON trace_block (trace_id, first);
"""

TABLES = ("spectrum", "trace", "trace_block")
