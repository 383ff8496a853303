"""Zeros before a number that were there at every press: what else may stand there nobody has seen.

A digit right before the digits of a number may be its polarity, a range or a status as well as the
highest of its places, and as long as it was 0 all are alike. Pure.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from acquire.learn.numbers.number import EXACT


def shown_most(
    texts: Sequence[str], point: str, power: int = 0, sent: Sequence[Decimal] = ()
) -> Decimal | None:
    """The number at which zeros would end that stood before all numbers; None where none did.

    `texts` are the numbers as they were sent, without a sign between thousands, `power` so many of
    their digits stand behind a point that is not sent, `sent` are further numbers beside them.
    """
    wholes = _wholes(texts, point, power)
    width = max(map(len, wholes), default=0)
    largest = max((abs(value) for value in sent), default=Decimal(0))
    # One before the point is written by most.
    places = max([1, len(str(int(largest))), *(len(text.lstrip("0")) for text in wholes)])
    return Decimal(10) ** places if places < width else None


def leading_zeros(texts: Sequence[str], point: str) -> int:
    """So many zeros stood before all of these numbers, which are of one width; else 0."""
    wholes = _wholes(texts, point, 0)
    sizes = set(map(len, wholes))
    places = max([1, *(len(text.lstrip("0")) for text in wholes)])
    return max(sizes) - places if len(sizes) == 1 and min(sizes) > 1 else 0


def _wholes(texts: Sequence[str], point: str, power: int) -> list[str]:
    """The digits before the points, whichever sign and spaces stand before them."""
    bare = [text.strip(" ").lstrip("+-").strip(" ").partition(point)[0] for text in texts]
    return [text[: max(0, len(text) - power)] for text in bare]


def below(top: Decimal, decimals: int) -> Decimal:
    """The largest number of so many decimals below that."""
    return top - EXACT.scaleb(Decimal(1), -decimals)
