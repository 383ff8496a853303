"""Columns of a line that are plainly another measurement: a temperature, a charge. Pure.

Their digits may move. Other whole numbers of which few were seen are held to those: they may say
how the press went. A code is not written with a unit behind it or such a label before it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from acquire.learn.pieces.column import Column, is_constant, literal, whole_pattern
from acquire.learn.pieces.pieces import LEADER
from acquire.learn.pieces.units import TOUCHING
from acquire.model import Quantity

_MOST = {"%": 100, "%RH": 100, "rh": 100, "V": 60, "C": 60, "degC": 60, "F": 140, "degF": 140}
"""What is written behind such a number, and the largest one (common practice, no source)."""
_APART = frozenset(("%", "%RH", "rh", "degC", "degF"))
_DEGREES = ("\xb0", "\xc2\xb0")
_LABELS = frozenset(("T", "TEMP", "BAT", "BATT", "RH", "HUM"))
_PARTS = frozenset((" ", ":", "="))
_SLOW = 2
"""So far such a number moves from press to press."""
_LABELLED_MOST = 100


def is_label(word: str) -> bool:
    """Whether a word is such a label."""
    return word.upper() in _LABELS


def is_unit_behind(word: str) -> bool:
    """Whether letters that touch a number are the unit of a charge or a temperature."""
    return word in _MOST


def gauge(columns: Sequence[Column], place: int, kind: Quantity) -> str | None:
    """The pattern of such a column; None for any other one."""
    column = columns[place]
    if column.kind == "decimal" and is_constant(column.texts):
        return _decimals(columns, place, kind)
    if column.kind != "alnum" or is_constant(column.texts):
        return None
    if _touches_unit(columns, place):
        return whole_pattern(column.texts, "-?")
    found = [re.fullmatch(r" *([A-Za-z]*)([1-9][0-9]{0,2})([A-Za-z]*)", t) for t in column.texts]
    numbers = [int(one[2]) for one in found if one is not None]
    glued = {(one[1], one[3]) for one in found if one is not None}
    if len(numbers) < len(found) or len(glued) > 1:
        return None
    ((label, unit),) = glued
    if label:
        most = _MOST.get(unit) if unit else _LABELLED_MOST
        most = most if is_label(label) else None
    else:
        most = _most(columns, place, unit, kind)
    if most is None or max(numbers) > most:
        return None
    if any(abs(b - a) > _SLOW for a, b in pairwise(numbers)):
        return None
    pad = " *" if any(text.startswith(" ") for text in column.texts) else ""
    return rf"{pad}{literal(label)}\d{{1,{len(str(most))}}}{literal(unit)}"


def _touches_unit(columns: Sequence[Column], place: int) -> bool:
    """Whether a unit of a meter stands right behind whole numbers: before one it may be its own."""
    behind = columns[place + 1].texts if place + 1 < len(columns) else ("",)
    are_whole = all(text.strip(" ").isdecimal() for text in columns[place].texts)
    return are_whole and is_constant(behind) and re.fullmatch(TOUCHING, behind[0]) is not None


def _decimals(columns: Sequence[Column], place: int, kind: Quantity) -> str | None:
    """The pattern of decimals that stood still, and that a unit behind or a label tells."""
    text = columns[place].texts[0]
    found = re.fullmatch(r" *[1-9][0-9]{0,2}([.,])([0-9]+)", text)
    unit = _constant(columns, place + 1)
    if found is None or (most := _most(columns, place, "", kind)) is None:
        return None
    if float(text.replace(",", ".")) > most or unit not in _MOST:
        return None
    pad = " *" if text.startswith(" ") else ""
    return rf"{pad}\d{{1,{len(str(most))}}}{literal(found[1])}\d{{{len(found[2])}}}"


def _most(columns: Sequence[Column], place: int, unit: str, kind: Quantity) -> int | None:
    """The largest number by the unit behind a column, or by the label before it."""
    if unit:
        return _MOST.get(unit)
    behind = _constant(columns, place + 1)
    if behind in _MOST and not (behind == "%" and kind is Quantity.TRANSMITTANCE):
        return _MOST[behind]
    return _LABELLED_MOST if _is_labelled(columns, place) else None


def is_measured(columns: Sequence[Column], place: int) -> bool:
    """Whether a unit behind a column or a label before it says that it is one number."""
    is_known = _constant(columns, place + 1) in _MOST or _is_labelled(columns, place)
    return is_known or _has_unit_apart(columns, place)


def is_touched(columns: Sequence[Column], place: int, kind: Quantity) -> bool:
    """Whether letters that touch a column say so: T24, 23C. With a single digit they are a code."""
    digits = [re.findall("[0-9]+", text) for text in columns[place].texts]
    are_long = all(len(found) == 1 and len(found[0]) > 1 for found in digits)
    return are_long and gauge(columns, place, kind) is not None


def _has_unit_apart(columns: Sequence[Column], place: int) -> bool:
    """Whether the unit of a temperature or a share stands apart: no letter that may be a status.

    A C alone is one behind a number with one decimal.
    """
    at = place + (2 if _constant(columns, place + 1) == " " else 1)
    word = _constant(columns, at)
    if word in _DEGREES:
        return _constant(columns, at + 1) in ("C", "F")
    texts = columns[place].texts
    is_fine = all(re.fullmatch(r" *[+-]?[0-9]{1,2}[.,][0-9]", text) for text in texts)
    return word in _APART or (word == "C" and is_fine)


def _is_labelled(columns: Sequence[Column], place: int) -> bool:
    before = _constant(columns, place - 1)
    if before in _PARTS or (place and columns[place - 1].kind == LEADER):
        before = _constant(columns, place - 2)
    return is_label(before)


def _constant(columns: Sequence[Column], place: int) -> str:
    if not 0 <= place < len(columns) or not is_constant(columns[place].texts):
        return ""
    text = columns[place].texts[0]
    return text.strip(" ") or text[:1]
