"""Where in the lines of a press the number on the display stands. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from decimal import Decimal

from acquire.learn.numbers.number import EXACT
from acquire.learn.numbers.powers import has_power
from acquire.learn.pieces.pieces import Style, shape
from acquire.learn.presses.framing import lines_of
from acquire.learn.presses.press import Press, decimals_of, half_step

Place = tuple[Style, tuple[str, ...], tuple[str, ...]]
"""How numbers are written, and the kinds of the pieces before and behind the value."""

Span = tuple[int, int, int]
"""Which line of a press, and from where to where in it."""


def stands_as_text(presses: Sequence[Press], end: bytes) -> bool:
    """Whether every press has its number somewhere as text, by one decimal sign for all."""
    return any(
        all(
            any(
                next(_spans(line.decode("latin-1"), press.shown, point), None)
                for line in lines_of(press.data, end)
            )
            for press in presses
        )
        for point in ".,"
    )


def stand_as_digits(presses: Sequence[Press]) -> bool:
    """Whether every press has its number somewhere in digits, whatever stands beside them."""
    return any(
        all(
            re.search(
                rf"(?<![0-9.])0*{re.escape(text.replace('.', point))}(?![0-9])".encode(), press.data
            )
            for press, text in ((press, f"{abs(press.shown):f}") for press in presses)
        )
        for point in ".,"
    )


def has_exponent(presses: Sequence[Press]) -> bool:
    """Whether numbers stand there with a power of ten, in any form."""
    return all(_POWER.search(press.data) for press in presses)


_POWER = re.compile(
    rb"(?<![0-9A-Za-z])(?:[0-9]*[.,][0-9]+[eE][+-]?|[0-9]+[eE][+-])[0-9]{1,3}(?![0-9A-Za-z])"
)
"""Without a point or a sign of the power it may as well be a number in hexadecimal digits."""


def are_hexadecimal(presses: Sequence[Press]) -> bool:
    """Whether every press has its number, without the point, in hexadecimal digits, some letters.

    Also below zero, with as many digits as bits of 16 or 32 need.
    """
    decimals = decimals_of([press.shown for press in presses])
    numbers = [int(EXACT.scaleb(press.shown, decimals)) for press in presses]
    texts = [
        [f"{one:X}"] if one >= 0 else [f"{one & 0xFFFF:X}", f"{one & 0xFFFFFFFF:X}"]
        for one in numbers
    ]
    has_letter = any(not text.isdecimal() for row in texts for text in row)
    return has_letter and all(
        any(
            re.search(rf"(?<![0-9A-Fa-f])0*{text}(?![0-9A-Fa-f])".encode(), press.data.upper())
            for text in row
        )
        for press, row in zip(presses, texts, strict=True)
    )


_GROUPED = re.compile(
    rb"(?<![0-9.,'])[0-9]{1,3}([.,' ])[0-9]{3}(?:\1[0-9]{3})*(?:[.,][0-9]+)?(?![0-9])"
)
_THOUSAND = 1000


def grouped(presses: Sequence[Press]) -> str:
    """A number of a press that has signs between its thousands; empty where none has."""
    for press in presses:
        for found in _GROUPED.finditer(press.data):
            bare = found[0].replace(found[1], b"").replace(b",", b".").decode("ascii")
            if abs(press.shown) >= _THOUSAND and Decimal(bare) == abs(press.shown):
                return found[0].decode("ascii")
    return ""


def minus_words(presses: Sequence[Press], end: bytes) -> str:
    """How numbers below zero are written where no line profile reads it; empty if they are not."""
    found = set()
    for press in presses:
        if press.shown < 0:
            digits = re.escape(f"{abs(press.shown):f}").replace(r"\.", "[.,]")
            texts = [line.decode("latin-1") for line in lines_of(press.data, end)]
            found.add(
                next(
                    (w for text in texts for w, f in _MINUS if re.search(f.format(digits), text)),
                    "",
                )
            )
    return found.pop() if len(found) == 1 else ""


_MINUS = (
    ("in brackets", r"\( *{}\)"),
    ("with the sign behind them", r"(?<![0-9]){} ?-"),
    ("with the sign apart from them", r"- +{}(?![0-9])"),
)


def places(
    burst: Sequence[str], shown: Decimal, *, is_padded: bool, parts_fields: bool = False,
    fills_behind: bool = False, is_rounded: bool = False, is_mixed: bool = False,
    has_comma: bool = False,
) -> Iterator[tuple[Place, Span]]:  # fmt: skip
    """Every place of a press at which this number stands.

    `parts_fields`: where a comma is the decimal sign and parts the fields as well. `is_rounded`:
    also with more decimals, which are rounded to this number. `is_mixed`: as in `Style`.
    `has_comma`: a comma is the decimal sign of the numbers that have one.
    """
    if parts_fields:
        style = Style(",", is_padded, parts_fields=True)
        for index, line in enumerate(burst):
            for start, stop in _between_fields(line, shown):
                yield (
                    (style, shape(line[:start], style), shape(line[stop:], style)),
                    (index, start, stop),
                )
        return
    seen = set()
    for index, line in enumerate(burst):
        for point in ".,":
            for start, stop in _spans(line, shown, point, is_rounded=is_rounded):
                style = Style(point, is_padded, fills_behind=fills_behind, is_mixed=is_mixed)
                is_whole = line[start:stop].strip(" +-").isdecimal()
                end = stop + (_filling(line[stop:]) if fills_behind else 0)
                place = (style, shape(line[:start], style), shape(line[end:], style))
                if is_whole and point != ("," if has_comma else _point_beside(line, start, stop)):
                    continue
                if (index, start, end) not in seen or point == ".":
                    seen.add((index, start, end))
                    yield place, (index, start, end)


def has_decimal_comma(bodies: Sequence[Sequence[str]], shown: Sequence[Decimal]) -> bool:
    """Whether numbers that are no whole ones stand there with a comma, and none with a point.

    A whole number beside them says nothing of its sign.
    """
    pairs = [
        (burst, value)
        for burst, value in zip(bodies, shown, strict=True)
        if value != value.to_integral_value()
    ]
    stands = [
        {point for point in ",." for line in burst if next(_spans(line, value, point), None)}
        for burst, value in pairs
    ]
    return bool(pairs) and all(points == {","} for points in stands)


def _filling(behind: str) -> int:
    """The spaces behind a value that fill it up: those before a sign that parts fields, or last."""
    bare = behind.lstrip(" ")
    return len(behind) - len(bare) if not bare or bare[0] in _PARTS else 0


_PARTS = ",;|\t"


def _point_beside(line: str, start: int, stop: int) -> str:
    """The decimal sign of the other numbers of a line whose own number has none.

    A comma that stands between digits everywhere, and nowhere beside the number, parts no fields.
    """
    beside = line[max(0, start - 1) : start] + line[stop : stop + 1]
    is_decimal = all(re.fullmatch("[0-9],[0-9]", near) for near in re.findall(".?,.?", line))
    return "," if "," in line and "," not in beside and is_decimal else "."


def _spans(
    line: str, shown: Decimal, point: str, *, is_rounded: bool = False
) -> Iterator[tuple[int, int]]:
    dot = re.escape(point)
    for found in re.finditer(rf"[0-9]+(?:{dot}[0-9]+)?|(?<![0-9.]){dot}[0-9]+", line):
        start, stop = found.span()
        if has_power(line, stop):
            continue
        # A second decimal sign: no number, but a version or a date.
        if line[stop : stop + 1] == point and line[stop + 1 : stop + 2].isdecimal():
            continue
        if start and line[start - 1] == point and start > 1 and line[start - 2].isdecimal():
            continue
        value = Decimal(found[0].replace(",", "."))
        sign = line[start - 1] if start else ""
        if sign and sign in "+-":
            signed = -value if sign == "-" else value
            if signed == shown or (is_rounded and _rounds(signed, shown)):
                yield _padded(line, start - 1), stop
                continue
        if value == shown or (is_rounded and _rounds(value, shown)):
            yield _padded(line, start), stop


def _rounds(value: Decimal, shown: Decimal) -> bool:
    """Whether a number with more decimals is shown so; a half either way."""
    decimals = decimals_of((shown,))
    return decimals_of((value,)) > decimals and abs(value - shown) <= half_step(decimals)


def _between_fields(line: str, shown: Decimal) -> Iterator[tuple[int, int]]:
    """Where the very digits of a number with decimals stand, whatever commas are about it."""
    text = f"{abs(shown):f}".replace(".", ",")
    if "," not in text:
        return
    for found in re.finditer(rf"(?<![0-9])([+-]?)0*{text}(?![0-9])", line):
        if (found[1] == "-") == (shown < 0) and not has_power(line, found.end()):
            yield _padded(line, found.start()), found.end()


def _padded(line: str, start: int) -> int:
    while start and line[start - 1] == " ":
        start -= 1
    return start
