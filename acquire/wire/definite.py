"""Blocks of numbers in an answer: IEEE 488.2 definite length arbitrary block response data (8.7.9).

A block is ``#``, one digit that says how many digits follow, those digits, and as many bytes as
they say; ``#13`` and three bytes, ``#44096`` and 4096 bytes. The form without a length (``#0``,
8.7.10) can only be told by the end of the whole message and is not read here. The clauses are
cited from memory. Pure; never raises on content; any thread.
"""

from __future__ import annotations

import struct
from enum import StrEnum
from typing import NamedTuple

LONGEST_BLOCK = 1 << 20
_EXACT_BELOW = 1 << 53
"""Up to here every whole number is a binary64 (IEEE 754)."""


class Block(NamedTuple):
    """A block found: its bytes are those from `start` to `end` of the message."""

    start: int
    end: int


def block_at(message: bytes, place: int) -> Block | str:
    """The block that begins at a place of a message, or in plain words why none does."""
    if message[place : place + 1] != b"#":
        return "no # where a block begins"
    how_many = message[place + 1 : place + 2]
    if not how_many.isdigit():
        return "no digit behind the # of a block"
    if how_many == b"0":
        return "a block without a length (#0)"
    start = place + 2 + int(how_many)
    digits = message[place + 2 : start]
    if len(digits) != int(how_many) or not digits.isdigit():
        return f"a block whose length is no number of {how_many.decode()} digits"
    length = int(digits)
    if length > LONGEST_BLOCK:
        return f"a block of {length} bytes, more than {LONGEST_BLOCK}"
    if start + length > len(message):
        return f"a block of {length} bytes of which {len(message) - start} came"
    return Block(start, start + length)


class NumberForm(StrEnum):
    """What the numbers of a block are: IEEE 754 or two's complement."""

    BINARY32 = "binary32"
    BINARY64 = "binary64"
    INT16 = "int16"
    INT32 = "int32"


class NumberOrder(StrEnum):
    """Which byte of a number stands first."""

    BIG = "big"
    """The most significant one; 488.2's own order, SCPI's ``FORMat:BORDer NORMal``."""
    LITTLE = "little"
    """The least significant one; ``SWAPped``."""


_CODES = {
    NumberForm.BINARY32: ("f", 4),
    NumberForm.BINARY64: ("d", 8),
    NumberForm.INT16: ("h", 2),
    NumberForm.INT32: ("i", 4),
}


class Numbers:
    """Reads the bytes of blocks of one form and order."""

    def __init__(self, form: NumberForm, order: NumberOrder) -> None:
        self._code, self.width_bytes = _CODES[form]
        self._sign = "<" if order is NumberOrder.LITTLE else ">"
        self.is_real = form in (NumberForm.BINARY32, NumberForm.BINARY64)
        if not self.is_real:
            # Some tenths of a second: paid where blocks of integers come, and before one does.
            import numpy  # noqa: F401, PLC0415

    def of(self, data: bytes) -> tuple[float, ...] | str:
        """Every number of a block, or in plain words why its bytes are not whole numbers."""
        count, rest = divmod(len(data), self.width_bytes)
        if rest:
            return f"{len(data)} bytes, no whole count of numbers of {self.width_bytes} bytes"
        return struct.unpack(f"{self._sign}{count}{self._code}", data)

    def scaled(self, data: bytes, above: int, below: int) -> bytes:
        """Whole numbers times above/below as binary64, least significant byte first.

        Each is the binary64 nearest to the exact quotient.
        """
        import numpy as np  # noqa: PLC0415 - see `__init__`

        whole = np.frombuffer(data, f"{self._sign}i{self.width_bytes}")
        if max(above << 8 * self.width_bytes, below) < _EXACT_BELOW:
            # Both numbers are binary64 exactly, so the one division is rounded once, and correctly.
            scaled = (whole if above == 1 else whole * float(above)) / float(below)
            return scaled.astype("<f8", copy=False).tobytes()
        quotients = [n * above / below for n in whole.tolist()]
        return np.array(quotients, "<f8").tobytes()

    def summed(self, data: bytes) -> int:
        """The sum of whole numbers: exact."""
        import numpy as np  # noqa: PLC0415 - see `__init__`

        whole = np.frombuffer(data, f"{self._sign}i{self.width_bytes}")
        return int(np.add.reduce(whole, dtype=np.int64))

    def ends(self, data: bytes) -> tuple[int, int]:
        """The least and the greatest of whole numbers."""
        import numpy as np  # noqa: PLC0415 - see `__init__`

        whole = np.frombuffer(data, f"{self._sign}i{self.width_bytes}")
        return int(np.minimum.reduce(whole)), int(np.maximum.reduce(whole))

    def little(self, data: bytes) -> bytes:
        """The same whole numbers with the least significant byte first: bits are never changed.

        A number that is none (NaN) would not survive a way through floats; so bytes are moved.
        """
        if self._sign == "<":
            return data
        width = self.width_bytes
        moved = bytearray(len(data))
        for byte in range(width):
            moved[byte::width] = data[width - 1 - byte :: width]
        return bytes(moved)
