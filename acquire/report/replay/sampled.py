"""Samples of a tape put together to the streams they are of, four bytes and a little each. Pure.

Of samples it is the stream that counts, not how the chunks of the day cut it; and there are
millions of them, so that they are not kept as the facts they came in. What is known to be alike on
both sides is let go, and what follows on a difference is but counted.
"""

from __future__ import annotations

from array import array
from bisect import bisect_right
from typing import NamedTuple

from acquire.link.tape import Made

COUNT_BYTES = 4
_LOOKED_AT_BYTES = 65536
MOST_ALONE_BYTES = 1 << 24
"""So much is kept of a stream that the other side has not begun: an hour at a thousand a second."""


class Block(NamedTuple):
    """Where one block of a stream was made: its stretch of the received bytes, and its moment."""

    start: int
    end: int
    at_utc_ns: int


class Stream:
    """Samples that follow on one another; `key` is all that they have in common."""

    def __init__(self, key: tuple[tuple[str, str], ...], first: int) -> None:
        self.key = key
        self.first = first
        self.counts = bytearray()
        """Those behind the first `gone` ones, which are alike, and not behind a difference."""
        self.gone = 0
        self.is_settled = False
        self._left = 0
        self._firsts = array("q")
        self._blocks = array("q")

    @property
    def end(self) -> int:
        """The number of the sample that would follow."""
        return self.first + self.samples

    @property
    def samples(self) -> int:
        return self.gone + len(self.counts) // COUNT_BYTES + self._left

    def add(self, counts: bytes, block: Block) -> None:
        if self.is_settled:
            self._left += len(counts) // COUNT_BYTES
            return
        self._firsts.append(self.end)
        self._blocks.extend(block)
        self.counts += counts

    def let_go(self, samples: int) -> None:
        """The first of those that are kept are alike on both sides."""
        del self.counts[: samples * COUNT_BYTES]
        self.gone += samples
        blocks = max(0, bisect_right(self._firsts, self.first + self.gone) - 1)
        del self._firsts[:blocks]
        del self._blocks[: 3 * blocks]

    def settle(self) -> None:
        """Where it differs is known: of what follows there, only how many they are matters."""
        self._left += max(0, len(self.counts) - _LOOKED_AT_BYTES) // COUNT_BYTES
        del self.counts[_LOOKED_AT_BYTES:]
        self.is_settled = True

    def block_at(self, sample: int) -> Block:
        """The block that a sample is in; the last one for what lies behind."""
        place = 3 * max(0, bisect_right(self._firsts, sample) - 1)
        return Block(*self._blocks[place : place + 3])

    def count_at(self, sample: int) -> int | None:
        """What a sample counts; None where the stream has no such one."""
        at = (sample - self.first - self.gone) * COUNT_BYTES
        digits = self.counts[at : at + COUNT_BYTES] if at >= 0 else b""
        return int.from_bytes(digits, "little", signed=True) if digits else None

    def alike(self, other: Stream) -> int:
        """How many of the samples that are kept are the same, from the first one on."""
        ours, theirs = self.counts, other.counts
        most = min(len(ours), len(theirs))
        at, step = 0, _LOOKED_AT_BYTES
        while at < most:
            end = min(at + step, most)
            if ours[at:end] == theirs[at:end]:
                at = end
            elif step == COUNT_BYTES:
                break
            else:
                step = COUNT_BYTES
        return at // COUNT_BYTES


class Streams:
    """The streams of one side, in the order in which they came."""

    def __init__(self) -> None:
        self.found: list[Stream] = []

    def add(self, block: Made) -> None:
        """Another block of samples, in the words of a tape."""
        says = dict(block.says)
        first, counts = int(says.pop("first")), bytes.fromhex(says.pop("counts"))
        key = tuple(sorted(says.items()))
        last = self.found[-1] if self.found else None
        if last is None or last.key != key or first != last.end:
            last = Stream(key, first)
            self.found.append(last)
        last.add(counts, Block(block.start, block.end, block.at_utc_ns))

    @property
    def samples(self) -> int:
        return sum(one.samples for one in self.found)


class Pairs:
    """The streams of two sides, pair by pair in their order; `then` and `now` are added to."""

    def __init__(self) -> None:
        self.then = Streams()
        self.now = Streams()
        self._place = 0

    def let_go(self) -> None:
        """Keep what may still be needed to tell how they differ."""
        olds, news = self.then.found, self.now.found
        both = min(len(olds), len(news))
        while self._place < both:
            _let_go(olds[self._place], news[self._place], is_over=self._place + 1 < both)
            if self._place + 1 >= both:
                break
            self._place += 1
        for one in (*olds[both:], *news[both:]):
            if not one.is_settled and len(one.counts) > MOST_ALONE_BYTES:
                one.settle()


def _let_go(old: Stream, new: Stream, *, is_over: bool) -> None:
    """`is_over`: nothing is added to either any more."""
    if old.is_settled or new.is_settled:
        return
    is_one = (old.key, old.first) == (new.key, new.first)
    if is_one:
        alike = old.alike(new)
        old.let_go(alike)
        new.let_go(alike)
    if not is_one or is_over or (old.counts and new.counts):
        old.settle()
        new.settle()
