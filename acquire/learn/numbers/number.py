"""A number somewhere in the bytes of a frame: how it is read, and how it would be written.

Two's complement integers, those with a sign in the top bit, packed and unpacked decimals, ASCII
digits, IEEE 754; each times a power of ten.
The profile families read their numbers themselves; this is what is tried out. Pure; any thread.
"""

from __future__ import annotations

import contextlib
import math
import re
import struct
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Context, Decimal
from typing import Literal, NamedTuple

EXACT = Context(prec=60)
_DIGITS = {
    ".": re.compile(rb" *([+-]?) *([0-9]+(?:\.[0-9]+)?)"),
    ",": re.compile(rb" *([+-]?) *([0-9]+,[0-9]+)"),
}
_FAR = 20
"""A power of ten beyond which nothing is rounded."""
_NINE = 9
_BASES = {"uint": 256, "int": 256, "bcd": 100, "unpacked": 10}
"""So many values has a byte of these types."""
DECIMALS = ("bcd", "unpacked")
"""Types whose bytes are decimal digits, two a byte or one."""
_FLOATS = {"float32": (">f", 9), "float64": (">d", 17)}


class Bits(NamedTuple):
    """Some bits of one byte: how many decimals a number has."""

    offset: int
    mask: int


class Mark(NamedTuple):
    """Bits of one byte that say that the number is below zero."""

    offset: int
    mask: int
    value: int
    is_proven: bool = True
    """Whether so much could hardly come of chance."""


