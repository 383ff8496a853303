"""Cutting a stream of bytes into binary frames, with bounded memory and the place of every byte.

A frame is known by its shape: a start marker, a length that is fixed or told by a field, an end
marker, a checksum; not all of them are there on every wire. What a line does to its reader, and
what comes of it here (each is a test of the same name):

- *split*: a frame comes in many chunks -> one frame;
- *glued*: many frames come in one chunk, with the head of another -> a frame each, the head waits;
- *false start*: the start marker stands in garbage, or in the payload of a frame whose own start
  was lost -> where length, end marker or checksum do not fit, the search goes on from the next
  byte;
- *swallowed*: a false start tells a length that reaches beyond a good frame, and then the line is
  silent -> the silence ends the false one, the search goes on within it, the good one is found;
- *stalled*: a frame that is not complete when the line falls silent -> faulty;
- *resumed*: the tail of a stalled frame -> faulty, up to the next start;
- *unproven*: without checksum and end marker a start marker alone proves nothing, it may be a byte
  of a value -> after garbage all is faulty up to the next silence;
- *unmarked*: without a start marker a frame begins after a silence or straight after another one
  -> where it does not fit, all is faulty up to the next silence;
- *bare*: with neither start marker nor checksum -> a frame is what stands whole between two
  silences, and it is known at the second one only;
- *garbage*: -> faulty frames of `PIECE_BYTES` each and the remainder before the next good frame or
  silence; where it is cut depends on the bytes and silences alone and not on the chunks;
- *torn*: the link is lost in mid-frame -> one faulty frame of what is there.

Every byte is in exactly one frame, in the order of the stream. Time is linear in the bytes,
whatever they are. Knows no meaning, never raises on content. One thread at a time.
"""

from __future__ import annotations

from acquire.model import Instant
from acquire.wire.framer import Frame
from acquire.wire.shape import Form, Proof, Sent, Shape
from acquire.wire.silence import Silence
from acquire.wire.stretches import Stretches

PIECE_BYTES = 256
"""Garbage is told in pieces of this length."""

_NO_START = "no frame begins here"
_AFTER_GARBAGE = "no frame: it does not begin after a silence or another frame"


