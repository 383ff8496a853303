"""The USB test and measurement class on a device's side, with its USB488 subclass.

By the USBTMC 1.00 and USB488 1.00 specifications of the USB-IF, and where they leave a choice by
`drivers/usbtmc/WIRE.md`. Messages go to and come from a `Head`; nothing here knows a command.
One thread at a time.
"""

from __future__ import annotations

import struct
from collections import deque
from dataclasses import dataclass

from simulators.usb.behaviour import Dumb, Setup, Stall
from simulators.usb.descriptors import BULK, INTERRUPT, Endpoint, Interface
from simulators.usb.head import MESSAGE_LIMIT_BYTES, Head
from simulators.usb.packets import packets

BULK_OUT, BULK_IN, INTERRUPT_IN = 0x01, 0x82, 0x83
PACKET_BYTES = 64
TRANSFER_LIMIT_BYTES = 2048

DEV_DEP_MSG_OUT, DEV_DEP_MSG_IN = 1, 2
INITIATE_ABORT_BULK_OUT, INITIATE_ABORT_BULK_IN, CHECK_ABORT_BULK_IN = 1, 3, 4
INITIATE_CLEAR, CHECK_CLEAR, GET_CAPABILITIES, INDICATOR_PULSE, READ_STATUS_BYTE = 5, 6, 7, 64, 128
SUCCESS, PENDING, FAILED, NOT_IN_PROGRESS = 0x01, 0x02, 0x80, 0x81
EOM, TERM_CHAR = 1, 2
_HEAD = struct.Struct("<BBBBIB3s")
_OF_INTERFACE, _OF_ENDPOINT = 0xA1, 0xA2

TMC_INTERFACE = Interface(
    0,
    0xFE,
    0x03,
    0x01,
    (
        Endpoint(BULK_OUT, BULK, PACKET_BYTES),
        Endpoint(BULK_IN, BULK, PACKET_BYTES),
        Endpoint(INTERRUPT_IN, INTERRUPT, 2, 1),
    ),
)


@dataclass(frozen=True)
class Capabilities:
    """What GET_CAPABILITIES says beyond what is always so: a 488.2 interface with requests."""

    indicator: bool = False
    term_char: bool = False

    def to_bytes(self) -> bytes:
        """USBTMC table 37 and USB488 table 8."""
        own = bytes((4 * self.indicator, 1 * self.term_char))
        return bytes((SUCCESS, 0, 0, 1)) + own + bytes(6) + bytes((0, 1, 4, 4)) + bytes(8)


@dataclass
class Request:
    """A request for a response: its tag, how much may be sent, and the character that ends it."""

    tag: int
    limit_bytes: int
    term_char: bytes = b""
    sent_bytes: int = 0


