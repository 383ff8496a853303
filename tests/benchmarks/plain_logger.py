"""The baseline: what a practised person writes in an evening. No checks, no units, no proof."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable
from pathlib import Path
from typing import Protocol


class LineSource(Protocol):
    """Anything with pySerial's `readline`."""

    def readline(self) -> bytes: ...


def log_readings(
    source: LineSource, path: Path, count: int, published: Callable[[float], object]
) -> None:
    """Read `count` lines, store each in its own commit, tell `published` its value."""
    store = sqlite3.connect(path, isolation_level=None)
    store.execute("PRAGMA journal_mode = WAL")
    store.execute("PRAGMA synchronous = FULL")
    store.execute("CREATE TABLE reading (at REAL, press TEXT, angle TEXT, value REAL, unit TEXT)")
    for _ in range(count):
        line = source.readline().decode("ascii").strip()
        _, press, angle, value, unit = line.split("*")[0].split(",")
        store.execute(
            "INSERT INTO reading VALUES (?, ?, ?, ?, ?)",
            (time.time(), press, angle, float(value), unit),
        )
        published(float(value))
    store.close()
