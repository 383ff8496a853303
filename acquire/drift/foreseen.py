"""Whether checks that no longer passed had been foreseen by the checks before them.

After a re-adjustment the charts begin anew, and what was seen coming would be told nowhere. So each
past block is looked at from the check before it, with no more than was known then: a drift that led
there, or a jump (a knock, dirt, another piece) that no trend can tell. Judges nothing: where a
check no longer passes is taken from the rules of the last check. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from acquire.analysis.figures import signed, suffix
from acquire.drift.history import History
from acquire.drift.words import day
from acquire.history.charting import Charting
from acquire.history.lack import Lack
from acquire.history.outlook import Outlook, outlook
from acquire.history.segments import Segment, segments
from acquire.history.series import NS_A_DAY
from acquire.history.trend import Line

MOST_BLOCKS = 3
"""So many of a history are looked back from, the latest."""

MOST_BACK = 20
"""So many checks before a block are asked since when it was foreseen."""

_NO_CHARTS = 10**9
"""A baseline that no history has: only the line is wanted, and charts take their time."""


class Block(NamedTuple):
    """A check that found the meter where no check passes, and what those before it told.

    `place` is that of the check in its series, `first` the place of its stretch. `seen` is the
    outlook at the last check before, None where it is the first of its stretch. `warned` is the
    place of the check from which on a warning stood until the block; None where none did.
    """

    history: History
    first: int
    place: int
    seen: Outlook | None
    warned: int | None

    @property
    def check_id(self) -> int:
        return self.history.series.checks[self.place]

    @property
    def at_ns(self) -> int:
        return int(self.history.series.at_ns[self.place])

    @property
    def warned_by(self) -> int | None:
        """The check that warned first."""
        return None if self.warned is None else self.history.series.checks[self.warned]

    @property
    def line(self) -> Line | None:
        """The line that led here, in days since the first check of `seen`."""
        line = self.seen.line if self.seen is not None and self.warned is not None else None
        return line if isinstance(line, Line) else None


def blocks(
    history: History, most: int = MOST_BLOCKS, parts: Sequence[Segment] | None = None
) -> list[Block]:
    """The latest blocks of a history, in their order; of each stretch the first one alone.

    `parts` are its segments, for who has them.
    """
    edge = history.limit - history.guard
    if edge <= 0:
        return []
    found: list[Block] = []
    for segment in reversed(segments(history.series) if parts is None else parts):
        beyond = np.flatnonzero(np.abs(segment.deviation) > edge)
        if len(beyond):
            found.append(_block(history, segment, segment.start + int(beyond[0])))
        if len(found) == most:
            break
    return found[::-1]


def latest_blocks(found: Iterable[Sequence[Block]], most: int = 6) -> list[Block]:
    """The latest blocks of several histories in the order of their checks."""
    told = sorted((b for own in found for b in own), key=lambda b: (b.at_ns, b.check_id))
    return told[-most:]


def block_words(block: Block) -> str:
    """When it came, and whether it was seen coming."""
    history, series = block.history, block.history.series
    unit = suffix(series.unit)
    edge = history.limit - history.guard
    came = (
        f"check {block.check_id} on {day(block.at_ns)} found {history.place} of "
        f"{history.instrument} {signed(float(series.deviation[block.place]), history.guard)}{unit} "
        f"off, where a check no longer passes (from about {edge:.2g}{unit} on)"
    )
    return f"{came}; {foresight(block)}"


def foresight(block: Block) -> str:
    """Whether it was seen coming, since when, and for which day."""
    seen = block.seen
    if seen is None:
        return "it was the first check of its stretch, so nothing could foresee it"
    if isinstance(seen.line, Lack):
        count = block.place - block.first
        return (
            f"it could not be foreseen: there {'was' if count == 1 else 'were'} only {count} check"
            f"{'' if count == 1 else 's'} before it since the meter was last changed, too few for "
            "a trend"
        )
    if block.warned is None:
        return (
            "it was not foreseen: the checks before it showed no drift that led there, so it came "
            "at once (a knock, dirt, another piece)"
        )
    series = block.history.series
    last = block.place - 1
    since = f"check {series.checks[block.warned]} on {day(int(series.at_ns[block.warned]))}"
    told = f"{_how_well(block, seen)}: {since} warned first"
    if last != block.warned:
        told += f", and every check after it up to check {series.checks[last]}"
    return f"{told}; the last of them expected it {_expected(seen)}"


def _how_well(block: Block, seen: Outlook) -> str:
    """Foreseen is what came no sooner than on the first day that was given for it."""
    days = [r.predicted for r in seen.reaches if r.predicted is not None]
    if day(block.at_ns) < day(seen.series.moment(min(days))):
        return "it came sooner than was foreseen"
    return "it was foreseen"


def _expected(seen: Outlook) -> str:
    days = [r.day for r in seen.reaches if r.day is not None]
    may = [r.predicted for r in seen.reaches if r.predicted is not None]
    earliest = day(seen.series.moment(min(may)))
    if not days:
        return f"from {earliest} on"
    about = day(seen.series.moment(min(days)))
    return f"about {about}" + ("" if about == earliest else f", at the earliest on {earliest}")


def _block(history: History, segment: Segment, place: int) -> Block:
    if place == segment.start:
        return Block(history, segment.start, place, None, None)
    last = _at(history, segment.start, place)
    warned = None
    seen = last
    least = max(segment.start, place - MOST_BACK)
    for stop in range(place, least, -1):
        seen = last if stop == place else _at(history, segment.start, stop)
        if not (seen.is_near and isinstance(seen.line, Line)):
            break
        warned = stop - 1
    return Block(history, segment.start, place, last, warned)


def _at(history: History, start: int, stop: int) -> Outlook:
    """What the checks from `start` to `stop` (exclusive) told at the last of them."""
    series = history.series
    charting = Charting(resolution=history.resolution, baseline=_NO_CHARTS)
    # No line takes more than this, and of ten years the rest need not be cut up each time.
    since_ns = int(series.at_ns[stop - 1]) - round((charting.trend_days + 1) * NS_A_DAY)
    first = max(start, int(np.searchsorted(series.at_ns[:stop], since_ns)))
    return outlook(
        series.part(first, stop),
        limit=history.limit,
        guard=history.guard,
        now_ns=int(series.at_ns[stop - 1]),
        charting=charting,
    )
