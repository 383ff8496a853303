"""Lines whose number is written with a power of ten: explained as if it stood there without. Pure.

NR3 of IEEE 488.2, 8.7.4: digits, a point, digits, E, and a power with or without its sign. What is
learned of it is how many digits each part has; a line that lost one of them is noise then.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import NamedTuple

from acquire.learn.presses.press import Press, decimals_of, half_step

_MOST_DIGITS = 8
"""Of more nobody sees any on a display, before its point or behind it."""
_MOST_SENT = 17
"""Digits of either part: so many tell any two binary64 apart (IEEE 754-2019, 5.12.2)."""
_MOST_WHOLE = 3
"""Digits before the point: some keep the power a multiple of three."""
_MOST_POWER = 3


_BEHIND = re.compile(r"[eE][+-]?[0-9]")


def has_power(line: str, stop: int) -> bool:
    """Whether a power of ten, or what looks like one, stands right behind a number that ends here.

    Without it the number is another one.
    """
    return _BEHIND.match(line, stop) is not None


class Powered(NamedTuple):
    """The number at one place of all presses: its texts, and what stands there in their stead.

    `bodies` are the lines with plain numbers in place of it, without a sign, and `plain` these.
    `line` is which line of a press it stands in.
    """

    texts: tuple[str, ...]
    plain: tuple[str, ...]
    bodies: list[list[str]]
    line: int
    point: str
    is_rounded: bool


class _Found(NamedTuple):
    text: str
    start: int
    stop: int
    value: Decimal


def powered(bodies: Sequence[Sequence[str]], presses: Sequence[Press]) -> Iterator[Powered]:
    """Each number with a power of ten that is the one shown, or is rounded to it, at every press.

    It is counted as which of a line it is, from the left.
    """
    shown = [press.shown for press in presses]
    for point in ".,":
        rows = [[_numbers(line, point) for line in burst] for burst in bodies]
        for index in range(min(map(len, rows), default=0)):
            for place in range(min(len(row[index]) for row in rows)):
                found = [row[index][place] for row in rows]
                pairs = list(zip(found, shown, strict=True))
                if all(one.value == value for one, value in pairs):
                    yield _without(found, bodies, index, point, is_rounded=False)
                elif all(_is_shown(one.value, value) for one, value in pairs):
                    yield _without(found, bodies, index, point, is_rounded=True)


def too_coarse(bodies: Sequence[Sequence[str]], presses: Sequence[Press]) -> tuple[str, str] | None:
    """A number as it was shown and as it was sent, with a power of ten and fewer digits.

    Of a place at which all others are what was shown; None where there is none.
    """
    shown = [press.shown for press in presses]
    for point in ".,":
        rows = [[_numbers(line, point) for line in burst] for burst in bodies]
        for index in range(min(map(len, rows), default=0)):
            for place in range(min(len(row[index]) for row in rows)):
                pairs = list(zip([row[index][place] for row in rows], shown, strict=True))
                odd = [pair for pair in pairs if not _is_shown(pair[0].value, pair[1])]
                if odd and len(odd) < len(pairs) and all(_is_coarse(o.value, s) for o, s in odd):
                    return f"{odd[0][1]}", odd[0][0].text
    return None


def _is_coarse(value: Decimal, shown: Decimal) -> bool:
    """Whether a number is another one, rounded or cut off to fewer digits."""
    last = Decimal(1).scaleb(-decimals_of((value,)))
    return decimals_of((value,)) < decimals_of((shown,)) and abs(value - shown) < last


def _numbers(line: str, point: str) -> list[_Found]:
    dot = re.escape(point)
    pattern = (
        rf"(?<![0-9A-Za-z])(?:(?<![0-9A-Za-z.])[+-])?[0-9]{{1,{_MOST_SENT}}}{dot}"
        rf"[0-9]{{1,{_MOST_SENT}}}[eE][+-]?[0-9]{{1,{_MOST_POWER}}}(?![0-9A-Za-z]|{dot}[0-9])"
    )
    return [
        _Found(one[0], one.start(), one.end(), value)
        for one in re.finditer(pattern, line)
        if abs((value := _value(one[0])).adjusted()) <= _MOST_DIGITS
    ]


def _value(text: str) -> Decimal:
    value = Decimal(text.replace(",", "."))
    # Zero is zero at every power.
    return value if value else Decimal(0)


def _is_shown(value: Decimal, shown: Decimal) -> bool:
    return abs(value - shown) <= half_step(decimals_of((shown,)))


def _without(
    found: Sequence[_Found], bodies: Sequence[Sequence[str]], index: int, point: str, *,
    is_rounded: bool,
) -> Powered:  # fmt: skip
    decimals = max(1, *(decimals_of((one.value,)) for one in found))
    plain = tuple(f"{abs(one.value):.{decimals}f}".replace(".", point) for one in found)
    lines = [list(burst) for burst in bodies]
    for burst, one, text in zip(lines, found, plain, strict=True):
        line = burst[index]
        burst[index] = line[: one.start] + text + line[one.stop :]
    return Powered(tuple(one.text for one in found), plain, lines, index, point, is_rounded)


def with_power(pattern: str, number: Powered) -> str | None:
    """The pattern of the lines themselves, of that for lines with the plain number in them.

    None where the value of that pattern is not this number.
    """
    before, group, rest = pattern.partition("(?P<value>")
    matches = [re.fullmatch(pattern, burst[number.line]) for burst in number.bodies]
    values = [one["value"].strip(" ") if one is not None else "" for one in matches]
    if not group or tuple(values) != number.plain:
        return None
    own, behind = _closed(rest)
    pad = next((pad for pad in (" *", " +") if own.startswith(pad)), "")
    if not any(one is not None and one["value"].startswith(" ") for one in matches):
        pad = "" if pad == " *" else pad
    return f"{before}{group}{pad}{_form(number)}){behind}"


def _closed(rest: str) -> tuple[str, str]:
    """What stands before the bracket that closes the group, and behind it."""
    depth = 1
    for place, sign in enumerate(rest):
        depth += {"(": 1, ")": -1}.get(sign, 0)
        if not depth:
            return rest[:place], rest[place + 1 :]
    return rest, ""


def _form(number: Powered) -> str:
    """The pattern of numbers that are written like these."""
    parts = [re.fullmatch(r"([+-]?)(\d+).(\d+)([eE])([+-]?)(\d+)", text) for text in number.texts]
    signs, wholes, decimals, letters, power_signs, powers = (
        [one[at] for one in parts if one is not None] for at in range(1, 7)
    )
    letter = letters[0] if len(set(letters)) == 1 else "[eE]"
    if set(powers) <= {"0", "00", "000"} and len(set(power_signs)) == 1 and letter.isalpha():
        # No press told that these are a power: another one is noise.
        power = re.escape(f"{power_signs[0]}{powers[0]}")
    else:
        power = _sign(power_signs) + _digits(powers, _MOST_POWER)
    point = re.escape(number.point)
    return (
        f"{_sign(signs)}{_digits(wholes, _MOST_WHOLE)}{point}{_digits(decimals, _MOST_SENT)}"
        f"{letter}{power}"
    )


def is_power_open(number: Powered) -> bool:
    """Whether no press had another power than zero."""
    return all(re.search(r"[eE][+-]?0+$", text) for text in number.texts)


def _sign(signs: Sequence[str]) -> str:
    """A number that is not below zero has a plus, or none, as at the presses."""
    above = {sign for sign in signs if sign != "-"}
    return {frozenset("+"): "[+-]", frozenset({""}): "-?"}.get(frozenset(above), "[+-]?")


def _digits(texts: Sequence[str], most: int) -> str:
    widths = set(map(len, texts))
    if len(widths) > 1:
        return rf"\d{{1,{max(most, *widths)}}}"
    (width,) = widths
    return r"\d" if width == 1 else rf"\d{{{width}}}"
