"""The SQLite store: one writer that appends, any number of read-only readers.

The writer is imported where it is asked for: whoever reads needs none.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from acquire.store.reader import StoreReader
from acquire.store.rows import Row

if TYPE_CHECKING:
    from acquire.store.writer import StoreWriter

__all__ = ["Row", "StoreReader", "StoreWriter"]


def __getattr__(name: str) -> object:
    if name == "StoreWriter":
        from acquire.store.writer import StoreWriter  # noqa: PLC0415 - slow

        return StoreWriter
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
