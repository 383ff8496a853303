"""What a server answers to a data unit, by the public specification. Pure.

*MODBUS Application Protocol Specification* V1.1b3, chapters 6 and 7 (cited from memory): the
functions that our layouts have, and the order in which a request is looked at: function, number
of entries, addresses, then whether the device can.
"""

from __future__ import annotations

from typing import Protocol

COILS, DISCRETE, HOLDING, INPUT = 1, 2, 3, 4
WRITE_COIL, SERVER_ID, ENCAPSULATED = 5, 17, 43
READ_DEVICE_ID, ONE_OBJECT = 14, 4

ILLEGAL_FUNCTION, ILLEGAL_ADDRESS, ILLEGAL_VALUE, FAILURE, BUSY = 1, 2, 3, 4, 6

MOST_BITS, MOST_REGISTERS = 2000, 125
ON, OFF = b"\xff\x00", b"\x00\x00"
CONFORMITY = 0x83


class Exceptional(Exception):
    """An exception of the protocol, by its code."""

    def __init__(self, code: int) -> None:
        super().__init__(code)
        self.code = code


class Model(Protocol):
    """What is behind a server. Its methods raise `Exceptional`."""

    @property
    def functions(self) -> frozenset[int]:
        """The functions that it answers."""
        ...

    def table(self, function: int) -> dict[int, int]:
        """What stands in the table that a function reads, by address, at this moment."""
        ...

    def write_coil(self, address: int, on: bool) -> None: ...

    def server_id(self) -> bytes: ...

    def objects(self) -> dict[int, bytes]:
        """The objects of its identification."""
        ...


def answer(model: Model, request: bytes) -> bytes:
    """The data unit that answers a data unit."""
    try:
        return request[:1] + _answer(model, request[0], request[1:])
    except Exceptional as refused:
        return bytes([request[0] | 0x80, refused.code])


def _answer(model: Model, function: int, body: bytes) -> bytes:
    if function not in model.functions:
        raise Exceptional(ILLEGAL_FUNCTION)
    if function in (COILS, DISCRETE, HOLDING, INPUT):
        return _read(model, function, body)
    if function == WRITE_COIL:
        return _write(model, body)
    if function == SERVER_ID:
        said = model.server_id()
        return bytes([len(said)]) + said
    return _identify(model, body)


def _read(model: Model, function: int, body: bytes) -> bytes:
    if len(body) != 4:
        raise Exceptional(ILLEGAL_VALUE)
    first, number = _word(body[:2]), _word(body[2:])
    bits = function in (COILS, DISCRETE)
    if not 1 <= number <= (MOST_BITS if bits else MOST_REGISTERS):
        raise Exceptional(ILLEGAL_VALUE)
    table = model.table(function)
    if any(address not in table for address in range(first, first + number)):
        raise Exceptional(ILLEGAL_ADDRESS)
    values = [table[address] for address in range(first, first + number)]
    if bits:
        whole = sum(bool(value) << place for place, value in enumerate(values))
        data = whole.to_bytes((number + 7) // 8, "little")
    else:
        data = b"".join(value.to_bytes(2, "big") for value in values)
    return bytes([len(data)]) + data


def _write(model: Model, body: bytes) -> bytes:
    if len(body) != 4 or body[2:] not in (ON, OFF):
        raise Exceptional(ILLEGAL_VALUE)
    model.write_coil(_word(body[:2]), body[2:] == ON)
    return body


def _identify(model: Model, body: bytes) -> bytes:
    if len(body) != 3 or body[0] != READ_DEVICE_ID:
        raise Exceptional(ILLEGAL_FUNCTION)
    if body[1] != ONE_OBJECT:
        raise Exceptional(ILLEGAL_VALUE)
    said = model.objects().get(body[2])
    if said is None:
        raise Exceptional(ILLEGAL_ADDRESS)
    return bytes([*body[:2], CONFORMITY, 0, 0, 1, body[2], len(said)]) + said


def _word(data: bytes) -> int:
    return int.from_bytes(data, "big")
