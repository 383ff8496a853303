"""Closed tables: a device's own codes on the left, words we know on the right. Pure; any thread.

A code that is not in the table has no meaning, however much it looks like one that is: nothing is
stripped, folded to lower case or completed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Generic, TypeVar

T = TypeVar("T")


class ClosedTable(Generic[T]):
    """An unchangeable table from codes to meanings."""

    __slots__ = ("_entries", "find")

    find: Callable[[str], T | None]
    """The meaning of exactly this code, or None."""

    def __init__(self, entries: Mapping[str, T] | Iterable[tuple[str, T]]) -> None:
        pairs = list(entries.items() if isinstance(entries, Mapping) else entries)
        self._entries = dict(pairs)
        self.find = self._entries.get
        if len(self._entries) != len(pairs):
            raise ValueError("a code stands in a closed table once")

    def codes(self) -> tuple[str, ...]:
        """Every code, in the order of the table."""
        return tuple(self._entries)

    def __len__(self) -> int:
        return len(self._entries)
