"""What is known of a meter before anything is learned: its presses, and what a person says of it.

Pure data; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from functools import cached_property

from acquire.driverapi import Parity
from acquire.model import Quantity

LEAST_PRESSES = 3
"""With as many different numbers."""

_LIKELY: dict[Quantity, tuple[int, int]] = {
    # Common practice, no source: coated panels read up to about 100 GU, and no meter far below 0.
    Quantity.GLOSS: (-20, 200),
    Quantity.TRANSMITTANCE: (-20, 200),
}
_REACH = 10
"""A force gauge is taken to go up to this many times the largest force it was tried with."""


@dataclass(frozen=True, slots=True)
class Press:
    """One press of the button: all bytes that came of it, and what the display showed.

    `heard` is when that was by the host's own clock, with its zone; None where nobody knows.
    """

    data: bytes
    shown: Decimal
    heard: datetime | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """Settings of a serial line."""

    baud_rate: int = 9600
    data_bits: int = 8
    parity: Parity = Parity.NONE
    stop_bits: int = 1

    def __str__(self) -> str:
        return f"{self.baud_rate} {self.data_bits}{self.parity.value[0].upper()}{self.stop_bits}"


@dataclass(frozen=True)
class About:
    """What a person says of the meter. None is what nobody said.

    `unit` is a name of `acquire.units`, `word` one of the bytes that stands for it, by a person's
    word, empty where nobody said one; `marks` are such words that are no unit; `channel` the
    geometry or band of values that say none; `bands` are words of the bytes, each with the band
    that it means;
    `moves` are numbers in its lines that were the same at every press and may be others;
    `least` and `most` the limits of what the display can show; `pause_s` the longest pause that was
    heard within a press, `again_s` how long after a press its bytes came once more; `settled` so
    many of the first presses a person said to have been of one unit, and geometry or band.
    `has_angles`: what was several geometries at one place of lines says that of each press.
    `counts_to`: how far the meter counts its presses.
    """

    kind: Quantity
    unit: str | None = None
    channel: str | None = None
    least: Decimal | None = None
    most: Decimal | None = None
    line: Line = Line()
    pause_s: float = 0.0
    again_s: float = 0.0
    moves: frozenset[str] = frozenset()
    word: str = ""
    settled: int = 0
    bands: tuple[tuple[str, str], ...] = ()
    marks: frozenset[str] = frozenset()
    has_angles: bool = False
    counts_to: int | None = None

    @cached_property
    def channel_key(self) -> str:
        """What a profile calls the channel."""
        return {Quantity.GLOSS: "geometry", Quantity.TRANSMITTANCE: "band"}.get(self.kind, "")

    def reach(self, shown: Sequence[Decimal]) -> tuple[Decimal, Decimal]:
        """The least and the largest number that are taken as possible on the display."""
        largest = max((abs(value) for value in shown), default=Decimal(0))
        low, high = (Decimal(limit) for limit in _LIKELY.get(self.kind, (0, 0)))
        if self.unit == "one":
            low, high = low / 100, high / 100
        if not high:
            high = largest * _REACH or Decimal(_REACH)
            low = -high
        if self.most is not None:
            high = self.most
            low = -high if self.kind is Quantity.FORCE else low
        if self.least is not None:
            low = self.least
        return min(low, *shown, Decimal(0)), max(high, *shown)


def decimals_of(shown: Sequence[Decimal]) -> int:
    """How many decimals the display has."""
    return max((-int(value.as_tuple().exponent) for value in shown), default=0)


def half_step(decimals: int) -> Decimal:
    """Half of the last digit of a display: so far it rounds."""
    return Decimal(5).scaleb(-decimals - 1)


_FINE = 10
"""A number of so many steps of the display is hardly that of something else rounded by chance."""


def tell_enough(shown: Sequence[Decimal]) -> bool:
    """Whether numbers that are rounded tell what they were: enough of them, and none near zero."""
    step = 2 * half_step(decimals_of(shown))
    return len({value for value in shown if abs(value) >= _FINE * step}) >= LEAST_PRESSES
