"""Troubles of the sittings in our own words: no text of a library, no step that was for the bench.

What is stored stays as it came; only the page leaves it out. Reads the store and writes nothing.
The thread of the reader.
"""

from __future__ import annotations

import re
import sqlite3
from collections import defaultdict
from collections.abc import Iterator, Sequence

from acquire.model import TYPED_BY_HAND, EndReason, IncidentKind
from acquire.report.record.record import TroubleRecord
from acquire.report.record.shaping import trouble_of_notice
from acquire.report.record.spans import LAST_HEARD
from acquire.report.words.wording import reason_alone, said_moment
from acquire.store.reader import StoreReader

Window = tuple[int, int]
"""From one moment to another (UTC, ns), both included."""

_LINKS = (IncidentKind.LINK_LOST, IncidentKind.LINK_UNAVAILABLE, IncidentKind.LINK_SHARED)


def in_own_words(kind: str, message: str) -> str:
    """What happened, in one sentence; `message` is that of an incident as stored.

    Behind ``got`` a broken or absent line has what the operating system or a library said, and a
    failed driver what its own code said: that is for whoever looks into the store.
    """
    told = reason_alone(message)
    if kind in _LINKS:
        told = re.split(r":\s+(?:got|wanted)\s", told, maxsplit=1)[0]
    elif kind == IncidentKind.DRIVER_FAILED:
        told = re.split(r"(?<= failed)(?: on the bytes |: )", told, maxsplit=1)[0]
    return told


def troubles_of(
    reader: StoreReader, windows: Sequence[Window], names: Sequence[str], trial: str
) -> tuple[TroubleRecord, ...]:
    """What went wrong or was told within the windows, of these instruments and of the bench.

    With what of a counter did not fit while it counted washes of the trial.
    """
    whose = ("", *names)
    found = {t for window in windows for t in _within(reader, window) if t.instrument in whose}
    found |= {
        TroubleRecord(row[1], row[2], row[3], in_own_words(row["kind"], row["message"]))
        for row in counter_incidents(reader, trial)
    }
    return tuple(sorted(found, key=lambda t: (t.at_utc_ns, t.instrument, t.kind, t.message)))


def counter_incidents(reader: StoreReader, trial: str) -> list[sqlite3.Row]:
    """What of a counter did not fit while it counted washes of a trial, in whatever sitting."""
    # Its words name the trial, by the command that adds to it: an id has no spaces.
    return reader.rows(
        "SELECT id, at_utc_ns, instrument, kind, message FROM incident "
        "WHERE kind = ? AND instr(message, ?) > 0",
        (IncidentKind.COUNTER.value, f" coatbench wash {trial} --"),
    )


def noise_of(
    reader: StoreReader, windows: Sequence[Window], names: Sequence[str]
) -> tuple[tuple[str, int], ...]:
    """Stretches of bytes within the windows that were no reading, by instrument."""
    counts: dict[str, int] = defaultdict(int)
    for window in windows:
        for row in reader.rows(
            "SELECT c.instrument, count(*) FROM noise AS n "
            "JOIN connection AS c ON c.id = n.connection_id "
            "WHERE n.at_utc_ns BETWEEN ? AND ? GROUP BY c.instrument",
            window,
        ):
            if row[0] in names:
                counts[row[0]] += row[1]
    return tuple(sorted(counts.items()))


def _within(reader: StoreReader, window: Window) -> Iterator[TroubleRecord]:
    for row in reader.rows(
        "SELECT at_utc_ns, instrument, kind, message FROM incident WHERE at_utc_ns BETWEEN ? AND ?",
        window,
    ):
        yield TroubleRecord(row[0], row[1], row[2], in_own_words(row["kind"], row["message"]))
    for row in reader.rows(
        "SELECT since_utc_ns, instrument, lost_bytes FROM gap WHERE since_utc_ns BETWEEN ? AND ?",
        window,
    ):
        yield TroubleRecord(
            row[0], row[1], "gap", f"{row['lost_bytes']} bytes arrived and could not be recorded"
        )
    for row in reader.rows(
        # A re-adjustment is often several presses of its button, zero and gain: it is one.
        "SELECT min(n.at_utc_ns) AS at_utc_ns, n.instrument, n.kind, n.text, count(*) AS times, "
        "c.opened_as = ? AS typed FROM notice AS n JOIN connection AS c ON c.id = n.connection_id "
        "WHERE n.kind NOT IN ('identity', 'typed once') AND n.at_utc_ns BETWEEN ? AND ? "
        "GROUP BY CASE WHEN n.kind = 'adjusted' THEN -n.after_reading - 1 ELSE n.id END, "
        "n.serial, n.text ORDER BY min(n.id)",
        (TYPED_BY_HAND, *window),
    ):
        yield trouble_of_notice(row)
    for row in reader.rows(
        "SELECT e.at_utc_ns, c.instrument, e.reason, e.message FROM pass_end AS e "
        "JOIN check_begin AS c ON c.id = e.check_id "
        "WHERE e.reason = ? AND e.at_utc_ns BETWEEN ? AND ?",
        (EndReason.NOT_WATCHED.value, *window),
    ):
        yield TroubleRecord(row[0], row[1], row[2], f"{row['message']}; its check ended with that")
    yield from _breaks(reader, window)


def broken_off(reader: StoreReader, window: Window) -> list[sqlite3.Row]:
    """Lines that nobody closed and that were opened again: ``connection_id``, ``instrument``,
    ``heard`` (the moment of their last byte within the window, UTC, ns) and ``again``.

    A daemon that is stopped, and a line that breaks, write down that the line was closed.
    """
    return reader.rows(
        "SELECT o.id AS connection_id, o.instrument, o.heard, n.at_utc_ns AS again FROM ("  # noqa: S608
        "SELECT c.id, c.instrument, "
        f"coalesce(({LAST_HEARD}), c.at_utc_ns) AS heard, "
        "(SELECT min(id) FROM connection WHERE instrument = c.instrument AND id > c.id) AS next_id "
        "FROM connection AS c "
        "WHERE NOT EXISTS (SELECT 1 FROM disconnection WHERE connection_id = c.id)) AS o "
        "JOIN connection AS n ON n.id = o.next_id WHERE o.heard BETWEEN ? AND ?",
        window,
    )


def _breaks(reader: StoreReader, window: Window) -> Iterator[TroubleRecord]:
    """Daemons that ended without a word: a line of theirs is open still when another one opens."""
    for row in broken_off(reader, window):
        yield TroubleRecord(
            row["heard"],
            row["instrument"],
            "daemon ended",
            "the daemon was killed, or the computer failed, after this moment without closing the "
            f"line; the line was opened again on {said_moment(row['again'])}",
        )
