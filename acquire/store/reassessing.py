"""Tables of checks that were judged anew because a certificate they rested on was withdrawn.

The judgement of then stays in its own tables. Part of the schema.
"""

from __future__ import annotations

REASSESSING = """
CREATE TABLE reassessment (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL,
    check_id INTEGER NOT NULL REFERENCES check_begin(id),
    outcome TEXT NOT NULL CHECK (outcome IN ('pass', 'fail', 'undecided')),
    message TEXT NOT NULL, used_json TEXT NOT NULL, after_move INTEGER NOT NULL,
    after_check INTEGER NOT NULL
) STRICT;
CREATE INDEX reassessment_check ON reassessment(check_id);
CREATE TABLE reassessed_piece (
    id INTEGER PRIMARY KEY, reassessment_id INTEGER NOT NULL REFERENCES reassessment(id),
    check_id INTEGER NOT NULL REFERENCES check_begin(id),
    piece TEXT NOT NULL, channel TEXT NOT NULL,
    outcome TEXT NOT NULL CHECK (outcome IN ('pass', 'fail', 'undecided')),
    certified TEXT NOT NULL, deviation TEXT NOT NULL, expanded_uncertainty TEXT NOT NULL,
    certificate_id INTEGER REFERENCES certificate(id), message TEXT NOT NULL
) STRICT;
CREATE INDEX reassessed_piece_check ON reassessed_piece(check_id, piece, channel);
CREATE TABLE reassessed_line (
    id INTEGER PRIMARY KEY, reassessment_id INTEGER NOT NULL REFERENCES reassessment(id),
    check_id INTEGER NOT NULL REFERENCES check_begin(id),
    piece TEXT NOT NULL, channel TEXT NOT NULL,
    outcome TEXT NOT NULL CHECK (outcome IN ('pass', 'fail', 'undecided')),
    departure TEXT NOT NULL, expanded_uncertainty TEXT NOT NULL, message TEXT NOT NULL
) STRICT;
CREATE INDEX reassessed_line_check ON reassessed_line(check_id);
"""
TABLES = ("reassessment", "reassessed_piece", "reassessed_line")
