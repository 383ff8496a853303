"""Readings of a package made again from the bytes that came down the line.

By the drivers that are installed here and the profiles that the package has, whose patterns cannot
hang (`acquire.driverkit.pattern`). A reading whose driver is not to be had proves nothing and is
told of. Reads the store that was filled from the package; the reader's thread.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from acquire.driverapi.registry import Registry
from acquire.report.proof.again import replayed
from acquire.report.words.wording import counted
from acquire.store.reader import StoreReader

_PART = 500


class Again(NamedTuple):
    """How many readings came again, which did not, and of which nothing can be said, in words."""

    came: int
    unlike: tuple[str, ...]
    not_told: tuple[str, ...]


def made_again(reader: StoreReader, ids: Iterable[int]) -> Again:
    """Make these readings again, line by line of the bench."""
    by_line: dict[int, list[dict[str, Any]]] = {}
    every = sorted(ids)
    for at in range(0, len(every), _PART):
        part = every[at : at + _PART]
        marks = ", ".join("?" * len(part))
        sql = f"SELECT * FROM readings WHERE reading_id IN ({marks})"  # noqa: S608 - marks alone
        for row in reader.rows(sql, part):
            by_line.setdefault(row["connection_id"], []).append(dict(row))
    came = 0
    unlike: list[str] = []
    not_told: list[str] = []
    registry = Registry()
    for connection, rows in sorted(by_line.items()):
        places = [(row["raw_start"], row["raw_end"]) for row in rows]
        played = replayed(reader, connection, registry, places)
        if played.why_not:
            what = counted(len(rows), "reading")
            not_told.append(f"{what} of {rows[0]['instrument']}: {played.why_not[:200]}")
            continue
        for one in rows:
            other = played.unlike(one)
            came += not other
            if other:
                unlike.append(f"reading {one['reading_id']}: {'; '.join(other)[:200]}")
    return Again(came, tuple(unlike), tuple(not_told))
