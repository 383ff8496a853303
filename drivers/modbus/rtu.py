"""Frames of Modbus RTU: unit, data unit, CRC. Pure; one thread at a time.

MODBUS over Serial Line V1.02, chapter 2.5.1. The standard ends a frame by 3.5 characters of
silence; behind a USB adapter or a serial server silence cannot be seen that finely, so an answer
is found by what was asked: unit, function and length are known, the CRC proves it, and time only
ends what stands still. What a line does, and what comes of it here:

- *split*, *glued*: the same frames as if each came alone;
- *noise before the answer*: the answer is found behind it;
- *echo*: a two-wire adapter gives the request back before the answer -> passed over, once;
- *stalled*: nothing follows for `gap_s` -> what is there is noise; a tail that comes later, too;
- *another's*: the answer of another unit, to another function, or unasked -> noise that says so;
- *endless*: noise in pieces of 512 bytes; where it is cut depends on the bytes alone.

Bytes that look like the awaited answer and fail their CRC are tried a few times for each
request and no more, so that no stream costs more than linear time. Never raises on content.
"""

from __future__ import annotations

from typing import NamedTuple

from acquire.model import Instant
from acquire.wire import CHECKSUMS, Frame
from drivers.modbus.awaited import CUT_BYTES, Answer, Echo, Piece, misplaced
from drivers.modbus.framer import AnswerFramer
from drivers.modbus.request import EXCEPTION_BIT, Request

HELD_BYTES = 2 * CUT_BYTES
"""Twice the longest frame and more: what may still become the answer is never cut."""
LONGEST_FRAME = 256
MOST_TRIES = 8
CRC_BYTES = 2
# Functions whose answers have a fixed length, and those that say their own.
_SINGLE = frozenset((5, 6, 15, 16))
_COUNTED = frozenset((1, 2, 3, 4, 17))

_crc = CHECKSUMS["crc16-modbus"].of


def crc_bytes(data: bytes) -> bytes:
    """The CRC as it is sent: low byte first."""
    return _crc(data).to_bytes(CRC_BYTES, "little")


def wrapped(unit: int, pdu: bytes) -> bytes:
    """A frame of this unit."""
    body = bytes([unit]) + pdu
    return body + crc_bytes(body)


class _Candidate(NamedTuple):
    """Bytes that have the form of something awaited. Sorted by where they end."""

    end: int
    is_answer: bool
    start: int


