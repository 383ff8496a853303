"""A driver made of a framer and a decoder: presses told apart, and what is sent when.

Facts are made from received bytes and the moments they came at; sending follows its own clock in
`due` and adds only that a meter fell silent. Opens nothing, waits for nothing. One thread.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from acquire.driverapi import Due
from acquire.driverkit.heard import Heard, Means
from acquire.driverkit.manners import Manners
from acquire.driverkit.presses import PressLog
from acquire.driverkit.streaming import Streaming
from acquire.model import Fact, Instant, Noise, Notice, NoticeKind, Reading
from acquire.wire import Frame

Decoder = Callable[[bytes], "list[Heard] | str"]
"""What the bytes of one frame mean, one entry a value, or in plain words why they mean nothing."""


class Framer(Protocol):
    """Cuts a stream into frames, as `acquire.wire.LineFramer` does."""

    @property
    def waiting_bytes(self) -> int: ...

    @property
    def deadline(self) -> Instant | None: ...

    def feed(self, data: bytes, at: Instant) -> list[Frame]: ...

    def expire(self, now: Instant) -> list[Frame]: ...

    def lost(self) -> list[Frame]: ...


IDENTIFY_TRIES = 3
LONG_SILENCE_S = 30
"""Of a meter that sends by itself. A zone is read faster, an exchanged meter is switched on slower
(common practice, no source)."""
LONG_SILENCE_NS = LONG_SILENCE_S * 1_000_000_000

_READING = Means.READING
_KINDS = {
    Means.IDENTITY: NoticeKind.IDENTITY,
    Means.POWER_UP: NoticeKind.POWER_UP,
    Means.ADJUSTED: NoticeKind.ADJUSTED,
    Means.TROUBLE: NoticeKind.TROUBLE,
}


def _later(at: Instant, ns: int) -> Instant:
    return Instant(at.utc_ns + ns, at.mono_ns + ns)


class FramedDriver:
    """Implements `acquire.driverapi.Driver` for devices whose frames stand by themselves."""

    def __init__(self, framer: Framer, decode: Decoder, manners: Manners) -> None:
        self._manners = manners
        self._framer = framer
        self._decode = decode
        self._presses = PressLog(manners.presses, is_asked=manners.ask is not None)
        self._quantity = manners.quantity
        stream = manners.stream
        self._stream = None if stream is None else Streaming(stream, manners.quantity)
        self._facts: list[Fact] = []
        self._received = 0
        self._received_at: Instant | None = None
        self._answer_ns = round(manners.answer_within_s * 1e9)
        self._asked: Instant | None = None
        self._ask_at: Instant | None = None
        self._unanswered = 0
        self._is_nameless = False
        self._identify_left = 0

    # -- what is sent ----------------------------------------------------------------------------

    def opening(self, at: Instant) -> bytes:
        """Set the device up and ask who is there, where the profile knows how."""
        self._presses.connected(at)
        self._ask_at = at
        self._who_is_there()
        return self._manners.start + self._identify(at)

    def due(self, now: Instant) -> Due:
        """One command at a time: the next is sent when the last was answered or its time is up."""
        self._expire(now)
        send = self._send(now)
        moments = [self._framer.deadline]
        if self._asked is not None:
            moments.append(_later(self._asked, self._answer_ns))
        elif self._manners.ask is not None:
            moments.append(self._ask_at)
        return Due(send, min((m for m in moments if m), key=lambda m: m.mono_ns, default=None))

    def take(self, at: Instant) -> bytes:
        """The profile's command for taking a reading; empty if it has none."""
        if self._manners.take:
            self._asked = at
        return self._manners.take

    def _send(self, now: Instant) -> bytes:
        asked, ask = self._asked, self._manners.ask
        if asked is not None:
            if now.mono_ns - asked.mono_ns < self._answer_ns:
                return b""
            self._asked = None
            self._stayed_silent(now)
        if self._identify_left:
            return self._identify(now)
        if ask is None or self._ask_at is None or now.mono_ns < self._ask_at.mono_ns:
            return b""
        self._asked = now
        self._ask_at = _later(now, round(ask.every_s * 1e9))
        return ask.command

    def _identify(self, at: Instant) -> bytes:
        if self._identify_left:
            self._identify_left -= 1
            self._asked = at
        return self._manners.identify

    def _stayed_silent(self, now: Instant) -> None:
        """An asked meter that does not answer is off or its cable is out: told once."""
        if self._manners.ask is None:
            return
        self._unanswered += 1
        if self._unanswered == self._manners.silent_after:
            text = f"no answer to {self._unanswered} commands in a row"
            self._facts.append(self._inferred(NoticeKind.TROUBLE, now, self._end_of_facts(), text))

    # -- what is received ------------------------------------------------------------------------

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        """The facts that these bytes complete, after those that time alone has made."""
        self._expire(at)
        facts = self._facts
        self._facts = []
        if data:
            self._received += len(data)
            self._ask_after_silence(at)
            self._received_at = at
        understand = self._understand
        for frame in self._framer.feed(data, at):
            understand(frame, at, facts)
        if self._stream is not None:
            facts += self._stream.flush(at)
        return facts

    def _ask_after_silence(self, at: Instant) -> None:
        """Behind an adapter that stays open another meter may have been put there meanwhile."""
        before = self._received_at
        if before is None or self._manners.ask is not None:
            return
        if at.mono_ns - before.mono_ns > LONG_SILENCE_NS:
            self._who_is_there()

    def lost(self, at: Instant) -> list[Fact]:
        """What waits for its end becomes noise."""
        facts = self._facts
        self._facts = []
        facts += [_noise(frame, at) for frame in self._framer.lost()]
        self._asked = self._ask_at = None
        return facts

    def _expire(self, now: Instant) -> None:
        """What time ends. A frame that only a silence proves came when its bytes came."""
        came = self._received_at or now
        for frame in self._framer.expire(now):
            self._understand(frame, now if frame.fault else came, self._facts)

    def _understand(self, frame: Frame, at: Instant, facts: list[Fact]) -> None:
        start, raw, fault = frame
        if fault:
            self._settle(at, facts)
            facts.append(_noise(frame, at))
            return
        if self._unanswered:
            self._alive(start, at, facts)
        heard = self._decode(raw)
        stream = self._stream
        if stream is not None and not isinstance(heard, str):
            if _is_sample(heard):
                heard = self._samples(stream, heard, frame, at, facts)
                if not heard:
                    return
            else:
                facts += stream.flush(at)
        if isinstance(heard, str):
            self._settle(at, facts)
            self._asked = None if self._manners.ask else self._asked
            facts.append(Noise(at, raw, start, start + len(raw), heard))
            return
        goes_on = False
        for said in heard:
            if said.means is _READING:
                self._result(said, start, raw, at, facts, goes_on)
            else:
                self._notice(said, frame, at, facts)
            goes_on = True

    def _samples(
        self, stream: Streaming, heard: list[Heard], frame: Frame, at: Instant, facts: list[Fact]
    ) -> str:
        """Take the samples of one frame, all or none of them; why not, where they are none."""
        counts: list[int] = []
        for said in heard:
            count = "no value" if said.value is None else stream.count_of(said.value)
            if isinstance(count, str):
                return count
            counts.append(count)
        end = frame.start + len(frame.data)
        for count, said in zip(counts, heard, strict=True):
            facts += stream.add(count, said.unit, said.channel, frame.start, end, at)
        return ""

    def _settle(self, at: Instant, facts: list[Fact]) -> None:
        """Something else than samples is to be told; a pull that it broke into is none."""
        if self._stream is not None:
            facts += self._stream.flush(at)
            self._stream.interrupted()

    def _result(
        self, heard: Heard, start: int, raw: bytes, at: Instant, facts: list[Fact], goes_on: bool
    ) -> None:
        _, text, value, unit, channel, count, flags = heard
        flagged, restarted, missed = self._presses.result(raw, heard, at, goes_on=goes_on)
        if self._asked is not None:
            self._answered()
        elif self._is_nameless and not self._identify_left and not self._manners.ask:
            # It was off when it was asked: now it is on.
            self._identify_left = 1
        if restarted or missed:
            self._irregular(restarted, missed, start, at, facts)
        if flagged is None:
            return
        facts.append(
            Reading(
                self._quantity, channel, value, unit, text, at, raw, start, start + len(raw),
                count, flags | flagged if flags else flagged,
            )
        )  # fmt: skip

    def _notice(self, heard: Heard, frame: Frame, at: Instant, facts: list[Fact]) -> None:
        means, start = heard.means, frame.start
        if means is Means.NOTHING:
            self._answered()
            if not self._presses.nothing():
                return
            # It had a result and has none: it was switched off and on.
            kind, text = NoticeKind.POWER_UP, ""
            self._who_is_there()
        else:
            kind, text = _KINDS[means], heard.text
        if means is Means.IDENTITY:
            self._asked = None
            self._named()
        elif means is Means.POWER_UP:
            self._presses.powered_up(at)
            if text:
                self._named()
            else:
                self._who_is_there()
        elif heard.press is not None:
            is_new = means is Means.TROUBLE
            press = self._presses.counted(heard.press, is_new=is_new)
            self._irregular(press.restarted, press.missed, start, at, facts)
        if means is Means.TROUBLE:
            self._answered()
        facts.append(Notice(kind, at, frame.data, start, start + len(frame.data), text))

    def _answered(self) -> None:
        """Of an asked meter any result answers; what a sending meter sends may be a press."""
        if self._manners.ask is not None or self._manners.take:
            self._asked = None

    def _alive(self, start: int, at: Instant, facts: list[Fact]) -> None:
        if self._unanswered >= self._manners.silent_after:
            facts.append(self._inferred(NoticeKind.POWER_UP, at, start))
            self._presses.woke()
            self._who_is_there()
        self._unanswered = 0

    def _irregular(
        self, restarted: bool, missed: int, start: int, at: Instant, facts: list[Fact]
    ) -> None:
        if restarted:
            facts.append(self._inferred(NoticeKind.POWER_UP, at, start))
            self._who_is_there()
        if missed:
            self._who_is_there()
            # Why there was none the count does not say: it may have come as noise.
            by = "one" if missed == 1 else f"{missed}"
            text = f"the meter's count went on by {by} without a reading here"
            facts.append(self._inferred(NoticeKind.TROUBLE, at, start, text))

    def _who_is_there(self) -> None:
        """After a power-up that named nobody, or a leap, another instrument may be there."""
        self._is_nameless = bool(self._manners.identify)
        self._identify_left = IDENTIFY_TRIES if self._is_nameless else 0

    def _named(self) -> None:
        self._is_nameless = False
        self._identify_left = 0

    def _end_of_facts(self) -> int:
        """Where in the stream a fact without bytes stands: before all that is still to come."""
        return self._received - self._framer.waiting_bytes

    @staticmethod
    def _inferred(kind: NoticeKind, at: Instant, start: int, text: str = "") -> Notice:
        """A notice that no line said: it has a place in the stream and no bytes."""
        return Notice(kind, at, b"", start, start, text)


def _is_sample(heard: list[Heard]) -> bool:
    return bool(heard) and heard[0].means is Means.SAMPLE


def _noise(frame: Frame, at: Instant) -> Noise:
    return Noise(at, frame.data, frame.start, frame.start + len(frame.data), frame.fault)
