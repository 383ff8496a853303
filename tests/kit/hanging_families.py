"""Driver families that do not come back from some bytes, or with one profile; named in tests."""

from __future__ import annotations

from collections.abc import Mapping

from acquire.driverapi import Driver, LinkNeeds
from acquire.model import Fact, Instant
from drivers.line import FAMILY as LINE
from tests.kit.strange_families import Strange


class HangsOnJunk:
    """Lines as `drivers.line` has them, but bytes that begin with a zero, as no line does."""

    name = "hangs-on-junk"
    api = 1

    def needs(self, profile: Mapping[str, object], source: str) -> LinkNeeds:
        LINE.needs(profile, source)
        return LinkNeeds(baud_rate=9600)

    def driver(self, profile: Mapping[str, object], source: str) -> Driver:
        return _Hanging(LINE.driver(profile, source))


class _Hanging:
    def __init__(self, inner: Driver) -> None:
        self.opening, self.due, self.take = inner.opening, inner.due, inner.take
        self.lost = inner.lost
        self._inner = inner

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        while data.startswith(b"\0"):
            pass
        return self._inner.feed(data, at)


class HangsWithOne:
    """Hears everything and says nothing, and with ``hangs = true`` never comes back."""

    name = "hangs-with-one"
    api = 1

    def needs(self, profile: Mapping[str, object], source: str) -> LinkNeeds:
        return LinkNeeds()

    def driver(self, profile: Mapping[str, object], source: str) -> Driver:
        return Strange(_hang if profile["hangs"] else lambda _: [])


def _hang(data: bytes) -> None:
    while True:
        pass


ON_JUNK = HangsOnJunk()
WITH_ONE = HangsWithOne()
