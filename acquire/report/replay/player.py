"""Plays a tape through a driver as the session did that day, wake-ups and all.

What passed is on the tape, and so is when the driver spoke; when it was asked in vain is not. A
session asks after everything that came and at every moment the driver named, so these are gone
through again. It may come late to that, on a computer that was busy or asleep: what the driver
would send at a moment at which nothing was sent is taken back, and asked for when it was.

Whatever a driver raises is kept as it was that day: as noise of all that it had made nothing of.
Stores nothing. One thread.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import deque
from collections.abc import Callable, Iterator

from acquire.driverapi import Driver
from acquire.driverapi.guard import Guard
from acquire.errors import told
from acquire.link.tape import RECEIVED, SENT, Made, Passed, Tape
from acquire.model import Chunk, Fact, Instant, NoticeKind, Quantity
from acquire.pipeline.bulk import condensed
from acquire.pipeline.failing import failed_on
from acquire.report.replay.comparing import END, Stretch, Tail
from acquire.report.replay.made import NOTICE, SAMPLES, made_of
from acquire.report.replay.spoken import Spoken, speaks_soon
from acquire.report.replay.takingback import TakingBack

_NAMING = (NoticeKind.POWER_UP.value, NoticeKind.IDENTITY.value)
_SHORTEST_NS = 1_000_000
"""Between two wake-ups, as the session has it."""
_LONG_NS = 60_000_000_000
"""Nothing waits longer for a silence."""
_MOST_WAKES = 100_000
"""In one silence."""


class _Places:
    """Where the driver's count of received bytes is on the tape; they differ behind holes."""

    def __init__(self, before: int) -> None:
        self._from = [0]
        self._shift = [before]
        self.fed = 0

    def jump(self, offset: int) -> None:
        """The next byte that is fed is the one at this place of the tape."""
        if self._from[-1] == self.fed:
            self._shift[-1] = offset - self.fed
        else:
            self._from.append(self.fed)
            self._shift.append(offset - self.fed)

    def shift(self, place: int) -> int:
        return self._shift[bisect_right(self._from, place) - 1]

    @property
    def now(self) -> int:
        return self.fed + self._shift[-1]


