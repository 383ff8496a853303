"""The shape of binary frames: where they begin and end, and what proves them. Pure data.

Places count from the first byte of the frame, start marker included; negative ones from its end:
-1 is the last byte.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from acquire.wire.checksum import CHECKSUMS

Order = Literal["big", "little"]


class Sent(StrEnum):
    """What is sent of a checksum."""

    PLAIN = "plain"
    COMPLEMENT = "complement"
    """All its bits turned: the checksum and what is sent add up to all ones."""
    NEGATE = "negate"
    """Its two's complement: the checksum and what is sent add up to 0."""

    def of(self, checksum: int, width_bits: int) -> int:
        """What a device sends for a checksum of so many bits."""
        mask = (1 << width_bits) - 1
        if self is Sent.COMPLEMENT:
            return checksum ^ mask
        if self is Sent.NEGATE:
            return -checksum & mask
        return checksum


class Form(StrEnum):
    """How a checksum is written in a frame."""

    BYTES = "bytes"
    HEX_UPPER = "hex-upper"
    """Two hexadecimal digits of ASCII a byte, those above 9 in capital letters."""
    HEX_LOWER = "hex-lower"
    HEX = "hex"
    """The same in letters of either kind."""


@dataclass(frozen=True, slots=True)
class Proof:
    """A checksum of the bytes `first` to `last`, sent at the place `at`."""

    name: str
    first: int
    last: int
    at: int
    order: Order
    sent: Sent = Sent.PLAIN
    form: Form = Form.BYTES

    @property
    def width_bits(self) -> int:
        """Bits of the checksum itself."""
        return CHECKSUMS[self.name].width_bits

    @property
    def size(self) -> int:
        """Bytes of the frame that the checksum takes."""
        return self.width_bits // (8 if self.form is Form.BYTES else 4)

    def span(self, length: int) -> tuple[int, int]:
        """First and last byte that are proven in a frame of this length, from its beginning."""
        return _from_start(self.first, length), _from_start(self.last, length)

    def place(self, length: int) -> int:
        """Where the checksum begins in a frame of this length, from its beginning."""
        return _from_start(self.at, length)

    def fits(self, length: int) -> bool:
        """Whether checksum and span lie within a frame of this length, apart from each other."""
        (first, last), at = self.span(length), self.place(length)
        is_within = 0 <= first <= last < length and 0 <= at <= length - self.size
        return is_within and (last < at or at + self.size <= first)

    def sent_for(self, checksum: int) -> int:
        """What a device sends for this checksum."""
        return self.sent.of(checksum, self.width_bits)

    def written(self, checksum: int) -> bytes:
        """The bytes of a frame with this checksum."""
        data = self.sent_for(checksum).to_bytes(self.width_bits // 8, self.order)
        if self.form is Form.BYTES:
            return data
        digits = data.hex()
        return (digits if self.form is Form.HEX_LOWER else digits.upper()).encode("ascii")

    def read(self, data: bytes) -> int | None:
        """The checksum that is written so, in as many bytes; None if none is."""
        try:
            sent = data if self.form is Form.BYTES else bytes.fromhex(data.decode("ascii"))
        except ValueError:
            return None
        # Turning all bits, and the complement of two, undo themselves.
        checksum = self.sent_for(int.from_bytes(sent, self.order))
        return checksum if self.is_written(checksum, data) else None

    def is_written(self, checksum: int, data: bytes) -> bool:
        """Whether these bytes of a frame are this checksum."""
        return (data.upper() if self.form is Form.HEX else data) == self.written(checksum)


@dataclass(frozen=True, slots=True)
class LengthField:
    """A field that tells how long its frame is; `besides` are the bytes it does not count."""

    at: int
    size: int
    order: Order
    besides: int


@dataclass(frozen=True, slots=True)
class Shape:
    """All frames of one wire. `lengths` are those there are; one alone needs no field for it."""

    start: bytes
    lengths: frozenset[int]
    field: LengthField | None = None
    end: bytes = b""
    proof: Proof | None = None

    def __post_init__(self) -> None:
        if not self.lengths or min(self.lengths) < 1 or (self.field is None) != self.is_fixed:
            raise ValueError("frames of one length, or of several with a field that tells it")
        if self.proof is not None and not all(map(self.proof.fits, self.lengths)):
            raise ValueError("a checksum outside of its frame or within what it proves")

    @property
    def is_fixed(self) -> bool:
        """Whether all frames are of one length."""
        return self.field is None and len(self.lengths) == 1

    @property
    def longest(self) -> int:
        """Bytes of the longest frame."""
        return max(self.lengths)

    def length_at(self, data: bytes, place: int) -> int | None:
        """Of a frame at this place: its length, 0 if no frame has it, or None while unknown."""
        field = self.field
        if field is None:
            return self.longest
        at = place + field.at
        told = data[at : at + field.size]
        if len(told) < field.size:
            return None
        length = int.from_bytes(told, field.order) + field.besides
        return length if length in self.lengths else 0


def _from_start(place: int, length: int) -> int:
    return place if place >= 0 else length + place
