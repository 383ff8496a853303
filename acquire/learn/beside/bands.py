"""Which band a line or a frame says of its number, where it may name several. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence

from acquire.learn.pieces.clock import clocks
from acquire.learn.pieces.column import Column, decimals_in, is_constant
from acquire.learn.pieces.counting import counting
from acquire.learn.pieces.stamps import STAMP
from acquire.schema.band import LONGEST_NM, SHORTEST_NM

LENGTHS = re.compile(
    r"(?<![0-9])(?<![0-9][.,])(?:([0-9]{3,4}) ?- ?)?([0-9]{3,4}) ?nm(?![0-9A-Za-z])"
)
"""A wavelength, or a band from one to another."""
_UNITLESS = re.compile(
    r"(?<![0-9A-Za-z.,-])([0-9]{3,4}) ?- ?([0-9]{3,4})(?! ?nm)(?![0-9A-Za-z.,-])"
    r"|(?<![0-9A-Za-z])(?i:UV-?([ABC]))(?![0-9A-Za-z])"
)
"""Two limits of which nothing says that they are nanometres, or a name of ISO 21348."""
_NAMED = {"A": (315, 400), "B": (280, 315), "C": (100, 280)}
"""Limits in nanometres (ISO 21348, from memory); a meter's own may be others about there."""
_BAND = re.compile("[0-9]{3,4}(?:nm)?")
_VALUE, _OTHER = "\x01", "\x00"
"""Stand for a number that may be a value as well, and for anything else that changes."""


def bands_in_line(
    before: Sequence[Column], value: Column, behind: Sequence[Column]
) -> tuple[str, ...]:
    """The bands in a line that may be that of its number, each as it stands there."""
    columns = [*before, value, *behind]
    moving = clocks([c.texts if c.kind != "value" else ("",) for c in columns])
    marks = []
    for place, column in enumerate(columns):
        is_value = place not in moving and _is_value(columns, place, decimals_in(value.texts))
        still = column.texts[0] if is_constant(column.texts) else _OTHER
        marks.append(_VALUE if is_value else still)
    return _bands("".join(marks[: len(before)]), "".join(marks[len(before) + 1 :]))


def bands_in_frame(fronts: Sequence[str], backs: Sequence[str]) -> tuple[str, ...]:
    """The same of the text before the digits of each frame and of that behind them."""
    return _bands(_marked(fronts), _marked(backs))


def is_band(band: str, found: Sequence[str]) -> bool:
    """Whether one that was found is the band that was said, or a wavelength within it."""
    low, _, high = band.partition("-")
    least, most = float(low), float(high or low)
    lengths = [one for one in map(LENGTHS.fullmatch, found) if one is not None]
    others = [one for one in map(_UNITLESS.fullmatch, found) if one is not None]
    names = [_NAMED[one[3].upper()] for one in others if one[3]]
    return (
        any(
            least <= float(one[2]) <= most and (not one[1] or float(one[1]) == least)
            for one in lengths
        )
        or any((least, most) == (float(one[1]), float(one[2])) for one in others if one[1])
        or any(least < above and most > below for below, above in names)
    )


def _bands(front: str, back: str) -> tuple[str, ...]:
    """The band right before the number; that right behind it where each stands behind its number.

    Both where the text does not say which way it is, and all where none stands right there.
    """
    ahead, after = _named(front.rpartition(_VALUE)[2]), _named(back.partition(_VALUE)[0])
    if not (ahead and after):
        return ahead or after or _named(f"{front}{_OTHER}{back}")
    # A value before the first band, or none behind the last one: they stand behind their values.
    first, last = _found(front)[0], _found(back)[-1]
    leads, ends = _VALUE not in front[: first.start()], _VALUE in back[last.end() :]
    if leads and ends:
        return ahead
    return (*ahead, *after) if leads or ends else after


def _named(text: str) -> tuple[str, ...]:
    return tuple(found[0] for found in _found(text))


def _found(text: str) -> list[re.Match[str]]:
    """The bands in a text, in their order."""
    bare = [one for one in _UNITLESS.finditer(text) if one[3] or _are_limits(one[1], one[2])]
    return sorted([*LENGTHS.finditer(text), *bare], key=lambda one: one.start())


def _are_limits(least: str, most: str) -> bool:
    return SHORTEST_NM <= int(least) < int(most) <= LONGEST_NM


def _is_value(columns: Sequence[Column], place: int, decimals: frozenset[int]) -> bool:
    """Whether a number there may be a value of another band: with as many decimals, and no count.

    One that stood still is one with decimals or a percent sign.
    """
    column = columns[place]
    if column.kind not in ("alnum", "decimal") or decimals_in(column.texts) != decimals:
        return False
    bare = [text.strip(" +-") for text in column.texts]
    if not all(text[:1].isdecimal() for text in bare) or any(map(_BAND.fullmatch, bare)):
        return False
    if is_constant(column.texts):
        is_share = place + 1 < len(columns) and columns[place + 1].texts[0].strip(" ")[:1] == "%"
        return column.kind == "decimal" or is_share
    return column.kind != STAMP and counting(bare) is None


_DIGITS = re.compile(f"[0-9., ]*{_VALUE}[0-9.,{_VALUE} ]*")


def _marked(texts: Sequence[str]) -> str:
    """What never changed in texts, with a mark for each run of digits that did, and for others."""
    signs = "".join(
        seen[0] if is_constant(seen) else _VALUE if set("".join(seen)) <= _NUMBER else _OTHER
        for seen in zip(*texts, strict=False)
    )
    return _DIGITS.sub(_VALUE, signs)


_NUMBER = frozenset("0123456789., +-")
