"""A capture cut into presses by its pauses. Pure.

A press is a burst of bytes with silence before and behind it. A meter that sends all the time has
no bursts, and one that sends a result again and again has more bursts than presses: both are told.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

LEAST_APART_S = 0.25
"""Nobody presses faster, and few meters pause longer within a press."""

_CLEARLY = 3.0
"""A pause between presses is so many times longer than one within a press."""

_REGULAR = 1.5
_MANY = 12
_LONG_S = 2.0


class Chunk(NamedTuple):
    """Bytes that came at one moment, in nanoseconds of a clock that only goes on."""

    at_ns: int
    data: bytes


class Split(NamedTuple):
    """`presses` in order, each with all its bytes; `begins` is when each did.

    `pause_s` is the longest pause within one; `again_s` how long after a press the same bytes came
    once more, 0 where none did. `streams`: bytes come at a steady rate without anybody pressing.
    """

    presses: tuple[bytes, ...]
    pause_s: float
    again_s: float
    streams: bool
    begins: tuple[int, ...] = ()


def split(chunks: Sequence[Chunk], wanted: int | None = None) -> Split:
    """The presses of a capture; `wanted` is how many there were, where that is known."""
    chunks = [chunk for chunk in chunks if chunk.data]
    if not chunks:
        return Split((), 0.0, 0.0, False)
    gaps = [(b.at_ns - a.at_ns) / 1e9 for a, b in pairwise(chunks)]
    apart = _apart(gaps, wanted)
    bursts: list[list[Chunk]] = [[chunks[0]]]
    for gap, chunk in zip(gaps, chunks[1:], strict=True):
        if gap >= apart:
            bursts.append([])
        bursts[-1].append(chunk)
    pause = max((gap for gap in gaps if gap < apart), default=0.0)
    data = [b"".join(chunk.data for chunk in burst) for burst in bursts]
    begins = tuple(burst[0].at_ns for burst in bursts)
    if _streams(bursts, gaps, wanted):
        return Split(tuple(data), pause, 0.0, True, begins)
    if pause >= LEAST_APART_S and (whole := _alike(bursts)) is not None:
        return Split(tuple(whole), 0.0, pause, False, begins)
    if wanted is not None and len(data) > wanted:
        kept, again = _once(bursts, data)
        if len(kept) == wanted:
            once = tuple(data[place] for place in kept)
            return Split(once, pause, again, False, tuple(begins[place] for place in kept))
    return Split(tuple(data), pause, 0.0, False, begins)


def _apart(gaps: Sequence[float], wanted: int | None) -> float:
    """The pause from which on it is another press: where pauses clearly become longer.

    Of several such places the one that gives as many presses as there were, else the first.
    """
    ordered = sorted(gaps)
    leaps = [
        longer
        for shorter, longer in pairwise([LEAST_APART_S / _CLEARLY, *ordered])
        if longer >= LEAST_APART_S and longer >= _CLEARLY * shorter
    ]
    for leap in leaps:
        if wanted is not None and sum(gap >= leap for gap in gaps) + 1 == wanted:
            return leap
    return leaps[0] if leaps else LEAST_APART_S


def _streams(bursts: Sequence[Sequence[Chunk]], gaps: Sequence[float], wanted: int | None) -> bool:
    if any(_lasts(burst) for burst in bursts):
        return True
    enough = _MANY if wanted is None else max(_MANY, 3 * wanted)
    steady = sorted(gaps)
    return len(bursts) >= enough and steady[-1] < _REGULAR * steady[0]


def _lasts(burst: Sequence[Chunk]) -> bool:
    """Whether bytes came for so long that nobody's press explains it."""
    return len(burst) >= _MANY and (burst[-1].at_ns - burst[0].at_ns) / 1e9 > _LONG_S


def _alike(bursts: Sequence[Sequence[Chunk]]) -> list[bytes] | None:
    """One of the parts of each burst, if the parts between its longer pauses are all the same."""
    found = []
    for burst in bursts:
        parts = [burst[0].data]
        for before, chunk in pairwise(burst):
            if (chunk.at_ns - before.at_ns) / 1e9 >= LEAST_APART_S:
                parts.append(chunk.data)
            else:
                parts[-1] += chunk.data
        if len(set(parts)) > 1:
            return None
        found.append(parts[0])
    return found


def _once(bursts: Sequence[Sequence[Chunk]], data: Sequence[bytes]) -> tuple[list[int], float]:
    """The place of each press, once where the same bytes came again; and how long after."""
    kept = [0]
    again = 0.0
    for place in range(1, len(data)):
        if data[place] == data[kept[-1]]:
            since = bursts[place][0].at_ns - bursts[place - 1][-1].at_ns
            again = max(again, since / 1e9)
        else:
            kept.append(place)
    return kept, again