@dataclass(frozen=True, slots=True)
class NumberAt:
    """`size` bytes from `offset` on as a number of `type`, which is `power` decimals too large.

    `type` and `sign` are words of frame profiles. `decimals` tells the power in its stead; `minus`
    the sign of a magnitude. `is_swapped`: its two words of two bytes come in the other order than
    their bytes do. `rounded`: to so many decimals the display rounds it, and None where it
    shows all of it. `point` stands before the decimals of digits.
    """

    offset: int
    size: int
    type: str
    order: Literal["big", "little"] = "big"
    sign: str = "none"
    power: int = 0
    decimals: Bits | None = None
    minus: Mark | None = None
    rounded: int | None = None
    is_swapped: bool = False
    point: Literal[".", ","] = "."

    @property
    def end(self) -> int:
        return self.offset + self.size

    @property
    def places(self) -> frozenset[int]:
        """Every byte that it is made of."""
        told = {part.offset for part in (self.decimals, self.minus) if part is not None}
        return frozenset(range(self.offset, self.end)) | told

    @property
    def is_magnitude(self) -> bool:
        """Whether it is an integer whose top bit is its sign, and the others its size."""
        return self.type.startswith("uint") and self.sign == "top-bit"

    @property
    def is_float(self) -> bool:
        return self.type in _FLOATS

    @property
    def is_signed(self) -> bool:
        return self.type.startswith("int") or self.sign != "none" or self.type in _FLOATS

    def needed(self, most: Decimal) -> frozenset[int]:
        """The places that it needs for numbers up to `most`, either way; of some types all."""
        base = _BASES.get(self.type.rstrip("0123456789"))
        # A sign in the top bit is in the highest byte; one in the last nibble is a digit more.
        if base is None or self.decimals is not None or self.sign == "top-bit":
            return self.places
        steps, count = abs(EXACT.scaleb(most, self.power)), 1
        if self.sign == "last-nibble":
            steps *= 10
        while steps >= base**count and count < self.size:
            count += 1
        first = self.offset if self.order == "little" else self.end - count
        own = range(first, first + count)
        return frozenset(own) | (self.places - frozenset(range(self.offset, self.end)))

    @property
    def ends(self) -> tuple[Decimal | None, Decimal | None]:
        """The largest and the least number that there is room for; None where that is not said."""
        if self.decimals is not None or self.type in _FLOATS:
            return None, None
        if self.type == "digits":
            return None, None
        if self.type in DECIMALS:
            digits = self.size if self.type == "unpacked" else 2 * self.size
            digits -= self.sign == "last-nibble"
            most, least = Decimal(10**digits - 1), None
            if self.sign == "top-bit":
                most = Decimal(8 * 10 ** (digits - 1) - 1)
        elif self.is_magnitude:
            most, least = Decimal((1 << 8 * self.size - 1) - 1), None
        elif self.is_signed:
            most, least = Decimal((1 << 8 * self.size - 1) - 1), Decimal(-(1 << 8 * self.size - 1))
        else:
            most, least = Decimal((1 << 8 * self.size) - 1), None
        scaled = EXACT.scaleb(most, -self.power)
        return scaled, None if least is None else EXACT.scaleb(least, -self.power)

    @property
    def sign_bit(self) -> int | None:
        """The place of the byte whose top bit alone is its sign, so that zero has one, too."""
        if not (self.is_float or self.sign == "top-bit"):
            return None
        if self.is_swapped:
            return self.offset + (2 if self.order == "big" else 1)
        return self.offset if self.order == "big" else self.end - 1

    @property
    def half(self) -> Decimal | None:
        """The largest number without its highest bit, where that may be a sign: of a magnitude."""
        if not self.type.startswith("uint") or self.is_magnitude or self.decimals is not None:
            return None
        return EXACT.scaleb(Decimal((1 << 8 * self.size - 1) - 1), -self.power)

    def proven(self, shown: Sequence[Decimal]) -> Decimal | None:
        """The largest number without a bit above those that the numbers shown needed.

        None where a bit is no power of two: digits and floating point say themselves what they are.
        """
        if self.decimals is not None or not ("int" in self.type or self.type in DECIMALS):
            return None
        largest = max((abs(EXACT.scaleb(value, self.power)) for value in shown), default=Decimal(0))
        if self.type not in DECIMALS:
            return EXACT.scaleb(Decimal((1 << int(largest).bit_length()) - 1), -self.power)
        digits = str(int(largest))
        top = min(9, (1 << int(digits[0]).bit_length()) - 1)
        return EXACT.scaleb(Decimal(f"{top}{'9' * (len(digits) - 1)}"), -self.power)

    def raw(self, frame: bytes) -> Decimal | None:
        """The number without its power, or None where the bytes are none."""
        data = frame[self.offset : self.end]
        if len(data) < self.size:
            return None
        if self.type == "digits":
            found = _DIGITS[self.point].fullmatch(data)
            # A sign that another byte tells does not stand at the digits as well.
            if found is None or (found[1] and self.minus is not None):
                return None
            return Decimal(pointed(found[1] + found[2]).decode("ascii"))
        if self.is_float:
            data = self._unswapped(data)
            return shortest(data if self.order == "big" else data[::-1], *_FLOATS[self.type])
        whole = self.whole(data)
        return None if whole is None else Decimal(whole)

    def whole(self, data: bytes) -> int | None:
        """What these bytes are where it is an integer or decimals; None if they are no number."""
        if self.type not in DECIMALS:
            whole = int.from_bytes(data, self.order, signed=self.type[0] == "i")
            top = 1 << 8 * len(data) - 1
            return top - whole if self.is_magnitude and whole & top else whole
        if self.order == "little":
            data = data[::-1]
        if self.type == "bcd":
            return _packed(data, self.sign)
        return int("".join(map(str, data))) if max(data) <= _NINE else None

    def floats(self, values: Iterable[Decimal]) -> frozenset[bytes]:
        """The bytes of each value and of its negative, of a number in floating point."""
        found = set()
        for value in values:
            with contextlib.suppress(OverflowError):
                for signed in (float(value), -float(value)):
                    data = struct.pack(_FLOATS[self.type][0], signed)
                    found.add(self._unswapped(data if self.order == "big" else data[::-1]))
        return frozenset(found)

    def _unswapped(self, data: bytes) -> bytes:
        """The bytes with their words in the order of their bytes, and the other way round."""
        return data[2:] + data[:2] if self.is_swapped else data

    def read(self, frame: bytes) -> Decimal | None:
        """The value in a frame, as the display shows it."""
        raw = self.raw(frame)
        if raw is None:
            return None
        power = self.power
        if self.decimals is not None:
            power = frame[self.decimals.offset] & self.decimals.mask
        if (
            self.minus is not None
            and frame[self.minus.offset] & self.minus.mask == self.minus.value
        ):
            raw = -raw
        value = EXACT.scaleb(raw, -power)
        if self.rounded is None or value.adjusted() > _FAR:
            return value
        return EXACT.quantize(value, EXACT.scaleb(Decimal(1), -self.rounded))

    def write(self, value: Decimal, frame: bytes) -> bytes | None:
        """The frame with this value in it; None where it cannot have it."""
        power = self.power
        if self.decimals is not None:
            power = frame[self.decimals.offset] & self.decimals.mask
        new = bytearray(frame)
        number = EXACT.scaleb(value, power)
        if self.minus is not None:
            byte = frame[self.minus.offset]
            is_minus = byte & self.minus.mask == self.minus.value
            if (number < 0) != is_minus:
                return None
            number = abs(number)
        data = self._bytes(number, frame)
        if data is None:
            return None
        new[self.offset : self.end] = data
        return bytes(new)

    def _bytes(self, number: Decimal, frame: bytes) -> bytes | None:
        if self.type in _FLOATS:
            data = struct.pack(_FLOATS[self.type][0], float(number))
            return self._unswapped(data if self.order == "big" else data[::-1])
        if self.type == "digits":
            return _written(number, frame[self.offset : self.end], self.point)
        whole = int(number)
        if whole != number:
            return None
        try:
            if self.type == "bcd":
                data = _pack(whole, self.size, self.sign)
            elif self.type == "unpacked":
                data = bytes(map(int, _sized(whole, self.size)))
            elif self.is_magnitude:
                top = 1 << 8 * self.size - 1
                if abs(whole) >= top:
                    return None
                data = (abs(whole) | (top if whole < 0 else 0)).to_bytes(self.size, "big")
            else:
                data = whole.to_bytes(self.size, "big", signed=self.type.startswith("int"))
        except (OverflowError, ValueError):
            return None
        return data if self.order == "big" else data[::-1]

    def __str__(self) -> str:
        place = f"byte {self.offset}" if self.size == 1 else f"bytes {self.offset}-{self.end - 1}"
        order = ""
        if self.size > 1 and self.type != "digits":
            order = ", highest first" if self.order == "big" else ", lowest first"
        if self.point == ",":
            order = " with a comma before the decimals"
        if self.is_swapped:
            order += f", its {'low' if self.order == 'big' else 'high'} word first"
        sign = {"last-nibble": ", sign in the last nibble", "top-bit": ", sign in the top bit"}
        told = f", times 10^-{self.power}" if self.power > 0 else ""
        if self.power < 0:
            told = f", times 10^{-self.power}"
        if self.decimals is not None:
            told = f", decimals told by byte {self.decimals.offset}"
        if self.minus is not None:
            told += f", minus told by byte {self.minus.offset}"
        if self.rounded is not None:
            told += f", which the display rounds to {self.rounded} decimals"
        return f"{place} as {self.type}{order}{sign.get(self.sign, '')}{told}"


