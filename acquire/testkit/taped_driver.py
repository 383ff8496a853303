"""The driver of a tape that a whole session plays: it speaks when it spoke that day, and only then.

What is sent may follow from the moment it is sent at, and a session whose clock stands where the
tape is asks at others. So what the driver would send when nothing was sent is taken back. Used by
the session's thread.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Protocol

from acquire.driverapi import Driver, Due, Family, LinkNeeds, Needs
from acquire.driverapi.registry import Registry
from acquire.link.tape import Passed, Tape
from acquire.model import Fact, Instant
from acquire.report.replay.spoken import Spoken, speaks_soon
from acquire.report.replay.takingback import TakingBack


class Playing(Protocol):
    """The tape as it is being played."""

    tape: Tape

    @property
    def next(self) -> Passed | None:
        """What comes next; None at the end."""
        ...

    def opened_with(self, opening: bytes) -> None:
        """Pass over what the driver was sending as the line was opened."""
        ...

    def spoken(self) -> bytes:
        """What was sent at the moment that has just come, once; empty if nothing was."""
        ...


class TapedDriver:
    """Implements `acquire.driverapi.Driver`."""

    def __init__(self, driver: Driver, playing: Playing) -> None:
        self._driver = TakingBack(driver)
        self._playing = playing
        self._spoken = Spoken(playing.tape)

    def opening(self, at: Instant) -> bytes:
        """See `Driver`."""
        opening = self._driver.opening(at)
        self._playing.opened_with(opening)
        return opening

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        """See `Driver`."""
        return self._driver.feed(data, at)

    def due(self, now: Instant) -> Due:
        """What was sent now, if it still would be, whether due or asked for by a person."""
        if said := self._playing.spoken():
            self._spoken.has_spoken = True
            due = self._driver.due(now)
            if due.send != said and self._driver.take(now) == said:
                return Due(said, due.again)
            return due
        following = self._playing.next
        if speaks_soon(following, now):
            return Due(b"", None)
        due = self._driver.due(now)
        if due.send and self._spoken.was_silent(now, following) and self._driver.take_back():
            return Due(b"", None)
        return due

    def take(self, at: Instant) -> bytes:
        """See `Driver`."""
        return self._driver.take(at)

    def lost(self, at: Instant) -> list[Fact]:
        """See `Driver`."""
        return self._driver.lost(at)


class TapedFamily:
    """Implements `acquire.driverapi.Family`."""

    def __init__(self, family: Family, playing: Playing) -> None:
        self._family = family
        self._playing = playing
        self.name, self.api = family.name, family.api

    def needs(self, profile: Mapping[str, object], source: str) -> Needs:
        """Those of the device; a tape is not left alone until more has come."""
        needs = self._family.needs(profile, source)
        return replace(needs, gather_s=0.0) if isinstance(needs, LinkNeeds) else needs

    def driver(self, profile: Mapping[str, object], source: str) -> Driver:
        """See `Family`."""
        return TapedDriver(self._family.driver(profile, source), self._playing)


class TapedRegistry(Registry):
    """Gives each family as the driver of a tape."""

    def __init__(self, playing: Callable[[], Playing]) -> None:
        super().__init__()
        self._playing = playing

    def family(self, name: str) -> Family:
        """See `Registry`."""
        return TapedFamily(super().family(name), self._playing())
