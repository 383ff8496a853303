"""A number in digits that is the one shown only times a power of ten, and what explains that. Pure.

Digits without a point may leave it out (9140 for 91.40). Those with a point of their own say their
number themselves; and of those with a unit behind them another unit on the display may be why.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from acquire.learn.beside.against import Against
from acquire.learn.finding import Finding, Outcome
from acquire.learn.lines.line import Line
from acquire.learn.numbers.number import EXACT, NumberAt
from acquire.learn.pieces.units import unit_of
from acquire.learn.presses.press import About, Press
from acquire.units import convert, units_of

_RUN = re.compile("[0-9](?:[0-9.,]*[0-9])?")
_NUMBER = re.compile("[0-9]{1,16}(?:[.,][0-9]{1,16})?")
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


class _Around(NamedTuple):
    """A whole number as it stands in a text, and where it ends; empty where it is none."""

    text: str
    end: int


def _around(number: NumberAt, frame: bytes) -> _Around:
    """The number of which these digits are a part; a comma parts fields or is a point."""
    text = frame.decode("latin-1")
    run = next(
        (
            one
            for one in _RUN.finditer(text)
            if one.start() < number.end and one.end() > number.offset
        ),
        None,
    )
    if run is None:
        return _Around("", 0)
    start, end = run.span()
    if not _is_point(number, run):
        # The field that ends with these digits, or goes on behind them.
        start = max(start, text.rfind(",", start, max(number.end - 1, start)) + 1)
        behind = text.find(",", max(number.end - 1, start), end)
        end = end if behind < 0 else behind
    whole = text[start:end]
    return _Around(whole if _NUMBER.fullmatch(whole) else "", end)


def _is_point(number: NumberAt, run: re.Match[str]) -> bool:
    """Whether the comma of a run of digits is the point of a number.

    It stands among its digits, or zeros that say nothing stand behind it.
    """
    if run[0].count(",") != 1:
        return False
    at = run.start() + run[0].index(",")
    is_end = at == number.end and not run[0].partition(",")[2].strip("0")
    return is_end or number.offset < at < number.end - 1


def has_other_point(number: NumberAt, frames: Sequence[bytes], shown: Sequence[Decimal]) -> bool:
    """Whether digits stand in numbers with a point of their own that are not those shown."""
    # With no power these very digits are the number, whatever digit touches them.
    if number.type != "digits" or (number.power == 0 and number.decimals is None):
        return False
    texts = [_around(number, frame).text for frame in frames]
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
    texts = [one.text for one in found if one.text.isdecimal()]
    words = {
        (_UNIT.match(frame.decode("latin-1"), one.end) or [None, ""])[1]
        for frame, one in zip(frames, found, strict=True)
    }
    if len(words) != 1 or len(texts) < len(frames):
        return None
    return _bare(words.pop() or "", texts, shown, about, believed, left)


def bare_in_line(
    line: Line, shown: Sequence[Decimal], about: About, believed: Sequence[str],
    left: tuple[str, ...],
) -> Finding | None:  # fmt: skip
    """The same of a line whose number leaves its decimal point out."""
    if not line.implied_decimals or about.word or len(line.units) != 1:
        return None
    return _bare(line.units[0][0], line.values, shown, about, believed, left)


def _bare(
    word: str, texts: Sequence[str], shown: Sequence[Decimal], about: About,
    believed: Sequence[str], left: tuple[str, ...],
) -> Finding | None:  # fmt: skip
    """What there is to say of these texts before a word for a unit; None where it is nothing."""
    unit = unit_of(word, about.kind)
    if unit is None or about.unit not in (None, unit):
        return None
    sent = [Decimal(text) for text in texts]
    others = [one for one in units_of(about.kind) if _are(sent, unit, shown, one)]
    if not others:
        return None
    why = BARE.format(word, texts[0], abs(shown[0]), others[0], unit)
    if about.unit is None:
        told = (*believed, why)
        return Finding(Outcome.UNSAID, told, left, missing="unit", likely=word)
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
        convert(abs(value), other, unit) == abs(number)
        for number, value in zip(sent, shown, strict=True)
    )
