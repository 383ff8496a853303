"""The owner of threads: what is started in a scope has ended when the scope is left.

The only place in Coatbench that creates threads.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from types import TracebackType


class ThreadsLeft(RuntimeError):
    """Threads that did not end within the scope's deadline, by name."""


class Scope:
    """Use as a context manager; on leaving, waits for every thread it started.

    `on_crash` is called on the crashed thread with its name and the exception; the thread then
    ends. Whoever leaves the scope must have told its threads to end before; one that has not ended
    within `deadline_s` is named in `ThreadsLeft`.
    """

    def __init__(
        self, on_crash: Callable[[str, BaseException], object], deadline_s: float = 10.0
    ) -> None:
        self._on_crash = on_crash
        self._deadline_s = deadline_s
        self._threads: list[threading.Thread] = []
        self._lock = threading.Lock()

    def start(self, name: str, body: Callable[[], object]) -> None:
        """Run `body` on a thread of this name."""

        def guarded() -> None:
            try:
                body()
            except BaseException as error:
                self._on_crash(name, error)

        thread = threading.Thread(target=guarded, name=name, daemon=True)
        with self._lock:
            self._threads = [t for t in self._threads if t.is_alive() or t.ident is None]
            self._threads.append(thread)
        thread.start()

    def __enter__(self) -> Scope:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        deadline = time.monotonic() + self._deadline_s
        while True:
            with self._lock:
                alive = [t for t in self._threads if t.is_alive()]
            if not alive or time.monotonic() >= deadline:
                break
            alive[0].join(max(0.0, deadline - time.monotonic()))
        if alive and error is None:
            raise ThreadsLeft(", ".join(t.name for t in alive))
