"""Facts of then against facts of now: how many are the same, and where they first differ. Pure.

Facts of one place are compared in their order, samples by their streams.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import zip_longest
from typing import NamedTuple

from acquire.link.tape import Made
from acquire.report.replay.made import KINDS, READING, SAMPLES, SPECTRUM, words
from acquire.report.replay.sampled import Pairs, Stream, Streams

MOST_TOLD = 1000
END = 2**63 - 1
"""The end of a stretch that has none."""
_SETTLED_BYTES = 65_536
_TIMED = (READING, SPECTRUM)
"""What is asked of the gate carries its moment; when silence was noticed is of no account."""


class Stretch(NamedTuple):
    """A stretch of the received bytes."""

    start: int
    end: int


class Tail(NamedTuple):
    """Where a tape stops whose end nobody wrote down.

    From `start` on rows may be missing; from `held` on the driver had made nothing yet when the
    last bytes came, up to `end`.
    """

    start: int
    held: int
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
    """`aside` counts facts that could not be compared, for bytes are missing there.

    `differences` are the first `MOST_TOLD` of the `places` where they are unlike. `unstored` are
    facts of the last bytes of a tape that nobody ended, of which there was none then.
    """

    counts: dict[str, Count]
    differences: list[Difference]
    aside: int
    places: int
    unstored: tuple[Difference, ...] = ()

    @property
    def is_same(self) -> bool:
        return not self.differences


def compared(
    then: Iterable[Made], now: Iterable[Made], holes: Sequence[Stretch] = ()
) -> Comparison:
    """Hold facts against facts; what touches a hole and has no match is put aside."""
    comparing = Comparing(sorted(then, key=lambda made: made.end))
    for one in now:
        comparing.add(one)
    return comparing.done(holes)


class Comparing:
    """Facts of then against facts of now while these are made.

    What is settled is let go, so that a tape of any length takes the same room. `then` comes by its
    end.
    """

    def __init__(self, then: Iterable[Made]) -> None:
        self._then = iter(then)
        self._next = next(self._then, None)
        self._places: dict[tuple[int, int, str], tuple[list[Made], list[Made]]] = {}
        self._pairs = Pairs()
        self._totals: tuple[Counter[str], Counter[str]] = (Counter(), Counter())
        self._same: Counter[str] = Counter()
        self._found: list[Difference] = []
        self._places_unlike = 0
        self._aside = 0
        self._alike_until = 0
        self._settled_at = 0
        self._tail: Tail | None = None
        self._unstored: list[Difference] = []

    @property
    def readings(self) -> int:
        """How many readings were made so far."""
        return self._totals[1][READING]

    def add(self, made: Made) -> None:
        """The next fact of now."""
        self._take(1, made)

    def settle(self, until: int, holes: Sequence[Stretch]) -> None:
        """No fact of now that ends before that byte is still to come, nor a hole that begins so."""
        if until - self._settled_at >= _SETTLED_BYTES:
            self._settled_at = until
            self._settle(until, holes)

    def _settle(self, until: int, holes: Sequence[Stretch]) -> None:
        while self._next is not None and self._next.end < until:
            self._take(0, self._next)
            self._next = next(self._then, None)
        over = {place: sides for place, sides in self._places.items() if place[1] < until}
        for place in over:
            del self._places[place]
        self._compare(over, holes)
        self._pairs.let_go()

    def done(self, holes: Sequence[Stretch], tail: Tail | None = None) -> Comparison:
        """Nothing more is made. `tail`: of the last bytes there may be no row."""
        self._tail = tail
        # By portions, for there may be many of which nothing was made now.
        while self._next is not None:
            self._settle(self._next.end + _SETTLED_BYTES, holes)
        over, self._places = self._places, {}
        self._compare(over, holes)
        for total, streams in zip(self._totals, (self._pairs.then, self._pairs.now), strict=True):
            total[SAMPLES] = streams.samples
        sampled = _samples(self._pairs.then, self._pairs.now, holes, tail)
        self._same[SAMPLES], unlike, beside, unstored = sampled
        found = sorted([*self._found, *unlike], key=lambda d: d.byte)
        totals = self._totals
        counts = {
            kind: Count(totals[0][kind], totals[1][kind], self._same[kind])
            for kind in KINDS
            if totals[0][kind] or totals[1][kind]
        }
        places = self._places_unlike + len(unlike)
        told = sorted([*self._unstored, *unstored], key=lambda d: d.byte)
        return Comparison(counts, found, self._aside + beside, places, tuple(told))

    def _take(self, side: int, one: Made) -> None:
        if one.what == SAMPLES:
            (self._pairs.now if side else self._pairs.then).add(one)
            return
        self._places.setdefault((one.start, one.end, one.what), ([], []))[side].append(one)
        self._totals[side][one.what] += 1

    def _compare(
        self,
        places: Mapping[tuple[int, int, str], tuple[list[Made], list[Made]]],
        holes: Sequence[Stretch],
    ) -> None:
        for (start, end, what), (olds, news) in sorted(
            places.items(), key=lambda item: item[0][:2]
        ):
            for old, new in zip_longest(olds, news):
                if _alike(old, new):
                    self._same[what] += 1
                    self._alike_until = max(self._alike_until, end)
                elif self._tail is not None and old is None and _may_lack(self._tail, start, end):
                    # What has no bytes was told by a time that had not come that day.
                    if start < end:
                        self._unstored.append(_difference(old, new))
                elif (
                    _is_held(self._tail, start, end)
                    or any(hole.start <= end and start <= hole.end for hole in holes)
                    or (
                        # What follows from bytes that are missing stands before the first fact
                        # behind them.
                        start == end
                        and any(self._alike_until <= hole.end <= start for hole in holes)
                    )
                ):
                    self._aside += 1
                else:
                    self._places_unlike += 1
                    if len(self._found) < MOST_TOLD:
                        self._found.append(_difference(old, new))


def _may_lack(tail: Tail, start: int, end: int) -> bool:
    return tail.start <= start and end <= tail.end


def _is_held(tail: Tail | None, start: int, end: int) -> bool:
    """Only a silence tells what this is, and nobody knows how much of it was waited for."""
    return tail is not None and tail.held <= start and end <= tail.end


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
    then: Streams, now: Streams, holes: Sequence[Stretch], tail: Tail | None
) -> tuple[int, list[Difference], int, list[Difference]]:
    """How many are the same, the differences, how many cannot be compared, and what has no row."""
    same, found, aside, unstored = 0, list[Difference](), 0, list[Difference]()
    for old, new in zip_longest(then.found, now.found):
        if old is None or new is None:
            one = old or new
            assert one is not None
            place, words = one.first, (_all_words(one), "")
            block = one.block_at(place)
            then_words, now_words = words if old else words[::-1]
            is_lacking = old is None
        else:
            is_one = (old.key, old.first) == (new.key, new.first)
            alike = old.gone + old.alike(new) if is_one else 0
            same += alike
            place = old.first + alike
            if (old.key, old.first, old.end) == (new.key, new.first, new.end) and place == old.end:
                continue
            block = old.block_at(place)
            then_words, now_words = (_words(stream, place) for stream in (old, new))
            is_lacking = is_one and place == old.end < new.end
        if is_lacking and new is not None:
            # What was not made then has no block of then: it is where it was made now.
            block = new.block_at(place)
        if is_lacking and new is not None and tail is not None and tail.start <= block.start:
            count = new.end - place
            said = f"{count} sample{'s' * (count != 1)} from {place} on"
            unstored.append(Difference(SAMPLES, block.start, block.at_utc_ns, "", said))
        elif any(hole.start <= block.end and block.start <= hole.end for hole in holes):
            aside += 1
        else:
            found.append(Difference(SAMPLES, block.start, block.at_utc_ns, then_words, now_words))
    return same, found, aside, unstored


def _all_words(stream: Stream) -> str:
    samples = stream.end - stream.first
    return f"{samples} samples from {stream.first} on at {dict(stream.key)['rate_hz']} /s"


def _words(stream: Stream, place: int) -> str:
    said, count = dict(stream.key), stream.count_at(place)
    if count is None:
        return f"no sample {place}"
    return f"sample {place}: count {count} of {said['step']} {said['unit']}, {said['rate_hz']} /s"
