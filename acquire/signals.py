"""What a program is told by signals, so that everything that it has started ends in order."""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from queue import SimpleQueue

from acquire.supervise import Scope


@contextmanager
def ended_by_signals(end: Callable[[], object]) -> Iterator[None]:
    """Ctrl-C, a request to end, and the end of the terminal call `end`, in a thread of its own.

    The handler of a signal runs within whatever the main thread does just then, perhaps with the
    very lock held that `end` needs, perhaps within another handler: it only leaves word. A program
    that was started so that it outlives its terminal (nohup) does. Main thread.
    """
    kinds = [signal.SIGINT, signal.SIGTERM]
    if hasattr(signal, "SIGHUP") and signal.getsignal(signal.SIGHUP) is not signal.SIG_IGN:
        kinds.append(signal.SIGHUP)
    # The one queue whose `put` may interrupt itself (Python, queue.SimpleQueue).
    told: SimpleQueue[bool] = SimpleQueue()
    failed: list[BaseException] = []
    with Scope(lambda _, error: failed.append(error)) as scope:
        scope.start("signals", lambda: _wait(told, end))
        before = {kind: signal.signal(kind, lambda *_: told.put(True)) for kind in kinds}
        try:
            yield
        finally:
            for kind, handler in before.items():
                # None: it was not set from Python, and cannot be put back from here.
                if handler is not None:
                    signal.signal(kind, handler)
            told.put(False)
    if failed:
        raise failed[0]


def _wait(told: SimpleQueue[bool], end: Callable[[], object]) -> None:
    while told.get():
        end()
