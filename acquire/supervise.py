"""The owner of threads: what is started in a scope has ended when the scope is left.

The only place in Coatbench that creates threads.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from types import TracebackType


class ThreadsLeft(RuntimeError):
    """Threads that did not end within the scope's deadline, by `names`."""

    def __init__(self, names: tuple[str, ...]) -> None:
        super().__init__(", ".join(names))
        self.names = names


class Scope:
    """Use as a context manager; on leaving, waits for every thread it started.

    `on_crash` is called on the crashed thread with its name and the exception; the thread then
    ends. Whoever leaves the scope must have told its threads to end before; one that has not ended
    within `deadline_s` is named in `ThreadsLeft`, or, if the scope is left by an exception, in a
    note to that exception. Such a thread does not keep the program from ending.
    """

    def __init__(
        self, on_crash: Callable[[str, BaseException], object], deadline_s: float = 10.0
    ) -> None:
        self._on_crash = on_crash
        self._deadline_s = deadline_s
        self._threads: list[threading.Thread] = []
        self._lock = threading.Lock()
        self._is_left = False

    def start(self, name: str, body: Callable[[], object]) -> None:
        """Run `body` on a thread of this name. Raises RuntimeError once the scope has been left."""

        def guarded() -> None:
            try:
                body()
            except BaseException as error:
                self._on_crash(name, error)

        thread = threading.Thread(target=guarded, name=name, daemon=True)
        # Started under the lock: whoever leaves the scope sees it either not at all or running.
        with self._lock:
            if self._is_left:
                raise RuntimeError(f"{name} was to be started in a scope that has been left")
            self._threads = [t for t in self._threads if t.is_alive()]
            thread.start()
            self._threads.append(thread)

    def __enter__(self) -> Scope:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        deadline = time.monotonic() + self._deadline_s
        # A thread may still start others while it ends, as a server does for its last client.
        while True:
            with self._lock:
                alive = [t for t in self._threads if t.is_alive()]
                if not alive:
                    self._is_left = True
                    return
            if time.monotonic() >= deadline:
                break
            alive[0].join(max(0.0, deadline - time.monotonic()))
        with self._lock:
            self._is_left = True
        left = ThreadsLeft(tuple(t.name for t in alive))
        if error is None:
            raise left
        error.add_note(f"threads that did not end within {self._deadline_s:g} s: {left}")
