"""The next id of every table: the single writer numbers its rows itself.

A row can then name another row of the same batch before either is on disk.
"""

from __future__ import annotations

from collections.abc import Mapping

from acquire.store.rows import Row


class Ids:
    """Counts upwards from what the store holds."""

    def __init__(self, start: Mapping[type[Row], int]) -> None:
        self._next = dict(start)

    def take(self, kind: type[Row]) -> int:
        taken = self._next[kind]
        self._next[kind] = taken + 1
        return taken

    def last(self, kind: type[Row]) -> int:
        """The highest id given so far; 0 before the first."""
        return self._next[kind] - 1
