"""Facts of then against facts of now: how many are the same, and where they first differ. Pure.

Facts of one place are compared in their order, samples by their streams.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from itertools import zip_longest
from typing import NamedTuple

from acquire.link.tape import Made
from acquire.report.made import KINDS, READING, SAMPLES, SPECTRUM, words
from acquire.report.sampled import Stream, Streams

_TIMED = (READING, SPECTRUM)
"""What is asked of the gate carries its moment; when silence was noticed is of no account."""


class Stretch(NamedTuple):
    """A stretch of the received bytes."""

    start: int
    end: int


class Difference(NamedTuple):
    """One place where now is not as then. A side that has nothing there is empty."""

    what: str
    byte: int
    at_utc_ns: int
    then: str
    now: str


class Count(NamedTuple):
    """How many facts, or samples, of a kind there were, there are, and are the same."""

    then: int
    now: int
    same: int


class Comparison(NamedTuple):
    """`aside` counts facts that could not be compared, for bytes are missing there."""

    counts: dict[str, Count]
    differences: list[Difference]
    aside: int

    @property
    def is_same(self) -> bool:
        return not self.differences


def compared(
    then: Iterable[Made],
    now: Iterable[Made],
    holes: Sequence[Stretch] = (),
    sampled: Streams | None = None,
) -> Comparison:
    """Hold facts against facts; what touches a hole and has no match is put aside.

    `sampled` are samples of now beside the facts.
    """
    places: dict[tuple[int, int, str], tuple[list[Made], list[Made]]] = defaultdict(
        lambda: ([], [])
    )
    streams = (Streams(), sampled or Streams())
    totals: tuple[Counter[str], Counter[str]] = (Counter(), Counter())
    for side, facts in enumerate((then, now)):
        for one in facts:
            if one.what == SAMPLES:
                streams[side].add(one)
            else:
                places[one.start, one.end, one.what][side].append(one)
                totals[side][one.what] += 1
    same: Counter[str] = Counter()
    found: list[Difference] = []
    aside = 0
    alike_until = 0
    for (start, end, what), (olds, news) in sorted(places.items(), key=lambda item: item[0][:2]):
        for old, new in zip_longest(olds, news):
            if _alike(old, new):
                same[what] += 1
                alike_until = max(alike_until, end)
            elif any(hole.start <= end and start <= hole.end for hole in holes) or (
                # What follows from bytes that are missing stands before the first fact behind them.
                start == end and any(alike_until <= hole.end <= start for hole in holes)
            ):
                aside += 1
            else:
                found.append(_difference(old, new))
    for total, side_streams in zip(totals, streams, strict=True):
        total[SAMPLES] = side_streams.samples
    same[SAMPLES], unlike, beside = _samples(*streams, holes)
    found += unlike
    found.sort(key=lambda d: d.byte)
    counts = {
        kind: Count(totals[0][kind], totals[1][kind], same[kind])
        for kind in KINDS
        if totals[0][kind] or totals[1][kind]
    }
    return Comparison(counts, found, aside + beside)


def _alike(old: Made | None, new: Made | None) -> bool:
    if old is None or new is None:
        return False
    if old.what in _TIMED and old.at_utc_ns != new.at_utc_ns:
        return False
    return old.says == new.says or dict(old.says) == dict(new.says)


def _difference(old: Made | None, new: Made | None) -> Difference:
    one = old or new
    assert one is not None
    then, now = (words(x) if x else "" for x in (old, new))
    if old and new:
        before, after = dict(old.says), dict(new.says)
        unlike = [k for k in {**before, **after} if before.get(k) != after.get(k)]
        then, now = (
            f"{shown} ({', '.join(f'{k} {_short(side.get(k, chr(32)))}' for k in unlike)})"
            if unlike
            else f"{shown} at {made.at_utc_ns} ns"
            for shown, side, made in ((then, before, old), (now, after, new))
        )
    return Difference(one.what, one.start, one.at_utc_ns, then, now)


def _short(text: str) -> str:
    return repr(text if len(text) <= 60 else f"{text[:57]}...")


# -- samples ---------------------------------------------------------------------------------------


def _samples(
    then: Streams, now: Streams, holes: Sequence[Stretch]
) -> tuple[int, list[Difference], int]:
    """How many are the same, the differences, and how many streams cannot be compared."""
    same, found, aside = 0, list[Difference](), 0
    for old, new in zip_longest(then.found, now.found):
        if old is None or new is None:
            one = old or new
            assert one is not None
            place, words = one.first, (_all_words(one), "")
            block = one.block_at(place)
            then_words, now_words = words if old else words[::-1]
        else:
            alike = old.alike(new) if (old.key, old.first) == (new.key, new.first) else 0
            same += alike
            place = old.first + alike
            if (old.key, old.first, old.end) == (new.key, new.first, new.end) and place == old.end:
                continue
            block = old.block_at(place)
            then_words, now_words = (_words(stream, place) for stream in (old, new))
        if any(hole.start <= block.end and block.start <= hole.end for hole in holes):
            aside += 1
        else:
            found.append(Difference(SAMPLES, block.start, block.at_utc_ns, then_words, now_words))
    return same, found, aside


def _all_words(stream: Stream) -> str:
    samples = stream.end - stream.first
    return f"{samples} samples from {stream.first} on at {dict(stream.key)['rate_hz']} /s"


def _words(stream: Stream, place: int) -> str:
    said, count = dict(stream.key), stream.count_at(place)
    if count is None:
        return f"no sample {place}"
    return f"sample {place}: count {count} of {said['step']} {said['unit']}, {said['rate_hz']} /s"
