"""The pieces of a line, numbers, words, spaces and signs, and by which lines are alike. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from acquire.learn.pieces.units import TOUCHING
from acquire.learn.presses.framing import SEQUENCE

LEADER = "leader"
"""The kind of points in a row: they lead to what stands behind them, and fill it up."""
LETTERED = "lettered"
"""The kind of a decimal number that letters touch, where it may be a whole one at another press."""
_SEQUENCE = re.compile(f"({SEQUENCE})")
_LETTERED = re.compile(r"( *)([A-Za-z]*)([+-]?[0-9]+(?:[.,][0-9]+)?)([A-Za-z]*)")


class Token(NamedTuple):
    """A piece of a line: `kind` is decimal, alnum (whole numbers and words), space, or the sign.

    Or lettered, where numbers are mixed.
    """

    kind: str
    text: str


class Style(NamedTuple):
    """How numbers are written: the decimal sign, and whether spaces before one are part of it.

    `parts_fields`: the decimal sign parts the fields of a line as well, so that nothing beside the
    value is known to have decimals. `fills_behind`: spaces behind the value are part of it.
    `is_mixed`: a number beside it may have decimals at one press and none at another.
    """

    point: str
    is_padded: bool
    parts_fields: bool = False
    fills_behind: bool = False
    is_mixed: bool = False


def tokens(text: str, style: Style) -> list[Token]:
    """The pieces of a text in order; a control sequence for a terminal is one of them."""
    found = []
    for at, part in enumerate(_SEQUENCE.split(text)):
        found += [Token(part[0], part)] if at % 2 else _tokens(part, style)
    return found


def _tokens(text: str, style: Style) -> list[Token]:
    point = style.point
    # A control sign: no number has one within.
    dot = re.escape("\0" if style.parts_fields else point)
    pad = " *" if style.is_padded else ""
    lettered = rf"(?<![0-9A-Za-z.,])(?P<lettered>{_lettered(pad, dot)})|" if style.is_mixed else ""
    pattern = re.compile(
        rf"{lettered}(?<![0-9A-Za-z])(?P<number>{pad}(?:(?<![0-9A-Za-z])[+-])?"
        rf"(?:[0-9]+{dot}[0-9]+(?![0-9])|[0-9]+(?:(?![0-9A-Za-z])|(?={TOUCHING}))))"
        r"|(?P<word>[0-9A-Za-z]+)|(?P<space> +)|(?P<leader>[.]{2,})|(?P<sign>.)",
        re.DOTALL,
    )
    return [Token(_kind(found, point), found[0]) for found in pattern.finditer(text)]


def _lettered(pad: str, dot: str) -> str:
    """The pattern of a number that letters touch, but for those of a unit behind it.

    Behind letters a whole one is a word.
    """
    decimal, end = rf"[0-9]+{dot}[0-9]+", r"(?![0-9A-Za-z])"
    signed = rf"{pad}(?:(?<![0-9A-Za-z])[+-])?(?:{decimal}|[0-9]+)(?!{TOUCHING})"
    return rf"[A-Za-z]+{decimal}(?![0-9])[A-Za-z]*{end}|{signed}[A-Za-z]+{end}"


def lettered(texts: Sequence[str]) -> tuple[list[str], list[str], list[str]] | None:
    """Letters, number and letters of each text; None where not all have one and the same ones."""
    found = [_LETTERED.fullmatch(text) for text in texts]
    rows = [one.groups() for one in found if one is not None]
    if len(rows) < len(texts) or len({(row[1], row[3]) for row in rows}) > 1:
        return None
    # Spaces before digits may fill them up; letters stand where they stood.
    if rows[0][1] and len({row[0] for row in rows}) > 1:
        return None
    before = [row[0] + row[1] if row[1] else "" for row in rows]
    numbers = [row[2] if row[1] else row[0] + row[2] for row in rows]
    return before, numbers, [row[3] for row in rows]


def _kind(found: re.Match[str], point: str) -> str:
    # A field of hexadecimal digits is a number at one press and a word at the next.
    if found.lastgroup == "number":
        return "decimal" if point in found[0] else "alnum"
    if found.lastgroup == "lettered":
        return LETTERED if point in found[0] else "alnum"
    kinds_ = {"word": "alnum", "space": "space", "leader": LEADER}
    return kinds_.get(found.lastgroup or "", found[0])


def shape(text: str, style: Style) -> tuple[str, ...]:
    """What kinds of pieces a text is made of."""
    return kinds(tokens(text, style), style)


def kinds(row: Sequence[Token], style: Style) -> tuple[str, ...]:
    """The kinds of pieces by which texts are held to be built alike."""
    if not style.is_mixed:
        return tuple(token.kind for token in row)
    return tuple(map(_mixed_kind, row))


def _mixed_kind(token: Token) -> str:
    if token.kind == LETTERED:
        return "alnum"
    is_number = token.kind == "alnum" and token.text.strip(" +-").isdecimal()
    return "decimal" if is_number else token.kind
