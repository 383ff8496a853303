"""A stretch of a tape as a tape of its own. Pure.

Places and moments stay those of the whole tape. What a driver knew from before the stretch is not
on it: whether the stretch plays as it did that day is found out by playing it.
"""

from __future__ import annotations

from itertools import takewhile
from typing import NamedTuple

from acquire.link.kept import Kept
from acquire.link.tape import RECEIVED, Ended, Made, Tape
from acquire.model import Instant


class _Mark(NamedTuple):
    """A place among what passed, and how many bytes had been received before it."""

    place: int
    heard: int


def cut(tape: Tape, from_s: float | None = None, to_s: float | None = None) -> Tape:
    """What passed from `from_s` to `to_s` seconds after the opening.

    It begins earlier if a fact would be cut in two.
    """
    begin = _Mark(0, tape.received_before)
    first = None if from_s is not None else begin
    last: _Mark | None = None
    end = begin
    for one in tape.passed:
        after_s = one.at.seconds_since(tape.opened)
        if first is None and from_s is not None and after_s >= from_s:
            first = end
        if last is None and to_s is not None and after_s > to_s:
            last = end
        heard = one.offset + len(one.data) if one.direction == RECEIVED else end.heard
        end = _Mark(end.place + 1, heard)
    last, first = last or end, first or end
    if from_s is not None:
        first = _before_facts(tape, first)
    return _stretch(tape, first, max(first, last), end, to_s)


def without_last(tape: Tape) -> Tape:
    """A tape that breaks off, without its last received bytes: what they became may be missing."""
    begin = last = end = _Mark(0, tape.received_before)
    for one in tape.passed:
        is_received = one.direction == RECEIVED
        last = end if is_received else last
        end = _Mark(end.place + 1, one.offset + len(one.data) if is_received else end.heard)
    return _stretch(tape, begin, last, end, 0.0)


def _before_facts(tape: Tape, mark: _Mark) -> _Mark:
    """The last place up to one that cuts no fact in two, where an answer lies behind it, too."""
    while True:
        begin = mark.heard
        least = min((m.start for m in tape.made if m.start < begin < m.end), default=begin)
        if least == begin:
            return mark
        found = _Mark(0, tape.received_before)
        place, heard = found
        for one in tape.passed:
            if place >= mark.place:
                break
            if one.direction == RECEIVED:
                heard = one.offset + len(one.data)
            place += 1
            if heard > least:
                break
            found = _Mark(place, heard)
        mark = found


def _stretch(tape: Tape, first: _Mark, last: _Mark, behind: _Mark, to_s: float | None) -> Tape:
    """`behind` is behind all that passed."""
    begin, end = first.heard, last.heard
    passed = tape.passed[first.place : last.place]
    ended = tape.ended
    is_cut = last.place < behind.place or (
        to_s is not None and (ended is None or ended.at.seconds_since(tape.opened) > to_s)
    )
    if is_cut:
        at = passed[-1].at if passed else tape.opened
        left_ns = round((to_s or 0.0) * 1e9) - (at.mono_ns - tape.opened.mono_ns)
        if left_ns > 0:
            at = Instant(at.utc_ns + left_ns, at.mono_ns + left_ns)
        ended = Ended(at, "cut here", is_cut=True)
    since = tape.opened.utc_ns if not first.place else passed[0].at.utc_ns if passed else 0
    until = ended.at.utc_ns if ended is not None and is_cut else None

    def is_on_it(m: Made) -> bool:
        return (
            begin <= m.start
            and m.end <= end
            and (m.start < m.end or m.at_utc_ns >= since)
            and (until is None or m.at_utc_ns <= until)
        )

    made = tape.made
    return tape._replace(
        passed=passed,
        # By their end, so that behind the stretch there is nothing to be looked for.
        made=Kept(lambda: filter(is_on_it, takewhile(lambda m: m.end <= end, made)))
        if isinstance(made, Kept)
        else tuple(filter(is_on_it, made)),
        missing=tuple(
            m
            for m in tape.missing
            if m.until_utc_ns >= since and (until is None or m.since_utc_ns <= until)
        ),
        ended=ended,
        received_before=begin,
    )
