"""A reading as the page prints it: every digit that was sent, none that a conversion made.

A gauge that sends 4.0 gf has sent no 0.03922660 N, and the number of a computer has more digits
than any meter. The text as it was sent stands beside the value on the page, and exports carry every
digit that is kept. Pure; any thread.
"""

from __future__ import annotations

from decimal import Decimal

from acquire.analysis.figures import rounded
from acquire.units import as_entered

_MOST_DECIMALS = 6
_MOST_DIGITS = 7
_KEPT_DIGITS = 6


def printed(value: Decimal, step: Decimal | None = None) -> str:
    """The value without digits that mean nothing; as it is kept where it has none such.

    With the `step` of the display, or of the last digit that was sent, in the unit of the value, it
    goes to the second significant digit of that step, and never beyond six digits of its own.
    Minus is the sign U+2212.
    """
    digits, exponent = value.as_tuple().digits, value.as_tuple().exponent
    if not isinstance(exponent, int):
        raise ValueError(f"a finite value is wanted, got {value}")
    if -exponent <= _MOST_DECIMALS and len(digits) <= _MOST_DIGITS:
        return str(value).replace("-", "−")
    # Two digits of this are the last two of six.
    least = Decimal(1).scaleb(value.adjusted() - _KEPT_DIGITS + 2)
    return rounded(float(value), float(max(step or Decimal(0), least)))


def plain(value: Decimal) -> str:
    """A limit as it was entered; to four digits where it came through a conversion."""
    exponent = value.as_tuple().exponent
    if isinstance(exponent, int) and -exponent > _MOST_DECIMALS:
        return rounded(float(value), None)
    return as_entered(value).replace("-", "−")
