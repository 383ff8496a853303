"""A driver whose device answers: how often it asks, also where answers come doubled or disturbed.

Part of the conformance kit. The device is made from a capture: what was sent there is answered as
it was there, and the last answer of its kind stands. A number in front that is counted on and given
back is given back. Pure; one thread.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence

from acquire.driverapi.capture import Capture
from acquire.driverapi.feeding import START, Make
from acquire.model import Instant

_FRONT_BYTES = 4
_ANSWERS_AFTER_NS = 1_000_000
_LOOKED_AT_NS = 10_000_000_000
_TIMES_AS_OFTEN = 10
_FEW = 10

Spoil = Callable[[bytes, bytes], bytes]
"""What comes instead of an answer; the second is an answer to something else."""

SPOILS: dict[str, Spoil] = {
    "each answer comes twice": lambda answer, _: answer + answer,
    "a stray answer comes before each": lambda answer, other: other + answer,
}


def answered(make: Make, captures: Sequence[Capture]) -> Iterator[str]:
    """A driver that asks many times as often where its answers are disturbed."""
    for one in captures:
        if not any(step.sent and step.received for step in one.steps):
            continue
        usual = _asks(make, one, lambda answer, _: answer)
        most = _TIMES_AS_OFTEN * (usual + _FEW)
        for name, spoil in SPOILS.items():
            asks = _asks(make, one, spoil, most)
            if asks > most:
                yield (
                    f"{one.name}: where {name} it asks more than {most} times in "
                    f"{_LOOKED_AT_NS // 10**9} s, and {usual} times else"
                )
                return


class _Device:
    """Answers as the device of a capture did."""

    def __init__(self, one: Capture) -> None:
        self._known = [(s.sent, s.received) for s in one.steps if s.sent and s.received]
        self._asked = Counter[bytes]()
        self.other = self._known[0][1]

    def answer(self, sent: bytes) -> bytes:
        known = [got for was, got in self._known if was == sent] or [
            sent[:front] + got[front:]
            for was, got in self._known
            if len(was) == len(sent)
            and (front := _front(was, sent)) <= _FRONT_BYTES
            and got[:front] == was[:front]
        ]
        kind = sent[_FRONT_BYTES:]
        self._asked[kind] += 1
        return known[min(self._asked[kind], len(known)) - 1] if known else b""


def _front(was: bytes, sent: bytes) -> int:
    """How many bytes in front have to be left out so that two of one length are the same."""
    return max((i + 1 for i in range(len(was)) if was[i] != sent[i]), default=0)


def _asks(make: Make, one: Capture, spoil: Spoil, most: int = 100_000) -> int:
    """How often is asked within some seconds; no more than once more than `most`."""
    driver, device, now, asks = make(), _Device(one), START, 0
    coming: list[tuple[int, bytes]] = []
    sent = driver.opening(now)
    end_ns = now.mono_ns + _LOOKED_AT_NS
    while now.mono_ns < end_ns and asks <= most:
        due = driver.due(now)
        for asked in filter(None, (sent, due.send)):
            asks += 1
            if got := device.answer(asked):
                coming.append((now.mono_ns + _ANSWERS_AFTER_NS, spoil(got, device.other)))
        sent = b""
        again_ns = end_ns if due.again is None else due.again.mono_ns
        next_ns = max(now.mono_ns + 1, min(again_ns, coming[0][0] if coming else end_ns))
        now = Instant(now.utc_ns + next_ns - now.mono_ns, next_ns)
        driver.feed(coming.pop(0)[1] if coming and coming[0][0] <= next_ns else b"", now)
    driver.lost(now)
    return asks
