"""Dates and times of day in the lines of presses: they change, if only tomorrow. Pure.

A date or a time that is written into a pattern as it was makes noise of every press once it has
moved on. One is taken as such by its shape where nothing else is written so (a year in four digits,
a month by its name, a date beside a time); a time alone where it goes on from press to press or is
what the host's own clock said; a date of two digits each, or digits without a sign between, only
where the host's clock says the same. What only looks so is held as it was, and told.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from itertools import pairwise

from acquire.learn.pieces.column import Column
from acquire.learn.pieces.doubts import Doubt
from acquire.learn.pieces.stampform import (
    SHAPES,
    Written,
    are_alike,
    day_of,
    orders_of,
    pattern_of,
    seconds_of,
    signs,
)

STAMP = "stamp"
"""The kind of a column that is one."""

Heard = Sequence[datetime | None]
"""When each press came by the host's clock, with its zone; None where nobody knows."""

_MOST_COLUMNS = 18
_MILLI = 3
_TOLERANCE_S = 600
"""Clocks of meters are set by hand."""
_NEAR_S = 150
_SLACK_S = 5
_DAY_S = 86_400
_LESSON_S = 7_200
_APART_S = 300
_PROVEN_MINUTES = 3
"""Different minutes that go up beyond doubt where only hours and minutes are sent."""


@dataclass(frozen=True, slots=True)
class Stamps:
    """The columns with each date or time as one, and those that only look so.

    `doubt` is that of digits that are a time or none; `is_open`: more presses would tell;
    `likely` are dates and times that are held as they were.
    """

    columns: list[Column]
    doubt: Doubt | None = None
    is_open: bool = False
    likely: tuple[str, ...] = ()


def stamped(columns: Sequence[Column], heard: Heard = ()) -> Stamps:
    """The columns of a line, with the dates and times in it put together."""
    found: list[Column] = []
    doubt: Doubt | None = None
    is_open = False
    likely: tuple[str, ...] = ()
    place = 0
    while place < len(columns):
        size, pattern = 1, ""
        for one in _candidates(columns, place):
            how = _judged(one, heard)
            if how.is_one:
                size, pattern = one.size, how.pattern
                break
            doubt = doubt or how.doubt
            is_open |= how.is_open
            likely += how.likely
        if pattern:
            texts = tuple("".join(row) for row in _rows(columns[place : place + size]))
            found.append(Column(STAMP, texts, pattern))
        else:
            found.append(columns[place])
        place += size
    return Stamps(found, doubt, is_open, tuple(dict.fromkeys(likely)))


@dataclass(frozen=True, slots=True)
class _Judged:
    is_one: bool = False
    pattern: str = ""
    doubt: Doubt | None = None
    is_open: bool = False
    likely: tuple[str, ...] = ()


def _rows(columns: Sequence[Column]) -> list[tuple[str, ...]]:
    return list(zip(*(column.texts for column in columns), strict=True))


def _candidates(columns: Sequence[Column], place: int) -> Iterator[Written]:
    """Every way to take columns from a place on as a stamp, the longest one first."""
    if columns[place].kind not in ("alnum", "decimal"):
        return
    before = [row[-1][-1:] for row in _rows(columns[max(0, place - 1) : place])]
    for stop in range(min(len(columns), place + _MOST_COLUMNS), place, -1):
        run = columns[place:stop]
        if any(column.kind in ("value", "again") for column in run):
            continue
        texts = ["".join(row) for row in _rows(run)]
        bare = [text.lstrip(" ") for text in texts]
        behind = [row[0][:1] for row in _rows(columns[stop : stop + 1])]
        near = {*behind} | {sign for sign, t in zip(before, texts, strict=False) if t[0] != " "}
        if any(sign.isalnum() for sign in near):
            continue
        for shape in SHAPES:
            parts = [shape.fullmatch(text) for text in bare]
            matches = tuple(part for part in parts if part is not None)
            if len(matches) < len(parts) or not are_alike(matches):
                continue
            # Where the sign between its digits goes on, it parts fields.
            if near & signs(matches[0]) or not _is_fraction(matches, near):
                continue
            spaces = tuple(t[: len(t) - len(b)] for t, b in zip(texts, bare, strict=True))
            yield Written(stop - place, spaces, matches)


def _is_fraction(parts: Sequence[re.Match[str]], near: set[str]) -> bool:
    """Whether what follows the seconds, where something does, is a fraction of them.

    A status or a geometry behind a sign that parts fields looks like one. A fraction is another one
    at every press, and behind a comma it has three digits or more (common practice, no source).
    """
    texts = [part.groupdict().get("f") or "" for part in parts]
    if not any(texts):
        return True
    sign = texts[0][0]
    is_long = sign == "." or all(len(text) > _MILLI for text in texts)
    return is_long and sign not in near and len(set(texts)) == len(texts)


