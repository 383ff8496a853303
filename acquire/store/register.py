"""Tables of the register of reference pieces: what they are, and the files of their certificates.

The bytes of a file are kept once, however many certificates name it. Part of the schema.
"""

from __future__ import annotations

REGISTER = """
CREATE TABLE piece (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, piece TEXT NOT NULL, kind TEXT NOT NULL,
    serial TEXT NOT NULL, name TEXT NOT NULL, nominal TEXT NOT NULL
) STRICT;
CREATE TABLE certificate_file (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL, name TEXT NOT NULL,
    sha256 TEXT NOT NULL UNIQUE CHECK (length(sha256) = 64), bytes BLOB NOT NULL
) STRICT;
"""
TABLES = ("piece", "certificate_file")

COLUMNS = (
    "number TEXT",
    "file_id INTEGER REFERENCES certificate_file(id)",
    "withdrawn TEXT",
)
"""What a certificate has got beside its figures; NULL where the bench file says nothing."""