def shortest(bits: bytes, form: str = ">f", most: int = 9) -> Decimal | None:
    """The shortest decimal with these bits; None for what is no number (IEEE 754-2019, 5.12.2)."""
    (value,) = struct.unpack(form, bits)
    if not math.isfinite(value):
        return None
    for digits in range(1, most + 1):
        text = f"{value:.{digits}g}"
        try:
            if struct.pack(form, float(text)) == bits:
                return Decimal(text)
        except OverflowError:
            # Near the largest number fewer digits may round beyond it.
            continue
    return Decimal(repr(value))


def _packed(data: bytes, sign: str) -> int | None:
    digits, is_minus = data.hex(), False
    if sign == "last-nibble":
        if digits[-1] not in "cdf":
            return None
        digits, is_minus = digits[:-1], digits[-1] == "d"
    elif sign == "top-bit":
        is_minus = data[0] > 0x7F
        digits = f"{data[0] >> 4 & 7:x}{digits[1:]}"
    if not digits.isdecimal():
        return None
    return -int(digits) if is_minus else int(digits)


def _sized(whole: int, size: int) -> str:
    """So many digits. Raises `OverflowError` for a number that has more, or is below zero."""
    text = f"{whole:0{size}d}"
    if whole < 0 or len(text) > size:
        raise OverflowError
    return text


def _pack(whole: int, size: int, sign: str) -> bytes:
    if sign == "last-nibble":
        text = f"{abs(whole):0{2 * size - 1}d}{'d' if whole < 0 else 'c'}"
    else:
        text = f"{abs(whole):0{2 * size}d}"
    if len(text) > 2 * size or (sign == "none" and whole < 0):
        raise OverflowError
    data = bytearray.fromhex(text)
    if sign == "top-bit":
        if data[0] > 0x7F:
            raise OverflowError
        data[0] |= 0x80 if whole < 0 else 0
    return bytes(data)


def pointed(digits: bytes) -> bytes:
    """The same digits with a point where a comma stood before decimals."""
    return digits.replace(b",", b".")


def _written(number: Decimal, like: bytes, point: str) -> bytes | None:
    """Digits as wide as those that were seen, and filled up as they were."""
    decimals = len(pointed(like).partition(b".")[2])
    scaled = EXACT.scaleb(abs(number), decimals)
    if scaled != int(scaled):
        return None
    text = f"{abs(number):.{decimals}f}".replace(".", point)
    sign = "-" if number < 0 else ("+" if like.lstrip()[:1] == b"+" else "")
    fill = " " if like[:1] == b" " else "0"
    room = len(like) - len(sign)
    if like[:1] in b"+-" and not sign:
        return None
    return (sign + text.rjust(room, fill)).encode() if len(text) <= room else None
