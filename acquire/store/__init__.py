"""The SQLite store: one writer that appends, any number of read-only readers."""

from acquire.store.reader import StoreReader
from acquire.store.rows import Row
from acquire.store.writer import StoreWriter

__all__ = ["Row", "StoreReader", "StoreWriter"]
