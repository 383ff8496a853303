"""Facts of then against facts of now: how many are the same, and where they first differ. Pure.

Facts of one place are compared in their order. Of samples it is the stream that counts, not how
the chunks of the day cut it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from itertools import zip_longest
from typing import NamedTuple

from acquire.link.tape import Made
from acquire.report.made import KINDS, READING, SAMPLES, SPECTRUM, words

COUNT_DIGITS = 8
"""Hexadecimal digits of one sample."""
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
    then: Iterable[Made], now: Iterable[Made], holes: Sequence[Stretch] = ()
) -> Comparison:
    """Hold facts against facts; what touches a hole and has no match is put aside."""
    places: dict[tuple[int, int, str], tuple[list[Made], list[Made]]] = defaultdict(
        lambda: ([], [])
    )
    streams: tuple[list[Made], list[Made]] = ([], [])
    totals: tuple[Counter[str], Counter[str]] = (Counter(), Counter())
    for side, facts in enumerate((then, now)):
        for one in facts:
            if one.what == SAMPLES:
                streams[side].append(one)
                totals[side][SAMPLES] += len(dict(one.says)["counts"]) // COUNT_DIGITS
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


class _Stream(NamedTuple):
    """Samples that follow on one another; `firsts` are the places where blocks begin."""

    key: tuple[tuple[str, str], ...]
    first: int
    counts: str
    firsts: list[int]
    blocks: list[Made]

    def block_at(self, sample: int) -> Made:
        """The block that a sample is in; the last one for what lies behind."""
        return self.blocks[max(0, bisect_right(self.firsts, sample) - 1)]


def _streams(blocks: Sequence[Made]) -> list[_Stream]:
    """Blocks put together to streams."""
    found: list[_Stream] = []
    parts: list[str] = []
    end = 0

    def close() -> None:
        if parts:
            found[-1] = found[-1]._replace(counts="".join(parts))
            parts.clear()

    for block in blocks:
        says = dict(block.says)
        first, counts = int(says.pop("first")), says.pop("counts")
        key = tuple(sorted(says.items()))
        if not found or found[-1].key != key or first != end:
            close()
            found.append(_Stream(key, first, "", [], []))
            end = first
        found[-1].firsts.append(first)
        found[-1].blocks.append(block)
        parts.append(counts)
        end += len(counts) // COUNT_DIGITS
    close()
    return found


def _samples(
    then: Sequence[Made], now: Sequence[Made], holes: Sequence[Stretch]
) -> tuple[int, list[Difference], int]:
    """How many are the same, the differences, and how many streams cannot be compared."""
    same, found, aside = 0, list[Difference](), 0
    for old, new in zip_longest(_streams(then), _streams(now)):
        if old is None or new is None:
            one = old or new
            assert one is not None
            block = one.blocks[0]
            sides = (words(block), "") if old else ("", words(block))
            if _touches(block, holes):
                aside += 1
            else:
                found.append(Difference(SAMPLES, block.start, block.at_utc_ns, *sides))
            continue
        alike = _alike_samples(old.counts, new.counts)
        if (old.key, old.first) == (new.key, new.first):
            same += alike
            if old.counts == new.counts:
                continue
        else:
            alike = 0
        place = old.first + alike
        block = old.block_at(place)
        if _touches(block, holes):
            aside += 1
            continue
        then_words, now_words = (_words(stream, place) for stream in (old, new))
        found.append(Difference(SAMPLES, block.start, block.at_utc_ns, then_words, now_words))
    return same, found, aside


def _touches(block: Made, holes: Sequence[Stretch]) -> bool:
    return any(hole.start <= block.end and block.start <= hole.end for hole in holes)


def _alike_samples(old: str, new: str) -> int:
    """How many samples at the beginning are the same."""
    low, high = 0, min(len(old), len(new)) // COUNT_DIGITS
    while low < high:
        middle = (low + high + 1) // 2
        if old[: middle * COUNT_DIGITS] == new[: middle * COUNT_DIGITS]:
            low = middle
        else:
            high = middle - 1
    return low


def _words(stream: _Stream, place: int) -> str:
    said = dict(stream.key)
    at = (place - stream.first) * COUNT_DIGITS
    digits = stream.counts[at : at + COUNT_DIGITS] if at >= 0 else ""
    if len(digits) < COUNT_DIGITS:
        return f"no sample {place}"
    count = int.from_bytes(bytes.fromhex(digits), "little", signed=True)
    return f"sample {place}: count {count} of {said['step']} {said['unit']}, {said['rate_hz']} /s"
