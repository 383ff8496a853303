"""A cable behind an adapter that stays open, and a hand that puts it into one meter or another.

Nothing here is a line, a frame or a register: what a meter says it says in a `Tongue`. Meters may
answer late or never, the line may echo what is sent, noise comes in between. A meter that is pulled
out says no more, and putting the cable elsewhere takes more than a second.
"""

from __future__ import annotations

import heapq
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import count

from acquire.driverapi import Driver
from acquire.driverapi.guard import Guard
from acquire.link.tape import RECEIVED, SENT, Passed, Tape, replay
from acquire.model import Fact, Flag, Instant, Noise, Notice, NoticeKind, Reading

OWN, OTHER = "SH-0417", "DK-2205"
SHORTEST_MOVE_MS = 1_100
MS = 1_000_000


@dataclass
class Meter:
    """`says` its pressed values by count; `answers_after_ms` is None while it is deaf."""

    serial: str
    presses: int = 0
    value: int = 0
    answers_after_ms: int | None = 20
    pull: list[int] = field(default_factory=list)


class Tongue:
    """How meters of one kind talk; `sends`: a press is heard by itself."""

    sends = True
    sample_every_ms = 0

    def pressed(self, meter: Meter) -> bytes:
        raise NotImplementedError

    def switched_on(self, meter: Meter) -> bytes:
        raise NotImplementedError

    def sample(self, meter: Meter, thousandths: int) -> bytes:
        raise NotImplementedError

    def answers(self, meter: Meter, asked: bytes) -> list[bytes]:
        """What a meter says to bytes of the host, each answer apart."""
        raise NotImplementedError


class Cable:
    """Driver, cable and two meters, in milliseconds."""

    def __init__(self, make: Callable[[], Driver], tongue: Tongue, dice: random.Random) -> None:
        self._make, self._tongue, self._dice = make, tongue, dice
        self.meters = [Meter(OWN), Meter(OTHER)]
        self.at: Meter | None = self.meters[0]
        self.echoes = False
        self.owners: dict[str, str] = {}
        """Whose every value is; no two presses have the same."""
        self.heard: list[str] = []
        """The values that came down the line whole, in order."""
        self.facts: list[Fact] = []
        self.now_ms = 1_000
        self._opened = self._instant()
        self._driver = make()
        self._guard = Guard("any", self._opened)
        self._passed: list[Passed] = []
        self._places = {SENT: 0, RECEIVED: 0}
        self._coming: list[tuple[int, int, Meter | None, bytes, str]] = []
        self._order = count()
        self._values = iter(range(100, 900))
        self._next_sample_ms = self.now_ms
        self._send(self._driver.opening(self._opened))

    # -- what the hand does ------------------------------------------------------------------------

    def press(self) -> None:
        if self.at is None:
            return
        self._count(self.at)
        if self._tongue.sends:
            self._comes(2, self.at, self._tongue.pressed(self.at), str(self.at.value))

    def pull(self, samples: int) -> None:
        """A pull of the meter at the cable, of a peak of its own."""
        if self.at is None or self.at.pull:
            return
        self._count(self.at)
        peak = 10 * self.at.value
        rest = [0] * 60
        self.at.pull = [0, *[peak] * samples, *rest]

    def move(self, away_ms: int = SHORTEST_MOVE_MS) -> None:
        """Put the cable into the other meter, whatever it is doing."""
        other = self.meters[self.at is self.meters[0]]
        self.at = None
        self.run(max(away_ms, SHORTEST_MOVE_MS))
        self.at = other

    def switch_on(self) -> None:
        if self.at is not None:
            self._comes(5, self.at, self._tongue.switched_on(self.at))

    def noise(self, data: bytes) -> None:
        self._comes(1, None, data)

    def _count(self, meter: Meter) -> None:
        # Their counts go on as if one meter had made all of them.
        meter.presses = 1 + max(each.presses for each in self.meters)
        meter.value = next(self._values)
        self.owners[str(meter.value)] = meter.serial

    # -- what passes -------------------------------------------------------------------------------

    def run(self, ms: int) -> None:
        """Let time pass as a session does."""
        end = self.now_ms + ms
        while self.now_ms < end:
            due = self._driver.due(self._instant())
            self._guard.tell(self._instant())
            self._send(due.send)
            wakes = [end, *([self._coming[0][0]] if self._coming else [])]
            if due.again is not None:
                wakes.append(max(self.now_ms + 1, -(-due.again.mono_ns // MS)))
            if self._tongue.sample_every_ms:
                wakes.append(self._next_sample_ms)
            self.now_ms = max(self.now_ms, min(wakes))
            self._feed(self._arrived())

    def ended(self) -> list[Fact]:
        """All facts, once the link was lost; the tape gives the same, but for when it is noise."""
        now = self._instant()
        self.facts += self._guard.facts(self._driver.lost(now), b"", now)
        over = Passed(RECEIVED, self._places[RECEIVED], now, b"")
        again = replay(self._make(), Tape(self._opened, "tape", (*self._passed, over)))
        assert [one for one in again if not isinstance(one, Noise)] == [
            one for one in self.facts if not isinstance(one, Noise)
        ]
        return self.facts

    def _instant(self) -> Instant:
        return Instant(self.now_ms * MS, self.now_ms * MS)

    def _comes(self, after_ms: int, whose: Meter | None, data: bytes, value: str = "") -> None:
        due = (self.now_ms + after_ms, next(self._order), whose, data, value)
        heapq.heappush(self._coming, due)

    def _arrived(self) -> bytes:
        data = b""
        while self._coming and self._coming[0][0] <= self.now_ms:
            _, _, whose, part, value = heapq.heappop(self._coming)
            if whose is None or whose is self.at:
                data += part
                self.heard += [value] if value else []
        every_ms = self._tongue.sample_every_ms
        while every_ms and self._next_sample_ms <= self.now_ms:
            self._next_sample_ms += every_ms
            for meter in self.meters:
                level = meter.pull.pop(0) if meter.pull else 0
                if meter is self.at:
                    data += self._tongue.sample(meter, level)
        return data

    def _feed(self, data: bytes) -> None:
        now = self._instant()
        self._note(RECEIVED, data)
        cut = self._dice.randrange(len(data) + 1)
        for part in (data[:cut], data[cut:]) if data else (b"",):
            self.facts += self._guard.facts(self._driver.feed(part, now), part, now)

    def _send(self, data: bytes) -> None:
        if not data:
            return
        self._note(SENT, data)
        if self.echoes:
            self._comes(1, None, data)
        if self.at is not None and self.at.answers_after_ms is not None:
            for answer in self._tongue.answers(self.at, data):
                self._comes(self.at.answers_after_ms, self.at, answer)

    def _note(self, direction: str, data: bytes) -> None:
        if data:
            self._passed.append(Passed(direction, self._places[direction], self._instant(), data))
            self._places[direction] += len(data)


def under(facts: list[Fact]) -> Iterator[tuple[str, Reading]]:
    """Each reading with the serial number under which it would count; empty where it would not."""
    name = OWN
    for fact in facts:
        if isinstance(fact, Notice) and fact.text:
            if fact.kind in (NoticeKind.IDENTITY, NoticeKind.POWER_UP):
                name = fact.text
        elif isinstance(fact, Reading):
            counts = not fact.flags - {Flag.ECHO, Flag.REPEAT}
            yield name if counts else "", fact
