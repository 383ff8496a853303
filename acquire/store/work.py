"""Tables of what a trial has beside readings: keys, applications, washes, ratings, photos, points.

All of it is what a person says, and no cable; so none of these tables has a part in the gate. A
correction is a row of its own. Part of the schema.
"""

from __future__ import annotations

TABLES = (
    "trial_key",
    "key_opening",
    "trial_closing",
    "application",
    "wash",
    "rating",
    "photo",
    "scorecard",
    "score",
    "past_import",
    "past_result",
)

WORK = """
CREATE TABLE trial_key (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, trial TEXT NOT NULL,
    digest TEXT NOT NULL UNIQUE CHECK (length(digest) = 64), sealed BLOB NOT NULL
) STRICT;
CREATE INDEX trial_key_trial ON trial_key (trial);
CREATE TABLE key_opening (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL,
    key_id INTEGER NOT NULL REFERENCES trial_key(id),
    how TEXT NOT NULL CHECK (how IN ('shown', 'unsealed')), who TEXT NOT NULL, why TEXT NOT NULL
) STRICT;
CREATE INDEX key_opening_key ON key_opening (key_id);
CREATE TABLE trial_closing (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, trial TEXT NOT NULL,
    is_closed INTEGER NOT NULL CHECK (is_closed IN (0, 1)), why TEXT NOT NULL
) STRICT;
CREATE INDEX trial_closing_trial ON trial_closing (trial);
CREATE TABLE application (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, sitting_id INTEGER REFERENCES sitting(id),
    trial TEXT NOT NULL, zone TEXT NOT NULL, applied_utc_ns INTEGER NOT NULL,
    amount TEXT NOT NULL, haze_minutes TEXT, text TEXT NOT NULL
) STRICT;
CREATE INDEX application_trial ON application (trial, zone);
CREATE TABLE wash (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, sitting_id INTEGER REFERENCES sitting(id),
    trial TEXT NOT NULL, zones TEXT NOT NULL, washes INTEGER NOT NULL CHECK (washes <> 0),
    counted_by TEXT NOT NULL, reading_id INTEGER REFERENCES reading(id), reason TEXT NOT NULL
        CHECK (washes > 0 OR reason <> '')
) STRICT;
CREATE INDEX wash_trial ON wash (trial);
CREATE TABLE rating (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, sitting_id INTEGER REFERENCES sitting(id),
    trial TEXT NOT NULL, stage TEXT NOT NULL, scale TEXT NOT NULL, zone TEXT NOT NULL,
    treatment TEXT NOT NULL, rater TEXT NOT NULL, step INTEGER NOT NULL CHECK (step >= 1),
    is_blind INTEGER NOT NULL CHECK (is_blind IN (0, 1)), reason TEXT NOT NULL
) STRICT;
CREATE INDEX rating_trial ON rating (trial, scale);
CREATE TABLE photo (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, sitting_id INTEGER REFERENCES sitting(id),
    trial TEXT NOT NULL, stage TEXT NOT NULL, zone TEXT NOT NULL, path TEXT NOT NULL,
    sha256 TEXT NOT NULL CHECK (length(sha256) = 64), size_bytes INTEGER NOT NULL,
    text TEXT NOT NULL
) STRICT;
CREATE INDEX photo_trial ON photo (trial);
CREATE TABLE scorecard (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, scorecard TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version >= 1), text TEXT NOT NULL,
    digest TEXT NOT NULL UNIQUE CHECK (length(digest) = 64)
) STRICT;
CREATE TABLE score (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, trial TEXT NOT NULL,
    scorecard_id INTEGER NOT NULL REFERENCES scorecard(id), edition TEXT NOT NULL,
    rests_on TEXT NOT NULL, points_json TEXT NOT NULL
) STRICT;
CREATE INDEX score_trial ON score (scorecard_id, trial);
CREATE TABLE past_import (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, name TEXT NOT NULL,
    sha256 TEXT NOT NULL CHECK (length(sha256) = 64), mapping TEXT NOT NULL, bytes BLOB NOT NULL
) STRICT;
CREATE TABLE past_result (
    id INTEGER PRIMARY KEY, import_id INTEGER NOT NULL REFERENCES past_import(id),
    line INTEGER NOT NULL, trial TEXT NOT NULL, treatment TEXT NOT NULL, figure TEXT NOT NULL,
    quantity TEXT NOT NULL, channel TEXT NOT NULL, stage TEXT NOT NULL, value TEXT NOT NULL,
    unit TEXT NOT NULL, expanded_uncertainty TEXT, conditions_json TEXT NOT NULL
) STRICT;
CREATE INDEX past_result_import ON past_result (import_id);
"""

GIVEN_UP_TABLES = ("giving_up",)

GIVEN_UP = """
CREATE TABLE giving_up (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, trial TEXT NOT NULL, stage TEXT NOT NULL,
    zones TEXT NOT NULL CHECK (zones <> ''),
    is_given_up INTEGER NOT NULL CHECK (is_given_up IN (0, 1)), why TEXT NOT NULL CHECK (why <> '')
) STRICT;
CREATE INDEX giving_up_trial ON giving_up (trial);
"""

TAKEN_BACK_TABLES = ("application_void",)

TAKEN_BACK = """
CREATE TABLE application_void (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, trial TEXT NOT NULL,
    application_id INTEGER NOT NULL UNIQUE REFERENCES application(id),
    reason TEXT NOT NULL CHECK (reason <> '')
) STRICT;
CREATE INDEX application_void_trial ON application_void (trial);
"""
