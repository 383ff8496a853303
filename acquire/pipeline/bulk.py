"""Noise in bulk becomes few facts: a device that floods its line must not fill the store with rows.

Nothing of it is lost: noise that follows on noise of the same reason, with nothing but the ends of
lines between, is one noise with the bytes of all. Little noise is left as it is. Pure.
"""

from __future__ import annotations

from dataclasses import replace

from acquire.model import Chunk, Fact, Noise

LITTLE = 32
"""So many facts of one chunk are kept one by one."""
ENDS_OF_LINES = b"\r\n\x00"


def condensed(facts: list[Fact], chunk: Chunk) -> list[Fact]:
    """The facts made of a chunk, with neighbouring noise of one reason joined if there is much."""
    if len(facts) <= LITTLE or not any(isinstance(fact, Noise) for fact in facts):
        return facts
    found: list[Fact] = []
    alike: list[Noise] = []
    for fact in facts:
        if not isinstance(fact, Noise):
            found += [*_joined(alike, chunk), fact]
            alike = []
            continue
        if alike and not _goes_on(alike[-1], fact, chunk):
            found += _joined(alike, chunk)
            alike = []
        alike.append(fact)
    return [*found, *_joined(alike, chunk)]


def _goes_on(last: Noise, noise: Noise, chunk: Chunk) -> bool:
    return (
        noise.reason == last.reason
        and last.start >= chunk.offset
        and not _bytes(chunk, last.end, noise.start).strip(ENDS_OF_LINES)
    )


def _joined(alike: list[Noise], chunk: Chunk) -> list[Noise]:
    if len(alike) < 2:
        return alike
    first, last = alike[0], alike[-1]
    raw = _bytes(chunk, first.start, last.end)
    reason = f"{first.reason} ({len(alike)} of them in a row)"
    return [replace(first, raw=raw, end=last.end, reason=reason)]


def _bytes(chunk: Chunk, start: int, end: int) -> bytes:
    return chunk.data[start - chunk.offset : end - chunk.offset]
