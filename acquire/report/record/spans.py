"""The rows of the tape that are of a connection. Reads; the thread of the reader."""

from __future__ import annotations

from typing import NamedTuple

from acquire.store.reader import StoreReader
from acquire.store.spans import FIRST, LAST

OWN_ROWS = "FROM tape WHERE id BETWEEN ? AND ? AND +connection_id = ?"
"""Takes a `Span`. By the numbers of rows, whatever index somebody has made for himself."""
SPANS = f"(SELECT c.id, {FIRST} AS first, {LAST} AS last FROM connection AS c)"  # noqa: S608
"""Where the rows of every connection lie."""
OF_SPANS = "CROSS JOIN tape AS t ON t.id BETWEEN s.first AND s.last AND +t.connection_id = s.id"
"""Their rows, one connection after the other: none is sorted, nor put into an index for that."""
ROWS_OF = f"SELECT t.id FROM {SPANS} AS s {OF_SPANS} WHERE s.id IN ({{}})"  # noqa: S608
"""The numbers of the rows of several connections."""
_SPAN = f"SELECT {FIRST}, {LAST}, c.id FROM connection AS c WHERE c.id = ?"  # noqa: S608
LAST_HEARD = (
    f"SELECT at_utc_ns FROM tape WHERE id BETWEEN {FIRST} AND {LAST} "  # noqa: S608 - our own
    "AND +connection_id = c.id AND direction = 'received' ORDER BY id DESC LIMIT 1"
)
"""When the last bytes of a connection `c` came."""


class Span(NamedTuple):
    """From a row to a row, of which those of a connection are its tape as recorded up to now."""

    first: int
    last: int
    connection_id: int


def span_of(reader: StoreReader, connection_id: int) -> Span:
    """Where the rows of a connection that is in the store lie. Raises `StoreError`."""
    (row,) = reader.rows(_SPAN, (connection_id,))
    return Span(*row)


def last_of(reader: StoreReader, span: Span) -> int | None:
    """The last row of its tape; None where nothing passed. Raises `StoreError`."""
    found: int | None = reader.one(f"SELECT id {OWN_ROWS} ORDER BY id DESC LIMIT 1", span)
    return found
