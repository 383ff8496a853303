"""What a display can show, in a profile: a number outside of it is noise, however well it is read.

In the unit in which the value is sent. Error codes written as numbers, flags in the top bits of an
integer and a sign that nobody has seen yet are all numbers that the display cannot show. Pure; any
thread.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from decimal import Decimal
from typing import Annotated, NamedTuple

from pydantic import Field

from acquire.errors import Fault
from acquire.schema import Number, Schema, either, rule, show


class Limits(NamedTuple):
    """None is no limit. Zeros at the end of a number are not counted as decimals.

    A zero with a minus is below a `least` of 0, and is not below one of -0.0.
    """

    least: Decimal | None = None
    most: Decimal | None = None
    most_decimals: int | None = None

    def outside(self, value: Decimal) -> str:
        """In plain words why the display cannot show this; empty if it can."""
        if self.least is not None and not value and value.is_signed() and _is_plain(self.least):
            return f"{value:f} has a minus, and the display shows nothing below {self.least:f}"
        if self.least is not None and value < self.least:
            return f"{value:f} is less than the display can show ({self.least:f})"
        if self.most is not None and value > self.most:
            return f"{value:f} is more than the display can show ({self.most:f})"
        if self.most_decimals is not None and _decimals(value) > self.most_decimals:
            return f"{value:f} has more decimals than the display shows ({self.most_decimals})"
        return ""


def _is_plain(least: Decimal) -> bool:
    return least >= 0 and not least.is_signed()


class LimitsTable(Schema):
    """The keys of a value that tell its limits."""

    least: Number | None = None
    most: Number | None = None
    most_decimals: Annotated[int, Field(ge=0, le=12)] | None = None

    @rule
    def the_least_is_below_the_most(self) -> Iterator[Fault]:
        if self.least is not None and self.most is not None and self.least > self.most:
            yield Fault("least", show(self.least), f"at most {show(self.most)}, which most says")

    def limits(self) -> Limits:
        """The limits; of a table that has no fault."""
        return Limits(self.least, self.most, self.most_decimals)

    def unfit(self, units: Collection[str]) -> Iterator[tuple[str, str, str]]:
        """Name, what was got and wanted of limits that are not in one unit."""
        for name in ("least", "most"):
            limit = getattr(self, name)
            if limit is not None and len(units) > 1:
                wanted = f"no limit, or one unit: it may be {either(sorted(units))}"
                yield name, show(limit), wanted


def _decimals(value: Decimal) -> int:
    _, digits, exponent = value.as_tuple()
    assert isinstance(exponent, int)
    count = -exponent
    for digit in reversed(digits):
        if digit or count <= 0:
            break
        count -= 1
    # Of a zero no digit is another than zero.
    return count if any(digits) else 0