class BlockFramer:
    """Frames of one stream from its first byte on.

    `silence_s`: a pause of this length ends whatever is not complete.
    """

    def __init__(self, shape: Shape, silence_s: float) -> None:
        if silence_s <= 0:
            raise ValueError("a framer needs a time of silence")
        self._shape = shape
        self._longest = shape.longest
        self._silence = Silence(silence_s)
        self._too_slow = f"not complete when the line was silent for {silence_s:g} s"
        self._proof = _Proven(shape.proof, shape.lengths) if shape.proof else None
        self._is_bare = not shape.start and shape.proof is None
        self._searches = bool(shape.start) and (shape.proof is not None or bool(shape.end))
        self._rest = b""
        # Where in the stream the rest begins, and up to where in the rest no frame begins.
        self._start = 0
        self._place = 0
        self._why = ""
        self._waits_for_silence = False

    @property
    def waiting_bytes(self) -> int:
        """Bytes that are in no frame yet: after any call less than a piece and a longest frame."""
        return len(self._rest)

    @property
    def deadline(self) -> Instant | None:
        """When silence ends the bytes that are waiting; None if none are."""
        return self._silence.end if self._rest else None

    def feed(self, data: bytes, at: Instant) -> list[Frame]:
        """The frames that these bytes complete. `at` is when they were received."""
        # Silence is silence whether or not somebody asked `expire` in between: a tape that is
        # replayed without those calls gives the same frames.
        frames = self.expire(at) if self._silence.is_over(at) else []
        if data:
            self._silence.heard(at)
            self._rest += data
            self._cut(frames, is_silent=False)
        return frames

    def expire(self, now: Instant) -> list[Frame]:
        """What the silence up to now ends: good frames that were swallowed, and faulty ones."""
        if not self._silence.is_over(now):
            return []
        frames: list[Frame] = []
        self._cut(frames, is_silent=True)
        self._silence.forget()
        return frames

    def lost(self) -> list[Frame]:
        """The waiting bytes as faulty frames: the link is gone."""
        frames: list[Frame] = []
        self._why = "cut off when the link was lost"
        self._give(self._rest, frames)
        self._begin(len(self._rest))
        self._silence.forget()
        return frames

    def _cut(self, frames: list[Frame], *, is_silent: bool) -> None:
        rest, head, place = self._rest, 0, self._place
        while True:
            place = self._candidate(rest, head, place, is_silent)
            while place - head >= PIECE_BYTES:
                self._give(rest[head : head + PIECE_BYTES], frames, head)
                head += PIECE_BYTES
            if place >= len(rest):
                break
            length = self._fit(rest, place, is_silent)
            if length is None:
                break
            if isinstance(length, str):
                self._why = length
                if self._searches:
                    place += 1
                else:
                    self._waits_for_silence = True
                continue
            if place > head:
                self._give(rest[head:place], frames, head)
            frames.append(Frame(self._start + place, rest[place : place + length], ""))
            head = place = place + length
        if is_silent:
            self._give(rest[head:], frames, head)
            self._begin(len(rest))
        else:
            self._rest = rest[head:] if head else rest
            self._start += head
            self._place = place - head

    def _candidate(self, rest: bytes, head: int, place: int, is_silent: bool) -> int:
        """The next place at which a frame may begin, or the end of the rest."""
        if self._waits_for_silence:
            return len(rest)
        marker = self._shape.start
        if not marker or rest.startswith(marker, place):
            return place
        found = rest.find(marker, place)
        if found < 0:
            found = len(rest) if is_silent else _begun(marker, rest, place)
        if found > head and not self._searches:
            self._why = self._why or _AFTER_GARBAGE
            self._waits_for_silence = True
            return len(rest)
        return found

    def _fit(self, rest: bytes, place: int, is_silent: bool) -> int | str | None:
        """The length of the frame at a place, or why there is none, or None: more is to come.

        Of several misfits in one stretch of garbage the first is told: the others are not worded.
        """
        shape = self._shape
        length = self._longest if shape.field is None else shape.length_at(rest, place)
        if length == 0:
            return self._why or "its length is that of no frame"
        if self._is_bare and not is_silent:
            # Too long for a frame is garbage now; anything shorter is known at the silence.
            return "longer than a frame" if len(rest) - place > self._longest else None
        end = place + (length or 0)
        if length is None or end > len(rest):
            return (self._why or self._too_slow) if is_silent else None
        if self._is_bare and end != len(rest):
            return "longer than a frame"
        if shape.end and not rest.endswith(shape.end, place, end):
            return self._why or "no end marker where it belongs"
        proof = self._proof
        if proof is None or proof.holds(rest, self._start, place, length):
            return length
        return self._why or proof.why(rest, self._start, place, length)

    def _give(self, data: bytes, frames: list[Frame], place: int = 0) -> None:
        """Faulty frames of garbage, in pieces. The first one has the reason."""
        start = self._start + place
        for offset in range(0, len(data), PIECE_BYTES):
            piece = data[offset : offset + PIECE_BYTES]
            frames.append(Frame(start + offset, piece, self._why or _NO_START))
        if not self._waits_for_silence:
            self._why = ""

    def _begin(self, given: int) -> None:
        """Afresh: all that was waiting has been given."""
        self._start += given
        self._rest = b""
        self._place = 0
        self._why = ""
        self._waits_for_silence = False


class _Proven:
    """The checksum of frames at any place of one stream."""

    def __init__(self, proof: Proof, lengths: frozenset[int]) -> None:
        self._proof = proof
        self._of = Stretches(proof.name).of
        self._order = proof.order
        self._is_plain = proof.sent is Sent.PLAIN
        self._has_digits = proof.form is not Form.BYTES
        self._places: dict[int, tuple[int, int, int, int]] = {}
        for length in lengths:
            (first, last), at = proof.span(length), proof.place(length)
            self._places[length] = (first, last + 1, at, at + proof.size)

    def holds(self, rest: bytes, origin: int, place: int, length: int) -> bool:
        """Whether a frame of this length at a place of the rest is proven."""
        first, end, at, after = self._places[length]
        start = origin + place
        wanted = self._of(rest, origin, start + first, start + end)
        if self._has_digits:
            return self._proof.is_written(wanted, rest[place + at : place + after])
        if not self._is_plain:
            wanted = self._proof.sent_for(wanted)
        return int.from_bytes(rest[place + at : place + after], self._order) == wanted

    def why(self, rest: bytes, origin: int, place: int, length: int) -> str:
        """In what a frame is not proven."""
        first, end, at, after = self._places[length]
        proof, start = self._proof, origin + place
        checksum = self._of(rest, origin, start + first, start + end)
        got = rest[place + at : place + after]
        if self._has_digits:
            wanted_digits = proof.written(checksum).decode("ascii")
            got_digits = got.decode("latin-1")
            return f"wrong checksum: got {got_digits!r}, wanted {wanted_digits!r}"
        wanted, sent = proof.sent_for(checksum), int.from_bytes(got, proof.order)
        digits = 2 * proof.size
        return f"wrong checksum: got {sent:0{digits}X}, wanted {wanted:0{digits}X}"


def _begun(marker: bytes, rest: bytes, place: int) -> int:
    """Where a marker begins of which the last bytes are still to come, or the end."""
    for length in range(min(len(marker) - 1, len(rest) - place), 0, -1):
        if rest.endswith(marker[:length]):
            return len(rest) - length
    return len(rest)