class Player:
    """One play. `holes`, `strayed`, `first_stray` and `failed` tell what was met on the way.

    `tail` is where a tape stops whose end nobody wrote down: it is played on as if the device had
    fallen silent, for what its last bytes are.
    """

    def __init__(
        self,
        tape: Tape,
        driver: Driver,
        name: str,
        filler: bytes,
        reach: Callable[[Instant], None],
        *,
        is_whole: bool,
    ) -> None:
        self._tape = tape
        self._driver = TakingBack(driver)
        self._spoken = Spoken(tape)
        self._filler = filler
        self._reach = reach
        self._is_whole = is_whole
        self._guard = Guard(name, tape.opened, _quantity(tape))
        self._places = _Places(tape.received_before)
        self._serial = tape.whose.serial if tape.whose else ""
        self._again: Instant | None = None
        self._at = tape.opened
        self._owed: deque[bytes] = deque()
        # How many samples were made before the tape begins; None until its first one is made.
        self._samples_before = None if tape.received_before else 0
        self.holes: list[Stretch] = []
        self.tail: Tail | None = None
        self.chunk_at = tape.received_before
        """Where on the tape the bytes begin that are being played."""
        self.strayed = 0
        self.first_stray: Passed | None = None
        self.failed = ""

    def play(self) -> Iterator[Made]:
        """The facts, as the driver makes them."""
        tape = self._tape
        # A stranger's code may raise anything, and all of it is told.
        try:
            yield from self._play()
        except Exception as trouble:
            self.failed = told(trouble, 300)
            yield from self._worded(failed_on(self._guard, self._places.fed, self._at))
        # What came last may have become facts only after the tape breaks off.
        if not self._is_whole or (tape.ended is not None and tape.ended.is_cut):
            self.holes.append(Stretch(min(self.chunk_at, self._held_from), END))

    @property
    def _held_from(self) -> int:
        """Where on the tape the bytes begin that the driver holds until time has gone by."""
        held_from, _ = self._guard.rest()
        return held_from + self._places.shift(held_from)

    def _play(self) -> Iterator[Made]:
        tape = self._tape
        opening = self._guard.bytes(self._driver.opening(tape.opened), "opening")
        last = tape.opened
        coming = iter(tape.passed)
        one = next(coming, None)
        if one is not None and one.direction == SENT and one[1:] == (0, one.at, opening):
            one = next(coming, None)
        self._ask(last, one)
        while one is not None:
            yield from self._sleep(one.at, one)
            self._reach(one.at)
            if one.direction == RECEIVED:
                yield from self._hear(one)
                if self.failed:
                    return
            else:
                self._speak(one)
                yield from self._feed(b"", one.at)
            last, one = one.at, next(coming, None)
            self._ask(last, one)
        ended = tape.ended
        if not self._is_whole:
            return
        if ended is None:
            yield from self._play_on(last)
            return
        at = ended.at if ended.at.mono_ns >= last.mono_ns else last
        yield from self._sleep(at, None)
        if ended.is_cut:
            yield from self._feed(b"", at)
        else:
            yield from self._worded(self._guard.facts(self._driver.lost(at), b"", at))

    def _play_on(self, last: Instant) -> Iterator[Made]:
        """What the last bytes of a tape without an end would have become."""
        held_from = self._held_from
        self.tail = Tail(min(self.chunk_at, held_from), held_from, self._places.now)
        until = Instant(last.utc_ns + _LONG_NS, last.mono_ns + _LONG_NS)
        self._owed.clear()
        # What it would send next is not on the tape, so nobody was there any more to send it.
        yield from self._sleep(until, None, until_sent=True)
        at = max(self._at, last, key=lambda one: one.mono_ns)
        yield from self._worded(self._guard.facts(self._driver.lost(at), b"", at))

    def _ask(self, at: Instant, following: Passed | None) -> None:
        """Ask what is due, unless the tape shows that it was something, and when."""
        if speaks_soon(following, at):
            self._again = None
            return
        self._guard.tell(at)
        self._at = at
        due = self._driver.due(at)
        if self._guard.bytes(due.send, "due"):
            if self._spoken.was_silent(at, following) and self._driver.take_back():
                self._again = None
                return
            self._owed.append(due.send)
        again = self._guard.again(due.again)
        if again is not None and again.mono_ns - at.mono_ns < _SHORTEST_NS:
            again = Instant(at.utc_ns + _SHORTEST_NS, at.mono_ns + _SHORTEST_NS)
        self._again = again

    def _sleep(
        self, until: Instant, following: Passed | None, *, until_sent: bool = False
    ) -> Iterator[Made]:
        """Wake up whenever the driver wanted to be asked before a moment."""
        for _ in range(_MOST_WAKES):
            at = self._again
            if until_sent and self._owed:
                return
            if at is None or at.mono_ns >= until.mono_ns or speaks_soon(following, at):
                return
            yield from self._feed(b"", at)
            self._ask(at, following)

    def _hear(self, one: Passed) -> Iterator[Made]:
        places = self._places
        if one.offset > places.now:
            self.holes.append(Stretch(places.now, one.offset))
            yield from self._feed(self._filler, one.at)
            places.jump(one.offset)
        self.chunk_at = one.offset
        chunk = Chunk(places.fed, one.data, one.at)
        try:
            facts = condensed(self._fed(one.data, one.at), chunk)
        except Exception as trouble:
            self.failed = told(trouble, 300)
            facts = failed_on(self._guard, self._places.fed, one.at, one.data)
        yield from self._worded(facts)

    def _speak(self, one: Passed) -> None:
        """It is what is due now, or what was due before, or what a person asked for."""
        self._spoken.has_spoken = True
        if self._owed and self._owed[0] == one.data:
            self._owed.popleft()
            return
        self._guard.tell(one.at)
        if self._driver.due(one.at).send != one.data and self._driver.take(one.at) != one.data:
            self.strayed += 1
            self.first_stray = self.first_stray or one

    def _feed(self, data: bytes, at: Instant) -> Iterator[Made]:
        yield from self._worded(self._fed(data, at))

    def _fed(self, data: bytes, at: Instant) -> list[Fact]:
        self._places.fed += len(data)
        return self._guard.facts(self._driver.feed(data, at), data, at)

    def _worded(self, facts: list[Fact]) -> Iterator[Made]:
        for fact in facts:
            made = made_of(fact, self._serial, self._places.shift(fact.start))
            if made.what == SAMPLES and self._samples_before != 0:
                made = self._numbered(made)
            if made.what == NOTICE:
                said = dict(made.says)
                # Readings carry the number that the device gave itself last.
                if said["kind"] in _NAMING and said["text"]:
                    self._serial = said["text"]
            yield made

    def _numbered(self, samples: Made) -> Made:
        """Samples of a stretch of a tape, numbered from the beginning of the connection on."""
        says = dict(samples.says)
        first = int(says["first"])
        if self._samples_before is None:
            then = next((m for m in self._tape.made if m.what == SAMPLES), None)
            is_there = then is not None and then.start == samples.start
            self._samples_before = int(dict(then.says)["first"]) - first if then and is_there else 0
        says["first"] = str(first + self._samples_before)
        return samples._replace(says=tuple(says.items()))


def _quantity(tape: Tape) -> Quantity | None:
    """What the instrument measures; a tape may come from a Coatbench that knows more of that."""
    kind = tape.whose.kind if tape.whose else ""
    return Quantity(kind) if kind in [each.value for each in Quantity] else None
