"""Bits of a number that no number of the display sets: where they are set, it is not read. Pure.

Some meters put flags into the top bits of their number, and some integers that were taken as signed
have no sign. Both would be read as numbers that the display cannot show.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from acquire.learn.judge import Judged
from acquire.learn.number import EXACT, NumberAt

Guard = tuple[int, int, int]
"""Place of a byte, a mask, and the bits beneath it that are refused."""


def guards(
    judged: Judged, reach: tuple[Decimal, Decimal], *, is_trusted: bool
) -> tuple[Guard, ...]:
    """The guards of the best number. `is_trusted`: it is known how far the display goes."""
    best = judged.best
    if best is None or best.decimals is not None or best.minus is not None:
        return ()
    place = best.offset if best.order == "big" else best.end - 1
    low, high = (int(EXACT.scaleb(limit, best.power)) for limit in reach)
    found: list[Guard] = []
    if best.type.startswith(("int", "uint")):
        if is_trusted:
            found += _above(best, place, high)
        if any(r.type == f"u{best.type}" and r.offset == best.offset for r in judged.rivals):
            found += _below(best, place, low)
    elif best.type == "bcd" and is_trusted and high < 10 ** (2 * best.size - 1 - _signs(best)):
        # The highest digit is always 0. A bit of its own may be the sign.
        bits = (0x10, 0x20, 0x40) if best.sign == "top-bit" else (0x10, 0x20, 0x40, 0x80)
        found += [(place, bit, bit) for bit in bits]
    return tuple(found)


def _above(best: NumberAt, place: int, high: int) -> Iterator[Guard]:
    """Zeros and then a one that is worth more than the largest number."""
    for zeros in range(1 if best.is_signed else 0, 8):
        if 1 << (8 * best.size - 1 - zeros) > high:
            yield place, 0xFF << (7 - zeros) & 0xFF, 1 << (7 - zeros)


def _below(best: NumberAt, place: int, low: int) -> Iterator[Guard]:
    """Ones and then a zero: below the least number, or no sign at all."""
    try:
        top = low.to_bytes(best.size, "big", signed=True)[0]
    except OverflowError:
        return
    ones = 8 - (~top & 0xFF).bit_length()
    if low >= 0:
        # It never goes below zero; how far below it would be, if it did, is not known.
        ones = 8
    for count in range(1, ones):
        yield place, 0xFF << (7 - count) & 0xFF, 0xFF << (8 - count) & 0xFF


def _signs(best: NumberAt) -> int:
    return 1 if best.sign == "last-nibble" else 0
