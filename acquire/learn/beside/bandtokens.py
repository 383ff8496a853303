"""The place of a line that says of which band its number is, another one at another press. Pure.

A head sends one band after another, and each line says which: by a number of nanometres, by two
limits, or in a word. A word, and a number of which nothing says that it is one of nanometres, means
a band by a person's word alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from acquire.learn.pieces.clock import clocks
from acquire.learn.pieces.column import MOST_WORDS, Column, is_constant, literal
from acquire.learn.pieces.counting import counting
from acquire.learn.presses.press import About
from acquire.schema.band import band

BAND = "band"
"""The kind of a column that says it."""
NAMES = "UV(?:[- ]?[ABC])?|VIS|N?IR"
"""Names of bands (UV-A to UV-C: ISO 21348, from memory; others: common practice, no source)."""
_LIMITS = "([0-9]{3,4}) ?- ?([0-9]{3,4})(?: ?nm)?"
_TOKEN = re.compile(f" *(?P<mark>[A-Za-z]?)(?P<token>{_LIMITS}|[0-9]{{3,4}}(?: ?nm)?)")
_NAME = re.compile(f" *(?P<mark>[A-Za-z]??)(?P<token>(?i:{NAMES}))")
_MOST_COLUMNS = 7
_NUMBERS = ("alnum", "decimal")
_OF_TIME = frozenset("Tt")
"""Digits alone behind it are a temperature or a time (common practice, no source)."""


class Banded(NamedTuple):
    """The columns of a line, with one in the place of those that say its band, and the `tokens`
    that were seen there; none where no place does. `others` are those of several such places.
    """

    columns: list[Column]
    tokens: tuple[str, ...] = ()
    others: tuple[str, ...] = ()


def banded(columns: Sequence[Column]) -> Banded:
    """The columns with the only place whose texts are bands, of which presses had several."""
    found = list(_found(columns))
    if len(found) != 1:
        return Banded(list(columns), others=tuple(one for *_, tokens in found for one in tokens))
    ((place, size, column, tokens),) = found
    return Banded([*columns[:place], column, *columns[place + size :]], tokens)


def _found(columns: Sequence[Column]) -> Iterator[tuple[int, int, Column, tuple[str, ...]]]:
    """Each such place, how many columns it has, the column in their place and what it says."""
    times = clocks([c.texts if c.kind != "value" else ("",) for c in columns])
    place = 0
    while place < len(columns):
        most = 0 if columns[place].kind == "space" else min(_MOST_COLUMNS, len(columns) - place)
        for size in range(most, 0, -1):
            here = columns[place : place + size]
            if any(c.kind == "value" for c in here) or times & {*range(place, place + size)}:
                continue
            texts = tuple("".join(row) for row in zip(*(c.texts for c in here), strict=True))
            tokens = band_tokens(texts)
            if tokens and (_say_so(tokens) or _is_near(columns, place, size, texts)):
                yield place, size, _column(texts, tokens), tokens
                place += size - 1
                break
        place += 1


def band_tokens(texts: Sequence[str]) -> tuple[str, ...]:
    """The bands that these texts say; none where not all do, or all say the same."""
    found = [_NAME.fullmatch(text) or _TOKEN.fullmatch(text) for text in texts]
    each = [one for one in found if one is not None]
    if is_constant(texts) or len(each) < len(texts) or len({one["mark"] for one in each}) > 1:
        return ()
    tokens = tuple(dict.fromkeys(one["token"] for one in each))
    if any(token.isdecimal() for token in tokens) and (
        len(tokens) > MOST_WORDS or each[0]["mark"] in _OF_TIME
    ):
        return ()
    are_numbers = [token for token in tokens if token[0].isdecimal()]
    return tokens if len(tokens) > 1 and all(map(_banded, are_numbers)) else ()


def _banded(token: str) -> str | None:
    """The band that digits are; None for what is none."""
    try:
        return band(token.removesuffix("nm").replace(" ", ""))
    except ValueError:
        return None


def channel_of(token: str, said: Sequence[tuple[str, str]]) -> str | None:
    """The band that a token means, by itself or as a person `said`; None where nobody knows."""
    told = dict(said).get(token)
    if told is not None or not token[0].isdecimal() or token.isdecimal():
        return told
    return _banded(token)


def unknown_band(tokens: Sequence[str], about: About) -> str:
    """The first of these of which nobody knows which band it is; empty where there is none."""
    if about.channel_key != "band":
        return ""
    return next((one for one in tokens if channel_of(one, about.bands) is None), "")


def _say_so(tokens: Sequence[str]) -> bool:
    """Whether these are bands and nothing else: more than digits alone."""
    return not any(token.isdecimal() for token in tokens)


def _is_near(columns: Sequence[Column], place: int, size: int, texts: Sequence[str]) -> bool:
    """Whether digits alone stand at the value, and count nothing."""
    at = next(at for at, column in enumerate(columns) if column.kind == "value")
    between = columns[place + size : at] if place < at else columns[at + 1 : place]
    is_beside = not any(c.kind in _NUMBERS and re.search("[0-9]", c.texts[0]) for c in between)
    return is_beside and counting([text.strip(" ") for text in texts]) is None


def _column(texts: tuple[str, ...], tokens: Sequence[str]) -> Column:
    pad = " *" if any(text.startswith(" ") for text in texts) else ""
    mark = _match(texts[0])["mark"]
    words = "|".join(map(literal, sorted(tokens, key=len, reverse=True)))
    return Column(BAND, texts, f"{pad}{literal(mark)}(?P<band>{words})")


def _match(text: str) -> re.Match[str]:
    found = _NAME.fullmatch(text) or _TOKEN.fullmatch(text)
    assert found is not None
    return found
