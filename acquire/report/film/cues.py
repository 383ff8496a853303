"""Lines of captions as cues of a film: none overlaps another, none is too short to be read. Pure.

A line never shows before its moment. What comes faster than it can be read waits its turn, several
lines together where they came together.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from acquire.report.film.camera import Camera
from acquire.report.film.moments import Moment, Stretch

LEAST_MS, LEAST_A_LINE_MS = 1500, 500
"""So long a cue of one line stays, and so much longer for each further line, or to the film's end
(common practice, no source: a line is read in a second and a half)."""
MOST_MS = 5000
"""So long it stays where nothing follows."""
MOST_LINES = 4
MOST_JOINED = 3
"""Titles of one chapter; a player shows a line of it."""
LEAST_CHAPTER_MS = 10_000
"""Players join or refuse chapters that are shorter (common practice, no source)."""


class Cue(NamedTuple):
    """Lines from one place of the film to another, in milliseconds."""

    start_ms: int
    end_ms: int
    lines: tuple[str, ...]


class Captions(NamedTuple):
    """`before` and `after` count readings that lie outside of the film, `inside` those within.

    `late_ms` is the longest that a line had to wait.
    """

    cues: tuple[Cue, ...]
    inside: int
    before: int
    after: int
    late_ms: int


def captions_of(moments: Sequence[Moment], camera: Camera, lasts_ms: int | None = None) -> Captions:
    """The cues of one film; `lasts_ms` is how long it is, None where that is not known."""
    timed = [(camera.film_ms(m.at_utc_ns), m) for m in moments]
    before = sum(m.is_reading for at, m in timed if at < 0)
    waiting = [(at, m) for at, m in timed if at >= 0]
    cues: list[Cue] = []
    shown = late = 0
    place = free_ms = 0
    while place < len(waiting):
        start = max(waiting[place][0], free_ms)
        if lasts_ms is not None and start >= lasts_ms:
            break
        taken = [m for at, m in waiting[place : place + MOST_LINES] if at <= start]
        late = max(late, start - waiting[place][0])
        place += len(taken)
        shown += sum(m.is_reading for m in taken)
        free_ms = start + LEAST_MS + LEAST_A_LINE_MS * (len(taken) - 1)
        following = waiting[place][0] if place < len(waiting) else start + MOST_MS
        end = min(start + MOST_MS, max(free_ms, following))
        cues.append(Cue(start, end if lasts_ms is None else min(end, lasts_ms),
                        tuple(m.text for m in taken)))  # fmt: skip
    after = sum(m.is_reading for _, m in waiting[place:])
    return Captions(tuple(cues), shown, before, after, late)


def chapters_of(
    stretches: Sequence[Stretch], camera: Camera, title: str, lasts_ms: int | None, last_ms: int
) -> tuple[Cue, ...]:
    """Chapters from the film's first moment to its last; too short ones are joined.

    Those that are joined give the title together, the longest ones where they are many. `title` is
    that of the first where nothing had begun; `last_ms` is the end where the film's length is not
    known.
    """
    end_ms = last_ms if lasts_ms is None else lasts_ms
    timed = [(camera.film_ms(s.at_utc_ns), s.title) for s in stretches]
    begun = max((at for at, _ in timed if at <= 0), default=0)
    starts = [(0, said) for at, said in timed if at == begun <= 0] or [(0, title)]
    starts += [(at, said) for at, said in timed if 0 < at < end_ms]
    ends = [at for at, _ in starts[1:]] + [end_ms]
    groups: list[list[tuple[int, int, str]]] = []
    for (at, said), end in zip(starts, ends, strict=True):
        part = (at, max(end, at), said)
        if groups and at - groups[-1][0][0] < LEAST_CHAPTER_MS:
            groups[-1].append(part)
        else:
            groups.append([part])
    if len(groups) > 1 and groups[-1][-1][1] - groups[-1][0][0] < LEAST_CHAPTER_MS:
        groups[-2:] = [groups[-2] + groups[-1]]
    kept = [(parts[0][0], _title(parts)) for parts in groups]
    bounds = [at for at, _ in kept[1:]] + [max(end_ms, kept[-1][0] + 1)]
    return tuple(Cue(at, end, (said,)) for (at, said), end in zip(kept, bounds, strict=True))


def _title(parts: Sequence[tuple[int, int, str]]) -> str:
    """The titles of what is joined, each once, in the order in which they began."""
    longest = sorted(parts, key=lambda part: part[0] - part[1])
    named = list(dict.fromkeys(said for _, _, said in longest))[:MOST_JOINED]
    every = dict.fromkeys(said for _, _, said in parts)
    rest = len(every) - len(named)
    more = f"; and {rest} more" if rest else ""
    return "; ".join(said for said in every if said in named) + more
