"""The way back when a transfer went wrong: abort what is under way, and clear if that fails.

The order of steps is that of USBTMC 1.00, 4.2.1.2 to 4.2.1.7:

- bulk IN: INITIATE_ABORT_BULK_IN with the request's tag; on success read until a short packet, then
  CHECK_ABORT_BULK_IN_STATUS, again while it is pending, reading on where it says so; a failure
  means that nothing was under way;
- bulk OUT: INITIATE_ABORT_BULK_OUT, CHECK_ABORT_BULK_OUT_STATUS while it is pending, then the halt
  of bulk OUT is cleared;
- clear: INITIATE_CLEAR, CHECK_CLEAR_STATUS while it is pending, reading on where it says so, then
  the halt of bulk OUT is cleared.

An abort that goes any other way becomes a clear; a clear that does has failed. Every wait is
counted. Pure; one thread.
"""

from __future__ import annotations

from collections.abc import Callable

from acquire.model import Instant
from acquire.wire.transfer import Description, Pipe, Status, Transfer, bulk_in, record
from drivers.usbtmc import request
from drivers.usbtmc.request import Outcome

PAUSE_NS = 100_000_000
MOST_STEPS = 50
_SETUP_BYTES = 8
_HEAD_BYTES = 6


class Recovery:
    """One recovery after the other of one connection."""

    def __init__(self, read_bytes: int) -> None:
        self._read_bytes = read_bytes
        self._device: Description | None = None
        self._check: Callable[[Description], bytes] = request.check_clear
        self._step: Callable[[Transfer, Instant], None] | None = None
        self._setup = b""
        self._steps = 0
        self.send = b""
        """What is to be sent, to be taken and emptied."""
        self.deadline: Instant | None = None
        self.has_failed = False

    @property
    def is_over(self) -> bool:
        return self._step is None

    def abort_in(self, device: Description, tag: int) -> None:
        """Begin: a response does not come, or comes wrong."""
        self._begin(device)
        self._check = request.check_abort_in
        self._ask(request.abort_in(device, tag), self._aborting_in)

    def abort_out(self, device: Description, tag: int) -> None:
        """Begin: a message did not go out whole."""
        self._begin(device)
        self._check = request.check_abort_out
        self._ask(request.abort_out(device, tag), self._aborting_out)

    def clear(self, device: Description) -> None:
        """Begin: a pipe is halted, or nobody knows what is under way."""
        self._begin(device)
        self._clear()

    def hear(self, transfer: Transfer, at: Instant) -> bool:
        """Go on with what came; False if it is none of this."""
        step = self._step
        if step is None or self.deadline is not None:
            return False
        if self._setup:
            # An answer repeats the setup packet it answers.
            if transfer.pipe is not Pipe.CONTROL or transfer.data[:_SETUP_BYTES] != self._setup:
                return False
        elif transfer.pipe is not Pipe.BULK_IN:
            return False
        self._steps += 1
        if self._steps > MOST_STEPS:
            self._fail()
        else:
            step(transfer, at)
        return True

    def tick(self, now: Instant) -> None:
        """Ask again after a pause."""
        if self.deadline is not None and now.mono_ns >= self.deadline.mono_ns:
            self.deadline = None
            self._ask_state()

    def forget(self) -> None:
        """The link is gone."""
        self._step = self.deadline = None
        self.send = b""

    # -- steps -----------------------------------------------------------------------------------

    def _aborting_in(self, transfer: Transfer, _: Instant) -> None:
        outcome = _outcome(transfer)
        if outcome == Outcome.SUCCESS:
            self._drain()
        elif outcome == Outcome.FAILED:
            self._step = None
        else:
            self._clear()

    def _aborting_out(self, transfer: Transfer, _: Instant) -> None:
        outcome = _outcome(transfer)
        if outcome == Outcome.SUCCESS:
            self._ask_state()
        elif outcome == Outcome.FAILED:
            self._step = None
        else:
            self._clear()

    def _clearing(self, transfer: Transfer, _: Instant) -> None:
        if _outcome(transfer) == Outcome.SUCCESS:
            self._ask_state()
        else:
            self._fail()

    def _drained(self, transfer: Transfer, _: Instant) -> None:
        if transfer.status is Status.STALLED:
            self.send += record(Pipe.CLEAR, bytes((Pipe.BULK_IN,)))
        elif transfer.status is Status.DONE and len(transfer.data) == self._read_bytes:
            self._drain()
            return
        self._ask_state()

    def _checked(self, transfer: Transfer, at: Instant) -> None:
        outcome = _outcome(transfer)
        if outcome == Outcome.PENDING:
            has_more = len(transfer.data) > _SETUP_BYTES + 1 and transfer.data[_SETUP_BYTES + 1] & 1
            if has_more and self._check is not request.check_abort_out:
                self._drain()
            else:
                self.deadline = Instant(at.utc_ns + PAUSE_NS, at.mono_ns + PAUSE_NS)
        elif outcome == Outcome.SUCCESS:
            if self._check is not request.check_abort_in:
                self.send += record(Pipe.CLEAR, bytes((Pipe.BULK_OUT,)))
            self._step = None
        elif self._check is not request.check_clear:
            self._clear()
        else:
            self._fail()

    # -- moves -----------------------------------------------------------------------------------

    def _begin(self, device: Description) -> None:
        self._device = device
        self._steps = 0
        self.has_failed = False
        self.deadline = None

    def _clear(self) -> None:
        assert self._device is not None
        self._check = request.check_clear
        self._ask(request.clear(self._device), self._clearing)

    def _ask_state(self) -> None:
        assert self._device is not None
        self._ask(self._check(self._device), self._checked)

    def _ask(self, asking: bytes, step: Callable[[Transfer, Instant], None]) -> None:
        self.send += asking
        self._setup = asking[_HEAD_BYTES:]
        self._step = step

    def _drain(self) -> None:
        self.send += bulk_in(self._read_bytes)
        self._setup = b""
        self._step = self._drained

    def _fail(self) -> None:
        self._step = None
        self.has_failed = True


def _outcome(transfer: Transfer) -> int:
    """The first byte of an answer; 0, which no answer has, if there is none."""
    if transfer.status is not Status.DONE or len(transfer.data) <= _SETUP_BYTES:
        return 0
    return transfer.data[_SETUP_BYTES]
