"""How an instrument was described when a connection was opened: by the order of recording.

An instrument is described where a daemon starts, and its connections come after. Clocks can be set
back, so the order goes by the seals: each start has one with the last row of each table before it.
Of starts whose order nobody knows (a store put together from a package, or from before there were
seals) it goes by the moments. Reads; the reader's thread.
"""

from __future__ import annotations

import sqlite3
from bisect import bisect_left
from collections import defaultdict
from contextlib import suppress

from acquire.store import StoreReader
from acquire.store.seals import read_upto

_LAST = 2**63 - 1


class Descriptions:
    """All of a store, looked up once."""

    def __init__(self, reader: StoreReader) -> None:
        self._rows: dict[str, list[sqlite3.Row]] = defaultdict(list)
        for row in reader.rows("SELECT * FROM instrument ORDER BY id"):
            self._rows[row["instrument"]].append(row)
        # By start, the last connection before it and the last row of an instrument.
        self._connections: list[int] = []
        self._instruments: list[int] = []
        for (upto,) in reader.rows("SELECT upto FROM seal WHERE upto IS NOT NULL ORDER BY id"):
            # One that cannot be read is told by whoever verifies the store.
            with suppress(ValueError):
                last = read_upto(upto)
                self._connections.append(last.get("connection", 0))
                self._instruments.append(last.get("instrument", 0))

    def of(self, connection: sqlite3.Row) -> sqlite3.Row | None:
        """The row of the instrument of a row of ``connection``; None where there is none."""
        after = bisect_left(self._connections, connection["id"])
        since = self._instruments[after - 1] if after else 0
        until = self._instruments[after] if after < len(self._instruments) else _LAST
        known = [row for row in self._rows[connection["instrument"]] if row["id"] <= until]
        if sum(row["id"] > since for row in known) > 1:
            # No start describes an instrument twice, so these are of several.
            then = [row for row in known if row["at_utc_ns"] <= connection["at_utc_ns"]]
            return then[-1] if then else known[0]
        return known[-1] if known else None
