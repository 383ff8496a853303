"""A number in digits that is the one shown only times a power of ten, and what explains that. Pure.

Digits without a point may leave it out (9140 for 91.40). Those with a point of their own say their
number themselves; and of those with a unit behind them another unit on the display may be why.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from acquire.learn.against import Against
from acquire.learn.finding import Finding, Outcome
from acquire.learn.number import EXACT, NumberAt
from acquire.learn.press import About, Press
from acquire.learn.units import unit_of
from acquire.units import convert, units_of

_NUMBER = re.compile(r"(?<![0-9.,])[0-9]{1,16}(?:[.,][0-9]{1,16})?(?![0-9]|[.,][0-9])")
_POINTED = re.compile(r"(?<![0-9.,])[0-9]{1,16}[.,][0-9]{1,16}(?![0-9]|[.,][0-9])")
_UNIT = re.compile(r" *([A-Za-z%]+)")
_POWERS = (-3, -2, -1, 1, 2, 3)
_MOST_OF_ONE = 2
"""No share of one is larger."""

POINT = (
    "{} was sent where {} was shown: a number with a decimal point of its own is never taken for "
    "another one"
)
OTHER_POINT = (
    "look whether the numbers were typed as the display shows them, with their decimal point; if "
    "it shows another unit than it sends, name that of the display (--unit), or set both to one"
)
BARE = (
    "{0!r} stands behind {1}, where {2} was shown: that is {2} {3}, or {2} {4} whose decimal point "
    "is not sent; the unit that the display shows tells which"
)


def _value(text: str) -> Decimal:
    return Decimal(text.replace(",", "."))


def _around(number: NumberAt, frame: bytes) -> re.Match[str] | None:
    """The whole number as it stands in the text of a frame, of which these digits are a part."""
    found = [
        one
        for one in _NUMBER.finditer(frame.decode("latin-1"))
        if one.start() < number.end and one.end() > number.offset
    ]
    return found[-1] if found else None


def has_other_point(number: NumberAt, frames: Sequence[bytes], shown: Sequence[Decimal]) -> bool:
    """Whether digits stand in numbers with a point of their own that are not those shown."""
    if number.type != "digits":
        return False
    texts = [one[0] if (one := _around(number, frame)) is not None else "" for frame in frames]
    return all(not text.isdecimal() and text for text in texts) and all(
        _value(text) != abs(value) for text, value in zip(texts, shown, strict=True) if value
    )


def other_point(presses: Sequence[Press]) -> tuple[str, str] | None:
    """What was sent and what was shown where a point of its own stands elsewhere at every press."""
    seen = [press for press in presses if press.shown]
    found = [
        {
            power: one[0]
            for one in _POINTED.finditer(press.data.decode("latin-1"))
            for power in _POWERS
            if EXACT.scaleb(_value(one[0]), power) == abs(press.shown)
        }
        for press in seen
    ]
    powers = set.intersection(*map(set, found)) if found else set()
    return (found[0][min(powers)], str(seen[0].shown)) if powers else None


def bare_with_unit(
    number: NumberAt, frames: Sequence[bytes], shown: Sequence[Decimal], about: About,
    believed: Sequence[str], left: tuple[str, ...],
) -> Finding | None:  # fmt: skip
    """Why nothing is learned of digits without a point whose unit may not be that of the display.

    None where it may be, and where a person said both with their word.
    """
    if number.type != "digits" or about.word:
        return None
    found = [_around(number, frame) for frame in frames]
    texts = [one[0] for one in found if one is not None and one[0].isdecimal()]
    words = {
        (_UNIT.match(frame.decode("latin-1"), one.end()) or [None, ""])[1]
        for frame, one in zip(frames, found, strict=True)
        if one is not None
    }
    unit = unit_of(next(iter(words)) or "", about.kind) if len(words) == 1 else None
    if unit is None or len(texts) < len(frames) or about.unit not in (None, unit):
        return None
    (word,) = words
    sent = [Decimal(text) for text in texts]
    others = [one for one in units_of(about.kind) if _are(sent, unit, shown, one)]
    if not others:
        return None
    why = BARE.format(word, texts[0], abs(shown[0]), others[0], unit)
    if about.unit is None:
        told = (*believed, why)
        return Finding(Outcome.UNSAID, told, left, missing="unit", likely=word or "")
    step = (
        f"name --unit {others[0]} if the display shows that; if it shows {unit}, and the meter "
        f"leaves its decimal point out, say so by --unit {word}={unit}"
    )
    said = f"the unit is {unit} (--unit {unit})"
    against = Against("unit", said, why, step)
    return Finding(Outcome.NONE, tuple(believed), left, against=against, next_step=step)


def _are(sent: Sequence[Decimal], unit: str, shown: Sequence[Decimal], other: str) -> bool:
    """Whether these are the numbers that were shown, in another unit."""
    if other == unit or (other == "one" and max(map(abs, shown)) > _MOST_OF_ONE):
        return False
    return all(
        convert(abs(value), other, unit) == number
        for number, value in zip(sent, shown, strict=True)
    )
