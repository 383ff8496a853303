"""Devices of each wire as bytes, for the throughput of drivers: what they send, and on which line.

By the descriptions in drivers/*/WIRE.md, and without simulators: those have the pace of a device.
A device counts the bytes that pass on its wire; heads of records are ours and count for nothing.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterator
from typing import NamedTuple, Protocol

from acquire.wire import CHECKSUMS
from acquire.wire.transfer import Description, Pipe, TransferReader, record
from tests.benchmarks.lines import press_line

SERIAL_LINE = 11_520.0
"""Bytes a second at 115,200 baud: ten bits a byte with start and stop (8N1), the fastest speed that
benches commonly use (common practice, no source)."""
BULK_PACKET_BYTES = 64
BULK_PACKETS = 19_000.0
"""Full-speed bulk: at most 19 transactions of 64 bytes in a frame of 1 ms (USB 2.0, 5.8.4, table
5-9, from memory). A packet that is not full takes a transaction too."""
INTERRUPT_PACKETS = 1_000.0
"""Full-speed interrupt: an endpoint is asked at most once in a frame of 1 ms (USB 2.0, 5.7.4, from
memory), and each time it gives one packet. A device that reports with every packet sends so many
reports a second and no more, however short they are."""
FRAMES_A_CHUNK = 64
_WRAP = 9_999


class Device(Protocol):
    """A device at the other end of a link."""

    passed: int
    """Bytes that passed on its wire."""
    line_s: float
    """How long the fastest real line would have taken for them."""

    def press(self) -> list[bytes]:
        """What comes of the next presses, chunk by chunk."""
        ...

    def hear(self, sent: bytes) -> list[bytes]:
        """What it answers to what the driver sent."""
        ...


class Wire(NamedTuple):
    """A device on its fastest real line; `presses` are timed. `changed` alters the profile."""

    name: str
    profile: str
    make: Callable[[], Device]
    presses: int
    changed: Callable[[dict[str, object]], object] = lambda table: None


class _OnSerialLine:
    """Counts what passes on a serial line."""

    def __init__(self) -> None:
        self.passed = 0

    @property
    def line_s(self) -> float:
        return self.passed / SERIAL_LINE


class Sender(_OnSerialLine):
    """A device that sends frame after frame by itself, many in a chunk; `name` is what it says when
    it is asked who it is."""

    def __init__(self, frame: Callable[[int], bytes], name: bytes = b"") -> None:
        super().__init__()
        self._frame = frame
        self._name = name
        self._sent = 0

    def press(self) -> list[bytes]:
        first = self._sent + 1
        self._sent += FRAMES_A_CHUNK
        chunk = b"".join(map(self._frame, range(first, first + FRAMES_A_CHUNK)))
        self.passed += len(chunk)
        return [chunk]

    def hear(self, sent: bytes) -> list[bytes]:
        self.passed += len(sent) + len(self._name)
        return [self._name]


def gloss_line(number: int) -> bytes:
    """``gloss-press``: a value, a count, a check sum."""
    return press_line(number, f"{80 + number % 100 / 10:.1f}")


def force_line(number: int) -> bytes:
    """``force-stream``: samples."""
    return f"{1 + number % 500 / 1000:+07.3f} N\r\n".encode()


def bands_line(number: int) -> bytes:
    """``transmission-bands``: three values in a line, decimal commas, a check sum."""
    tenths = 800 + number % 100
    value = f"{tenths // 10},{tenths % 10}"
    body = f"T{(number - 1) % _WRAP + 1} UV=12,4 VIS={value} IR=90,1".encode()
    return body + f";{CHECKSUMS['sum8'].of(body):02X}\r\n".encode()


def gloss_frame(number: int) -> bytes:
    """``frame-gloss``: three values in binary, CRC-16."""
    count = (number - 1) % 65_535 + 1
    body = struct.pack(">BBHBhhh", 10, 0x52, count, 0, 800 + number % 100, 958, 982)
    return b"\xa5\x5a" + body + struct.pack("<H", CHECKSUMS["crc16-modbus"].of(body))


def force_frame(number: int) -> bytes:
    """``frame-force``: packed decimals."""
    count = int(str(number % 99 + 1), 16)
    body = bytes((0x50, 0x4E, 0x22, 0, 1)) + bytes.fromhex(f"{number % 100:02d}4C")
    body += bytes((count,))
    return b"\x02" + body + bytes((-sum(body) & 0xFF, 3))


class Registers(_OnSerialLine):
    """``modbus-gloss``: each poll finds a new press. The silences that the standard wants between
    frames are not counted, so its line is faster than a real one."""

    def __init__(self, wrapped: Callable[[bytes, bytes], bytes], values: bytes) -> None:
        super().__init__()
        self._wrapped = wrapped
        self._values = values
        self._count = 0

    def press(self) -> list[bytes]:
        self._count = self._count % 65_535 + 1
        return []

    def hear(self, sent: bytes) -> list[bytes]:
        answer = self._wrapped(sent, self._count.to_bytes(2, "big") + self._values)
        self.passed += len(sent) + len(answer)
        return [answer]


def rtu_answer(sent: bytes, registers: bytes) -> bytes:
    """Unit, function, what was asked for, CRC."""
    body = sent[:2] + bytes((len(registers),)) + registers
    if sent[1] == 3:
        body = sent[:2] + b"\x10" + b"SH-0417".ljust(16, b"\0")
    return body + struct.pack("<H", CHECKSUMS["crc16-modbus"].of(body))


def rtu_gloss() -> Registers:
    return Registers(rtu_answer, _GLOSS)


def tcp_answer(sent: bytes, registers: bytes) -> bytes:
    """Transaction, protocol, length, then unit, function and what was asked for, without CRC."""
    body = rtu_answer(sent[6:], registers)[:-2]
    return sent[:4] + len(body).to_bytes(2, "big") + body


def tcp_gloss() -> Registers:
    """Behind a serial server on the network: the line is the server's."""
    return Registers(tcp_answer, _GLOSS)


