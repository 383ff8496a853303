"""Which numbers of a line are a time of day or a date: they change, if only tomorrow. Pure.

What is freed as a time is read whatever it says, so it has to be one beyond doubt: a status or a
geometry between the same signs looks like one. A time goes up from press to press; a date says its
year in four digits, or stands beside a time. Between signs that part all fields of the line, three
numbers could be a status, a count and a measured one as well: more presses tell.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

_YEARS = range(1970, 2100)
_IN_RUN = 5
"""Presses after which a time between signs that part all fields is one beyond doubt."""
_LEAST_PRESSES = 3


def clocks(columns: Sequence[Sequence[str]]) -> set[int]:
    """The places of the numbers of times and dates that are beyond doubt."""
    found: set[int] = set()
    dates: list[tuple[int, ...]] = []
    for place in range(len(columns)):
        for size in (5, 3):
            run = columns[place : place + size]
            own = tuple(range(place, place + size, 2))
            if len(run) < size or found.intersection(own):
                continue
            if _goes_on(columns, place, size):
                if _is_time_in_run(run) and len(run[0]) >= _IN_RUN:
                    found |= set(own)
                continue
            sign = _sign(run)
            if sign == ":":
                found |= {own[one] for one in _moving(run)}
            elif sign in ("-", "/") and _is_date(run):
                if _has_year(run):
                    found |= set(own)
                else:
                    dates.append(own)
    for own in dates:
        # Two digits each may be anything, but for a time next to them.
        if any(abs(own[-1] - one) <= _NEAR or abs(own[0] - one) <= _NEAR for one in found):
            found |= set(own)
    return found


_NEAR = 2


def is_clock_open(columns: Sequence[Sequence[str]]) -> bool:
    """Whether numbers may be a time, and more presses would tell."""
    runs = [(place, columns[place : place + 5]) for place in range(len(columns) - 4)]
    return any(
        _LEAST_PRESSES <= len(run[0]) < _IN_RUN
        for place, run in runs
        if _goes_on(columns, place, 5) and _is_time_in_run(run)
    )


def _is_time_in_run(run: Sequence[Sequence[str]]) -> bool:
    """Whether three numbers of two digits go up as a time does, their hour once at most."""
    if len(run) < 5 or _sign(run) != ":" or {len(text) for text in run[0]} != {2}:
        return False
    hours = run[0]
    is_code = set(hours) == {"00"}
    return not is_code and len(_moving(run)) == 3 and sum(a != b for a, b in pairwise(hours)) <= 1


def _goes_on(columns: Sequence[Sequence[str]], place: int, size: int) -> bool:
    """Whether the sign between the numbers stands before or behind them as well."""
    signs = set(columns[place + 1])
    before = set(columns[place - 1]) if place else set()
    behind = set(columns[place + size]) if place + size < len(columns) else set()
    return bool(signs & (before | behind))


def _sign(run: Sequence[Sequence[str]]) -> str:
    """The one sign between the numbers; empty where these are no numbers between one sign."""
    signs = {text for column in run[1::2] for text in column}
    texts = [text.strip(" ") for column in run[::2] for text in column]
    is_run = len(signs) == 1 and all(text.isascii() and text.isdecimal() for text in texts)
    return signs.pop() if is_run else ""


def _moving(run: Sequence[Sequence[str]]) -> list[int]:
    """Which of the numbers of a time will go on; none where it is no time for certain.

    A lesson rarely goes past an hour. Three numbers that went up with every press, by more than
    ones, are a time with its hours; of two only what was seen to change moves.
    """
    parts = [[text.strip(" ") for text in column] for column in run[::2]]
    limits = (24, 60, 60)
    if any({len(text) for text in part} != {2} for part in parts[1:]):
        return []
    if {len(text) for text in parts[0]} - {1, 2}:
        return []
    times = [tuple(map(int, one)) for one in zip(*parts, strict=True)]
    if any(n >= limit for one in times for n, limit in zip(one, limits, strict=False)):
        return []
    if len(times) < 2 or any(b < a for a, b in pairwise(times)):
        return []
    if len(parts) == 3:
        seconds = [3600 * h + 60 * m + s for h, m, s in times]
        steps = [b - a for a, b in pairwise(seconds)]
        return [0, 1, 2] if min(steps) > 0 and max(steps) > 1 else []
    return [place for place, part in enumerate(parts) if len(set(part)) > 1]


def _is_date(run: Sequence[Sequence[str]]) -> bool:
    parts = [[text.strip(" ") for text in column] for column in run[::2]]
    if len(parts) < 3:
        return False
    months = [part for part in parts if all(1 <= int(text) <= 12 for text in part)]
    days = [part for part in parts if all(1 <= int(text) <= 31 for text in part)]
    widths = {len(text) for part in parts for text in part}
    return len(days) >= 2 and bool(months) and max(widths) in (2, 4)


def _has_year(run: Sequence[Sequence[str]]) -> bool:
    texts = [text.strip(" ") for column in run[::2] for text in column]
    return any(len(text) == 4 and int(text) in _YEARS for text in texts)
