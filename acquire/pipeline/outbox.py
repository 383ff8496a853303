"""The way from a session to the recorder: what the recorder cannot take in time becomes a gap.

Bytes that are lost that way are counted and told with the next batch that gets through. What ends
a check is not lost with them: a notice that the instrument was switched on or re-adjusted is kept
and handed over late. That an instrument came or went is insisted on, since everything after it
would be told of the wrong connection. One thread, the session's.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import replace
from threading import Event

from acquire.clock import Clock
from acquire.model import Batch, Gap, Instant, Notice, NoticeKind

SINK_DEADLINE_S = 2.0
RETRY_S = 0.2
MOST_KEPT = 64

Sink = Callable[[Batch, float], bool]
"""Takes a batch within so many seconds, or says False."""

_KEPT = (NoticeKind.POWER_UP, NoticeKind.ADJUSTED, NoticeKind.IDENTITY)


class Outbox:
    """Batches of one instrument on their way; `stopping` ends every insistence."""

    def __init__(self, instrument: str, sink: Sink, clock: Clock, stopping: Event) -> None:
        self._instrument = instrument
        self._sink = sink
        self._clock = clock
        self._stopping = stopping
        self._lost_since: Instant | None = None
        self._lost_bytes = 0
        self._kept: deque[Notice] = deque(maxlen=MOST_KEPT)

    def give(self, batch: Batch) -> bool:
        """Hand a batch over, or lose it after the deadline; whether it got through."""
        if self._put(batch):
            return True
        self._lost_since = self._lost_since or _begin(batch) or self._clock.now()
        if batch.received is not None:
            self._lost_bytes += len(batch.received.data)
        self._kept += [f for f in batch.facts if isinstance(f, Notice) and f.kind in _KEPT]
        return False

    def insist(self, batch: Batch) -> bool:
        """Hand a batch over, however long that takes; False if told to stop meanwhile."""
        while not self._put(batch):
            if self._stopping.wait(RETRY_S):
                return self.give(batch)
        return True

    def _put(self, batch: Batch) -> bool:
        if self._lost_since is None:
            return self._sink(batch, SINK_DEADLINE_S)
        gap = Gap(self._instrument, self._lost_since, self._clock.now(), self._lost_bytes)
        told = replace(batch, gap=gap, facts=(*self._kept, *batch.facts))
        if not self._sink(told, SINK_DEADLINE_S):
            return False
        self._lost_since, self._lost_bytes = None, 0
        self._kept.clear()
        return True


def _begin(batch: Batch) -> Instant | None:
    """The moment of the first thing in a batch."""
    if batch.sent is not None:
        return batch.sent.at
    if batch.received is not None:
        return batch.received.at
    return None
