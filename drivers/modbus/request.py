"""What may be asked of a Modbus device, and what an answer to it has to look like. Pure.

MODBUS Application Protocol Specification V1.1b3, chapters 6 and 7. Only these functions are
spoken: 01 to 04 (read coils, discrete inputs, holding registers, input registers), 05 and 06 (write
one coil, one register), 17 (report server id), 43/14 (read device identification). An answer is
never searched for by its form alone: it is awaited by the request that was sent.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import NamedTuple

READ_COILS, READ_DISCRETE_INPUTS, READ_HOLDING, READ_INPUT = 1, 2, 3, 4
WRITE_COIL, WRITE_REGISTER = 5, 6
REPORT_SERVER_ID = 17
ENCAPSULATED, DEVICE_IDENTIFICATION = 43, 14
ONE_OBJECT = 4
"""Read device identification, code 04: one object (chapter 6.21)."""

EXCEPTION_BIT = 0x80
MOST_REGISTERS = 125
"""In one request, by chapters 6.3 and 6.4."""
MOST_BITS = 16
"""In one request here, far below the 2000 of the standard. With 17 to 24 coils from address 0x0300
on, the echo of a request would itself be a well-formed answer to it."""

EXCEPTIONS: Mapping[int, str] = MappingProxyType(
    {
        1: "illegal function: the device does not know this kind of request",
        2: "illegal data address: it has no such register",
        3: "illegal data value: it does not take this number of registers, or this value",
        4: "server device failure: it cannot do what was asked",
        5: "acknowledge: it is still at work",
        6: "server device busy: it is still at work",
        8: "memory parity error: its memory is damaged",
        10: "gateway path unavailable: the gateway is set up wrongly or has too much to do",
        11: "gateway target device failed to respond: the device behind the gateway is silent",
    }
)
"""Chapter 7. A code that is not here has no meaning."""

BUSY = frozenset((5, 6))
"""Those that pass by themselves."""


class Table(StrEnum):
    """The four tables of the data model (chapter 4.3), each with addresses of its own."""

    HOLDING = "holding"
    INPUT = "input"
    COIL = "coil"
    DISCRETE = "discrete"

    @property
    def has_bits(self) -> bool:
        """Whether its entries are single bits and no registers."""
        return self in (Table.COIL, Table.DISCRETE)


_READ = {
    Table.COIL: READ_COILS,
    Table.DISCRETE: READ_DISCRETE_INPUTS,
    Table.HOLDING: READ_HOLDING,
    Table.INPUT: READ_INPUT,
}


class Request(NamedTuple):
    """A protocol data unit and the shape of its answer.

    The answer's data unit begins with `head` and has `base` bytes, more by the value of its byte
    at `size_at` where that is given.
    """

    pdu: bytes
    head: bytes
    base: int
    size_at: int | None = None

    @property
    def function(self) -> int:
        """Its function code."""
        return self.pdu[0]

    def answer_bytes(self, pdu: bytes) -> int | None:
        """How long the answer is that begins so; None if its size has not come yet."""
        if self.size_at is None:
            return self.base
        return self.base + pdu[self.size_at] if len(pdu) > self.size_at else None


class Block(NamedTuple):
    """Entries of one table that are read by one request."""

    table: Table
    first: int
    length: int

    def holds(self, table: Table, address: int, length: int) -> bool:
        """Whether all of these entries are in it."""
        return (
            table is self.table
            and self.first <= address
            and address + length <= self.first + self.length
        )

    def request(self) -> Request:
        """The request that reads it."""
        function = _READ[self.table]
        pdu = bytes([function]) + self.first.to_bytes(2, "big") + self.length.to_bytes(2, "big")
        size = (self.length + 7) // 8 if self.table.has_bits else 2 * self.length
        return Request(pdu, bytes([function, size]), 2 + size)


def write_coil(address: int, is_on: bool) -> Request:
    """Function 05; its answer is its echo (chapter 6.5)."""
    value = b"\xff\x00" if is_on else b"\x00\x00"
    return _echoed(bytes([WRITE_COIL]) + address.to_bytes(2, "big") + value)


def write_register(address: int, value: int) -> Request:
    """Function 06; its answer is its echo (chapter 6.6)."""
    return _echoed(bytes([WRITE_REGISTER]) + address.to_bytes(2, "big") + value.to_bytes(2, "big"))


def report_server_id() -> Request:
    """Function 17 (chapter 6.13)."""
    return Request(bytes([REPORT_SERVER_ID]), bytes([REPORT_SERVER_ID]), 2, 1)


def read_object(number: int) -> Request:
    """Function 43/14 for one object (chapter 6.21).

    The answer: 2B 0E 04, conformity, more follows, next object, number of objects (1), object id,
    its length, its bytes.
    """
    head = bytes([ENCAPSULATED, DEVICE_IDENTIFICATION, ONE_OBJECT])
    return Request(head + bytes([number]), head, 9, 8)


def _echoed(pdu: bytes) -> Request:
    return Request(pdu, pdu, len(pdu))


def exception_words(code: int) -> str | None:
    """An exception in words, or None if the standard has no such code."""
    words = EXCEPTIONS.get(code)
    return None if words is None else f"exception {code}, {words}"
