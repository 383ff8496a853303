"""A Modbus client as a pure machine: one request at a time, its answer, and the next poll.

Facts follow from received bytes, from what was sent last, and from the moments of both; whether
somebody asked `due` in between changes nothing, so a replayed tape gives the same readings. What
is sent when:

- the next request only when the last was answered or its time is up, and on a serial line after
  the silence that the standard wants between frames;
- a request that was not answered is sent again, and no other one before a late answer to it would
  have come: on a serial line an answer does not say to which request it belongs;
- strictly later than the last byte received, so that the order of a tape is that of its moments.

Whose a result is its registers do not say. So it is held until it is known who answers now
(`acquire.driverkit.whose`).

Opens nothing, waits for nothing. One thread.
"""

from __future__ import annotations

from acquire.driverapi import Due
from acquire.driverkit.whose import Whose
from acquire.model import Fact, Instant, Noise, Notice, NoticeKind
from acquire.wire import Frame
from drivers.modbus.awaited import Answer, Echo
from drivers.modbus.codec import Codec
from drivers.modbus.framer import AnswerFramer
from drivers.modbus.meter import Meter
from drivers.modbus.profile import ModbusProfile
from drivers.modbus.request import BUSY, Request, exception_words
from drivers.modbus.rtu import RtuFramer
from drivers.modbus.sent import Purpose, Sent
from drivers.modbus.tcp import TcpFramer
from drivers.modbus.turn import Turn, later, mono


