"""How the figures of a judgement are written, by the edition of the rules. Pure.

A mean or deviation goes to the second significant digit of its uncertainty (JCGM 100:2008, 7.2.6)
or of the display's step, whichever says less; certified values and limits as they were entered,
and to four digits where they came through a conversion. A figure that rounds to 0 has no sign.
"""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from acquire.calibration.edition import FIRST
from acquire.units import as_entered

STEP = Decimal("0.0001")
_CENT = Decimal("0.01")
_DIGITS = 2
_CONVERTED = -6
"""A value with more decimals than these came through a conversion (`acquire.units.as_entered`)."""
_CONVERTED_DIGITS = 4
"""As the pages write it (`acquire.report.words.sentvalue.plain`)."""


class Written(NamedTuple):
    """Writes figures of one piece; `place` is the step of what is not certain."""

    edition: int
    place: Decimal

    def value(self, figure: Decimal) -> str:
        """A mean, a scatter or an uncertainty."""
        return f"{_unsigned_zero(figure.quantize(self.place), self.edition):f}"

    def signed(self, figure: Decimal) -> str:
        """A deviation, with its sign."""
        shown = _unsigned_zero(figure.quantize(self.place), self.edition)
        if self.edition == FIRST or shown:
            return f"{shown:+}"
        return f"{shown:f}"

    def given(self, figure: Decimal) -> str:
        """A certified value or a limit."""
        if self.edition == FIRST:
            return f"{figure}"
        if _is_converted(figure) and figure:
            place = Decimal(1).scaleb(figure.adjusted() - _CONVERTED_DIGITS + 1)
            return f"{figure.quantize(place):f}"
        return as_entered(figure)


def written_by(edition: int, doubt: Decimal, resolution: Decimal) -> Written:
    """For figures of this uncertainty and step of the display; 0 where there is none."""
    steps = [_second_digit(figure) for figure in (doubt, resolution) if figure > 0]
    if edition == FIRST or not steps:
        return Written(edition, _CENT)
    return Written(edition, min(max(*steps, STEP), Decimal(1)))


def _second_digit(figure: Decimal) -> Decimal:
    step = Decimal(1).scaleb(figure.adjusted() - _DIGITS + 1)
    # 0.0996 becomes 0.100, whose second digit lies one place higher.
    return Decimal(1).scaleb(figure.quantize(step).adjusted() - _DIGITS + 1)


def kept(figure: Decimal, edition: int) -> Decimal:
    """A mean, deviation or uncertainty as the row has it: to four decimals."""
    return _unsigned_zero(figure.quantize(STEP), edition)


def kept_given(figure: Decimal, edition: int) -> Decimal:
    """A certified value or a limit as the row has it: exact, without zeros of a conversion."""
    return figure if edition == FIRST or not _is_converted(figure) else figure.normalize()


def _is_converted(figure: Decimal) -> bool:
    exponent = figure.as_tuple().exponent
    return isinstance(exponent, int) and exponent < _CONVERTED


def _unsigned_zero(figure: Decimal, edition: int) -> Decimal:
    return figure if edition == FIRST or figure else abs(figure)
