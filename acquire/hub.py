"""The hub: hands the rows that are on disk to whoever watches.

The recorder publishes, watchers pull at their own rate. A watcher that does not keep up loses the
oldest rows of its own queue and is told how many; it never slows the recorder.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Sequence
from types import TracebackType

from acquire.store.rows import Row

WATCHER_LIMIT = 10_000


class Watcher:
    """One pull end of the hub; use as a context manager."""

    def __init__(self, hub: Hub, limit: int, place: int) -> None:
        self._hub = hub
        self.place = place
        """Place, among all rows ever published, of the last one that was pulled or missed."""
        self._rows: deque[Row] = deque(maxlen=limit)
        self._ready = threading.Condition()
        self._closed = False
        self._missed = 0

    def offer(self, rows: Sequence[Row]) -> None:
        """Called by the hub on the recorder's thread."""
        with self._ready:
            room = (self._rows.maxlen or 0) - len(self._rows)
            self._missed += max(0, len(rows) - room)
            self._rows.extend(rows)
            self._ready.notify()

    def pull(self, timeout_s: float) -> tuple[list[Row], int]:
        """Rows since the last pull and how many were missed; waits for at most `timeout_s`."""
        with self._ready:
            if not self._rows and not self._closed:
                self._ready.wait(timeout_s)
            rows = list(self._rows)
            self._rows.clear()
            missed, self._missed = self._missed, 0
            self.place += len(rows) + missed
            return rows, missed

    def close(self) -> None:
        self._hub.leave(self)
        with self._ready:
            self._closed = True
            self._ready.notify_all()

    def __enter__(self) -> Watcher:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        tb: TracebackType | None,
    ) -> None:
        self.close()


class Hub:
    """Fans committed rows out to any number of watchers."""

    def __init__(self) -> None:
        self._watchers: tuple[Watcher, ...] = ()
        self.place = 0
        """How many rows were published: the place of the last one."""
        self._lock = threading.Lock()

    def watch(self, limit: int = WATCHER_LIMIT) -> Watcher:
        with self._lock:
            watcher = Watcher(self, limit, self.place)
            self._watchers = (*self._watchers, watcher)
        return watcher

    def leave(self, watcher: Watcher) -> None:
        with self._lock:
            self._watchers = tuple(w for w in self._watchers if w is not watcher)

    def publish(self, rows: Sequence[Row]) -> None:
        """Give rows that are on disk to every watcher. Recorder's thread; never blocks for long."""
        with self._lock:
            self.place += len(rows)
            watchers = self._watchers
        for watcher in watchers:
            watcher.offer(rows)
