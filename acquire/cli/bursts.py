"""Hearing presses on a link, one after the other: a burst of bytes and then silence.

Asks nobody and understands nothing. Main thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from acquire.clock import Clock
from acquire.learn import Chunk, is_ended, is_legible
from acquire.link.base import Link

QUIET_S = 0.6
"""Silence after which a press is over."""

LONG_QUIET_S = 2.0
"""The same for a text that nothing has ended yet: the rest of it may come after a pause."""

MOST_S = 4.0
"""A burst that lasts longer is no press: the meter sends all the time."""


class Burst(NamedTuple):
    """What came of a press; empty if nothing did. `is_endless`: it did not end by itself."""

    chunks: tuple[Chunk, ...]
    is_endless: bool = False

    @property
    def data(self) -> bytes:
        return b"".join(chunk.data for chunk in self.chunks)


def burst(
    link: Link, clock: Clock, wait_s: float, begun: bytes = b"", chunks: list[Chunk] | None = None
) -> Burst:
    """The next burst, for which it waits so long, or the rest of one that has `begun`.

    What came so far is in `chunks`, also where the link is lost. Raises `LinkLost`.
    """
    until_ns = clock.now().mono_ns + round(wait_s * 1e9)
    chunks = [] if chunks is None else chunks
    if begun:
        chunks.append(Chunk(clock.now().mono_ns, begun))
    while True:
        now_ns = clock.now().mono_ns
        left_s = _quiet_s(chunks) if chunks else (until_ns - now_ns) / 1e9
        if left_s <= 0:
            return Burst(())
        data = link.read(left_s)
        at_ns = clock.now().mono_ns
        if data:
            chunks.append(Chunk(at_ns, data))
        elif chunks:
            return Burst(tuple(chunks))
        if chunks and at_ns - chunks[0].at_ns > MOST_S * 1e9:
            return Burst(tuple(chunks), is_endless=True)


def _quiet_s(chunks: Sequence[Chunk]) -> float:
    data = b"".join(chunk.data for chunk in chunks)
    is_open = data.isascii() and is_legible(data) and not is_ended(data)
    return LONG_QUIET_S if is_open else QUIET_S
