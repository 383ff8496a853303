"""The driver of typed entries: readings, a first entry that waits for its second, and refusals.

Facts follow from what was typed and when alone, never from what was asked in between, so that a
replayed tape gives the same readings. Sends nothing, opens nothing. One thread.
"""

from __future__ import annotations

from typing import NamedTuple

from acquire.driverapi import Due
from acquire.driverkit import Heard, Means
from acquire.model import Fact, Instant, Noise, Notice, NoticeKind, Reading
from acquire.wire import Frame, LineFramer
from drivers.keyed.codec import Codec
from drivers.keyed.profile import KeyedProfile

LIMIT_BYTES = 64
STALLED_S = 0.5
"""An entry comes in one piece; on a damaged tape it may not."""

_KINDS = {Means.ADJUSTED: NoticeKind.ADJUSTED, Means.POWER_UP: NoticeKind.POWER_UP}


class _First(NamedTuple):
    """A first entry that waits for the same again: until when, and where it ended."""

    text: str
    values: dict[str, Heard]
    until: Instant
    end: int


class KeyedDriver:
    """Implements `acquire.driverapi.Driver` for one connection."""

    def __init__(self, profile: KeyedProfile) -> None:
        self._quantity = profile.quantity
        self._codec = Codec(profile)
        self._framer = LineFramer(b"\n", LIMIT_BYTES, STALLED_S, skip_tail=True)
        self._within_s = profile.twice_within_s
        self._first: _First | None = None
        self._facts: list[Fact] = []

    def opening(self, at: Instant) -> bytes:  # noqa: ARG002 - nobody hears it
        """Nothing: there is no cable."""
        return b""

    def take(self, at: Instant) -> bytes:  # noqa: ARG002 - nobody hears it
        """Nothing: only a person can read the display."""
        return b""

    def due(self, now: Instant) -> Due:
        """Nothing to send; when a first entry lapses or a broken line is given up."""
        self._pass_time(now)
        first = self._first
        moments = [self._framer.deadline, None if first is None else first.until]
        return Due(b"", min((m for m in moments if m), key=lambda m: m.mono_ns, default=None))

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        """The facts of the entries that these bytes complete, after those of time alone."""
        self._pass_time(at)
        facts, self._facts = self._facts, []
        for frame in self._framer.feed(data, at):
            self._entry(frame, at, facts)
        return facts

    def lost(self, at: Instant) -> list[Fact]:
        """A first entry that waits is told of, and what was not ended becomes noise."""
        self._pass_time(at)
        facts, self._facts = self._facts, []
        if self._first is not None:
            facts.append(self._lapsed(self._first, at, "before the end of the connection"))
            self._first = None
        facts += [_noise(frame, at, frame.fault) for frame in self._framer.lost()]
        return facts

    def _pass_time(self, now: Instant) -> None:
        """What time ends, in the order in which it ends."""
        deadline = self._framer.deadline
        first = self._first
        if first is not None and (deadline is None or first.until.mono_ns <= deadline.mono_ns):
            self._lapse(first, now)
        for frame in self._framer.expire(now):
            self._entry(frame, deadline or now, self._facts)

    def _lapse(self, first: _First, now: Instant) -> None:
        if now.mono_ns >= first.until.mono_ns:
            self._first = None
            when = f"within {self._within_s:g} s"
            self._facts.append(self._lapsed(first, first.until, when))

    @staticmethod
    def _lapsed(first: _First, at: Instant, when: str) -> Notice:
        text = f"{first.text} was typed once and not again {when}: it counts for nothing"
        # No line said it: it has a place in the stream and no bytes.
        return Notice(NoticeKind.LAPSED, at, b"", first.end, first.end, text)

    def _entry(self, frame: Frame, at: Instant, facts: list[Fact]) -> None:
        start, raw, fault = frame
        heard = fault or self._codec.decode(raw)
        first, self._first = self._first, None
        if isinstance(heard, str):
            dropped = "" if first is None else f"; {first.text} before it counts for nothing"
            facts.append(_noise(frame, at, heard + dropped))
            return
        end = start + len(raw)
        kind = _KINDS.get(heard[0].means)
        if kind is not None:
            facts.append(Notice(kind, at, raw, start, end))
            return
        values = {said.channel: said for said in heard}
        if self._within_s is not None:
            text = " ".join(raw.decode("ascii").split())
            if first is None:
                within_ns = round(self._within_s * 1e9)
                until = Instant(at.utc_ns + within_ns, at.mono_ns + within_ns)
                self._first = _First(text, values, until, end)
                facts.append(Notice(NoticeKind.TYPED_ONCE, at, raw, start, end, text))
                return
            if not _alike(first.values, values):
                reason = (
                    f"got {text}, wanted {first.text} as typed before it: neither counts; look at "
                    "the display and type it twice again"
                )
                facts.append(_noise(frame, at, reason))
                return
        facts += [
            Reading(
                self._quantity, said.channel, said.value, said.unit, said.text, at, raw, start, end,
                None, said.flags,
            )
            for said in heard
        ]  # fmt: skip


def _alike(first: dict[str, Heard], second: dict[str, Heard]) -> bool:
    """Whether two entries say the same of the same channels; 91.4 and 91.40 do."""
    return first.keys() == second.keys() and all(
        (said.value, said.flags) == (first[channel].value, first[channel].flags)
        for channel, said in second.items()
    )


def _noise(frame: Frame, at: Instant, reason: str) -> Noise:
    return Noise(at, frame.data, frame.start, frame.start + len(frame.data), reason)
