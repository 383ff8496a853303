"""What passes between a driver and a USB device, as one stream of bytes that a tape can keep.

A USB device is no stream: it has pipes, and each transfer on a pipe ends by itself. A driver is a
machine of bytes, and the tape of a link holds bytes. So each transfer travels as a record:

    1 byte    pipe (`Pipe`)
    1 byte    how it went (`Status`); 0 in what the driver sends
    4 bytes   number of bytes that follow, most significant first
    ...       the bytes of the transfer

The driver sends records that ask for a transfer; the link carries them out one after the other and
answers with records. What each pipe's records hold is said at `Pipe`. Pure; one thread at a time.
"""

from __future__ import annotations

import struct
from enum import IntEnum
from typing import NamedTuple

HEAD = struct.Struct(">BBI")
LONGEST_TRANSFER = 1 << 20
"""More than any transfer that is asked for here; a longer record is no record."""

_DESCRIPTION = struct.Struct(">BBBBHH")


class Pipe(IntEnum):
    """Where a transfer goes, and what its record holds."""

    CONTROL = 0
    """Sent: the eight bytes of the setup packet (USB 2.0, 9.3), then what goes out. Received: the
    same eight bytes, then what came in."""
    BULK_OUT = 1
    """Sent: the bytes. Received only if they did not all go out: how many did, as four bytes."""
    BULK_IN = 2
    """Sent: how many bytes to take at most, as four bytes. Received: what came."""
    INTERRUPT_IN = 3
    """Received without being asked for: one packet of the interrupt pipe."""
    INTERRUPT_OUT = 4
    """As `BULK_OUT`."""
    CLEAR = 5
    """Sent: one byte, the pipe whose halt is to be cleared (USB 2.0, 9.4.5). Not answered."""
    OPENED = 16
    """Received once, first of all: a `Description`."""


class Status(IntEnum):
    """How a transfer went."""

    DONE = 0
    STALLED = 1
    """The device refused it; a halted pipe must be cleared."""
    TIMED_OUT = 2
    FAILED = 3


class Transfer(NamedTuple):
    """A record read. `start` is the offset of its first byte, `end` that after its last."""

    pipe: Pipe
    status: Status
    data: bytes
    start: int
    end: int


class Description(NamedTuple):
    """What a driver has to know of the device behind the link.

    The endpoint addresses are those of the interface in use, 0 where it has none; `packet_bytes`
    is the largest packet of the interrupt pipe; `serial_number` is the device's own, or empty.
    """

    interface: int
    bulk_out: int
    bulk_in: int
    interrupt_in: int
    packet_bytes: int
    bulk_packet_bytes: int
    serial_number: str

    def to_bytes(self) -> bytes:
        """As the `OPENED` record holds it."""
        return _DESCRIPTION.pack(*self[:6]) + self.serial_number.encode("utf-8")

    @classmethod
    def from_bytes(cls, data: bytes) -> Description:
        """Raises ValueError where the bytes are none."""
        try:
            interface, out, into, interrupt, packet, bulk = _DESCRIPTION.unpack_from(data)
        except struct.error:
            raise ValueError("too short for a description") from None
        serial_number = data[_DESCRIPTION.size :].decode("utf-8")
        return cls(interface, out, into, interrupt, packet, bulk, serial_number)


def record(pipe: Pipe, data: bytes = b"", status: Status = Status.DONE) -> bytes:
    """One transfer as a record. Raises ValueError for more than `LONGEST_TRANSFER` bytes."""
    if len(data) > LONGEST_TRANSFER:
        raise ValueError(f"at most {LONGEST_TRANSFER} bytes in a transfer, got {len(data)}")
    return HEAD.pack(pipe, status, len(data)) + data


def bulk_in(limit_bytes: int) -> bytes:
    """The record that asks for at most so many bytes."""
    return record(Pipe.BULK_IN, limit_bytes.to_bytes(4, "big"))


def setup(
    request_type: int, request: int, value: int, index: int, length: int, data: bytes = b""
) -> bytes:
    """The record of a control transfer (USB 2.0, table 9-2); `length` for one that comes in."""
    packet = struct.pack("<BBHHH", request_type, request, value, index, len(data) or length)
    return record(Pipe.CONTROL, packet + data)


class TransferReader:
    """Cuts a stream of records, in any chunks. Never raises on content.

    The first head that is no record's makes everything from it on unreadable (`fault`): a link of
    ours does not send that, only a damaged tape has it.
    """

    def __init__(self) -> None:
        self._rest = b""
        self._start = 0
        self.fault = ""

    @property
    def waiting_bytes(self) -> int:
        return len(self._rest)

    @property
    def start(self) -> int:
        """Offset of the first byte that waits."""
        return self._start

    def feed(self, data: bytes) -> list[Transfer]:
        """The records that these bytes complete."""
        rest = self._rest + data if self._rest else data
        found: list[Transfer] = []
        at = 0
        while not self.fault and len(rest) - at >= HEAD.size:
            pipe, status, length = HEAD.unpack_from(rest, at)
            known_pipe, known_status = _PIPES.get(pipe), _STATUSES.get(status)
            if known_pipe is None or known_status is None or length > LONGEST_TRANSFER:
                self.fault = f"no record of a transfer: {rest[at : at + HEAD.size].hex(' ')}"
                break
            end = at + HEAD.size + length
            if len(rest) < end:
                break
            start = self._start + at
            found.append(
                Transfer(
                    known_pipe,
                    known_status,
                    rest[at + HEAD.size : end],
                    start,
                    start + end - at,
                )
            )
            at = end
        self._rest = rest[at:]
        self._start += at
        return found

    def take_rest(self) -> tuple[int, bytes]:
        """What waits, and where it starts; it is let go."""
        start, rest = self._start, self._rest
        self._start += len(rest)
        self._rest = b""
        return start, rest


# Looked up and not made: an enumeration takes longer to find its own member.
_PIPES = {int(pipe): pipe for pipe in Pipe}
_STATUSES = {int(status): status for status in Status}
