"""What waits for the recorder: a bounded lane for each instrument, and one for calls of people.

Everything is taken in the order in which it was handed over, except that an instrument that sends
more than its share of a group lets the others go first; the order within one instrument never
changes, and a call is taken after everything that was handed over before it. So a device that
floods its line fills its own lane, and nobody else waits for it for long.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from typing import Generic, NamedTuple, TypeVar

from acquire.model import Batch, Reading, Samples, Spectrum

LANE_LIMIT = 16_384
GROUP_LIMIT = 4_096
"""What one commit takes in at most; a reading of another meter waits no longer than that."""
SHARE = 256
"""What one instrument may put into a group before the others go first."""
MOST_CALLS = 1_024
BYTES_A_UNIT = 256

Call = TypeVar("Call")


def cost(batch: Batch) -> int:
    """What a batch weighs: one for itself and each fact, and one for each 256 bytes of them."""
    carried = 0 if batch.received is None else len(batch.received.data)
    for fact in batch.facts:
        if isinstance(fact, Reading):
            carried += len(fact.raw)
        elif isinstance(fact, Samples):
            carried += len(fact.counts)
        elif isinstance(fact, Spectrum):
            carried += len(fact.values) + len(fact.raw)
        else:
            carried += len(fact.raw)
    return 1 + len(batch.facts) + carried // BYTES_A_UNIT


class _Waiting(NamedTuple):
    turn: int
    batch: Batch
    cost: int


class _Lane:
    """Batches of one instrument."""

    def __init__(self) -> None:
        self.waiting: deque[_Waiting] = deque()
        self.cost = 0
        self.served = 0


class Lanes(Generic[Call]):
    """The queue before the recorder; `take` is for its thread alone, the rest for any thread."""

    def __init__(self, lane_limit: int = LANE_LIMIT) -> None:
        self._lane_limit = lane_limit
        self._lanes: dict[str, _Lane] = {}
        self._calls: deque[tuple[int, Call]] = deque()
        self._turn = 0
        self._closed = False
        lock = threading.Lock()
        self._filled = threading.Condition(lock)
        self._emptied = threading.Condition(lock)

    def put(self, batch: Batch, timeout_s: float) -> bool:
        """Hand over a batch; False if its lane stayed full until the deadline, or after `close`.

        An empty lane takes a batch of any size.
        """
        weight = cost(batch)
        with self._filled:
            lane = self._lanes.setdefault(batch.instrument, _Lane())
            if not self._await_room(
                lambda: not lane.waiting or lane.cost + weight <= self._lane_limit, timeout_s
            ):
                return False
            self._turn += 1
            lane.waiting.append(_Waiting(self._turn, batch, weight))
            lane.cost += weight
            self._filled.notify()
            return True

    def call(self, call: Call, timeout_s: float) -> bool:
        """Hand over a call; False if too many waited until the deadline, or after `close`."""
        with self._filled:
            if not self._await_room(lambda: len(self._calls) < MOST_CALLS, timeout_s):
                return False
            self._turn += 1
            self._calls.append((self._turn, call))
            self._filled.notify()
            return True

    def take(self, wait_s: float) -> list[Batch | Call]:
        """What is to be recorded next, at most one group of it; waits if there is nothing."""
        with self._filled:
            if not self._pending() and not self._closed and wait_s > 0:
                self._filled.wait(wait_s)
            for lane in self._lanes.values():
                lane.served = 0
            taken: list[Batch | Call] = []
            left = GROUP_LIMIT
            while left > 0:
                first = self._next_lane()
                if first is not None:
                    _, batch, weight = first.waiting.popleft()
                    first.cost -= weight
                    first.served += weight
                    left -= weight
                    taken.append(batch)
                elif self._calls:
                    taken.append(self._calls.popleft()[1])
                    left -= 1
                else:
                    break
            if taken:
                self._emptied.notify_all()
            return taken

    def close(self) -> None:
        """Take nothing in any more; what waits can still be taken."""
        with self._filled:
            self._closed = True
            self._filled.notify_all()
            self._emptied.notify_all()

    @property
    def is_done(self) -> bool:
        """Closed, and nothing waits."""
        with self._filled:
            return self._closed and not self._pending()

    def _pending(self) -> bool:
        return bool(self._calls) or any(lane.waiting for lane in self._lanes.values())

    def _next_lane(self) -> _Lane | None:
        """The lane whose first batch is next; None if a call is, or if nothing waits."""
        before = self._calls[0][0] if self._calls else self._turn + 1
        ready = [
            lane for lane in self._lanes.values() if lane.waiting and lane.waiting[0].turn < before
        ]
        return min(
            ready, key=lambda lane: (lane.served // SHARE, lane.waiting[0].turn), default=None
        )

    def _await_room(self, has_room: Callable[[], bool], timeout_s: float) -> bool:
        """Wait, under the lock, until there is room; False after the deadline or `close`."""
        self._emptied.wait_for(lambda: self._closed or has_room(), timeout_s)
        return not self._closed and has_room()
