"""A binary floating-point number as the decimal that was meant. Pure; any thread.

IEEE 754 binary32 and binary64. A device that shows 91.4 and sends it as binary32 sends the bits of
91.40000152587890625, which nobody measured. What is taken is the shortest decimal that gives the
same bits: 9 significant digits tell any two binary32 apart, 17 any two binary64 (IEEE 754-2019,
5.12.2), and fewer are enough nearly always.
"""

from __future__ import annotations

import math
import struct
from decimal import Decimal

_DIGITS32 = 9


def shortest64(bits: bytes) -> Decimal | None:
    """Of eight bytes, highest first; None for what is no number or infinite."""
    (value,) = struct.unpack(">d", bits)
    # The text of a Python float is the shortest one that gives it back.
    return _finite(value, repr(value))


def shortest32(bits: bytes) -> Decimal | None:
    """Of four bytes, highest first; None for what is no number or infinite."""
    (value,) = struct.unpack(">f", bits)
    if not _is_finite(value):
        return None
    for digits in range(_DIGITS32):
        text = f"{value:.{digits}e}"
        if gives32(text, bits):
            return _finite(value, text)
        # Just above a power of two floats stand closer below than above: there the nearest decimal
        # may miss where its neighbour does not.
        if bits[1] & 0x7F == 0 and bits[2:] == b"\0\0":
            for neighbour in _neighbours(text):
                if gives32(neighbour, bits):
                    return _finite(value, neighbour)
    raise AssertionError("nine digits give every binary32")


def _is_finite(value: float) -> bool:
    return value - value == 0


def _finite(value: float, text: str) -> Decimal | None:
    return Decimal(text) if _is_finite(value) else None


def _neighbours(text: str) -> tuple[str, str]:
    sign, digits, exponent = Decimal(text).as_tuple()
    number = int("".join(map(str, digits)))
    minus = "-" if sign else ""
    return f"{minus}{number - 1}e{exponent}", f"{minus}{number + 1}e{exponent}"


def gives32(text: str, bits: bytes) -> bool:
    """Whether a decimal, rounded once to the nearest binary32, has these bits."""
    wide, meant = float(text), Decimal(text)
    # Two roundings, first to binary64, can differ from one where the first lands half-way between
    # two binary32. Rounded to odd instead, the first leaves a trace of what it took off (Boldo and
    # Melquiond, Emulation of FMA and correctly rounded sums, 2008; from memory).
    if (exact := Decimal(wide)) != meant and not struct.pack(">d", wide)[-1] & 1:
        wide = math.nextafter(wide, math.inf if meant > exact else -math.inf)
    try:
        return struct.pack(">f", wide) == bits
    except OverflowError:
        return False
