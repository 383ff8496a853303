"""What the store knows of clocks: the latest time that one told, and how they were set.

Read-only, on the writer's own connection, in its thread.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from acquire.model import IncidentKind
from acquire.store.fold import BULK
from acquire.store.rows import TABLES

if TYPE_CHECKING:
    from acquire.store.queried import Queried

# Whatever comes in bulk came as bytes.
_OFTEN = "SELECT at_utc_ns FROM tape ORDER BY id DESC LIMIT 1"
# The last row of these does not do: whoever starts a daemon twice behind a clock that was set back
# would have it as the last of each.
_SELDOM = tuple(
    f"SELECT max(at_utc_ns) FROM {table}"  # noqa: S608 - our own names
    for kind, table in TABLES.items()
    if "at_utc_ns" in kind._fields and table not in BULK
)


class ToldIncident(NamedTuple):
    """What was told of the clock, and when."""

    at_utc_ns: int
    message: str


class ToldTimes:
    """Times as clocks told them."""

    def __init__(self, writer: Queried) -> None:
        self._writer = writer

    def latest_utc_ns(self) -> int:
        """The wall clock of the latest entry, by all that is stamped as it is recorded; else 0."""
        found = [self._writer.query(sql) for sql in (_OFTEN, *_SELDOM)]
        return max((rows[0][0] or 0 for rows in found if rows), default=0)

    def of_clocks(self) -> list[ToldIncident]:
        """Steps of the clock, and what a person said of it, in the order of recording."""
        kinds = (IncidentKind.CLOCK_JUMPED.value, IncidentKind.CLOCK_TRUSTED.value)
        rows = self._writer.query(
            "SELECT at_utc_ns, message FROM incident WHERE kind IN (?, ?) ORDER BY id", kinds
        )
        return [ToldIncident(*row) for row in rows]
