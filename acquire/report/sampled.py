"""Samples of a tape put together to the streams they are of, four bytes and a little each. Pure.

Of samples it is the stream that counts, not how the chunks of the day cut it; and there are
millions of them, so that they are not kept as the facts they came in.
"""

from __future__ import annotations

from array import array
from bisect import bisect_right
from typing import NamedTuple

from acquire.link.tape import Made

COUNT_BYTES = 4
_LOOKED_AT_BYTES = 65536


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
        self._firsts = array("q")
        self._blocks = array("q")

    @property
    def end(self) -> int:
        """The number of the sample that would follow."""
        return self.first + len(self.counts) // COUNT_BYTES

    def add(self, counts: bytes, block: Block) -> None:
        self._firsts.append(self.end)
        self._blocks.extend(block)
        self.counts += counts

    def block_at(self, sample: int) -> Block:
        """The block that a sample is in; the last one for what lies behind."""
        place = 3 * max(0, bisect_right(self._firsts, sample) - 1)
        return Block(*self._blocks[place : place + 3])

    def count_at(self, sample: int) -> int | None:
        """What a sample counts; None where the stream has no such one."""
        at = (sample - self.first) * COUNT_BYTES
        digits = self.counts[at : at + COUNT_BYTES] if at >= 0 else b""
        return int.from_bytes(digits, "little", signed=True) if digits else None

    def alike(self, other: Stream) -> int:
        """How many samples at the beginning are the same."""
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
        return sum(len(one.counts) // COUNT_BYTES for one in self.found)