class RtuFramer(AnswerFramer):
    """The answers of one unit on one line."""

    def __init__(self, unit: int, gap_s: float) -> None:
        super().__init__(unit, gap_s)
        self._wrapped: Request | None = None
        self._frame = b""
        self._line_echoes = False
        self._awaits_echo = False
        self._tries = 0
        self._seen = 0

    def sent(self, request: Request, at: Instant) -> bytes:  # noqa: ARG002 - one of two framers
        """The frame of a request. What is still there must have been given up before."""
        self._request = request
        if request is not self._wrapped:
            # The same request goes out poll after poll.
            self._wrapped, self._frame = request, wrapped(self._unit, request.pdu)
        # The answer to a write cannot be told from its echo: there are two where there were two.
        self._awaits_echo = self._line_echoes or request.pdu != request.head
        self._tries = MOST_TRIES
        return self._frame

    def _cut(self, todo: bytes, out: list[Piece]) -> None:
        place = 0
        while True:
            self._rest = todo[place : place + HELD_BYTES]
            size = len(self._rest)
            found = self._found()
            if found is not None:
                self._take(found, out)
                place += found.end
            elif size == HELD_BYTES:
                out += self._noise(CUT_BYTES, "")
                place += CUT_BYTES
            else:
                return

    def _flush(self, why: str) -> list[Frame]:
        return self._noise(len(self._rest), why)

    def _found(self) -> _Candidate | None:
        """What of the awaited ends first; every place is looked at once, whatever the chunks."""
        request = self._request
        if request is None or not self._tries:
            return None
        rest, seen = self._rest, self._seen
        for one in sorted(self._candidates(request, max(0, seen - LONGEST_FRAME))):
            if one.end <= seen or one.end > len(rest) or not self._tries:
                continue
            frame = rest[one.start : one.end]
            if not one.is_answer or crc_bytes(frame[:-CRC_BYTES]) == frame[-CRC_BYTES:]:
                return one
            self._tries -= 1
        self._seen = len(rest)
        return None

    def _candidates(self, request: Request, place: int) -> list[_Candidate]:
        rest, unit = self._rest, bytes([self._unit])
        found: list[_Candidate] = []
        head = unit + request.head
        at = rest.find(head, place)
        while at >= 0:
            size = request.answer_bytes(rest[at + 1 : at + 16])
            if size is not None:
                found.append(_Candidate(at + 1 + size + CRC_BYTES, True, at))
            at = rest.find(head, at + 1)
        head = unit + bytes([request.function | EXCEPTION_BIT])
        at = rest.find(head, place)
        while at >= 0:
            found.append(_Candidate(at + 3 + CRC_BYTES, True, at))
            at = rest.find(head, at + 1)
        if self._awaits_echo and (at := rest.find(self._frame, place)) >= 0:
            found.append(_Candidate(at + len(self._frame), False, at))
        return found

    def _take(self, found: _Candidate, out: list[Piece]) -> None:
        frame = self._rest[found.start : found.end]
        out += self._noise(found.start, "")
        if found.is_answer:
            out.append(Answer(self._start, frame, frame[1:-CRC_BYTES]))
            self._request = None
        else:
            out.append(Echo(self._start, frame))
            self._awaits_echo, self._line_echoes = False, True
        self._drop(found.end - found.start)

    def _noise(self, size: int, why: str) -> list[Frame]:
        """The first bytes that wait, as noise; each whole frame of another is told by itself."""
        data, start = self._rest[:size], self._start
        self._drop(size)
        frames: list[Frame] = []
        place = 0
        while place < size and (length := _whole(data, place)):
            frame = data[place : place + length]
            said = misplaced(frame[0], frame[1:-CRC_BYTES], self._unit, self._request)
            frames.append(Frame(start + place, frame, said))
            place += length
        rest = data[place:]
        for i in range(0, len(rest), CUT_BYTES):
            piece = rest[i : i + CUT_BYTES]
            frames.append(Frame(start + place + i, piece, self._unproved(piece) or why or _NONE))
        return frames

    def _unproved(self, data: bytes) -> str:
        """The CRCs of bytes that begin as the awaited answer; empty if they do not."""
        request = self._request
        if request is None or not data.startswith(bytes([self._unit]) + request.head):
            return ""
        size = request.answer_bytes(data[1:16])
        if size is None or len(data) < size + 1 + CRC_BYTES:
            return ""
        wanted = crc_bytes(data[: size + 1]).hex(" ")
        got = data[size + 1 : size + 1 + CRC_BYTES].hex(" ")
        return f"wrong CRC: got {got}, wanted {wanted}"

    def _drop(self, size: int) -> None:
        self._rest = self._rest[size:]
        self._start += size
        self._seen = max(0, self._seen - size)


_NONE = "no frame with the right CRC"


def _whole(data: bytes, place: int) -> int:
    """The length of the frame that begins here with whatever unit and function; 0 if none does."""
    left = len(data) - place
    if left < 5:
        return 0
    function = data[place + 1]
    if function & EXCEPTION_BIT:
        sizes: tuple[int, ...] = (5,)
    elif function in _SINGLE:
        sizes = (8,)
    elif function in _COUNTED:
        # An answer that says its length, or somebody's request.
        sizes = (5 + data[place + 2], 8)
    else:
        return 0
    for size in sizes:
        frame = data[place : place + size]
        if len(frame) == size and crc_bytes(frame[:-CRC_BYTES]) == frame[-CRC_BYTES:]:
            return size
    return 0
