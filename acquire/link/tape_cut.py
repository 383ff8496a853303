"""A stretch of a tape as a tape of its own. Pure.

Places and moments stay those of the whole tape. What a driver knew from before the stretch is not
on it: whether the stretch plays as it did that day is found out by playing it.
"""

from __future__ import annotations

from acquire.link.tape import RECEIVED, Ended, Tape
from acquire.model import Instant


def cut(tape: Tape, from_s: float | None = None, to_s: float | None = None) -> Tape:
    """What passed from `from_s` to `to_s` seconds after the opening.

    It begins earlier if a fact would be cut in two.
    """
    passed = tape.passed
    first = 0
    if from_s is not None:
        first = next(
            (i for i, p in enumerate(passed) if p.at.seconds_since(tape.opened) >= from_s),
            len(passed),
        )
        inside = sorted((m.start, m.end) for m in tape.made if m.start < m.end)
        while first and _halves(tape, first, inside):
            first -= 1
    last = len(passed)
    if to_s is not None:
        last = next(
            (i for i, p in enumerate(passed) if p.at.seconds_since(tape.opened) > to_s),
            len(passed),
        )
    return _stretch(tape, first, max(first, last), to_s)


def without_last(tape: Tape) -> Tape:
    """A tape that breaks off, without its last received bytes: what they became may be missing."""
    heard = [i for i, p in enumerate(tape.passed) if p.direction == RECEIVED]
    return _stretch(tape, 0, heard[-1] if heard else 0, 0.0)


def _stretch(tape: Tape, first: int, last: int, to_s: float | None) -> Tape:
    passed = tape.passed[first:last]
    begin = _heard(tape, first)
    end = _heard(tape, last)
    ended = tape.ended
    is_cut = last < len(tape.passed) or (
        to_s is not None and (ended is None or ended.at.seconds_since(tape.opened) > to_s)
    )
    if is_cut:
        at = passed[-1].at if passed else tape.opened
        left_ns = round((to_s or 0.0) * 1e9) - (at.mono_ns - tape.opened.mono_ns)
        if left_ns > 0:
            at = Instant(at.utc_ns + left_ns, at.mono_ns + left_ns)
        ended = Ended(at, "cut here", is_cut=True)
    since = tape.opened.utc_ns if not first else passed[0].at.utc_ns if passed else 0
    until = ended.at.utc_ns if ended is not None and is_cut else None
    return tape._replace(
        passed=passed,
        made=tuple(
            m
            for m in tape.made
            if begin <= m.start
            and m.end <= end
            and (m.start < m.end or m.at_utc_ns >= since)
            and (until is None or m.at_utc_ns <= until)
        ),
        missing=tuple(
            m
            for m in tape.missing
            if m.until_utc_ns >= since and (until is None or m.since_utc_ns <= until)
        ),
        ended=ended,
        received_before=begin,
    )


def _heard(tape: Tape, place: int) -> int:
    """How many bytes had been received before an entry."""
    for one in reversed(tape.passed[:place]):
        if one.direction == RECEIVED:
            return one.offset + len(one.data)
    return tape.received_before


def _halves(tape: Tape, place: int, inside: list[tuple[int, int]]) -> bool:
    """Whether a fact has bytes before and behind this entry, or an answer lies behind."""
    at = _heard(tape, place)
    return any(start < at < end for start, end in inside)