# -- what it says ----------------------------------------------------------------------------------


def _judged(one: Written, heard: Heard) -> _Judged:
    parts = one.parts
    seconds = [seconds_of(part) for part in parts]
    if any(second is not None and second < 0 for second in seconds):
        return _Judged()
    times = [second for second in seconds if second is not None]
    names = set(parts[0].re.groupindex)
    has_date = bool(names & {"y", "e"})
    if not has_date:
        return _of_time(one, times, heard)
    orders = orders_of(parts)
    if not orders:
        return _Judged()
    hosts = [here for here in _clocks(heard) if len(here) == len(parts)]
    said = [
        order
        for order in orders
        if any(
            all(abs((day_of(p, order) or date.min) - h.date()).days <= bool(times)
                for p, h in zip(parts, here, strict=True))
            for here in hosts
        )
    ]  # fmt: skip
    days = [[day_of(part, order) or date.min for part in parts] for order in said or orders]
    goes_on = any(
        all(a <= b for a, b in pairwise(zip(own, times or [0.0] * len(own), strict=True)))
        for own in days
    )
    if not goes_on:
        return _Judged()
    named = parts[0].groupdict()
    is_packed = not (named.get("s") or named.get("M"))
    is_year = "M" in names or len(named.get("y") or "") == 4
    moves = len({part[0] for part in parts}) > 1
    is_one = bool(said) or (bool(times) or is_year if not is_packed else bool(times) and moves)
    if is_one:
        return _Judged(True, pattern_of(one, said or orders))
    return _Judged(likely=() if is_packed else (parts[0][0],))


def _of_time(one: Written, times: Sequence[float], heard: Heard) -> _Judged:
    """A time of day alone."""
    parts = one.parts
    named = parts[0].groupdict()
    yes = _Judged(True, pattern_of(one, ()))
    steps = [b - a for a, b in pairwise(times)]
    moves = any(steps)
    quantum = 1 if named["S"] else 60
    sign = named.get("c")
    if min(steps, default=0) < 0:
        return _Judged()
    is_in_step = moves and _is_in_step(times, heard, quantum)
    # A point stands in every other number as well.
    near_s = _TOLERANCE_S if sign != "." else _NEAR_S
    agrees = any(
        len(here) == len(times)
        and all(_apart(second, at) <= near_s for second, at in zip(times, here, strict=True))
        for here in _clocks(heard)
    )
    has_seconds = bool(named["S"])
    if has_seconds:
        # Seconds that stood still while somebody pressed again are none.
        rises = bool(steps) and min(steps) > 0 and max(steps) > 1 and sum(steps) <= _LESSON_S
        if sign is None:
            # Six digits may be any number that rises: only by as much as presses are apart.
            rises &= not _clocks(heard) and max(steps, default=0) <= _APART_S
        return yes if is_in_step or rises or (agrees and moves) else _Judged()
    if is_in_step or agrees:
        return yes
    if sign != ":":
        return _Judged()
    if named.get("p"):
        return yes
    is_new = {part["H"] for part in parts} == {"00"}
    if moves:
        is_proven = len(set(times)) >= _PROVEN_MINUTES and sum(steps) <= _LESSON_S and not is_new
        return yes if is_proven else _Judged(is_open=True, likely=(parts[0][0],))
    if None not in heard and len(heard) == len(times):
        known = [at for at in heard if at is not None]
        if (max(known) - min(known)).total_seconds() > quantum + _SLACK_S:
            return _Judged()
    return _Judged(
        doubt=Doubt(
            f"{parts[0][0]!r} stands in every line as a time of day does: wait until it is a "
            "minute later, and press once more"
        )
    )


def _is_in_step(times: Sequence[float], heard: Heard, quantum: int) -> bool:
    """Whether it went on as the host's own clock did."""
    known = [at for at in heard if at is not None]
    if len(known) != len(times):
        return False
    gone = [(at - known[0]).total_seconds() for at in known]
    return all(
        abs((second - times[0]) - host) <= quantum + _SLACK_S
        for second, host in zip(times, gone, strict=True)
    )


def _clocks(heard: Heard) -> list[list[datetime]]:
    """What the host's clock said at each press: in its own zone, and in UTC."""
    known = [at for at in heard if at is not None]
    if not known or len(known) < len(heard):
        return []
    return [[at.replace(tzinfo=None) for at in known],
            [at.astimezone(UTC).replace(tzinfo=None) for at in known]]  # fmt: skip


def _apart(second: float, at: datetime) -> float:
    """By how much a time of day is off another one."""
    off = abs(second - (at - at.replace(hour=0, minute=0, second=0, microsecond=0)).total_seconds())
    return min(off, _DAY_S - off)
