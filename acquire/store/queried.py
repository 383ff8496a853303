"""What answers questions of SQL. Holds nothing; the thread is that of its maker."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Protocol


class Queried(Protocol):
    """The writer, or a reader of a store that nobody writes to."""

    def query(self, sql: str, arguments: Sequence[object] = ()) -> list[sqlite3.Row]: ...
