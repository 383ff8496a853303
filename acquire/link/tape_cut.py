"""A stretch of a tape as a tape of its own. Pure.

Places and moments stay those of the whole tape. What a driver knew from before the stretch is not
on it: whether the stretch plays as it did that day is found out by playing it.
"""

from __future__ import annotations

from array import array

from acquire.link.kept import Kept
from acquire.link.tape import RECEIVED, Ended, Made, Tape
from acquire.model import Instant


def cut(tape: Tape, from_s: float | None = None, to_s: float | None = None) -> Tape:
    """What passed from `from_s` to `to_s` seconds after the opening.

    It begins earlier if a fact would be cut in two.
    """
    heard = array("q", [tape.received_before])
    first, last = 0, None
    for place, one in enumerate(tape.passed):
        after_s = one.at.seconds_since(tape.opened)
        if from_s is not None and first == place and after_s < from_s:
            first = place + 1
        if to_s is not None and last is None and after_s > to_s:
            last = place
        heard.append(one.offset + len(one.data) if one.direction == RECEIVED else heard[-1])
    last = len(heard) - 1 if last is None else last
    if from_s is not None:
        first = _before_facts(tape, heard, first)
    return _stretch(tape, heard, first, max(first, last), to_s)


def without_last(tape: Tape) -> Tape:
    """A tape that breaks off, without its last received bytes: what they became may be missing."""
    heard, last = array("q", [tape.received_before]), 0
    for place, one in enumerate(tape.passed):
        is_received = one.direction == RECEIVED
        last = place if is_received else last
        heard.append(one.offset + len(one.data) if is_received else heard[-1])
    return _stretch(tape, heard, 0, last, 0.0)


def _before_facts(tape: Tape, heard: array[int], place: int) -> int:
    """The last entry up to a place that cuts no fact in two, where an answer lies behind it, too.

    `heard` has how many bytes had been received before each entry.
    """
    begin = -1
    while begin != heard[place]:
        begin = heard[place]
        least = min((m.start for m in tape.made if m.start < begin < m.end), default=begin)
        while place and heard[place] > least:
            place -= 1
    return place


def _stretch(tape: Tape, heard: array[int], first: int, last: int, to_s: float | None) -> Tape:
    passed = tape.passed[first:last]
    begin, end = heard[first], heard[last]
    ended = tape.ended
    is_cut = last < len(heard) - 1 or (
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
        made=Kept(lambda: filter(is_on_it, made))
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
