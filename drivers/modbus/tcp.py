"""Frames of Modbus TCP: a header with transaction, length and unit before each data unit. Pure.

MODBUS Messaging on TCP/IP Implementation Guide V1.0b, chapter 3.1.3. The header is 7 bytes:
transaction (2), protocol 0 (2), length of what follows (2), unit (1). TCP keeps the order of the
bytes, so frames are taken one after the other; what cannot be a header is noise up to the next
place that can, and only time ends a frame that stands still. A frame is the answer when it bears
the transaction, the unit and the form of the request that was sent last; every other one is noise
that says why. One thread at a time; never raises on content.
"""

from __future__ import annotations

import re

from acquire.model import Instant
from acquire.wire import Frame
from drivers.modbus.awaited import (
    CUT_BYTES,
    UNASKED,
    Answer,
    Piece,
    in_pieces,
    misplaced,
)
from drivers.modbus.framer import AnswerFramer
from drivers.modbus.request import EXCEPTION_BIT, Request

HEADER_BYTES = 7
# Protocol 0, a length of unit and data unit: at least function and code, at most 253 bytes.
_HEADER = re.compile(rb"[\s\S]{2}\x00\x00\x00[\x03-\xfe]")
_PROBE_BYTES = 6


def transaction_of(at: Instant) -> int:
    """The transaction of a request sent at this moment, from 1 to 65535.

    Of the moment and not of a counter, so that a tape from whose start some request is missing
    pairs the later answers all the same. One request is under way at a time, and a new one is sent
    after another's time was up, many milliseconds later: in a minute no two are alike.
    """
    return at.mono_ns // 1_000_000 % 65535 + 1


class TcpFramer(AnswerFramer):
    """The answers of one unit on one connection."""

    def __init__(self, unit: int, gap_s: float) -> None:
        super().__init__(unit, gap_s)
        self._transaction = 0
        self._bad = 0

    def sent(self, request: Request, at: Instant) -> bytes:
        """The frame of a request. What is still there must have been given up before."""
        self._request = request
        self._transaction = transaction_of(at)
        return wrapped(self._transaction, self._unit, request.pdu)

    def _cut(self, todo: bytes, out: list[Piece]) -> None:
        # From `place` on bytes are in no fact yet; the first `bad` of them are no frame.
        place, bad, start = 0, self._bad, self._start
        while len(todo) - place - bad >= _PROBE_BYTES:
            begin = place + bad
            found = _HEADER.search(todo, begin)
            if found is None or found.start() > begin:
                bad = (found.start() if found else len(todo) - _PROBE_BYTES + 1) - place
                while bad >= CUT_BYTES:
                    out.append(Frame(start + place, todo[place : place + CUT_BYTES], _NONE))
                    place, bad = place + CUT_BYTES, bad - CUT_BYTES
                continue
            end = begin + _PROBE_BYTES + todo[begin + _PROBE_BYTES - 1]
            if end > len(todo):
                break
            if bad:
                out.append(Frame(start + place, todo[place:begin], _NONE))
            out.append(self._whole(start + begin, todo[begin:end]))
            place, bad = end, 0
        self._rest, self._bad, self._start = todo[place:], bad, start + place

    def _flush(self, why: str) -> list[Frame]:
        rest, start = self._rest, self._start
        self._rest, self._bad = b"", 0
        self._start += len(rest)
        return in_pieces(start, rest, why)

    def _whole(self, start: int, frame: bytes) -> Frame | Answer:
        """The answer, or why this frame is not the answer."""
        unit, pdu = frame[HEADER_BYTES - 1], frame[HEADER_BYTES:]
        request = self._request
        transaction = int.from_bytes(frame[:2], "big")
        if request is None:
            return Frame(start, frame, UNASKED)
        if transaction != self._transaction:
            return Frame(
                start,
                frame,
                f"an answer to transaction {transaction} where {self._transaction} is under way",
            )
        is_exception = len(pdu) == 2 and pdu[0] == request.function | EXCEPTION_BIT
        is_answer = pdu.startswith(request.head) and len(pdu) == request.answer_bytes(pdu)
        if unit != self._unit or not (is_exception or is_answer):
            return Frame(start, frame, misplaced(unit, pdu, self._unit, request))
        self._request = None
        return Answer(start, frame, pdu)


_NONE = "no header of Modbus TCP"


def wrapped(transaction: int, unit: int, pdu: bytes) -> bytes:
    """A frame of this unit."""
    header = transaction.to_bytes(2, "big") + bytes(2) + (1 + len(pdu)).to_bytes(2, "big")
    return header + bytes([unit]) + pdu
