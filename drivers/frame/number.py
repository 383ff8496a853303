"""Numbers in bytes: integers, packed decimals, digits, floating point. Pure; any thread.

Sources: two's complement integers, and magnitudes with their sign in the highest bit (common
practice, no source); packed binary-coded decimal, two digits a byte, with the sign
as it is common in computing: nibble C or F plus, D minus (common practice, no source) or the
highest bit; unpacked, one digit a byte, 0 to 9 and not its character; digits of ISO/IEC 646;
IEEE 754.

What is none is a reason in plain words and never a number: a nibble above 9, a letter, NaN.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Context, Decimal
from enum import StrEnum
from functools import partial
from typing import Literal, NamedTuple

from acquire.driverkit.floating import shortest32, shortest64
from acquire.wire import Order
from drivers.frame.fields import shown

EXACT = Context(prec=60)
"""More than the digits of any field times those of any scale: nothing is ever rounded."""

_HIGHEST_POWER = 15
_LOWEST_POWER = -24
"""Of ten, of the first and the last digit: more than any display has, and a row can hold it."""


class Type(StrEnum):
    """What a field can be."""

    UINT8 = "uint8"
    UINT16 = "uint16"
    UINT24 = "uint24"
    UINT32 = "uint32"
    INT8 = "int8"
    INT16 = "int16"
    INT24 = "int24"
    INT32 = "int32"
    FLOAT32 = "float32"
    FLOAT64 = "float64"
    BCD = "bcd"
    UNPACKED = "unpacked"
    DIGITS = "digits"
    TEXT = "text"
    HEX = "hex"


class Sign(StrEnum):
    """Where the sign of a packed decimal is, or of an integer that has none of its own."""

    NONE = "none"
    LAST_NIBBLE = "last-nibble"
    TOP_BIT = "top-bit"


Point = Literal[".", ","]


class Written(NamedTuple):
    """How a device writes its digits. None: this way or that.

    `decimals` stand behind the point, and without any there is no point; where they are `is_full`
    no space fills them up. `has_plus` where a number that is not below zero always has its sign;
    without `has_sign` none has one. With a comma as `point` every number has its decimals.
    """

    decimals: int | None = None
    is_full: bool = False
    has_plus: bool | None = None
    has_sign: bool = True
    point: Point = "."

    def pattern(self) -> re.Pattern[bytes]:
        """What is such a number: a group for its sign, and one for its digits."""
        pad = "" if self.is_full else " *"
        sign = {True: "[+-]", False: "-?", None: "[+-]?"}[self.has_plus] if self.has_sign else ""
        # A comma may also part fields: only digits on both sides of it are a number with one.
        tail = r"(?:\.[0-9]+)?" if self.point == "." else ",[0-9]+"
        if self.decimals is not None:
            dot = re.escape(self.point)
            tail = rf"{dot}[0-9]{{{self.decimals}}}" if self.decimals else ""
        return re.compile(rf"{pad}({sign}){pad}([0-9]+{tail})".encode("ascii"))


WIDTHS = {
    type_: int(re.sub(r"\D", "", type_)) // 8
    for type_ in Type
    if type_.startswith(("uint", "int", "float"))
}
"""Bytes of the types that have a width of their own."""

WordOrder = Literal["high-first", "low-first"]
BYTES_OF_WORDS = 4
"""Bytes of the types that are two words of two bytes."""

INTEGERS = tuple(t for t in Type if t.startswith(("uint", "int")))

LONGEST = {Type.BCD: 8, Type.UNPACKED: 16, Type.DIGITS: 16}
"""Bytes, of the numbers that have no width of their own."""

UNSIGNED = frozenset(t for t in Type if t.startswith("uint"))

WHOLE = UNSIGNED | {Type.BCD, Type.UNPACKED, Type.DIGITS}
"""Types of counts."""

SIGNED = frozenset(t for t in Type if t.startswith(("int", "float"))) | {Type.DIGITS}
"""Types that have a sign of their own."""

_NINE = 9
_PLUS, _MINUS = frozenset((0xC, 0xF)), 0xD

Number = Callable[[bytes], Decimal | str]
"""Of the bytes of a field, or why they are none."""


def number(type_: Type, order: Order, sign: Sign, written: Written | None = None) -> Number:
    """How fields of this kind are read; `written` is how digits are."""
    if type_ is Type.BCD:
        return lambda data: _packed(data if order == "big" else data[::-1], sign)
    if type_ is Type.UNPACKED:
        return lambda data: _unpacked(data if order == "big" else data[::-1])
    if type_ is Type.DIGITS:
        return partial(_digits, (written or Written()).pattern())
    if type_ in (Type.FLOAT32, Type.FLOAT64):
        shortest = shortest32 if type_ is Type.FLOAT32 else shortest64

        def floating(data: bytes) -> Decimal | str:
            value = shortest(data if order == "big" else data[::-1])
            return f"the value {shown(data)} is NaN or infinite" if value is None else value

        return floating
    if sign is Sign.TOP_BIT:
        return partial(_magnitude, order)
    signed = type_.startswith("int")
    return lambda data: Decimal(int.from_bytes(data, order, signed=signed))


def swapped(plain: Number) -> Number:
    """The same number with its two words in the other order."""
    return lambda data: plain(data[2:] + data[:2])


def scaled(value: Decimal, scale: Decimal, power: int) -> Decimal | str:
    """Value times scale times ten to the power, exactly, without an exponent."""
    product = EXACT.multiply(value, scale)
    if power:
        product = EXACT.scaleb(product, power)
    exponent = product.as_tuple().exponent
    assert isinstance(exponent, int)
    if product.adjusted() > _HIGHEST_POWER or exponent < _LOWEST_POWER:
        return f"a value of {product.normalize(EXACT):E} is beyond all measure"
    return product.quantize(Decimal(1), context=EXACT) if exponent > 0 else product


def _magnitude(order: Order, data: bytes) -> Decimal:
    whole, top = int.from_bytes(data, order), 1 << 8 * len(data) - 1
    return Decimal(top - whole if whole & top else whole)


def _packed(data: bytes, sign: Sign) -> Decimal | str:
    digits = data.hex()
    is_minus = False
    if sign is Sign.LAST_NIBBLE:
        nibble = data[-1] & 0xF
        if nibble not in _PLUS and nibble != _MINUS:
            return f"the sign nibble {nibble:X} is none of C, D and F"
        digits, is_minus = digits[:-1], nibble == _MINUS
    elif sign is Sign.TOP_BIT:
        is_minus = data[0] > 0x7F
        digits = f"{int(digits[0], 16) & 7:x}{digits[1:]}"
    if not digits.isdecimal():
        return f"the packed decimal {shown(data)} has a nibble above 9"
    value = int(digits)
    return Decimal(-value if is_minus else value)


def _unpacked(data: bytes) -> Decimal | str:
    if any(byte > _NINE for byte in data):
        return f"the unpacked decimal {shown(data)} has a byte above 9"
    return Decimal("".join(map(str, data)))


def _digits(pattern: re.Pattern[bytes], data: bytes) -> Decimal | str:
    found = pattern.fullmatch(data)
    if found is None:
        return f"the digits {data.decode('ascii', 'backslashreplace')!r} are no number"
    return Decimal((found[1] + found[2]).replace(b",", b".").decode("ascii"))
