"""The pipes of one device of the class: one exchange at a time, and what came of it, in order.

A command and the request for its answer go out together; an answer may come over several
transfers, each after a request of its own. What is no answer, or does not come, is aborted
(`drivers.usbtmc.recovery`), and nothing else is sent until that is over. What passes meanwhile on
the interrupt pipe is told when it comes.

What a link carries out it answers, so no wait here needs a clock but two: for the status byte on
the interrupt pipe, and before another try where even a clear has failed. Never raises on content;
keeps at most an answer and the records it came in. One thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from enum import Enum, auto

from acquire.model import Instant
from acquire.wire.transfer import Description, Pipe, Status, Transfer, bulk_in, record
from drivers.usbtmc.event import Event, What
from drivers.usbtmc.message import message_in, message_out, next_tag, read_bytes, request_in
from drivers.usbtmc.recovery import Recovery
from drivers.usbtmc.statusread import StatusRead

TRY_AGAIN_NS = 2_000_000_000
_SPARE_SPAN_BYTES = 65_536
_SERVICE_REQUEST = 0x81


class _State(Enum):
    IDLE = auto()
    READING = auto()
    STATUS = auto()
    RECOVERING = auto()
    DUMB = auto()


class Pipes:
    """`answer_tries`: how often a read may run out of time before the answer is given up."""

    def __init__(self, transfer_bytes: int, answer_bytes: int, answer_tries: int) -> None:
        self._transfer_bytes = transfer_bytes
        self._answer_bytes = answer_bytes
        self._answer_tries = answer_tries
        self._read_bytes = read_bytes(transfer_bytes)
        self._recovery = Recovery(self._read_bytes)
        self.device: Description | None = None
        self._state = _State.IDLE
        self._out = bytearray()
        self._end = 0
        self._tag = 0
        self._command_tag = 0
        self._tries_left = 0
        self._answer = bytearray()
        self._span = bytearray()
        self._span_start = 0
        self._status = StatusRead()
        self._try_again_at: Instant | None = None
        self._refused: Status | None = None
        self._refused_late = ""

    # -- what is sent ----------------------------------------------------------------------------

    @property
    def is_idle(self) -> bool:
        """Whether something may be asked."""
        return self._state is _State.IDLE

    @property
    def end(self) -> int:
        """The offset behind the last record that was looked at."""
        return self._end

    @property
    def deadline(self) -> Instant | None:
        """When `tick` has something to do."""
        return self._try_again_at or self._recovery.deadline or self._status.deadline

    def take_out(self) -> bytes:
        """What is to be sent; it is let go."""
        out = bytes(self._out)
        self._out.clear()
        return out

    def tell(self, command: bytes) -> None:
        """Send a command that has no answer."""
        self._tag = self._command_tag = next_tag(self._tag)
        self._out += record(Pipe.BULK_OUT, message_out(self._tag, command))

    def ask(self, command: bytes) -> None:
        """Send a command and await its answer."""
        self.tell(command)
        self._state = _State.READING
        self._answer.clear()
        self._tries_left = self._answer_tries
        self._request()

    def read_status(self) -> None:
        """Ask for the status byte (USB488, 4.3.1)."""
        assert self.device is not None
        self._out += self._status.ask(self.device)
        self._state = _State.STATUS

    def _request(self) -> None:
        self._tag = next_tag(self._tag)
        self._out += record(Pipe.BULK_OUT, request_in(self._tag, self._transfer_bytes))
        self._out += bulk_in(self._read_bytes)

    # -- what time brings ------------------------------------------------------------------------

    def tick(self, now: Instant) -> list[Event]:
        """What comes of time alone."""
        if self.deadline is None:
            return []
        self._recovery.tick(now)
        self._take_recovery()
        if _is_past(self._try_again_at, now):
            self._try_again_at = None
            self._recover_by_clear()
        if not _is_past(self._status.deadline, now):
            return []
        self._status.deadline = None
        self._state = _State.IDLE
        return [self._bare(What.FAILED, "no status byte came on the interrupt pipe")]

    def lost(self) -> list[Event]:
        """The link is gone: the records of an answer that is not complete are told as noise."""
        events = list(self._let_go("cut off when the link was lost"))
        self._state = _State.IDLE
        self._recovery.forget()
        self._try_again_at = self._status.deadline = None
        self._out.clear()
        return events

    # -- what is received ------------------------------------------------------------------------

    def hear(self, transfer: Transfer, at: Instant) -> list[Event]:
        """What comes of one record."""
        self._end = transfer.end
        if self._span:
            # Whatever passes within an answer is among its bytes.
            self._span += record(transfer.pipe, transfer.data, transfer.status)
        if len(self._span) > 2 * self._answer_bytes + _SPARE_SPAN_BYTES:
            events = list(self._abort("an answer among too much else"))
        else:
            events = list(self._sort(transfer, at))
        if self._refused is not None and self._state is _State.IDLE:
            self._recover_refused()
        return events

    def _sort(self, transfer: Transfer, at: Instant) -> Iterator[Event]:
        pipe = transfer.pipe
        if pipe is Pipe.OPENED:
            yield from self._opened(transfer)
        elif pipe is Pipe.INTERRUPT_IN:
            yield from self._interrupt(transfer)
        elif pipe is Pipe.BULK_OUT and transfer.status is not Status.DONE:
            # The read that went along is answered too; recovery begins when it was.
            was_well = self._refused is None
            self._refused = transfer.status
            told = f"a message did not go out: it {_told(transfer.status)}"
            if self._span:
                self._refused_late = told
            elif was_well:
                yield self._of(transfer, What.REFUSED, b"", told)
            else:
                yield self._noise(transfer, told)
        elif self._state is _State.READING and pipe is Pipe.BULK_IN:
            yield from self._bulk_in(transfer)
        elif self._state is _State.STATUS and self._status.is_answer(transfer):
            yield from self._status_answer(transfer, at)
        elif self._recovery.hear(transfer, at):
            if pipe is Pipe.BULK_IN and transfer.data:
                yield self._noise(transfer, "thrown away with what was aborted")
            yield from self._recovered(at)
        else:
            yield self._noise(transfer, "nothing that was asked for")

    def _opened(self, transfer: Transfer) -> Iterator[Event]:
        try:
            if self.device is not None:
                raise ValueError("told twice")
            self.device = Description.from_bytes(transfer.data)
        except ValueError as trouble:
            yield self._noise(transfer, f"no description of a device: {trouble}")
        else:
            yield self._of(transfer, What.OPENED)

    def _interrupt(self, transfer: Transfer) -> Iterator[Event]:
        data = transfer.data
        if transfer.status is not Status.DONE or len(data) < 2:
            yield self._noise(transfer, "no notification: two bytes of the interrupt pipe")
        elif data[0] == _SERVICE_REQUEST:
            yield self._of(transfer, What.SERVICE)
        elif self._state is _State.STATUS and self._status.is_packet(data):
            if self._status.packet_came(data[1]) is not None:
                self._state = _State.IDLE
                yield self._of(transfer, What.STATUS, data[1:2])
        else:
            yield self._noise(transfer, "a notification that nobody asked for")

    def _status_answer(self, transfer: Transfer, at: Instant) -> Iterator[Event]:
        found = self._status.answered(transfer, at)
        if found is None:
            return
        self._state = _State.IDLE
        if isinstance(found, str):
            yield self._noise(transfer, found)
            yield self._bare(What.FAILED, "no status byte")
        else:
            yield self._of(transfer, What.STATUS, bytes((found,)))

    def _bulk_in(self, transfer: Transfer) -> Iterator[Event]:
        status = transfer.status
        if transfer.data and not self._span:
            self._span_start = transfer.start
            self._span += record(transfer.pipe, transfer.data, status)
        if status is Status.TIMED_OUT and self._refused is None and not transfer.data:
            self._tries_left -= 1
            if self._tries_left > 0:
                self._out += bulk_in(self._read_bytes)
                return
            yield from self._abort("no answer in time")
            return
        if status is not Status.DONE or self._refused is not None:
            yield from self._abort(f"the read {_told(status)}", status)
            return
        if not transfer.data:
            # The empty packet that ended the transfer before.
            self._tries_left -= 1
            if self._tries_left > 0:
                self._out += bulk_in(self._read_bytes)
            else:
                yield from self._abort("empty transfers in place of an answer")
            return
        part = message_in(transfer.data, self._tag, self._transfer_bytes)
        if isinstance(part, str):
            yield from self._abort(part)
            return
        self._answer += part.data
        if len(self._answer) > self._answer_bytes:
            yield from self._abort(f"an answer of more than {self._answer_bytes} bytes")
        elif part.is_end:
            answer, raw, start = bytes(self._answer), bytes(self._span), self._span_start
            self._answer.clear()
            self._span.clear()
            self._state = _State.IDLE
            yield Event(What.ANSWER, answer, raw, start, start + len(raw))
        else:
            self._tries_left = self._answer_tries
            self._request()

    # -- when it went wrong ----------------------------------------------------------------------

    def _abort(self, why: str, status: Status = Status.DONE) -> Iterator[Event]:
        yield from self._let_go(why)
        if self._refused_late:
            yield self._bare(What.REFUSED, self._refused_late)
            self._refused_late = ""
        device = self.device
        self._answer.clear()
        if device is None:
            # Asked before the device was known: there is nothing to address an abort to.
            self._state = _State.IDLE
            self._refused = None
        elif self._refused is not None:
            self._recover_refused()
        elif status is Status.STALLED:
            self._out += record(Pipe.CLEAR, bytes((Pipe.BULK_IN,)))
            self._recover_by_clear()
        else:
            self._state = _State.RECOVERING
            self._recovery.abort_in(device, self._tag)
            self._take_recovery()
        yield self._bare(What.FAILED, why)

    def _recover_refused(self) -> None:
        refused, self._refused = self._refused, None
        device = self.device
        if device is None:
            return
        if refused is Status.STALLED:
            for pipe in (Pipe.BULK_OUT, Pipe.BULK_IN):
                self._out += record(Pipe.CLEAR, bytes((pipe,)))
            self._recover_by_clear()
            return
        self._state = _State.RECOVERING
        self._recovery.abort_out(device, self._command_tag)
        self._take_recovery()

    def _recover_by_clear(self) -> None:
        assert self.device is not None
        self._state = _State.RECOVERING
        self._recovery.clear(self.device)
        self._take_recovery()

    def _take_recovery(self) -> None:
        self._out += self._recovery.send
        self._recovery.send = b""

    def _recovered(self, at: Instant) -> Iterator[Event]:
        self._take_recovery()
        if not self._recovery.is_over:
            return
        if not self._recovery.has_failed:
            self._state = _State.IDLE
            return
        self._state = _State.DUMB
        self._try_again_at = Instant(at.utc_ns + TRY_AGAIN_NS, at.mono_ns + TRY_AGAIN_NS)
        yield self._bare(What.DUMB, "the device cannot be cleared")

    def _let_go(self, why: str) -> Iterator[Event]:
        if self._span:
            raw, start = bytes(self._span), self._span_start
            self._span.clear()
            yield Event(What.NOISE, b"", raw, start, start + len(raw), why)

    # -- events ----------------------------------------------------------------------------------

    @staticmethod
    def _of(transfer: Transfer, what: What, data: bytes = b"", why: str = "") -> Event:
        raw = record(transfer.pipe, transfer.data, transfer.status)
        return Event(what, data, raw, transfer.start, transfer.end, why)

    def _noise(self, transfer: Transfer, why: str) -> Event:
        if self._span:
            # It is among the bytes of the answer that is being read.
            return self._bare(What.NOISE, why)
        return self._of(transfer, What.NOISE, b"", why)

    def _bare(self, what: What, why: str) -> Event:
        return Event(what, b"", b"", self._end, self._end, why)


def _is_past(moment: Instant | None, now: Instant) -> bool:
    return moment is not None and now.mono_ns >= moment.mono_ns


def _told(status: Status) -> str:
    return {
        Status.DONE: "went well",
        Status.STALLED: "was refused (stalled)",
        Status.TIMED_OUT: "ran out of time",
        Status.FAILED: "failed",
    }[status]
