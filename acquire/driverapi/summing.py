"""Messages with other bytes behind a checksum that still fits, of any driver whatever it checks.

Behind a checksum a driver takes bytes for what its device sends, and what it does then with bytes
that no device sends is tried by no others. How a device sums is nobody's to say here: it is found
where its messages show it, among the algorithms and ways of writing that are in use; and two bytes
are changed by as much and as little, or in the same bits, which leaves each sum or exclusive or of
them as it was, however it is written. Everything comes from the randomness that is handed over.
Pure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from random import Random
from typing import NamedTuple

from acquire.wire.checksum import CHECKSUMS, sum8

LONGEST_BYTES = 300
"""Of longer messages no checksum is looked for."""
MOST_MESSAGES = 12
MOST_SUMS = 8
_STARTS = range(5)
"""So many bytes may stand before what is summed."""
_TAILS = range(4)
"""So many may stand behind the checksum: the ends of lines and frames."""
_GAPS = range(2)
"""A sign may stand before the checksum that it does not count."""
_TOP_BIT = 0x80

Algorithm = Callable[[bytes], int]
Writing = Callable[[int], bytes]


class Sum(NamedTuple):
    """A checksum that messages show: of what, how reckoned, and how and where it is written."""

    start: int
    gap: int
    size: int
    tail: int
    of: Algorithm
    written: Writing

    def fits(self, message: bytes) -> bool:
        """Whether a message has this checksum."""
        return len(message) >= self._least and self.renewed(message) == message

    def renewed(self, message: bytes) -> bytes:
        """The message with the checksum that fits its bytes."""
        if len(message) < self._least:
            return message
        at = len(message) - self.tail - self.size
        told = self.written(self.of(message[self.start : at - self.gap]))
        return message[:at] + told + message[at + self.size :]

    @property
    def _least(self) -> int:
        return self.start + 2 + self.gap + self.size + self.tail


def _ways() -> Iterator[tuple[int, Algorithm, Writing]]:
    for one in CHECKSUMS.values():
        size = one.width_bits // 8
        yield size, one.of, lambda value, size=size: value.to_bytes(size, "big")  # type: ignore[misc]
        if size > 1:
            yield size, one.of, lambda value, size=size: value.to_bytes(size, "little")  # type: ignore[misc]
        yield 2 * size, one.of, lambda value, size=size: b"%0*X" % (2 * size, value)  # type: ignore[misc]
        yield 2 * size, one.of, lambda value, size=size: b"%0*x" % (2 * size, value)  # type: ignore[misc]
    # Both complements of a sum, and sums in decimal digits: common practice, no source.
    for of in (lambda data: -sum8(data) & 0xFF, lambda data: ~sum8(data) & 0xFF):
        yield 1, of, lambda value: bytes((value,))
        yield 2, of, lambda value: b"%02X" % value
    yield 2, lambda data: sum(data) % 100, lambda value: b"%02d" % value
    yield 3, sum8, lambda value: b"%03d" % value


_WAYS = tuple(_ways())


def sums_of(messages: Sequence[bytes]) -> list[Sum]:
    """Every checksum that all these messages have; by chance there may be a wrong one, too."""
    some = sorted({m for m in messages if len(m) <= LONGEST_BYTES}, key=len)[:MOST_MESSAGES]
    if not some:
        return []
    found: list[Sum] = []
    for size, of, written in _WAYS:
        for start in _STARTS:
            for tail in _TAILS:
                for gap in _GAPS:
                    one = Sum(start, gap, size, tail, of, written)
                    if all(map(one.fits, some)):
                        found.append(one)
    return found[:MOST_SUMS]


def spoilt_behind(message: bytes, sums: Sequence[Sum], randomness: Random) -> bytes:
    """The message with other bytes, and a checksum that fits them if it is one of these sorts."""
    if len(message) < 2:
        return message
    if sums and randomness.random() < 0.5:
        one = randomness.choice(sums)
        return one.renewed(_any_byte(message, one, randomness))
    return _two_bytes(message, randomness)


def _any_byte(message: bytes, one: Sum, randomness: Random) -> bytes:
    last = max(one.start + 1, len(message) - one.tail - one.size - one.gap)
    place = randomness.randrange(one.start, min(last, len(message)))
    return message[:place] + randomness.randbytes(1) + message[place + 1 :]


def _two_bytes(message: bytes, randomness: Random) -> bytes:
    data = bytearray(message)
    one, other = randomness.sample(range(len(data)), 2)
    if randomness.random() < 0.5:
        # The top bit of both changes neither the exclusive or of bytes nor their sum modulo 256.
        bits = _TOP_BIT if randomness.random() < 0.7 else 1 << randomness.randrange(8)
        data[one] ^= bits
        data[other] ^= bits
    else:
        more = randomness.randint(
            -min(data[one], 255 - data[other]), min(255 - data[one], data[other])
        )
        data[one] += more
        data[other] -= more
    return bytes(data)
