"""What proves a line: a checksum that profiles name, or a sum that none can."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from acquire.learn.presses.framing import encoded
from acquire.wire import CHECKSUMS, Sent

_KEPT = 4096
"""Sums of which it is kept what they are: those of a lesson's lines."""


class TextProof(NamedTuple):
    """The checksum at the end of a line, as the profile names it."""

    kind: str
    form: str
    after: str
    first: int = 0
    with_after: bool = False
    sent: Sent = Sent.PLAIN

    @property
    def width_bits(self) -> int:
        """Bits of the checksum itself."""
        return CHECKSUMS[self.kind].width_bits

    @property
    def size(self) -> int:
        """Digits that it has."""
        return self.width_bits // 4

    def holds(self, line: str) -> bool:
        """Whether a line ends in it."""
        body, told = line[: -self.size], line[-self.size :]
        if not body.endswith(self.after):
            return False
        covered = body if self.with_after else body[: len(body) - len(self.after)]
        made = hexadecimal(
            encoded(covered[self.first :]), self.kind, self.sent,
            "x" if self.form == "hex-lower" else "X",
        )  # fmt: skip
        return (told.upper() if self.form == "hex" else told) == made


class Tail(NamedTuple):
    """A sum at the end of a line that no profile can name: its digits are explained, no more."""

    after: str
    size: int
    pattern: str


def hexadecimal(data: bytes, kind: str, sent: Sent, letter: str) -> str:
    """The checksum of these bytes in digits, the letters as `letter` is."""
    algorithm = CHECKSUMS[kind]
    told = sent.of(_sum(kind, data), algorithm.width_bits)
    return format(told, f"0{algorithm.width_bits // 4}{letter}")


@lru_cache(maxsize=_KEPT)
def _sum(kind: str, data: bytes) -> int:
    """The checksum itself, which is asked for once for each way in which it may be sent."""
    return CHECKSUMS[kind].of(data)