class Tmc(Dumb):
    """The interface of a head."""

    def __init__(self, head: Head, capabilities: Capabilities | None = None) -> None:
        self.head = head
        self.capabilities = capabilities or Capabilities()
        self.transfer_limit_bytes = TRANSFER_LIMIT_BYTES
        self.pulses = 0
        self.reset()

    def reset(self) -> None:
        self.head.power_on()
        self._transfer = b""
        self._message = b""
        self._request: Request | None = None
        self._packets: deque[bytes] = deque()
        self._sent = 0
        self._aborting = False
        self._aborted_bytes = 0
        self._notices: deque[bytes] = deque()
        self._halted: set[int] = set()

    def halt_cleared(self, endpoint: int) -> None:
        self._halted.discard(endpoint)

    # -- bulk out --------------------------------------------------------------------------------

    def handle_bulk_out(self, endpoint: int, packet: bytes) -> bool:
        if endpoint in self._halted:
            raise Stall
        # A request for a response is taken at any time; a message waits for the one before.
        is_request = not self._transfer and packet[:1] == bytes((DEV_DEP_MSG_IN,))
        if not is_request and not self.head.takes_messages:
            return False
        if not packet and not self._transfer:
            return True  # the end of a transfer that was full of whole packets
        self._transfer += packet
        whole = self._whole_bytes()
        if len(self._transfer) < whole and len(packet) == PACKET_BYTES:
            return True
        transfer, self._transfer = self._transfer, b""
        if len(transfer) < whole:
            self._halt()
        self._take(transfer)
        self.notice()
        return True

    def _whole_bytes(self) -> int:
        """How many bytes the transfer has, filled up to a multiple of four. Raises `Stall`."""
        if len(self._transfer) < _HEAD.size:
            return _HEAD.size
        message, tag, inverse, _, size, _, _ = _HEAD.unpack_from(self._transfer)
        if message not in (DEV_DEP_MSG_OUT, DEV_DEP_MSG_IN) or not tag or tag ^ inverse != 0xFF:
            self._halt()
        return _HEAD.size + (-(-size // 4) * 4 if message == DEV_DEP_MSG_OUT else 0)

    def _take(self, transfer: bytes) -> None:
        message, tag, _, _, size, attributes, rest = _HEAD.unpack_from(transfer)
        if message == DEV_DEP_MSG_IN:
            term = rest[:1] if attributes & TERM_CHAR and self.capabilities.term_char else b""
            self._request = Request(tag, min(size, self.transfer_limit_bytes), term)
            return
        self._message += transfer[_HEAD.size : _HEAD.size + size]
        # No more is kept than shows that it was too much.
        self._message = self._message[: MESSAGE_LIMIT_BYTES + 2]
        if attributes & EOM:
            whole, self._message = self._message, b""
            if self._request is not None and self._request.sent_bytes:
                self._request = None  # a transfer that was broken off with its response
            self._packets.clear()
            self._sent = 0
            self.head.hear(whole)

    def _halt(self) -> None:
        self._transfer = b""
        self._halted |= {BULK_OUT, BULK_IN}
        raise Stall

    # -- bulk in ---------------------------------------------------------------------------------

    def poll_bulk_in(self, endpoint: int) -> bytes | None:
        if endpoint in self._halted:
            raise Stall
        if not self._packets and self._request is not None and not self._aborting:
            self._begin(self._request)
        if not self._packets:
            return None
        packet = self._packets.popleft()
        if self._aborting:
            self._aborting = False
        elif self._request is not None:
            self._request.sent_bytes += len(packet)
            if not self._packets:
                self._end()
        return packet

    def _begin(self, request: Request) -> None:
        """Make up the packets of one transfer, if there is a response to send."""
        rest = self.head.response[self._sent :]
        self.notice()
        if not rest:
            return
        part = rest[: request.limit_bytes]
        ended = request.term_char and request.term_char in part
        if ended:
            part = part[: part.index(request.term_char) + 1]
        attributes = (EOM if len(part) == len(rest) else 0) | (TERM_CHAR if ended else 0)
        head = _HEAD.pack(
            DEV_DEP_MSG_IN, request.tag, request.tag ^ 0xFF, 0, len(part), attributes, bytes(3)
        )
        self._packets.extend(packets(head + part, PACKET_BYTES))
        self._sent += len(part)

    def _end(self) -> None:
        """A transfer has been sent whole."""
        self._request = None
        if self._sent >= len(self.head.response):
            self._sent = 0
            self.head.fetched()
            self.notice()

    # -- interrupt -------------------------------------------------------------------------------

    def poll_interrupt_in(self, endpoint: int) -> bytes | None:  # noqa: ARG002
        self.head.tick()
        self.notice()
        return self._notices.popleft() if self._notices else None

    def notice(self) -> None:
        """Ask for service if there is a new reason (USB488, 3.4.1)."""
        if self.head.status.asks():
            self._notices.append(bytes((0x81, self.head.status.polled)))

    # -- control ---------------------------------------------------------------------------------

    def handle_control(self, setup: Setup, data: bytes) -> bytes | None:  # noqa: ARG002
        self.head.tick()
        self.notice()
        tag = setup.value & 0xFF
        if setup.request_type == _OF_INTERFACE and setup.index == 0:
            return self._of_interface(setup.request, tag)
        if setup.request_type == _OF_ENDPOINT and setup.index == BULK_OUT:
            if setup.request == INITIATE_ABORT_BULK_OUT:
                return bytes((FAILED, tag))
        elif setup.request_type == _OF_ENDPOINT and setup.index == BULK_IN:
            if setup.request == INITIATE_ABORT_BULK_IN:
                return self._abort_in(tag)
            if setup.request == CHECK_ABORT_BULK_IN:
                if self._aborting:
                    return bytes((PENDING, 1, 0, 0)) + bytes(4)
                return bytes((SUCCESS, 0, 0, 0)) + self._aborted_bytes.to_bytes(4, "little")
        raise Stall

    def _of_interface(self, request: int, tag: int) -> bytes:
        if request == GET_CAPABILITIES:
            return self.capabilities.to_bytes()
        if request == INDICATOR_PULSE and self.capabilities.indicator:
            self.pulses += 1
            return bytes((SUCCESS,))
        if request == INITIATE_CLEAR:
            self._throw_away()
            self._halted.add(BULK_OUT)
            return bytes((SUCCESS,))
        if request == CHECK_CLEAR:
            return bytes((SUCCESS, 0))
        if request == READ_STATUS_BYTE:
            if not 2 <= tag <= 127:
                return bytes((FAILED, tag, 0))
            self._notices.append(bytes((0x80 + tag, self.head.status.take_polled())))
            return bytes((SUCCESS, tag, 0))
        raise Stall

    def _abort_in(self, tag: int) -> bytes:
        if self._request is None:
            return bytes((FAILED, tag))
        if self._request.tag != tag:
            return bytes((NOT_IN_PROGRESS, self._request.tag))
        self._aborted_bytes = max(0, self._request.sent_bytes - _HEAD.size)
        self._request = None
        self._packets.clear()
        self._packets.append(b"")
        self._aborting = True
        self._sent = 0
        self.head.forget()
        return bytes((SUCCESS, tag))

    def _throw_away(self) -> None:
        self.head.forget()
        self._transfer = self._message = b""
        self._request = None
        self._packets.clear()
        self._aborting = False
        self._sent = 0
