"""Tapes: what passed over a link, both ways, with times. Recorded, and replayed.

A tape replayed through the driver that heard it gives the same readings: `replay` feeds a driver,
`TapeOpener` gives a whole session a link that plays the tape, with a clock that follows it. A tape
that is to be played elsewhere also says whose it is and what was made of it that day; how it is
kept in a file says `acquire.link.tape_file`. One thread, but for `cancel`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from acquire.clock import Clock
from acquire.driverapi import Driver
from acquire.errors import LinkLost, LinkUnavailable
from acquire.link.base import Link
from acquire.link.kept import Kept
from acquire.model import Fact, Instant

RECEIVED = "received"
SENT = "sent"


class Passed(NamedTuple):
    """Bytes that passed: `direction` is "received" or "sent", `offset` counts in that direction."""

    direction: str
    offset: int
    at: Instant
    data: bytes


class Made(NamedTuple):
    """A fact that was made of a tape the day it was recorded, word by word.

    `what` is reading, noise, notice, spectrum or samples, `start` and `end` are its stretch of the
    received bytes; `says` is all it says, in names and texts. `number` is its row in the store, 0
    where it has none.
    """

    what: str
    start: int
    end: int
    at_utc_ns: int
    says: tuple[tuple[str, str], ...]
    number: int = 0


class Missing(NamedTuple):
    """Bytes that went unrecorded between two moments (UTC)."""

    since_utc_ns: int
    until_utc_ns: int
    lost_bytes: int


class Whose(NamedTuple):
    """The instrument behind a tape as it was configured then: all that a driver is made from."""

    instrument: str
    kind: str
    serial: str
    driver: str
    profile: str
    profile_text: str
    adapter: str = ""


class Ended(NamedTuple):
    """How a tape ends: the link was lost or closed, or the tape was cut there (`is_cut`)."""

    at: Instant
    message: str
    is_cut: bool = False


class Tape(NamedTuple):
    """One connection from its opening on, or a stretch of it.

    A stretch begins behind `received_before` bytes; what is `Kept` of `made` comes by its end.
    `ended` None: it was still going on. Without
    `whose` nobody knows which driver heard it, and `made` is empty; then `line` is at which speed
    and format it was heard, such as "9600 8N1", where that is known.
    """

    opened: Instant
    where: str
    passed: Sequence[Passed]
    whose: Whose | None = None
    made: Sequence[Made] = ()
    missing: tuple[Missing, ...] = ()
    ended: Ended | None = None
    received_before: int = 0
    line: str = ""

    def bytes_of(self, direction: str) -> int:
        """How many bytes of a direction are on it."""
        return sum(len(p.data) for p in self.passed if p.direction == direction)


def entries(tape: Tape) -> Iterator[Passed | Made | Missing]:
    """All that is on a tape in order: a fact follows on the bytes it was made of."""
    facts = tape.made
    made = iter(facts if isinstance(facts, Kept) else sorted(facts, key=lambda m: m.end))
    missing = iter(sorted(tape.missing))
    fact, gap = next(made, None), next(missing, None)
    heard = tape.received_before
    for passed in tape.passed:
        while gap is not None and gap.until_utc_ns <= passed.at.utc_ns:
            yield gap
            gap = next(missing, None)
        # What silence made was made before the next bytes came.
        while fact is not None and fact.end <= heard:
            yield fact
            fact = next(made, None)
        yield passed
        if passed.direction == RECEIVED:
            heard = passed.offset + len(passed.data)
            while fact is not None and fact.end <= heard and fact.start < fact.end:
                yield fact
                fact = next(made, None)
    while fact is not None:
        yield fact
        fact = next(made, None)
    while gap is not None:
        yield gap
        gap = next(missing, None)


def replay(driver: Driver, tape: Tape) -> list[Fact]:
    """The facts that a fresh driver makes of a tape, as it made them when the tape was recorded."""
    return list(replaying(driver, tape))


def replaying(driver: Driver, tape: Tape) -> Iterator[Fact]:
    """The same one by one, as the tape goes on."""
    now = tape.opened
    opening = driver.opening(now)
    for direction, offset, at, data in tape.passed:
        now = at
        if direction == RECEIVED:
            yield from driver.feed(data, at)
        elif offset or data != opening:
            # It is asked when it was asked then; what it would send now was sent then.
            if driver.due(at).send != data:
                driver.take(at)
            yield from driver.feed(b"", at)
    if tape.ended is not None and tape.ended.at.mono_ns > now.mono_ns:
        # What only a silence ends was there by then.
        now = tape.ended.at
        yield from driver.feed(b"", now)
    yield from driver.lost(now)


class RecordingLink:
    """A link that tells `keep` of everything that passes over another one."""

    def __init__(self, link: Link, clock: Clock, keep: Callable[[Passed], object]) -> None:
        self._link = link
        self._clock = clock
        self._keep = keep
        self._sent = self._received = 0
        self.where = link.where
        self.adapter = link.adapter

    def read(self, timeout_s: float) -> bytes:
        data = self._link.read(timeout_s)
        if data:
            self._keep(Passed(RECEIVED, self._received, self._clock.now(), data))
            self._received += len(data)
        return data

    def write(self, data: bytes) -> None:
        at = self._clock.now()
        self._link.write(data)
        self._keep(Passed(SENT, self._sent, at, data))
        self._sent += len(data)

    def cancel(self) -> None:
        self._link.cancel()

    def close(self) -> None:
        self._link.close()


class TapeClock:
    """A clock that stands where the tape is."""

    def __init__(self, at: Instant) -> None:
        self.at = at

    def now(self) -> Instant:
        return self.at


class TapeLink:
    """Plays a tape: each `read` gives the next chunk and moves the clock to its moment.

    Where the host spoke on the tape, `read` gives b"", as if its time were up, so that whoever
    listens comes to speak. What is written is let go. At the end the link is lost.
    """

    def __init__(self, tape: Tape, clock: TapeClock) -> None:
        self.where = tape.where
        self.adapter = ""
        self._passed = iter(tape.passed)
        self._clock = clock
        self._closed = False
        self._cancelled = False

    def read(self, timeout_s: float) -> bytes:  # noqa: ARG002 - a tape does not wait
        if self._closed:
            raise LinkLost(f"the tape {self.where} is closed", got="closed on this side")
        if self._cancelled:
            self._cancelled = False
            return b""
        passed = next(self._passed, None)
        if passed is None:
            raise LinkLost(f"the tape {self.where} is over", got="its end")
        self._clock.at = passed.at
        return passed.data if passed.direction == RECEIVED else b""

    def write(self, data: bytes) -> None:  # noqa: ARG002 - nobody listens
        if self._closed:
            raise LinkLost(f"the tape {self.where} is closed", got="closed on this side")

    def cancel(self) -> None:
        self._cancelled = True

    def close(self) -> None:
        self._closed = True


class TapeOpener:
    """Opens a tape once; `clock` is the clock for the session that plays it."""

    def __init__(self, tape: Tape) -> None:
        self.address = f"tape of {tape.where}"
        self.clock = TapeClock(tape.opened)
        self._link: TapeLink | None = TapeLink(tape, self.clock)

    def open(self) -> TapeLink:
        link, self._link = self._link, None
        if link is None:
            raise LinkUnavailable(f"the {self.address} has been played", got="its end")
        return link
