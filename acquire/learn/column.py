"""What stands at one place of every line, and the pattern for what may stand there. Pure.

Constant text stays constant: another word there may say that the value means something else. Words
that change may be only those that were seen, and so may numbers of which there were few: they may
say how the press went. Other numbers that change may be any.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

MOST_WORDS = 4


class Token(NamedTuple):
    """A piece of a line: `kind` is decimal, alnum (whole numbers and words), space, or the sign."""

    kind: str
    text: str


class Style(NamedTuple):
    """How numbers are written: the decimal sign, and whether spaces before one are part of it."""

    point: str
    is_padded: bool


@dataclass(frozen=True, slots=True)
class Column:
    """What stands at one place of a line, press by press."""

    kind: str
    texts: tuple[str, ...]


def tokens(text: str, style: Style) -> list[Token]:
    """The pieces of a text in order."""
    point = style.point
    dot = re.escape(point)
    pad = " *" if style.is_padded else ""
    pattern = re.compile(
        rf"(?<![0-9A-Za-z])(?P<number>{pad}(?:(?<![0-9A-Za-z])[+-])?[0-9]+(?:{dot}[0-9]+)?)(?![0-9A-Za-z])"
        r"|(?P<word>[0-9A-Za-z]+)|(?P<space> +)|(?P<sign>.)",
        re.DOTALL,
    )
    return [Token(_kind(found, point), found[0]) for found in pattern.finditer(text)]


def _kind(found: re.Match[str], point: str) -> str:
    # A field of hexadecimal digits is a number at one press and a word at the next.
    if found.lastgroup == "number":
        return "decimal" if point in found[0] else "alnum"
    return {"word": "alnum", "space": "space"}.get(found.lastgroup or "", found[0])


def shape(text: str, style: Style) -> tuple[str, ...]:
    """What kinds of pieces a text is made of."""
    return tuple(token.kind for token in tokens(text, style))


def is_constant(column: Sequence[str]) -> bool:
    return len(set(column)) == 1


def is_count(column: Sequence[str], presses: int = 3) -> bool:
    """Whether it goes up by one from press to press, over so many presses at least."""
    texts = [text.strip(" ") for text in column]
    if len(texts) < presses or not all(
        t.isascii() and t.isdecimal() and len(t) <= 9 for t in texts
    ):
        return False
    return all(int(b) - int(a) == 1 for a, b in pairwise(texts))


def clocks(columns: Sequence[Sequence[str]]) -> set[int]:
    """The places of the numbers of a time of day or a date: they change, if only tomorrow."""
    found: set[int] = set()
    for place in range(len(columns) - 2):
        for size in (5, 3):
            run = columns[place : place + size]
            if len(run) == size and _is_clock(run) and place not in found:
                found |= set(range(place, place + size, 2))
    return found


def _is_clock(run: Sequence[Sequence[str]]) -> bool:
    signs = {text for column in run[1::2] for text in column}
    parts = [[text.strip(" ") for text in column] for column in run[::2]]
    if len(signs) > 1 or not all(t.isascii() and t.isdecimal() for part in parts for t in part):
        return False
    widths = [{len(text) for text in part} for part in parts]
    if signs == {":"}:
        fits = all(
            int(text) < limit
            for part, limit in zip(parts, (24, 60, 60), strict=False)
            for text in part
        )
        return fits and all(width == {2} for width in widths[1:])
    if signs not in ({"-"}, {"/"}) or len(parts) < 3:
        return False
    months = [part for part in parts if all(1 <= int(text) <= 12 for text in part)]
    days = [part for part in parts if all(1 <= int(text) <= 31 for text in part)]
    return len(days) >= 2 and bool(months) and max(map(max, widths)) in (2, 4)


def literal(text: str) -> str:
    """The pattern for exactly this text."""
    return "".join(_character(sign) for sign in text)


def number_pattern(column: Sequence[str], point: str) -> str:
    """The pattern for numbers like these: as many decimals as were seen, any digits before."""
    decimals = {len(text.partition(point)[2]) if point in text else 0 for text in column}
    pad = " *" if any(text.startswith(" ") for text in column) else ""
    signed = "[+-]?"
    dot = re.escape(point)
    if len(decimals) == 1:
        (few,) = decimals
        tail = "" if not few else (rf"{dot}\d" if few == 1 else rf"{dot}\d{{{few}}}")
        before = (
            r"\d{0,8}"
            if any(text.strip(" +-").startswith(point) for text in column)
            else r"\d{1,8}"
        )
        return f"{pad}{signed}{before}{tail}"
    return rf"{pad}{signed}\d{{1,8}}(?:{dot}\d{{1,8}})?"


def whole_pattern(column: Sequence[str], sign: str = "") -> str:
    """The pattern for whole numbers, such as a count; `sign` is that for what may stand before."""
    widths = {len(text) for text in column}
    pad = " *" if any(text.startswith(" ") for text in column) else ""
    texts = [text.strip(" ") for text in column]
    is_filled = len(texts[0]) > 1 and texts[0][0] == "0"
    if len(widths) == 1 and not pad and (is_filled or len(texts[0]) > 4):
        return rf"\d{{{len(texts[0])}}}"
    return rf"{pad}{sign}\d{{1,9}}"


def pattern(column: Sequence[str], kind: str, point: str) -> str | None:
    """What may stand here; None if that cannot be said."""
    if is_constant(column):
        return literal(column[0])
    if kind == "decimal":
        return number_pattern(column, point)
    if kind == "space":
        return " +"
    if kind != "alnum":
        return None
    if (few := _few(column)) is not None:
        return few
    if all(text.strip(" ").isdecimal() for text in column):
        if {len(text) for text in column} == {2} and "".join(column).isdecimal():
            # A number, or a byte in hexadecimal digits that has shown no letter yet.
            return "-?[0-9A-F]{1,4}"
        return whole_pattern(column, sign="-?")
    if all(text.strip(" +-").isdecimal() for text in column):
        return number_pattern(column, point)
    return _word(column) if all(text.isalnum() for text in column) else None


def _word(column: Sequence[str]) -> str | None:
    widths = {len(text) for text in column}
    is_hex = all(re.fullmatch("[0-9A-F]+", t) for t in column) or all(
        re.fullmatch("[0-9a-f]+", t) for t in column
    )
    if is_hex and len(widths) == 1 and any(c.isdecimal() for c in "".join(column)):
        letters = "A-F" if "".join(column).upper() == "".join(column) else "a-f"
        return f"[0-9{letters}]{{{widths.pop()}}}"
    runs = [re.findall("[0-9]+|[A-Za-z]+", text) for text in column]
    if len({tuple(run.isdecimal() for run in row) for row in runs}) == 1:
        parts = []
        for run in zip(*runs, strict=True):
            if is_constant(run):
                parts.append(literal(run[0]))
            elif (few := _few(run)) is not None:
                parts.append(few)
            elif run[0].isdecimal():
                same = len({len(text) for text in run}) == 1
                parts.append(rf"\d{{{len(run[0])}}}" if same else r"\d{1,9}")
            else:
                return None
        return "".join(parts)
    return None


def _few(column: Sequence[str]) -> str | None:
    """Only what was seen, where some of it came again; None where nothing did.

    Single digits have to be those that were seen even so: they are more likely to say how the press
    went than to be a number. (Those that count are found before, by `acquire.learn.counting`.)
    """
    words = list(dict.fromkeys(column))
    if len(words) > MOST_WORDS:
        return None
    are_digits = all(len(text) == 1 and text.isdecimal() for text in words)
    if len(words) == len(column) and not are_digits:
        return None
    return f"(?:{'|'.join(map(literal, words))})"


def _character(sign: str) -> str:
    if sign.isascii() and sign.isalnum():
        return sign
    if sign == "'" or not sign.isprintable():
        return rf"\x{ord(sign):02x}"
    if sign in ' ,;:=/%<>!"@_`~&#' or not sign.isascii():
        return sign
    return "\\" + sign
