"""What a framer waits for, and what it gives: answers, and noise with its reason. Pure."""

from __future__ import annotations

from typing import NamedTuple

from acquire.wire import Frame
from drivers.modbus.request import EXCEPTION_BIT, Request

CUT_BYTES = 512
"""Noise is told of in pieces of this size while it goes on."""


class Answer(NamedTuple):
    """The answer that was awaited. `data` are its bytes on the line, `pdu` what they bear."""

    start: int
    data: bytes
    pdu: bytes

    @property
    def end(self) -> int:
        """Where the stream goes on behind it."""
        return self.start + len(self.data)

    @property
    def is_exception(self) -> bool:
        """Whether the device refuses."""
        return bool(self.pdu[0] & EXCEPTION_BIT)


class Echo(NamedTuple):
    """The request itself, given back by the line. No fact is made of it."""

    start: int
    data: bytes


Piece = Frame | Answer | Echo
"""What a stream is cut into. A frame here is noise and has a fault."""


UNASKED = "an answer that nobody waited for: it came too late, or is for somebody else"


def misplaced(unit: int, pdu: bytes, wanted_unit: int, request: Request | None) -> str:
    """Why a whole and well-formed answer is not the awaited one."""
    if request is None:
        return UNASKED
    if unit != wanted_unit:
        return f"an answer of unit {unit} where unit {wanted_unit} was asked"
    function = pdu[0] & ~EXCEPTION_BIT
    if function != request.function:
        return f"an answer to function {function} where function {request.function} was asked"
    return f"an answer of another form than the request to function {function} asks for"


def in_pieces(start: int, data: bytes, why: str) -> list[Frame]:
    """Noise of any length in pieces of at most `CUT_BYTES`."""
    return [Frame(start + i, data[i : i + CUT_BYTES], why) for i in range(0, len(data), CUT_BYTES)]
