"""Numbers in digits with a power of ten, and those that a device sends in place of a value. Pure.

IEEE 488.2-1992, 8.7.4 (NR3: digits, E, a power with or without its sign; from memory). SCPI-1999,
volume 1, 7.2.1: positive and negative infinity are 9.9E37 and -9.9E37, "not a number" is 9.91E37
(from memory). Which digits may stand before the power is a matter of each family.
"""

from __future__ import annotations

from decimal import Context, Decimal
from enum import Enum

from acquire.model import Flag

LONGEST = 24
"""Characters of a number. A computer writes none that tells more: 17 digits tell any two binary64
apart (IEEE 754-2019, 5.12.2), and with them go two signs, a point, E and a power of three digits.
"""
POWER = "[Ee][+-]?[0-9]{1,3}"
"""The pattern of a power of ten behind the digits: three digits hold that of any binary64."""

_INFINITY = Decimal("9.9E37")
_NO_NUMBER = Decimal("9.91E37")
_LARGEST_EXPONENT = 30
_MEASURED = range(-_LARGEST_EXPONENT, _LARGEST_EXPONENT + 1)
_ONE = Decimal(1)
_EXACT = Context(prec=_LARGEST_EXPONENT + 2)


class Odd(Enum):
    """What a number is that is no value."""

    NO_VALUE = "no value"
    """The device says by it that it has none."""
    BEYOND = "beyond all measure"
    """Nothing that is measured is as large, or as near to zero without being it."""


def meant(number: str) -> Decimal | Flag | Odd:
    """The value of a number with a decimal point, in digits alone; else what stands for none.

    So 1.0E+03 reads as 1000 wherever it is shown. A flag is the end of its range that the device is
    beyond. Zero is zero at every power, with the decimals of its digits: 0.000E-28 is 0.000.
    """
    value = Decimal(number)
    if not value:
        return Decimal(number.upper().partition("E")[0])
    if value.adjusted() not in _MEASURED:
        if value.copy_abs() == _INFINITY:
            return Flag.OVER_RANGE if value > 0 else Flag.UNDER_RANGE
        return Odd.NO_VALUE if value == _NO_NUMBER else Odd.BEYOND
    power = value.as_tuple().exponent
    assert isinstance(power, int)  # of a finite number
    return value.quantize(_ONE, context=_EXACT) if power > 0 else value
