"""What a program is told by signals, so that everything that it has started ends in order."""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def ended_by_signals(end: Callable[[], object]) -> Iterator[None]:
    """Ctrl-C, a request to end, and the end of the terminal call `end`. Main thread.

    A program that was started so that it outlives its terminal (nohup) does.
    """
    kinds = [signal.SIGINT, signal.SIGTERM]
    if hasattr(signal, "SIGHUP") and signal.getsignal(signal.SIGHUP) is not signal.SIG_IGN:
        kinds.append(signal.SIGHUP)
    before = {kind: signal.signal(kind, lambda *_: end()) for kind in kinds}
    try:
        yield
    finally:
        for kind, handler in before.items():
            # None: it was not set from Python, and cannot be put back from here.
            if handler is not None:
                signal.signal(kind, handler)
