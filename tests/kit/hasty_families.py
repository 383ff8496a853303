"""Driver families that ask their line too often, or leave out its speed; named in tests."""

from __future__ import annotations

from collections.abc import Mapping

from acquire.driverapi import Driver, Due, LinkNeeds
from acquire.model import Fact, Instant
from drivers.line import FAMILY as LINE

EVERY_NS = 1_000_000


class Hasty:
    """A driver of lines that sends 1,000 bytes a millisecond besides, if it is told to."""

    def __init__(self, inner: Driver, asks: bytes) -> None:
        self._inner = inner
        self._asks = asks

    def opening(self, at: Instant) -> bytes:
        return self._inner.opening(at)

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        return self._inner.feed(data, at)

    def due(self, now: Instant) -> Due:
        own = self._inner.due(now)
        if not self._asks:
            return own
        return Due(self._asks, Instant(now.utc_ns + EVERY_NS, now.mono_ns + EVERY_NS))

    def take(self, at: Instant) -> bytes:
        return self._inner.take(at)

    def lost(self, at: Instant) -> list[Fact]:
        return self._inner.lost(at)


class HastyFamily:
    """Lines as `drivers.line` has them, on a line of this speed."""

    name = "hasty"
    api = 1

    def __init__(self, needs: LinkNeeds, asks: bytes = b"") -> None:
        self._needs = needs
        self._asks = asks

    def needs(self, profile: Mapping[str, object], source: str) -> LinkNeeds:
        LINE.needs(profile, source)
        return self._needs

    def driver(self, profile: Mapping[str, object], source: str) -> Driver:
        return Hasty(LINE.driver(profile, source), self._asks)


AT_THE_USUAL_SPEED = HastyFamily(LinkNeeds(baud_rate=9600), b"?" * 1000)
WITHOUT_A_SPEED = HastyFamily(LinkNeeds())
ON_THE_NETWORK = HastyFamily(LinkNeeds(has_line=False))
