"""A driver made of a framer and a decoder: presses told apart, and what is sent when.

Facts are made from received bytes and the moments they came at; sending follows its own clock in
`due` and adds only that a meter fell silent. A reading of a surface waits for the name of the meter
that comes after it, where the profile can ask for it (`acquire.driverkit.whose`): so it is asked at
once. Others are asked in doubt alone. A pull goes on for a while, so the meter is asked as it
begins, too. Opens nothing, waits for nothing. One thread.
"""

from __future__ import annotations

from collections.abc import Callable

from acquire.driverapi import Due
from acquire.driverkit.asking import Asking
from acquire.driverkit.framer import Framer
from acquire.driverkit.heard import Heard, Means
from acquire.driverkit.manners import Manners
from acquire.driverkit.presses import NEW_BIT, Press, PressLog, missed_words
from acquire.driverkit.streaming import Streaming
from acquire.driverkit.whose import Whose, unsure
from acquire.model import MEASURED, Fact, Instant, Noise, Notice, NoticeKind, Reading
from acquire.wire import Frame

Decoder = Callable[[bytes], "list[Heard] | str"]
"""What the bytes of one frame mean, one entry a value, or in plain words why they mean nothing."""

LONG_SILENCE_S = 30
"""Of a meter that sends by itself. A zone is read faster, an exchanged meter is switched on slower
(common practice, no source)."""
LONG_SILENCE_NS = LONG_SILENCE_S * 1_000_000_000
BROKEN_OFF_NS = 1_000_000_000
"""No cable is put elsewhere in a shorter time (common practice, no source)."""

_READING = Means.READING
_KINDS = {
    Means.IDENTITY: NoticeKind.IDENTITY,
    Means.POWER_UP: NoticeKind.POWER_UP,
    Means.ADJUSTED: NoticeKind.ADJUSTED,
    Means.TROUBLE: NoticeKind.TROUBLE,
}

ECHO_WITHIN = (
    "what was sent to the gauge came back in the midst of a sample, so the pull is none: switch "
    "off the echo of its adapter, or use a profile without [identify]"
)


