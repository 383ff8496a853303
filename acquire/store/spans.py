"""Where a connection lies on the tape: between what was on it as it began and as it ended.

A press writes a row of the tape, and with an index by connection it would write into one more page
of the file. So there is none: rows of the tape are numbered as they come, a connection and its end
name the last row before them (`after_tape`), and the rows of a connection are found by going
through those in between; some are others', where several instruments were open at a time. What does
not name it is from before it was kept, or has no end: there the openings of the daemon do, of which
the chain of seals has how far the tape went. The tape has one guard of what comes in, since it
looks at each row: an id behind all others is not taken. Part of the schema.
"""

from __future__ import annotations

SPANS = """
DROP INDEX tape_place;
ALTER TABLE connection ADD COLUMN after_tape INTEGER;
ALTER TABLE disconnection ADD COLUMN after_tape INTEGER;
CREATE INDEX disconnection_of_connection ON disconnection (connection_id);
DROP TRIGGER tape_no_replace;
DROP TRIGGER tape_in_order;
CREATE TRIGGER tape_in_order BEFORE INSERT ON tape
WHEN NEW.id - (SELECT coalesce(max(id), 0) FROM tape) NOT BETWEEN 1 AND 1000000
BEGIN
    SELECT RAISE(ABORT, 'the store is append-only: this tape exists')
    WHERE EXISTS (SELECT 1 FROM tape WHERE id = NEW.id);
    SELECT RAISE(ABORT, 'the store is append-only: ids of tape follow one another');
END;
"""


def _upto(table: str) -> str:
    """The last row of a table at the opening that a seal `s` is of."""
    told = "', ' || s.upto"
    return f"CAST(substr({told}, instr({told}, ', {table} ') + {len(table) + 3}) AS INTEGER)"


_OPENED = f"SELECT {_upto('tape')} FROM seal AS s WHERE s.upto IS NOT NULL AND"  # noqa: S608
_CONNECTION = _upto("connection")

FIRST = f"""(1 + coalesce(c.after_tape,
    ({_OPENED} {_CONNECTION} < c.id ORDER BY s.id DESC LIMIT 1), 0))"""
LAST = f"""coalesce(
    (SELECT e.after_tape FROM disconnection AS e WHERE e.connection_id = c.id),
    ({_OPENED} {_CONNECTION} >= c.id ORDER BY s.id LIMIT 1),
    (SELECT max(id) FROM tape), 0)"""  # noqa: S608 - our own
"""The first and the last row that may be of a connection `c`: a daemon has none of another's."""
