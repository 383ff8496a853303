"""Reading the status byte: asked on the control pipe, answered there or on the interrupt pipe.

USB488 1.00, 4.3.1 and 3.4.2: with an interrupt pipe the answer only says that the
byte will come there, in a packet that bears the request's tag; without one it has the byte. Pure;
one thread.
"""

from __future__ import annotations

from acquire.model import Instant
from acquire.wire.transfer import HEAD, Description, Pipe, Status, Transfer
from drivers.usbtmc import request
from drivers.usbtmc.request import Outcome

WITHIN_NS = 1_000_000_000
_SETUP_BYTES = 8
_TAGS = request.STATUS_TAGS


class StatusRead:
    """One after the other, of one connection."""

    def __init__(self) -> None:
        self._tag = _TAGS.start - 1
        self._setup = b""
        self._has_pipe = False
        self._packet: int | None = None
        self.deadline: Instant | None = None
        """Until when the packet has to come; None while the control pipe has not answered."""

    def ask(self, device: Description) -> bytes:
        """The record that asks for the byte."""
        self._tag = max(_TAGS.start, (self._tag + 1) % _TAGS.stop)
        asking = request.read_status_byte(device, self._tag)
        self._setup = asking[HEAD.size :]
        self._has_pipe = device.interrupt_in != 0
        self._packet = self.deadline = None
        return asking

    def is_answer(self, transfer: Transfer) -> bool:
        """Whether a record is the control pipe's answer to what was asked."""
        is_control = transfer.pipe is Pipe.CONTROL and self.deadline is None
        return is_control and transfer.data[:_SETUP_BYTES] == self._setup

    def is_packet(self, data: bytes) -> bool:
        """Whether a packet of the interrupt pipe bears the tag of what was asked."""
        return data[0] == 0x80 | self._tag

    def answered(self, transfer: Transfer, at: Instant) -> int | str | None:
        """The byte; None if it is still to come; or in plain words why there is none."""
        answer = transfer.data[_SETUP_BYTES:]
        if transfer.status is not Status.DONE or len(answer) < 3 or answer[1] != self._tag:
            return "no answer to READ_STATUS_BYTE"
        if answer[0] not in (Outcome.SUCCESS, Outcome.INTERRUPT_IN_BUSY):
            return f"READ_STATUS_BYTE is refused with 0x{answer[0]:02x}"
        if not self._has_pipe:
            return answer[2]
        if self._packet is not None:
            return self._packet
        if answer[0] == Outcome.INTERRUPT_IN_BUSY:
            return "the interrupt pipe is busy"
        self.deadline = Instant(at.utc_ns + WITHIN_NS, at.mono_ns + WITHIN_NS)
        return None

    def packet_came(self, byte: int) -> int | None:
        """The byte; None if the control pipe has not answered yet, which it overtook."""
        if self.deadline is None:
            self._packet = byte
            return None
        self.deadline = None
        return byte
