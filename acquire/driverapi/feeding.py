"""Feeds a conversation to a driver as a session does, with a guard over all that it gives.

Moments are made up and go by the conversation alone. Never waits. Pure; one thread.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from acquire.driverapi.capture import Step
from acquire.driverapi.driver import Driver
from acquire.driverapi.guard import Guard
from acquire.driverapi.spoiling import Chunk
from acquire.errors import CoatbenchError, DriverError, told
from acquire.model import Fact, Instant

START = Instant(1_750_000_000_000_000_000, 1_000_000_000_000)
Make = Callable[[], Driver]
Cut = Callable[[bytes], list[bytes]]

TROUBLES = (Exception, SystemExit)
"""What a stranger's code may raise; a person who breaks off is none of it."""


class Fed(NamedTuple):
    """What came of feeding: the facts, and those of the end."""

    facts: list[Fact]
    last: list[Fact]


class Feeder:
    """One connection of one driver. Raises `DriverError` on unfit facts, and what the driver does.

    `driver` may be asked for more than is done here; what it gives is then not guarded.
    """

    def __init__(self, make: Make) -> None:
        self.driver = make()
        self.now = START
        self.facts: list[Fact] = []
        self._guard = Guard("under test", START)
        self.sent = self._guard.bytes(self.driver.opening(START), "opening")

    def pass_time(self, seconds: float) -> None:
        ns = round(seconds * 1e9)
        self.now = Instant(self.now.utc_ns + ns, self.now.mono_ns + ns)
        self._guard.tell(self.now)

    def ask(self) -> None:
        due = self.driver.due(self.now)
        self._guard.bytes(due.send, "due")
        self._guard.again(due.again)

    def take(self) -> None:
        self._guard.bytes(self.driver.take(self.now), "take")

    def feed(self, data: bytes) -> None:
        self.facts += self._guard.facts(self.driver.feed(data, self.now), data, self.now)

    def give(self, chunk: Chunk) -> None:
        """A chunk as the line brings it, with `due` asked before it."""
        self.pass_time(chunk.after_s)
        if chunk.takes:
            self.take()
        else:
            self.ask()
        self.feed(chunk.data)

    def lost(self) -> list[Fact]:
        return self._guard.facts(self.driver.lost(self.now), b"", self.now)


def feed(
    make: Make,
    steps: Sequence[Step],
    cut: Cut,
    *,
    asks_due: bool = True,
    is_asked: bool = False,
) -> Fed:
    """Feed a conversation, cut into chunks. Raises as `Feeder` does."""
    feeder = Feeder(make)
    for number, step in enumerate(steps):
        feeder.pass_time(step.after_s)
        # What was sent first are the words of `opening`.
        if asks_due or (is_asked and number and step.sent and not step.takes):
            feeder.ask()
        if step.takes:
            feeder.take()
        for chunk in cut(step.received):
            feeder.feed(chunk)
    return Fed(feeder.facts, feeder.lost())


def whole(data: bytes) -> list[bytes]:
    """All in one chunk."""
    return [data]


def by_byte(data: bytes) -> list[bytes]:
    """A chunk a byte."""
    return [data[i : i + 1] for i in range(len(data))]


def glued(steps: Iterable[Step]) -> list[Step]:
    """Glued as far as time allows: what came at one moment comes in one chunk."""
    found: list[Step] = []
    for step in steps:
        if found and not step.after_s and not step.takes:
            last = found.pop()
            sent, received = last.sent + step.sent, last.received + step.received
            found.append(last._replace(sent=sent, received=received))
        else:
            found.append(step)
    return found


def said(trouble: BaseException) -> str:
    """How a driver failed, for a finding."""
    if isinstance(trouble, DriverError) and trouble.got:
        return trouble.got
    if isinstance(trouble, CoatbenchError):
        return told(trouble, 500)
    return f"raised {told(trouble, 500)}"
