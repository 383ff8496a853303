"""How dates and times of day are written: their shapes, what they say, and their patterns. Pure.

The names of months are the English ones, whole or cut to three letters.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from acquire.learn.pieces.column import literal

_YEARS = range(1990, 2100)
_ORDERS = ("dmy", "mdy", "ymd")
_MONTHS = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip

_TIME = (
    r"(?P<H>\d\d?)(?P<c>[:.])(?P<N>\d\d)(?:(?P=c)(?P<S>\d\d)(?P<f>[.,]\d{1,6})?)?"
    r"(?P<p> ?[AaPp][Mm])?(?P<z>Z|[+-]\d\d:?\d\d)?"
)
_PACKED_TIME = r"(?P<H>\d\d)(?P<N>\d\d)(?P<S>\d\d)(?P<z>Z)?"
_PACKED_DATE = r"(?P<y>\d{4})(?P<m>\d\d)(?P<d>\d\d)"
_DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_WEEKDAY = (
    "(?P<w>(?i:(?:mon|tue|wed|thu|fri|sat|sun)"
    "|(?:mon|tues|wednes|thurs|fri|satur|sun)day)(?![A-Za-z]))(?:[.,;/-] ?|[ \\t])"
)
_DATES = (
    r"(?P<y>\d{4})(?P<s>[-/.])(?P<m>\d\d?)(?P=s)(?P<d>\d\d?)",
    r"(?P<a>\d\d?)(?P<s>[-/.])(?P<b> ?\d\d?)(?P=s)(?P<y>\d{4})",
    r"(?P<a>\d\d?)(?P<s>[-/.])(?P<b> ?\d\d?)(?P=s)(?P<e>\d\d)",
    r"(?P<d>\d\d?)(?P<s>[-/. ]?)(?P<M>[A-Za-z]{3,9})(?P=s)(?P<y>\d{4}|\d\d)",
    r"(?P<M>[A-Za-z]{3,9}) (?P<d> ?\d\d?),? (?P<y>\d{4})",
)
_FIRST = re.compile("[(][?]P<[ad]>")


def _filled(day: str) -> str:
    """The same, with a space that may fill up the day where it comes first."""
    return _FIRST.sub(r"\g<0> ?", day, count=1)


_DATED = (*(f"{_WEEKDAY}{_filled(day)}" for day in _DATES), *_DATES)
"""The same, some behind the day of the week."""
_LATER = _TIME.replace("(?P<H>", "(?P<H> ?", 1)
"""A time behind something, where a space may fill up its hour."""
_BETWEEN = r"(?:T|[ ,;_|/\t-]| {2,3}|[,;] )"
SHAPES = tuple(
    re.compile(shape, re.ASCII)
    for shape in (
        *(f"{day}{_BETWEEN}{_LATER}" for day in _DATED),
        *(f"{_TIME}{_BETWEEN}{day}" for day in _DATED),
        *(f"{day} {_WEEKDAY}{_LATER}" for day in _DATES),
        rf"{_WEEKDAY}(?P<M>[A-Za-z]{{3}}) (?P<d> ?\d\d?) {_LATER} (?P<y>\d{{4}})",
        rf"{_PACKED_DATE}[T _,;-]?{_PACKED_TIME}",
        rf"{_PACKED_DATE}{_BETWEEN}{_TIME}",
        r"(?P<e>\d\d)(?P<m>\d\d)(?P<d>\d\d)[T _,;-]?" + _PACKED_TIME,
        _PACKED_DATE + r"T?(?P<H>\d\d)(?P<N>\d\d)(?P<z>Z)?",
        r"(?P<e>\d\d)(?P<m>\d\d)(?P<d>\d\d)(?P<H>\d\d)(?P<N>\d\d)",
        *_DATED,
        _WEEKDAY + _LATER,
        _PACKED_DATE,
        _TIME,
        _PACKED_TIME,
    )
)
_WEEKDAYS = "[MTWFS][aehoru][deintu]"
"""The first letters of the days of the week, by place."""
MAY_BE_FILLED = (r"\d{1,2}", r" ?\d{1,2}")
"""Days and hours of which nobody knows what stands before one digit; a space may."""
_TITLE = "[ADFJMNOS][aceopu][bcglnprtvy]"
"""The first letters of the months, by place."""


@dataclass(frozen=True, slots=True)
class Written:
    """Columns that have one shape at every press, with the spaces before."""

    size: int
    spaces: tuple[str, ...]
    parts: tuple[re.Match[str], ...]


def signs(part: re.Match[str]) -> set[str]:
    named = part.groupdict()
    return {sign for sign in (named.get("c"), named.get("s")) if sign not in (None, "", " ")}


def are_alike(parts: Sequence[re.Match[str]]) -> bool:
    """Whether what stands between the digits is the same everywhere."""
    return len({_skeleton(part) for part in parts}) == 1


def _skeleton(part: re.Match[str]) -> tuple[str, ...]:
    pieces, place = [], 0
    for name, start, stop in _groups(part):
        pieces += [part.string[place:start], name]
        place = stop
    return (*pieces, part.string[place:])


def _groups(part: re.Match[str]) -> list[tuple[str, int, int]]:
    """The parts that may move, in the order of the text."""
    spans = [(name, *part.span(name)) for name in part.re.groupindex if name not in "cs"]
    return sorted((one for one in spans if one[1] >= 0), key=lambda one: one[1])


def seconds_of(part: re.Match[str]) -> float | None:
    """The second of its day; None of a date alone, below zero where it is no time."""
    named = part.groupdict()
    if named.get("H") is None:
        return None
    hour, minute, second = int(named["H"]), int(named["N"]), int(named.get("S") or 0)
    half = (named.get("p") or "").strip().lower()
    if minute > 59 or second > 59 or hour > 23 or (half and not 1 <= hour <= 12):
        return -1
    if half:
        hour = hour % 12 + (12 if half == "pm" else 0)
    return 3600 * hour + 60 * minute + second + float("0." + (named.get("f") or ".0")[1:])


def orders_of(parts: Sequence[re.Match[str]]) -> list[str]:
    """The orders of day, month and year in which all are dates."""
    return [order for order in _ORDERS if all(day_of(part, order) is not None for part in parts)]


def day_of(part: re.Match[str], order: str) -> date | None:
    """The date that it is in this order; None if it is none."""
    named = {name: text for name, text in part.groupdict().items() if text is not None}
    if "M" in named:
        name = named["M"].lower()
        month = next((n for n, full in enumerate(_MONTHS, 1) if name in (full, full[:3])), 0)
        day, year = named["d"], named["y"]
    elif "a" in named:
        if ("y" in named) and order == "ymd":
            return None
        digits = dict(zip(order, (named["a"], named["b"], named.get("e", "")), strict=True))
        if "y" in named:
            digits["y"] = named["y"]
        day, year, month = digits["d"], digits["y"], int(digits["m"])
        if not (day and year):
            return None
    else:
        if order != "ymd":
            return None
        day, month, year = named["d"], int(named["m"]), named.get("y") or named["e"]
    full_year = int(year) + (2000 if len(year) == 2 else 0)
    if full_year not in _YEARS or len(day) > 2:
        return None
    try:
        found = date(full_year, month, int(day))
    except ValueError:
        return None
    name = named.get("w", "").lower()[:3]
    return found if name in ("", _DAYS[found.weekday()]) else None


def pattern_of(one: Written, orders: Sequence[str]) -> str:
    """Closed ranges of digits for what moves, and all else as it was."""
    parts = one.parts
    first = parts[0]
    texts = {name: [part[name] for part in parts] for name, _, _ in _groups(first)}
    is_packed = not first[0].strip("0123456789TZ_")
    # A zero before one digit says that all are filled up; else nobody knows.
    is_filled = any(text[0] == "0" for n in "Hdmab" for text in texts.get(n, ())) or is_packed
    leading = [part[0] for part in parts]
    pieces, place = [_spaces(one.spaces, is_short=all(t[1:2] in ":./ -" for t in leading))], 0
    for name, start, stop in _groups(first):
        pieces.append(literal(first.string[place:start]))
        pieces.append(
            _part(name, texts[name], orders, is_filled=is_filled, is_packed=is_packed, named=texts)
        )
        place = stop
    return "".join([*pieces, literal(first.string[place:])])


def _spaces(spaces: Sequence[str], *, is_short: bool) -> str:
    """What stands before; where one digit is first, `is_short`, two have a space less."""
    if len(set(spaces)) == 1:
        size = len(spaces[0])
        return rf" {{{size - 1},{size}}}" if is_short and size else literal(spaces[0])
    return " +" if all(spaces) else " *"


def _part(
    name: str, texts: Sequence[str], orders: Sequence[str], *, is_filled: bool, is_packed: bool,
    named: dict[str, list[str]],
) -> str:  # fmt: skip
    text = texts[0]
    if name in ("N", "S"):
        return r"[0-5]\d"
    if name == "f":
        sizes = {len(one) - 1 for one in texts}
        few = f"{sizes.pop()}" if len(sizes) == 1 else "1,6"
        return rf"{literal(text[0])}\d{{{few}}}"
    if name == "M":
        return _month(texts)
    if name == "w":
        return _weekday(texts)
    if name == "p":
        space = " " if text[0] == " " else ""
        return space + ("[AP]" if text.strip().isupper() else "[ap]") + text[-1]
    if name == "z":
        return "Z" if text == "Z" else r"[+-]\d\d:\d\d" if ":" in text else r"[+-]\d{4}"
    if name == "y":
        return r"20\d\d" if len(text) == 4 and text[:2] == "20" else rf"\d{{{len(text)}}}"
    says = {"d": "d", "m": "m", "H": "H", "e": "y"}.get(name, "")
    kinds = {says} if says else {order["ab".index(name)] for order in orders}
    if name == "e" and orders and "a" in named:
        kinds = {order[2] for order in orders}
    if any(" " in one for one in texts):
        return r" ?\d{1,2}"
    if {len(one) for one in texts} != {2} or (not is_filled and "y" not in kinds):
        # A space fills up one digit where nobody has seen one.
        return r"\d{1,2}" if min(map(len, texts)) == 1 else r" ?\d{1,2}"
    if "y" in kinds:
        return r"\d\d"
    # Some fill up a part of it with a space and another one with a zero.
    space = "" if is_packed or any(one[0] == "0" for one in texts) else " "
    if "H" in kinds:
        return rf"[{space}01]\d" if "p" in named else rf"[{space}0-2]\d"
    return rf"[{space}0-3]\d" if "d" in kinds else rf"[{space}01]\d"


def _weekday(texts: Sequence[str]) -> str:
    """Three letters of a day of the week, or its whole name."""
    if any(len(text) != 3 for text in texts):
        return "[MTWFS][A-Z]{2,5}DAY" if texts[0].isupper() else "[MTWFSmtwfs][a-z]{2,5}day"
    if texts[0].isupper():
        return _WEEKDAYS.upper()
    return _WEEKDAYS if texts[0][0].isupper() else _WEEKDAYS.lower()


def _month(texts: Sequence[str]) -> str:
    """The first letters of a month, or a whole name."""
    if any(len(text) != 3 for text in texts) or {text.lower() for text in texts} == {"may"}:
        return "[A-Za-z]{3,9}"
    if texts[0].isupper():
        return _TITLE.upper()
    return _TITLE if texts[0][0].isupper() else _TITLE.lower()
