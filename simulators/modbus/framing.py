"""Requests found in what comes down a line or a connection, and answers made into frames.

RTU: *MODBUS over Serial Line* V1.02, 2.5.1; TCP: *MODBUS Messaging on TCP/IP* V1.0b, 3.1.3
(chapters from memory). One thread.
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from functools import partial
from typing import NamedTuple, Protocol

from simulators.checks import crc16_modbus

BROADCAST = 0
LONGEST = 256

SILENCE_S = 0.05
"""A request that stands still for so long is none. Longer than the standard's 3.5 characters,
because adapters hand a frame over in pieces."""

RTU_BYTES = {1: 8, 2: 8, 3: 8, 4: 8, 5: 8, 6: 8, 17: 4, 43: 7}
"""Length of a request by function, unit and CRC included."""


class Request(NamedTuple):
    """A request: its unit, its data unit, the frame that it came in, and what frames its answer."""

    unit: int
    data: bytes
    frame: bytes
    wrap: Callable[[bytes], bytes]


class Framing(Protocol):
    def feed(self, data: bytes) -> list[Request]:
        """The requests that these bytes complete."""
        ...

    def forget(self) -> None: ...


def rtu(unit: int, data: bytes) -> bytes:
    """A frame of a serial line."""
    body = bytes([unit]) + data
    return body + struct.pack("<H", crc16_modbus(body))


def tcp(head: bytes, unit: int, data: bytes) -> bytes:
    """A frame of a connection; `head` is the transaction and the two zero bytes."""
    return head + struct.pack(">HB", 1 + len(data), unit) + data


class Rtu:
    """Frames of a serial line. What is none is dropped up to the next silence."""

    def __init__(self, now_s: Callable[[], float]) -> None:
        self._now_s = now_s
        self._rest = b""
        self._heard_s = 0.0

    def feed(self, data: bytes) -> list[Request]:
        now_s = self._now_s()
        if now_s - self._heard_s > SILENCE_S:
            self._rest = b""
        self._heard_s = now_s
        self._rest += data
        found: list[Request] = []
        while len(self._rest) >= 4 and (length := self._length()):
            frame, self._rest = self._rest[:length], self._rest[length:]
            unit = frame[0]
            found.append(Request(unit, frame[1:-2], frame, partial(rtu, unit)))
        if len(self._rest) > LONGEST:
            self._rest = b""
        return found

    def forget(self) -> None:
        self._rest = b""

    def _length(self) -> int:
        """Of the frame that the rest begins with; 0 when it is not complete or none."""
        known = RTU_BYTES.get(self._rest[1])
        for length in [known] if known else range(4, min(len(self._rest), LONGEST) + 1):
            frame = self._rest[:length]
            if len(frame) == length and rtu(frame[0], frame[1:-2]) == frame:
                return length
        if known and len(self._rest) >= known:
            self._rest = b""
        return 0


class Tcp:
    """Frames of a connection. Bytes that are no header end what was begun."""

    def __init__(self) -> None:
        self._rest = b""

    def feed(self, data: bytes) -> list[Request]:
        self._rest += data
        found: list[Request] = []
        while len(self._rest) >= 8:
            head = self._rest[:4]
            length = int.from_bytes(self._rest[4:6], "big")
            if head[2:] != b"\0\0" or not 2 <= length <= LONGEST - 2:
                self._rest = b""
            if len(self._rest) < 6 + length:
                break
            frame, self._rest = self._rest[: 6 + length], self._rest[6 + length :]
            found.append(Request(frame[6], frame[7:], frame, partial(tcp, head, frame[6])))
        return found

    def forget(self) -> None:
        self._rest = b""
