"""Short warnings before a block, for who checks a meter or asks how the bench stands.

Worked out by whoever asks, on a connection of its own that only reads: the recorder waits for
nothing of it, and no run starts later for it. Warns; never closes the gate.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from acquire.analysis.figures import suffix
from acquire.drift.history import History, Seen
from acquire.drift.reading import histories
from acquire.drift.words import day, latest, nearest
from acquire.history.outlook import Control
from acquire.history.reach import Reached
from acquire.history.warnings import Concern
from acquire.store.reader import StoreReader

MOST = 3
"""So many warnings of one meter are told; the rest is a number and where to look."""

_RANK = (
    Concern.NO_ROOM,
    Concern.BEYOND,
    Concern.LIMIT_PASSED,
    Concern.LIMIT_NEAR,
    Concern.OUT_OF_CONTROL,
)


class Early(NamedTuple):
    """A warning in one line, what it is about, and where."""

    instrument: str
    piece: str
    channel: str
    concern: Concern
    text: str


def early_warnings(reader: StoreReader, instrument: str, now_ns: int) -> list[Early]:
    """What to tell of an instrument before it is used on, the worst first; nothing if all is well.

    One a piece and channel. Raises `StoreError`.
    """
    with reader.snapshot():
        found = histories(reader, instrument)
    return warned(found, now_ns)


def warned(found: Iterable[History], now_ns: int) -> list[Early]:
    """The warnings of histories of meters that are in use."""
    told = [early(history.seen(now_ns)) for history in found if history.is_present]
    return sorted((e for e in told if e is not None), key=lambda e: _RANK.index(e.concern))


def early(seen: Seen) -> Early | None:
    """The one line on a history, if there is anything to warn of."""
    concern = next((c for c in _RANK for w in seen.warnings if w.concern is c), None)
    if concern is None:
        return None
    key = seen.history.key
    who = f"{seen.history.place} of {seen.history.instrument}"
    text = f"{who} {_text(seen, concern)}"
    return Early(seen.history.instrument, key.piece, key.channel, concern, text)


def lines(found: list[Early]) -> list[str]:
    """The first of an instrument's warnings, and how many more there are."""
    told = [f"warning: {e.text}" for e in found[:MOST]]
    if len(found) > MOST:
        told.append(
            f"warning: {len(found) - MOST} more of {found[0].instrument}: "
            f"coatbench drift {found[0].instrument}"
        )
    return told


def _text(seen: Seen, concern: Concern) -> str:
    found = seen.outlook
    if concern is Concern.NO_ROOM:
        return (
            "could not pass as its last check went: that was as uncertain as the limit is wide; "
            "see whether the meter rocks, and take more readings"
        )
    if concern is Concern.BEYOND:
        return (
            f"was {latest(seen)}{suffix(seen.history.series.unit)} off at its last check, where "
            "none passes; clean it, check again, and re-adjust the meter if that does not help"
        )
    if concern is Concern.LIMIT_PASSED:
        history = seen.history
        if abs(float(history.series.deviation[-1])) + history.guard <= history.limit:
            return (
                "was inside its limit at the last check, and yet the line through its checks lies "
                "beyond it: it jumps, or came back; check it again"
            )
        return (
            "has drifted beyond its limit by the line through its checks; clean it, check again "
            "and re-adjust the meter if that does not help"
        )
    if concern is Concern.OUT_OF_CONTROL:
        assert found.control is Control.OUT
        assert found.since_ns is not None
        return (
            f"no longer repeats its earlier checks, since {day(found.since_ns)}; clean it and look "
            "for a cause"
        )
    first = nearest(seen)
    assert first is not None, "what is near is in sight"
    assert first.predicted is not None
    moment = seen.history.series.moment
    may = _when(seen, moment(first.predicted))
    left = found.checks_left
    count = "" if left is None else f", {'with the next check' if left == 0 else _some(left)}"
    if first.state is Reached.DATED and first.day is not None:
        about = _when(seen, moment(first.day))
        if about == may:
            return f"will reach its limit about {about}{count}; plan a re-adjustment"
        return (
            f"will reach its limit about {about} and may do so from {may} on{count}; plan a "
            "re-adjustment"
        )
    return f"may reach its limit from {may} on{count}; plan a re-adjustment"


def _some(checks: int) -> str:
    return f"some {checks} check{'' if checks == 1 else 's'} from now"


def _when(seen: Seen, utc_ns: int) -> str:
    told = day(utc_ns)
    return "today" if told == day(seen.outlook.now_ns) else told
