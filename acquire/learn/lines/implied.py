"""Lines whose number leaves its decimal point out (914 for 91.4): explained with it put in. Pure.

A number that has a point or a comma of its own says itself what it is, and is none of these.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import NamedTuple

from acquire.learn.numbers.number import EXACT
from acquire.learn.numbers.powers import has_power
from acquire.learn.pieces.doubts import Doubt
from acquire.learn.presses.press import Press, decimals_of

_WHOLE = re.compile(r"(?<![0-9.])[+-]?[0-9]{1,9}(?![0-9]|\.[0-9])")
_PARTED = re.compile("([0-9]+),([0-9]+)")
_LARGEST_DIGIT = 9
_MOST_DECIMALS = 6
_POWERS = range(-9, 10)


class Implied(NamedTuple):
    """The whole number at one place of all presses: its texts, and the lines with the point put in.

    `plain` are these numbers; `line` is which line of a press they stand in.
    """

    texts: tuple[str, ...]
    plain: tuple[str, ...]
    bodies: list[list[str]]
    line: int
    decimals: int


def pointed(bodies: Sequence[Sequence[str]], presses: Sequence[Press]) -> Iterator[Implied]:
    """Each whole number that is the one shown, but for its point, at every press.

    It is counted as which of a line it is, from the left.
    """
    shown = [press.shown for press in presses]
    decimals = decimals_of(shown)
    if not 0 < decimals <= _MOST_DECIMALS or not all(line.isascii() for b in bodies for line in b):
        return
    steps = [EXACT.scaleb(value, decimals) for value in shown]
    rows = [[list(_WHOLE.finditer(line)) for line in burst] for burst in bodies]
    for index in range(min(map(len, rows), default=0)):
        for place in range(min(len(row[index]) for row in rows)):
            found = [row[index][place] for row in rows]
            is_it = all(Decimal(one[0]) == step for one, step in zip(found, steps, strict=True))
            if is_it and not any(map(_says_itself, found, shown)):
                yield _with_point(found, bodies, index, decimals)


def small(sent: Sequence[Decimal]) -> Doubt | None:
    """The doubt of numbers of one digit, which are as much by chance; None where one was larger."""
    if max(map(abs, sent)) > _LARGEST_DIGIT:
        return None
    return Doubt(
        "one digit and no point was sent at every press, which is the number shown by chance or in "
        "hexadecimal digits, too: press on something that shows a larger number"
    )


def _says_itself(found: re.Match[str], shown: Decimal) -> bool:
    """Whether it has a power of ten, or is part of a number with a comma that is the one shown."""
    line = found.string
    if has_power(line, found.end()):
        return True
    return any(
        one.start() <= found.start() + len(found[0]) - 1 < one.end()
        and Decimal(f"{one[1]}.{one[2]}") in [EXACT.scaleb(abs(shown), power) for power in _POWERS]
        for one in _PARTED.finditer(line)
        if shown
    )


def _with_point(
    found: Sequence[re.Match[str]], bodies: Sequence[Sequence[str]], index: int, decimals: int
) -> Implied:
    plain = []
    lines = [list(burst) for burst in bodies]
    for burst, one in zip(lines, found, strict=True):
        sign, digits = ("", one[0]) if one[0].isdecimal() else (one[0][0], one[0][1:])
        digits = digits.rjust(decimals + 1, "0")
        text = f"{sign}{digits[:-decimals]}.{digits[-decimals:]}"
        burst[index] = burst[index][: one.start()] + text + burst[index][one.end() :]
        plain.append(text)
    return Implied(tuple(one[0] for one in found), tuple(plain), lines, index, decimals)


def with_implied(pattern: str, number: Implied) -> str | None:
    """The pattern of the lines themselves, of that for lines with the point in their number.

    None where the value of that pattern is not this number.
    """
    before, group, rest = pattern.partition("(?P<value>")
    matches = [re.fullmatch(pattern, burst[number.line]) for burst in number.bodies]
    values = [_signed(one) if one is not None else "" for one in matches]
    behind = _BEHIND.get(number.decimals, rf"\.\d{{{number.decimals}}}")
    whole, point, tail = rest.partition(behind + ")")
    if not group or not point or ")" in whole or tuple(values) != number.plain:
        return None
    found = [one["value"] for one in matches if one is not None]
    filled = _filled(found, number)
    if filled and "(?P<sign>" in before:
        return None
    return f"{before}{group}{filled or whole.replace(_MANY, _MORE)}){tail}"


def _signed(found: re.Match[str]) -> str:
    """The value with the sign that stands apart from it."""
    return (found.groupdict().get("sign") or "") + found["value"].strip(" ")


def _filled(values: Sequence[str], number: Implied) -> str:
    """The pattern of numbers that zeros fill up: no more, fewer or other signs than these had."""
    digits = [text.strip("+-") for text in number.texts]
    spaces = {len(text) - len(text.lstrip(" ")) for text in values}
    if not any(len(one) > number.decimals + 1 and one[0] == "0" for one in digits):
        return ""
    few, many = min(map(len, digits)), max(map(len, digits))
    signed = [text[0] in "+-" for text in number.texts]
    sign = "[+-]" if all(signed) else "[+-]?" if any(signed) else "-?"
    pad = " " * spaces.pop() if len(spaces) == 1 else " *"
    return rf"{pad}{sign}\d{{{few}}}" if few == many else rf"{pad}{sign}\d{{{few},{many}}}"


_BEHIND = {1: r"\.\d"}
_MANY, _MORE = r"\d{1,8}", r"\d{1,9}"
