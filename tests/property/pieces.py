"""A stream that comes to a driver in pieces, with pauses between them."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

from acquire.driverapi.driver import Driver
from acquire.model import Fact, Instant


def fed_in_pieces(
    driver: Driver,
    start: Instant,
    stream: bytes,
    cuts: list[int],
    pauses: list[float],
    after_each: Callable[[], None],
) -> list[Fact]:
    """All facts of a driver that is opened, fed the stream cut at places, and lost."""
    driver.opening(start)
    places = [0, *sorted(cut for cut in cuts if cut < len(stream)), len(stream)]
    facts: list[Fact] = []
    now = start
    for (first, end), pause in zip(pairwise(places), pauses, strict=False):
        ns = round(pause * 1e9)
        now = Instant(now.utc_ns + ns, now.mono_ns + ns)
        driver.due(now)
        facts += driver.feed(stream[first:end], now)
        after_each()
    return facts + driver.lost(now)
