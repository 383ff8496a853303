"""A number out of registers: types, orders, exact scale. Pure; keeps no state; any thread.

A register is 16 bits, its high byte first on the wire (MODBUS Application Protocol Specification
V1.1b3, chapter 4.2). The standard has no type of more than 16 bits, so how devices lay one over
several registers is said by the profile. Floats are those of IEEE 754; BCD is four decimal digits
a register, as is common practice (no source).
"""

from __future__ import annotations

import math
import struct
from dataclasses import dataclass
from decimal import Context, Decimal
from enum import StrEnum

_EXACT = Context(prec=60)
"""More digits than 64 bits times the longest scale."""
_LARGEST_EXPONENT = 30
_MOST_DIGITS = 40
"""What a reading may have (`acquire.driverapi.fit`)."""


class Kind(StrEnum):
    """How the bits of a number are meant."""

    INT16 = "int16"
    UINT16 = "uint16"
    INT32 = "int32"
    UINT32 = "uint32"
    INT64 = "int64"
    UINT64 = "uint64"
    FLOAT32 = "float32"
    FLOAT64 = "float64"
    BCD16 = "bcd16"
    BCD32 = "bcd32"

    @property
    def registers(self) -> int:
        """How many registers it takes."""
        return int(self[-2:]) // 16

    @property
    def is_whole(self) -> bool:
        """Whether it is an unsigned whole number: a count or a code may be one."""
        return self.startswith(("uint", "bcd"))


@dataclass(frozen=True, slots=True)
class Form:
    """A type with its orders: which register and which byte of a register comes first."""

    kind: Kind
    high_word_first: bool = True
    high_byte_first: bool = True

    def bits(self, data: bytes) -> int:
        """The bits of these registers in the order of their weight."""
        if self.high_word_first and self.high_byte_first:
            return int.from_bytes(data, "big")
        words = [data[i : i + 2] for i in range(0, len(data), 2)]
        if not self.high_byte_first:
            words = [word[::-1] for word in words]
        if not self.high_word_first:
            words.reverse()
        return int.from_bytes(b"".join(words), "big")


def number(bits: int, kind: Kind) -> Decimal | str:
    """The number that these bits are, or in plain words why they are none."""
    if kind.startswith("uint"):
        return Decimal(bits)
    width = 16 * kind.registers
    if kind.startswith("int"):
        return Decimal(bits - (1 << width) if bits >> (width - 1) else bits)
    if kind.startswith("bcd"):
        digits = f"{bits:0{width // 4}x}"
        return Decimal(digits) if digits.isdecimal() else f"0x{digits} is no BCD"
    form, most = (">f", 9) if width == 32 else (">d", 17)
    data = bits.to_bytes(width // 8, "big")
    (value,) = struct.unpack(form, data)
    if not math.isfinite(value):
        return "the float is not a number" if math.isnan(value) else "the float is infinite"
    if value == 0:
        return Decimal(0)
    # The shortest decimal number that is this float and no other one, as a display would show it:
    # 91.4 and not 91.40000152587890625. 9 digits tell all floats of 32 bits apart, 17 those of 64.
    for places in range(1, most + 1):
        text = f"{value:.{places}g}"
        if _same(text, form, data):
            break
    exact = Decimal(text)
    is_round = "e+" in text and exact.adjusted() <= _LARGEST_EXPONENT
    # 100 and not 1E+2.
    return exact.quantize(Decimal(1), context=_EXACT) if is_round else exact


def _same(text: str, form: str, data: bytes) -> bool:
    try:
        return struct.pack(form, float(text)) == data
    except OverflowError:
        # Rounded up beyond the largest one.
        return False


def scaled(value: Decimal, scale: Decimal) -> Decimal | str:
    """Value times scale, exact; or why that is no reading."""
    product = _EXACT.multiply(value, scale)
    if abs(product.adjusted()) > _LARGEST_EXPONENT or len(product.as_tuple().digits) > _MOST_DIGITS:
        return f"the value {product:.6g} is beyond all measure"
    return product


def spoken(value: Decimal) -> str:
    """A number as text, without an exponent where that is short."""
    return str(value) if abs(value.adjusted()) > _MOST_DIGITS else f"{value:f}"
