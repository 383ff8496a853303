"""The tapes that a store holds: one a connection. Reads; writes nothing. The reader's thread."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from acquire.errors import NotFound
from acquire.link.kept import Kept
from acquire.link.tape import Ended, Made, Missing, Passed, Tape, Whose
from acquire.model import Instant
from acquire.report.record.described import Descriptions
from acquire.report.record.spans import OF_SPANS, OWN_ROWS, SPANS, last_of, span_of
from acquire.report.replay.made import TABLES, stored
from acquire.store import StoreReader

LARGEST_NUMBER = 2**63 - 1

_PASSED = f"SELECT * {OWN_ROWS} ORDER BY id LIMIT -1 OFFSET ?"
_COUNTED = f"SELECT count(*) {OWN_ROWS}"

LISTED = f"""
WITH passed AS (
    SELECT s.id AS connection_id,
        sum(CASE WHEN t.direction = 'received' THEN length(t.bytes) ELSE 0 END) AS received,
        sum(CASE WHEN t.direction = 'sent' THEN length(t.bytes) ELSE 0 END) AS sent,
        max(t.at_utc_ns) AS last_utc_ns
    FROM {SPANS} AS s {OF_SPANS} GROUP BY s.id),
taken AS (SELECT connection_id, count(*) AS readings FROM reading GROUP BY connection_id),
ended AS (SELECT connection_id, at_utc_ns, message FROM disconnection GROUP BY connection_id)
SELECT c.id, c.instrument, c.opened_as, c.at_utc_ns,
    coalesce(e.at_utc_ns, p.last_utc_ns, c.at_utc_ns) AS until_utc_ns,
    coalesce(p.received, 0) AS received, coalesce(p.sent, 0) AS sent,
    coalesce(t.readings, 0) AS readings,
    (SELECT count(*) FROM gap AS g WHERE g.instrument = c.instrument
        AND g.since_utc_ns >= c.at_utc_ns AND (e.at_utc_ns IS NULL OR g.since_utc_ns <= e.at_utc_ns)
        AND NOT EXISTS (SELECT 1 FROM connection AS n WHERE n.instrument = c.instrument
            AND n.id > c.id AND n.at_utc_ns <= g.since_utc_ns)) AS gaps,
    e.message AS ended
FROM connection AS c
LEFT JOIN passed AS p ON p.connection_id = c.id
LEFT JOIN taken AS t ON t.connection_id = c.id
LEFT JOIN ended AS e ON e.connection_id = c.id
ORDER BY c.id"""  # noqa: S608 - our own names


class Listed(NamedTuple):
    """One connection of a store. `ended` None: nobody wrote down an end."""

    number: int
    instrument: str
    serial: str | None
    driver: str | None
    profile: str | None
    opened_as: str
    opened_utc_ns: int
    until_utc_ns: int
    received: int
    sent: int
    readings: int
    gaps: int
    ended: str | None


def listed(reader: StoreReader) -> list[Listed]:
    """Every connection of a store, the oldest first."""
    descriptions = Descriptions(reader)
    found = []
    for row in reader.each(LISTED):
        number, instrument, *rest = row
        own = descriptions.of(row)
        described = (None,) * 3 if own is None else (own["serial"], own["driver"], own["profile"])
        found.append(Listed(number, instrument, *described, *rest))
    return found


def taped(reader: StoreReader, number: int) -> Tape:
    """The tape of a connection with all that was made of it. Raises `NotFound`.

    It is read from the store, by a reader of its own, as often as it is gone through.
    """
    with reader.snapshot():
        found = number <= LARGEST_NUMBER and reader.rows(
            "SELECT * FROM connection WHERE id = ?", (number,)
        )
        if not found:
            (least, most) = reader.rows("SELECT min(id), max(id) FROM connection")[0]
            raise NotFound(
                f"there is no tape {number}",
                wanted=f"{least} to {most}" if most else "a store with a connection",
                next_step="coatbench tape list",
            )
        row = found[0]
        opened = Instant(row["at_utc_ns"], row["at_mono_ns"])
        span = span_of(reader, number)
        # What a daemon records from now on is no part of it, whenever it is gone through.
        upto = {table: reader.one(f"SELECT max(id) FROM {table}") or 0 for table in TABLES}  # noqa: S608
        path = reader.path

        def passed(behind: int = 0) -> Iterator[Passed]:
            with StoreReader(path) as again:
                for t in again.each(_PASSED, (*span, behind)):
                    at = Instant(t["at_utc_ns"], t["at_mono_ns"])
                    yield Passed(t["direction"], t["start"], at, bytes(t["bytes"]))

        def made() -> Iterator[Made]:
            with StoreReader(path) as again:
                yield from stored(again, number, upto)

        return Tape(
            opened,
            row["opened_as"],
            Kept(passed, reader.one(_COUNTED, span), passed),
            whose=_whose(reader, row),
            made=Kept(made),
            missing=_missing(reader, row),
            ended=ended_of(reader, number, opened, last_of(reader, span)),
        )


def is_latest(reader: StoreReader, number: int) -> bool:
    """Whether its instrument has had no connection since."""
    return not reader.one(
        "SELECT 1 FROM connection AS later JOIN connection AS this ON later.id > this.id "
        "AND later.instrument = this.instrument WHERE this.id = ?",
        (number,),
    )


def _whose(reader: StoreReader, connection: Any) -> Whose | None:
    row = Descriptions(reader).of(connection)
    if row is None:
        return None
    return Whose(
        row["instrument"],
        row["kind"],
        row["serial"],
        row["driver"],
        row["profile"],
        row["profile_text"],
        connection["adapter"],
    )


def _missing(reader: StoreReader, connection: Any) -> tuple[Missing, ...]:
    """The gaps of the instrument between this connection and its next."""
    until = reader.one(
        "SELECT min(at_utc_ns) FROM connection WHERE instrument = ? AND id > ?",
        (connection["instrument"], connection["id"]),
    )
    return tuple(
        Missing(*row)
        for row in reader.each(
            "SELECT since_utc_ns, until_utc_ns, lost_bytes FROM gap "
            "WHERE instrument = ? AND since_utc_ns >= ? AND since_utc_ns < ? ORDER BY id",
            (connection["instrument"], connection["at_utc_ns"], until or LARGEST_NUMBER),
        )
    )


def ended_of(
    reader: StoreReader, number: int, opened: Instant, last_id: int | None
) -> Ended | None:
    """How a connection ended, whose last row on the tape is this; None where nobody wrote it."""
    found = reader.rows("SELECT * FROM disconnection WHERE connection_id = ?", (number,))
    if not found:
        return None
    utc_ns, last = found[0]["at_utc_ns"], opened
    if last_id is not None:
        (row,) = reader.rows("SELECT at_utc_ns, at_mono_ns FROM tape WHERE id = ?", (last_id,))
        last = Instant(*row)
    # The row has but the wall clock; the other one went on with it, and not backwards.
    mono_ns = max(last.mono_ns, last.mono_ns + utc_ns - last.utc_ns)
    return Ended(Instant(utc_ns, mono_ns), found[0]["message"])