class ModbusDriver:
    """Implements `acquire.driverapi.Driver`."""

    def __init__(self, profile: ModbusProfile) -> None:
        self._profile = profile
        make = RtuFramer if profile.is_rtu else TcpFramer
        self._framer: AnswerFramer = make(profile.unit_address, profile.gap_s)
        self._codec = Codec(profile)
        self._facts = Whose(holds_readings=profile.identity is not None and not profile.is_state)
        self._meter = Meter(profile, self._codec, self._facts)
        self._requests = [block.request() for block in profile.plan.blocks]
        self._received = 0
        self._is_open = False
        self._turn = Turn(profile)
        self._sent: Sent | None = None
        self._unanswered = 0
        # What is wanted.
        self._take_wanted = False
        self._identify_left = 0
        self._poll_at: Instant | None = None
        self._settled: Instant | None = None
        # The reading of one result, block by block.
        self._is_reading = False
        self._step = 0
        self._words: dict[int, bytes] = {}
        self._raw = b""
        self._raw_start = 0
        self._anew = 0
        self._is_broken_told = False
        self._refused: dict[Purpose, int] = {}
        self._busy = 0

    @property
    def holds(self) -> bool:
        """Whether a result waits until the device has said who it is."""
        return self._facts.holds

    # -- what is sent ----------------------------------------------------------------------------

    def opening(self, at: Instant) -> bytes:
        """Ask who is there, where the profile knows how."""
        self._meter.connected(at)
        self._poll_at = at if self._profile.plan.watch else None
        self._who_is_there()
        send, _ = self._next(at)
        self._is_open = True
        return send

    def due(self, now: Instant) -> Due:
        """The next request, if the line is free for it and it is time."""
        self._expire(now)
        send, again = self._next(now)
        gap = self._framer.deadline
        if again is None or (gap is not None and gap.mono_ns < again.mono_ns):
            again = gap
        return Due(send, again)

    def take(self, at: Instant) -> bytes:
        """The profile's write that makes the device take a reading.

        Empty if there is none, or while another request is under way: then `due` gives it.
        """
        if self._profile.take is None:
            return b""
        self._expire(at)
        sent = self._sent
        is_free = not self._facts.holds
        if is_free and sent and sent.at.mono_ns == at.mono_ns and not sent.is_opening:
            # A tape that is replayed asks for what was due, then for this, and only this was sent.
            self._sent, self._poll_at = None, sent.polled_before
            self._is_reading = sent.was_reading
            self._identify_left += sent.purpose is Purpose.IDENTITY
        self._take_wanted = True
        return self._next(at)[0] if self._sent is None else b""

    def _next(self, now: Instant) -> tuple[bytes, Instant | None]:
        """What is sent now, and when to ask again."""
        if self._sent is None:
            wanted = self._wanted()
            if wanted is None:
                return b"", None
            purpose, request, moment = wanted
            moment = max(moment or now, self._turn.free_for(request) or now, key=mono)
            if moment.mono_ns > now.mono_ns:
                return b"", moment
            data = self._send(purpose, request, now)
            return data, later(now, self._profile.within_ns)
        return b"", later(self._sent.at, self._profile.within_ns)

    def _wanted(self) -> tuple[Purpose, Request, Instant | None] | None:
        """What is to be asked next, and from when on."""
        profile = self._profile
        if self._take_wanted and profile.take is not None and not self._facts.holds:
            return Purpose.TAKE, profile.take, None
        if self._identify_left and profile.identity is not None:
            return Purpose.IDENTITY, profile.identity.request, None
        if self._is_reading:
            return Purpose.BLOCK, self._requests[self._step], self._settled
        if self._poll_at is not None:
            return Purpose.BLOCK, self._requests[0], self._poll_at
        return None

    def _send(self, purpose: Purpose, request: Request, at: Instant) -> bytes:
        self._noise(self._framer.give_up(), at)
        is_opening = not self._is_open
        self._is_open = True
        self._sent = Sent(purpose, request, at, self._poll_at, self._is_reading, is_opening)
        if purpose is Purpose.TAKE:
            self._take_wanted = False
        elif purpose is Purpose.IDENTITY:
            self._identify_left -= 1
        elif not self._is_reading:
            self._is_reading, self._step = True, 0
            self._poll_at = later(at, self._profile.poll_ns)
        return self._framer.sent(request, at)

    # -- what time does --------------------------------------------------------------------------

    def _expire(self, now: Instant) -> None:
        """What time alone has brought about, in its order and as of the moment it was due."""
        while True:
            gap, sent = self._framer.deadline, self._sent
            if (gap is None or gap.mono_ns > now.mono_ns) and (
                sent is None or sent.at.mono_ns + self._profile.within_ns > now.mono_ns
            ):
                # The usual case, before any moment is made.
                return
            late = None if self._sent is None else later(self._sent.at, self._profile.within_ns)
            moment = min((m for m in (late, gap) if m), key=mono, default=None)
            if moment is None or moment.mono_ns > now.mono_ns:
                return
            if moment is late:
                self._stayed_silent(moment)
            else:
                self._noise(self._framer.expire(moment), moment)

    def _stayed_silent(self, at: Instant) -> None:
        sent, self._sent = self._sent, None
        assert sent is not None
        self._noise(self._framer.give_up(), at)
        self._turn.unanswered(sent.request, at)
        if not self._identify_left or self._unanswered + 1 >= self._profile.silent_after:
            self._facts.unnamed()
        if sent.purpose is Purpose.IDENTITY:
            # Another may have been there when it was asked first.
            self._facts.doubt()
        elif sent.purpose is Purpose.BLOCK and self._step:
            # What was read of a result so far may be another one's.
            self._step = 0
        if sent.purpose is Purpose.TAKE:
            text = "no answer to the command to take a reading"
            self._facts.notice(NoticeKind.TROUBLE, at, self._received, text)
            return
        self._unanswered += 1
        if self._unanswered == self._profile.silent_after:
            text = f"no answer to {self._unanswered} commands in a row"
            self._facts.notice(NoticeKind.TROUBLE, at, self._received, text)
            self._forget_result()

    # -- what is received ------------------------------------------------------------------------

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        """The facts that these bytes complete, after those that time alone has made."""
        self._expire(at)
        self._received += len(data)
        if data:
            self._turn.heard(at)
        for piece in self._framer.feed(data, at):
            if isinstance(piece, Answer):
                self._answered(piece, at)
            elif isinstance(piece, Echo):
                # Part of the stretch of bytes in which a result was read.
                self._raw += piece.data if self._raw else b""
            else:
                self._noise([piece], at)
        return self._facts.taken()

    def lost(self, at: Instant) -> list[Fact]:
        """What waits for its end becomes noise."""
        self._expire(at)
        self._facts.unnamed()
        self._noise(self._framer.lost(), at)
        self._sent = self._poll_at = None
        self._identify_left, self._take_wanted = 0, False
        self._forget_result()
        return self._facts.taken()

    def _answered(self, answer: Answer, at: Instant) -> None:
        sent, self._sent = self._sent, None
        assert sent is not None
        self._turn.answered(sent.at, at)
        if self._unanswered >= self._profile.silent_after:
            self._meter.woke(at, answer.start)
            self._ask_if_in_doubt()
        self._unanswered = 0
        if answer.is_exception:
            self._refuses(sent, answer, at)
            return
        self._refused.pop(sent.purpose, None)
        self._busy = 0
        if sent.purpose is Purpose.IDENTITY:
            self._identified(answer, at)
        elif sent.purpose is Purpose.TAKE:
            self._forget_result()
            self._refused.pop(Purpose.BLOCK, None)
            self._settled = later(at, self._profile.settle_ns)
            if self._profile.plan.watch:
                self._poll_at = self._settled
            else:
                self._is_reading = True
        else:
            self._read(answer, at)
        self._ask_if_in_doubt()

    def _identified(self, answer: Answer, at: Instant) -> None:
        serial, why = self._codec.serial(answer.pdu)
        if why:
            self._facts.give(Noise(at, answer.data, answer.start, answer.end, why))
            if not self._identify_left:
                self._facts.unnamed()
            return
        self._identify_left = 0
        if not self._facts.named(serial, at):
            self._facts.give(
                Notice(NoticeKind.IDENTITY, at, answer.data, answer.start, answer.end, serial)
            )

    def _read(self, answer: Answer, at: Instant) -> None:
        """One block of a result."""
        step, watch, data = self._step, self._profile.plan.watch, answer.pdu[2:]
        if step == 0:
            self._words, self._raw, self._raw_start = {}, b"", answer.start
        elif answer.start != self._raw_start + len(self._raw):
            # Noise in between: the bytes of the result are no longer one stretch.
            self._read_anew(at, answer.start)
            return
        self._raw += answer.data
        is_last = step == len(self._requests) - 1
        if step == 0 and watch:
            if not self._meter.has_news({0: data}, at, answer.start):
                self._forget_result()
                return
        elif is_last and watch:
            if not self._meter.same_result({0: self._words[0]}, {0: data}):
                self._read_anew(at, answer.start)
                return
            step = 0
        self._words[step] = data
        if not is_last:
            self._step += 1
            return
        words, start, raw = self._words, self._raw_start, self._raw
        self._forget_result()
        self._is_broken_told = False
        self._meter.result(words, at, start, raw)
        if self._facts.holds:
            self._who_is_there()

    def _read_anew(self, at: Instant, start: int) -> None:
        """At once, and at the pace of polling where that did not help; told once if it goes on."""
        self._step = 0
        self._anew += 1
        if self._anew > 1:
            self._settled = later(at, self._profile.poll_ns)
        if self._anew >= self._profile.silent_after and not self._is_broken_told:
            self._is_broken_told = True
            text = (
                f"a result could not be read: {self._anew} times in a row something else came "
                "between its answers, or it changed meanwhile"
            )
            self._facts.notice(NoticeKind.TROUBLE, at, start, text)

    def _refuses(self, sent: Sent, answer: Answer, at: Instant) -> None:
        """An exception is told once, and one that passes by itself only if it lasts."""
        code = answer.pdu[1]
        words = exception_words(code)
        if sent.purpose is Purpose.IDENTITY and (code not in BUSY or not self._identify_left):
            self._identify_left = 0
            self._facts.unnamed()
        is_take = sent.purpose is Purpose.TAKE
        if words is None:
            why = f"an exception {code}, which the standard does not have"
            self._facts.give(Noise(at, answer.data, answer.start, answer.end, why))
        elif self._refused.get(sent.purpose) != code or is_take:
            self._busy += 1
            if code not in BUSY or is_take or self._busy >= self._profile.silent_after:
                self._refused[sent.purpose] = code
                text = f"asked for {sent.purpose.value}: {words}"
                self._facts.give(
                    Notice(NoticeKind.TROUBLE, at, answer.data, answer.start, answer.end, text)
                )
        if sent.purpose is not Purpose.BLOCK:
            return
        was_told = self._refused.get(Purpose.BLOCK) == code
        is_at_work = code in BUSY and not was_told and not self._profile.plan.watch
        self._forget_result()
        if is_at_work:
            # Only what was taken is read: the device is still at it.
            self._is_reading, self._settled = True, later(at, self._profile.poll_ns)

    def _forget_result(self) -> None:
        self._is_reading, self._step = False, 0
        self._words, self._raw = {}, b""
        self._settled = None
        self._anew = 0

    def _who_is_there(self) -> None:
        self._identify_left = self._facts.tries if self._profile.identity is not None else 0

    def _ask_if_in_doubt(self) -> None:
        """After a power-up another instrument may have been put there."""
        if self._meter.is_in_doubt:
            self._meter.is_in_doubt = False
            self._who_is_there()

    def _noise(self, frames: list[Frame], at: Instant) -> None:
        for frame in frames:
            end = frame.start + len(frame.data)
            self._facts.give(Noise(at, frame.data, frame.start, end, frame.fault))
