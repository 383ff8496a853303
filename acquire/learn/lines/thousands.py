"""Lines whose numbers have a sign between their thousands: explained without it. Pure.

A meter that has such a sign writes it in every number of a thousand or more. So a press must have
shown one; and nothing that could be a digit or a thousand of it may stand beside the number. One
point or comma before three digits may as well stand before the decimals of a larger unit.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from decimal import Decimal
from itertools import product

from acquire.learn.numbers.powers import has_power
from acquire.learn.pieces.doubts import Doubt

APOSTROPHE, ESCAPED = "'", r"\x27"
SIGNS = (",", APOSTROPHE, " ", ".")
_WHOLE = r"\d{1,8}"
_MOST = 10
"""Eight digits and the two signs between them."""


def parted(
    bodies: Sequence[Sequence[str]], shown: Sequence[Decimal]
) -> Iterator[tuple[str, str, list[list[str]]]]:
    """The signs between thousands and before decimals that fit, each with the lines without it."""
    for sign, point in product(SIGNS, ".,"):
        bare = None if sign == point else _without(bodies, shown, sign, point)
        if bare is not None:
            yield sign, point, bare


def _without(
    bodies: Sequence[Sequence[str]], shown: Sequence[Decimal], sign: str, point: str
) -> list[list[str]] | None:
    """The lines with the number of each press without the sign; None where none has it."""
    apart, dot = re.escape(sign), re.escape(point)
    number = re.compile(
        rf"(?<![0-9])(?<![0-9][ .,'])[1-9][0-9]{{0,2}}(?:{apart}[0-9]{{3}})+(?:{dot}[0-9]+)?"
        r"(?![ .,']?[0-9])"
    )
    bare = [
        [_bare(line, number, abs(value), sign) for line in burst]
        for burst, value in zip(bodies, shown, strict=True)
    ]
    return bare if bare != [list(burst) for burst in bodies] else None


def _bare(line: str, number: re.Pattern[str], shown: Decimal, sign: str) -> str:
    """The line with the sign taken out of each number that is the one shown."""

    def taken_out(found: re.Match[str]) -> str:
        text = found[0].replace(sign, "")
        is_it = Decimal(text.replace(",", ".")) == shown and not has_power(line, found.end())
        return text if is_it else found[0]

    return number.sub(taken_out, line)


_LEAST, _NEXT = 1000, 1000000
"""From the one on a number has a sign between its thousands, from the other on a second one."""


def may_be_decimals(sign: str, shown: Sequence[Decimal]) -> Doubt | None:
    """The doubt of whole numbers that all had one such sign; None where a press has settled it."""
    if sign not in ".," or not all(_LEAST <= abs(value) < _NEXT for value in shown):
        return None
    return Doubt(
        f"{sign!r} may stand between thousands, or before decimals of another unit than the "
        "display's: press on something that shows less than a thousand",
        tell_below=Decimal(_LEAST),
    )


def with_sign(pattern: str, sign: str) -> str | None:
    """The pattern of a line whose number may have the sign; None where it does not say where."""
    before, group, behind = pattern.partition("(?P<value>")
    if not group or pattern.count("(?P<value") > 1 or _WHOLE not in behind.partition(")")[0]:
        return None
    # A profile has its patterns in apostrophes.
    within = f"[\\d{sign if sign != APOSTROPHE else ESCAPED}]{{1,{_MOST}}}"
    return before + group + behind.replace(_WHOLE, within, 1)