class FramedDriver:
    """Implements `acquire.driverapi.Driver` for devices whose frames stand by themselves."""

    def __init__(self, framer: Framer, decode: Decoder, manners: Manners) -> None:
        self._manners = manners
        self._framer = framer
        self._decode = decode
        self._presses = PressLog(manners.presses, is_asked=manners.ask is not None)
        self._is_carried = manners.presses.carried_above is not None
        self._quantity = manners.quantity
        stream = manners.stream
        self._stream = None if stream is None else Streaming(stream, manners.quantity)
        self._answer_ns = round(manners.answer_within_s * 1e9)
        self._facts = Whose(
            holds_readings=bool(manners.identify) and manners.quantity in MEASURED,
            answer_ns=self._answer_ns,
        )
        self._received = 0
        self._received_at: Instant | None = None
        self._asking = Asking(manners)
        self._lag_ns = 0
        # When the pull under way began, until its meter told its name.
        self._nameless_pull: Instant | None = None

    # -- what is sent ----------------------------------------------------------------------------

    def opening(self, at: Instant) -> bytes:
        """Set the device up and ask who is there, where the profile knows how."""
        self._presses.connected(at)
        return self._asking.opening(at, self._facts.tries)

    def due(self, now: Instant) -> Due:
        """One command at a time: the next is sent when the last was answered or its time is up."""
        self._expire(now)
        asking = self._asking
        if silence := asking.time_is_up(now):
            self._facts.notice(NoticeKind.TROUBLE, now, self._end_of_facts(), silence)
        send = asking.next(now)
        moments = (self._framer.deadline, self._facts.until, asking.until)
        return Due(send, min((m for m in moments if m), key=lambda m: m.mono_ns, default=None))

    def take(self, at: Instant) -> bytes:
        """The profile's command for taking a reading; empty if it has none."""
        return self._asking.take(at)

    # -- what is received ------------------------------------------------------------------------

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        """The facts that these bytes complete, after those that time alone has made."""
        self._expire(at)
        if data:
            self._after_silence(len(data), at)
            self._received += len(data)
            self._received_at = at
        understand = self._understand
        for frame in self._framer.feed(data, at):
            understand(frame, at)
        if self._stream is not None:
            self._give(*self._stream.flush(at))
        return self._facts.taken()

    def _after_silence(self, coming_bytes: int, at: Instant) -> None:
        """Behind an adapter that stays open another meter may have been put there meanwhile."""
        before, stream = self._received_at, self._stream
        if before is None or self._manners.ask is not None:
            return
        silent_ns = at.mono_ns - before.mono_ns
        if silent_ns > LONG_SILENCE_NS:
            self._who_is_there()
        if silent_ns <= BROKEN_OFF_NS or stream is None or not stream.is_pulling:
            return
        # What was only late comes now, all of it.
        if coming_bytes * 2 < self._received * stream.share_of(silent_ns):
            stream.interrupted()
            text = f"nothing came for {silent_ns / 1e9:.1f} s in the midst of a pull: it is none"
            self._facts.notice(NoticeKind.TROUBLE, at, self._end_of_facts(), text)

    def lost(self, at: Instant) -> list[Fact]:
        """What waits for its end becomes noise."""
        self._facts.unnamed()
        for frame in self._framer.lost():
            self._facts.give(_noise(frame, at))
        self._asking.lost()
        return self._facts.taken()

    def _expire(self, now: Instant) -> None:
        """What time ends, in the order in which it does."""
        facts = self._facts
        while True:
            until = facts.until
            is_over = until is not None and until.mono_ns <= now.mono_ns
            self._end_frames(until if until is not None and is_over else now)
            if facts.until is None or facts.until.mono_ns > now.mono_ns:
                return
            if facts.until is until:
                facts.unnamed()

    def _end_frames(self, now: Instant) -> None:
        """A frame that only a silence proves came when its bytes came."""
        came, proven = self._received_at or now, self._framer.deadline
        if proven is not None and proven.mono_ns <= now.mono_ns:
            self._lag_ns = proven.mono_ns - came.mono_ns
        for frame in self._framer.expire(now):
            self._understand(frame, now if frame.fault else came)
        self._lag_ns = 0

    def _understand(self, frame: Frame, at: Instant) -> None:
        start, raw, fault = frame
        if fault:
            self._settle(at)
            self._facts.give(_noise(frame, at))
            return
        if self._asking.unanswered:
            self._alive(start, at)
        heard = self._decode(raw)
        stream = self._stream
        if stream is not None and not isinstance(heard, str):
            if _is_sample(heard):
                pulls = stream.pulls_begun
                taken = stream.take(heard, start, start + len(raw), at)
                if not isinstance(taken, str):
                    self._give(*(self._sure(fact) for fact in taken))
                    if stream.pulls_begun != pulls:
                        self._pull_begins(at)
                    return
                heard = taken
            else:
                self._give(*stream.flush(at))
        if self._is_carried and not isinstance(heard, str):
            heard = self._presses.refused(heard) or heard
        if isinstance(heard, str):
            if stream is not None and self._asking.is_echo(raw):
                # No sample was lost: what was sent has come back beside them.
                self._give(*stream.flush(at))
            else:
                self._settle(at)
                if stream is not None and self._asking.has_echo(raw):
                    # Whether a byte of the sample went lost where both sent, nobody can tell.
                    heard = ECHO_WITHIN
            self._asking.nonsense()
            self._facts.give(Noise(at, raw, start, start + len(raw), heard))
            return
        is_named = len(heard) > 1 and heard[0].means is Means.IDENTITY
        if is_named:
            self._identified(heard[0].text, at)
            self._facts.says(heard[0].text, at, start)
            heard = heard[1:]
        goes_on = False
        for said in heard:
            if said.means is _READING:
                self._result(said, start, raw, at, goes_on, is_named)
            else:
                self._notice(said, frame, at)
            goes_on = True

    def _settle(self, at: Instant) -> None:
        """Something else than samples is to be told; a pull that it broke into is none."""
        if self._stream is not None:
            self._give(*self._stream.flush(at))
            self._stream.interrupted()

    def _give(self, *given: Fact, is_named: bool = False) -> None:
        """The next facts; the meter is asked for its name where a reading has to wait for it."""
        facts = self._facts
        for fact in given:
            held = facts.holds
            facts.give(fact, is_named=is_named, lag_ns=self._lag_ns)
            if facts.holds and not held:
                self._who_is_there()

    def _result(
        self, heard: Heard, start: int, raw: bytes, at: Instant, goes_on: bool, is_named: bool
    ) -> None:
        _, text, value, unit, channel, count, flags = heard
        press = self._presses.result(raw, heard, at, goes_on=goes_on)
        flagged = press.flags
        self._asking.result()
        if press.restarted or press.missed:
            self._irregular(press, start, at)
        if flagged is None:
            return
        self._give(
            Reading(
                self._quantity, channel, value, unit, text, at, raw, start, start + len(raw),
                count, flags | flagged if flags else flagged,
            ),
            is_named=is_named,
        )  # fmt: skip

    def _notice(self, heard: Heard, frame: Frame, at: Instant) -> None:
        means, start = heard.means, frame.start
        if means is Means.NOTHING:
            self._asking.spoke()
            if not self._presses.nothing():
                return
            # It had a result and has none: it was switched off and on.
            kind, text = NoticeKind.POWER_UP, ""
            self._who_is_there()
        else:
            kind, text = _KINDS[means], heard.text
        if means is Means.IDENTITY:
            self._asking.answered()
            if self._named(text, at):
                return
        elif means is Means.POWER_UP:
            self._presses.powered_up(at)
            # Who is switched on now says nothing of whoever was there before.
            self._facts.doubt()
            if text:
                self._named(text, at)
            else:
                self._who_is_there()
        elif heard.press is not None:
            is_new = means is Means.TROUBLE
            press = self._presses.counted(heard.press, is_new=is_new)
            self._irregular(press, start, at)
        if means is Means.TROUBLE:
            self._asking.spoke()
        self._facts.give(Notice(kind, at, frame.data, start, start + len(frame.data), text))

    def _alive(self, start: int, at: Instant) -> None:
        if self._asking.is_back():
            self._facts.notice(NoticeKind.POWER_UP, at, start)
            self._presses.woke()
            self._who_is_there()

    def _irregular(self, press: Press, start: int, at: Instant) -> None:
        if press.is_unproven:
            self._facts.notice(NoticeKind.TROUBLE, at, start, NEW_BIT)
        if press.restarted:
            self._facts.notice(NoticeKind.POWER_UP, at, start)
        if press.missed:
            self._facts.notice(NoticeKind.TROUBLE, at, start, missed_words(press.missed))
        if press.restarted or press.missed:
            self._who_is_there()

    def _who_is_there(self) -> None:
        """After a reading, and where another instrument may have been put there unseen."""
        self._asking.who_is_there(self._facts.tries)

    def _pull_begins(self, at: Instant) -> None:
        """Whoever it ends with need not be who it begins with."""
        if self._manners.identify:
            self._nameless_pull = at
            self._who_is_there()

    def _sure(self, fact: Fact) -> Fact:
        """The peak of a pull; not sure whose, where no name was told as it began."""
        began = self._nameless_pull
        if began is None or not isinstance(fact, Reading):
            return fact
        self._nameless_pull = None
        is_short = fact.at.mono_ns - began.mono_ns <= self._answer_ns
        return fact if is_short else unsure(fact)

    def _identified(self, serial: str, at: Instant) -> None:
        self._asking.named()
        began, stream = self._nameless_pull, self._stream
        if stream is not None and not self._facts.knows(serial):
            stream.interrupted()
        elif began is not None and at.mono_ns - began.mono_ns <= self._answer_ns:
            self._nameless_pull = None

    def _named(self, serial: str, at: Instant) -> bool:
        """It told its name; whether that only confirms what is known of a reading."""
        self._identified(serial, at)
        return self._facts.named(serial, at)

    def _end_of_facts(self) -> int:
        """Where in the stream a fact without bytes stands: before all that is still to come."""
        return self._received - self._framer.waiting_bytes


def _is_sample(heard: list[Heard]) -> bool:
    return bool(heard) and heard[0].means is Means.SAMPLE


def _noise(frame: Frame, at: Instant) -> Noise:
    return Noise(at, frame.data, frame.start, frame.start + len(frame.data), frame.fault)
