"""Whether a check broke off for the count in a meter's messages, and what to do if it is none.

A count that leaps, or goes back, is that of a meter that was switched on anew or used elsewhere. A
number that is no count of presses does so in the meter's hand, and then each check breaks off: the
person learns here which number it is. Reads the store; never writes. Any thread, with a reader of
its own.
"""

from __future__ import annotations

from acquire.live.words import clean
from acquire.store.reader import StoreReader

TEACH = "if it was all the time, mend its profile first, and start coatbench serve anew"


def count_lines(store: StoreReader, check_id: int) -> list[str]:
    """What the count of presses did where that broke the check off; nothing for another reason."""
    # What follows from a count has no bytes of its own, and came at once with what bears it.
    for notice in store.rows(
        "SELECT n.connection_id, n.at_utc_ns, n.after_reading, n.instrument, c.profile "
        "FROM check_judgement AS j JOIN check_begin AS b ON b.id = j.check_id "
        "JOIN notice AS n ON n.instrument = b.instrument AND n.at_utc_ns = j.at_utc_ns "
        "JOIN instrument AS c ON c.instrument = b.instrument "
        "WHERE j.check_id = ? AND n.kind = 'power-up' AND length(n.raw) = 0 "
        "ORDER BY n.id, c.id DESC LIMIT 1",
        (check_id,),
    ):
        at = (notice["connection_id"], notice["after_reading"])
        before = store.rows(
            "SELECT press FROM reading WHERE connection_id = ? AND id <= ? "
            "ORDER BY id DESC LIMIT 1",
            at,
        )
        after = store.rows(
            "SELECT press FROM reading WHERE connection_id = ? AND id > ? AND at_utc_ns = ? "
            "ORDER BY id LIMIT 1",
            (*at, notice["at_utc_ns"]),
        )
        told = [
            clean(row["text"])
            for row in store.rows(
                "SELECT text FROM notice WHERE connection_id = ? AND after_reading = ? "
                "AND kind = 'trouble' AND at_utc_ns = ? ORDER BY id",
                (*at, notice["at_utc_ns"]),
            )
        ]
        counts = [rows[0]["press"] for rows in (before, after) if rows]
        if len(counts) < 2 or None in counts or counts[0] == counts[1]:
            return []
        return [
            f"its messages bear a number that counts its presses by the profile "
            f"{clean(notice['profile'])}: it was {counts[0]}, then {counts[1]}",
            *told,
            "if it stayed on, and nobody pressed it elsewhere, that number is none: take count out "
            "of that profile (or name highest_count and lowest_count, where it only began again)",
        ]
    return []
