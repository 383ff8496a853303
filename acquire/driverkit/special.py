"""Numbers that a device sends in place of a value, and those beyond all measure. Pure.

SCPI-1999, volume 1, 7.2.1: positive and negative infinity are 9.9E37 and -9.9E37, "not a number" is
9.91E37.
"""

from __future__ import annotations

from decimal import Context, Decimal

from acquire.model import Flag

_INFINITY = Decimal("9.9E37")
_NO_NUMBER = Decimal("9.91E37")
_LARGEST_EXPONENT = 30
_ONE = Decimal(1)
_EXACT = Context(prec=_LARGEST_EXPONENT + 2)


def is_no_number(value: Decimal) -> bool:
    """Whether the device says by it that it has no value."""
    return value == _NO_NUMBER


def infinity(value: Decimal) -> Flag | None:
    """Which end of its range the device says by it to be beyond; None where it is a value."""
    if value.copy_abs() != _INFINITY:
        return None
    return Flag.OVER_RANGE if value > 0 else Flag.UNDER_RANGE


def is_beyond(value: Decimal) -> bool:
    """Whether nothing that is measured is as large, or as near to zero without being it."""
    return value.adjusted() not in range(-_LARGEST_EXPONENT, _LARGEST_EXPONENT + 1)


def plain(value: Decimal) -> Decimal:
    """The same number in digits alone, so that 1.0E+03 reads as 1000 wherever it is shown.

    Of a number that is not beyond all measure.
    """
    power = value.as_tuple().exponent
    assert isinstance(power, int)  # of a finite number
    return value.quantize(_ONE, context=_EXACT) if power > 0 else value
