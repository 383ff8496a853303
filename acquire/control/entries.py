"""An entry that a person typed, followed to its rows on disk.

Waits on the hub; decides nothing and stores nothing. The thread of the client that asked.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from acquire.clock import Clock
from acquire.control.shapes import row_item
from acquire.errors import Refused
from acquire.hub import Hub
from acquire.link.typed import Typed
from acquire.store import rows as r

HEARD_WITHIN_S = 5.0
"""Shorter than the daemon waits for its threads when it ends."""

_FATES = (r.ReadingRow, r.NoticeRow, r.NoiseRow)


def followed(
    hub: Hub,
    clock: Clock,
    connection: Callable[[], Mapping[str, object]],
    type_in: Callable[[], Typed],
) -> dict[str, object]:
    """The rows that an entry became, as the stream has them; none where it took too long.

    `connection` tells the number of the instrument's connection as it is before `type_in` is
    called. Raises what both raise.
    """
    connection_id = connection()["connection_id"]
    with hub.watch() as watcher:
        typed = type_in()
        if connection_id is None:
            raise Refused(
                "it is not known what became of the entry",
                reason="not connected",
                got="an instrument that was connected just now",
                next_step="coatbench readings shows whether it was taken",
            )
        begun = clock.now()
        while (left_s := HEARD_WITHIN_S - clock.now().seconds_since(begun)) > 0:
            # All that one chunk became is committed, and so published, at once.
            rows, _ = watcher.pull(left_s)
            found: list[dict[str, Any]] = [
                row_item(row)
                for row in rows
                if isinstance(row, _FATES)
                and row.connection_id == connection_id
                and typed.start <= row.raw_start < typed.end
            ]
            if found:
                return {"rows": found}
    return {"rows": []}