def typed_line(number: int) -> bytes:
    """``keyed-gloss-20``: each twice. No hand types so fast; it is held against a serial line."""
    return f"{80 + (number - 1) // 2 % 100 / 10:.1f}\n".encode()


_GLOSS = struct.pack(">Hhhhh", 0, 914, 958, 982, 0)


class Reports:
    """A HID device: the link tells of it, gives its descriptor, then its reports."""

    def __init__(
        self, report: Callable[[int], bytes], descriptor: bytes, packet_bytes: int
    ) -> None:
        self._report = report
        self._first = [
            record(Pipe.OPENED, Description(0, 0, 0, 0x81, packet_bytes, 0, "SN").to_bytes())
        ]
        self._descriptor = descriptor
        self._sent = 0
        self._reader = TransferReader()
        self.passed = 0
        self.line_s = 0.0

    def press(self) -> list[bytes]:
        if self._first:
            return [self._first.pop()]
        first = self._sent + 1
        self._sent += FRAMES_A_CHUNK
        reports = [self._report(n) for n in range(first, first + FRAMES_A_CHUNK)]
        self.passed += sum(map(len, reports))
        self.line_s += len(reports) / INTERRUPT_PACKETS
        return [b"".join(record(Pipe.INTERRUPT_IN, report) for report in reports)]

    def hear(self, sent: bytes) -> list[bytes]:
        return [
            record(Pipe.CONTROL, one.data[:8] + self._descriptor)
            if one.data[:4] == b"\x81\x06\x00\x22"
            else record(Pipe.CONTROL, one.data[:8])
            for one in self._reader.feed(sent)
            if one.pipe is Pipe.CONTROL
        ]


def gloss_report(number: int) -> bytes:
    """``hid-gloss``: a count and three values by their places."""
    return struct.pack("<BBHHHH", 1, 0, number % 65_536, 800 + number % 100, 958, 982)


GLOSS_DESCRIPTOR = bytes.fromhex(
    "06 00 ff 09 01 a1 01 85 01 15 00 26 ff 00 75 08 95 09 09 02 81 0285 02 95 01 09 03 b1 02 c0"
)
"""Vendor page: report 1 of nine bytes in, feature report 2 of one byte."""


class Head:
    """A spectral head of the test-and-measurement class, which requests service at each press."""

    def __init__(self, code: str, points: int) -> None:
        numbers = [1000 + i % 7000 for i in range(points)]
        self._block = struct.pack(f"<{points}{code}", *numbers)
        self._points = points
        self._first = [
            record(Pipe.OPENED, Description(0, 1, 0x82, 0x83, 2, 64, "LG-0093").to_bytes())
        ]
        self._count = 0
        self._is_ready = False
        self._tag = 0
        self._rest = b""
        self._limit = 0
        self._reader = TransferReader()
        self.passed = 0
        self.line_s = 0.0

    def press(self) -> list[bytes]:
        if self._first:
            return [self._first.pop()]
        self._count += 1
        self._is_ready = True
        return [self._in(Pipe.INTERRUPT_IN, b"\x81\x41")]

    def hear(self, sent: bytes) -> list[bytes]:
        return [chunk for one in self._reader.feed(sent) for chunk in self._to(one.pipe, one.data)]

    def _in(self, pipe: Pipe, data: bytes) -> bytes:
        self.passed += len(data)
        if pipe is Pipe.INTERRUPT_IN:
            self.line_s += 1 / INTERRUPT_PACKETS
        else:
            # A transfer ends by a packet that is not full, if by an empty one (USB 2.0, 5.8.3).
            self.line_s += (len(data) // BULK_PACKET_BYTES + 1) / BULK_PACKETS
        return record(pipe, data)

    def _to(self, pipe: Pipe, data: bytes) -> Iterator[bytes]:
        if pipe is Pipe.BULK_OUT and data[0] == 1:
            self._rest = self._answer(data[12 : 12 + int.from_bytes(data[4:8], "little")])
        elif pipe is Pipe.BULK_OUT:
            self._tag, self._limit = data[1], int.from_bytes(data[4:8], "little")
        elif pipe is Pipe.BULK_IN:
            part, self._rest = self._rest[: self._limit], self._rest[self._limit :]
            head = struct.pack("<BBBBIBxxx", 2, self._tag, self._tag ^ 255, 0, len(part),
                               not self._rest)  # fmt: skip
            yield self._in(Pipe.BULK_IN, head + part)
        elif pipe is Pipe.CONTROL:
            yield record(Pipe.CONTROL, data[:8] + bytes((1, data[2], 0)))
            yield self._in(Pipe.INTERRUPT_IN, bytes((0x80 | data[2], int(self._is_ready))))

    def _answer(self, command: bytes) -> bytes:
        if command == b"*IDN?\n":
            return b"SLIPWAY OPTICS,LIGHT GATE,LG-0093,1.2\n"
        if command == b"WAV?\n":
            return f"300.0,{700 / self._points:.4f},{self._points}\n".encode()
        if command == b"SYST:ERR?\n":
            return b'0,"No error"\n'
        self._is_ready = False
        length = str(len(self._block)).encode()
        count = str(self._count).encode()
        return count + b",#" + str(len(length)).encode() + length + self._block + b"\n"
