"""A number of a settings file, exact as written. Pure; any thread."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated

from pydantic import BeforeValidator

LARGEST = Decimal("1e12")
_MOST_DIGITS = 24
_MOST_DECIMALS = 12


class NotThis(ValueError):
    """No number of a file; `noun` says what is, without the bounds that its field may have."""

    def __init__(self, noun: str, *, is_too_large: bool = False) -> None:
        within = f" from {-LARGEST:.0f} to {LARGEST:.0f}" if is_too_large else ""
        super().__init__(f"{noun}{within}")
        self.noun = noun


def _exact(value: object) -> object:
    """Bounded, so that no later sum or product of such numbers can overflow or lose digits."""
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        raise NotThis("a number")
    if isinstance(value, int) and abs(value) > LARGEST:
        raise NotThis("a number", is_too_large=True)
    # A float of a table that did not come from our own TOML reader: its shortest text is meant.
    exact = Decimal(repr(value)) if isinstance(value, float) else Decimal(value)
    if not exact.is_finite():
        raise NotThis("a finite number")
    # By the place of its first digit: an absurd exponent overflows any arithmetic, abs() included.
    if exact.adjusted() > LARGEST.adjusted() or exact.copy_abs() > LARGEST:
        raise NotThis("a number", is_too_large=True)
    _, digits, exponent = exact.as_tuple()
    if len(digits) > _MOST_DIGITS or int(exponent) < -_MOST_DECIMALS:
        raise NotThis(f"a number of at most {_MOST_DECIMALS} decimals")
    # A plain zero exponent, so that 1e3 reads as 1000 wherever it is printed.
    return exact.quantize(Decimal(1)) if int(exponent) > 0 else exact


Number = Annotated[Decimal, BeforeValidator(_exact)]
"""A finite number as a Decimal, with the digits of the file (``1.50`` stays ``1.50``)."""
