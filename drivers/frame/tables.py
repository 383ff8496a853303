"""The tables of a frame profile and the rules between them, before anything is made of them.

Documented line by line in ``config/profiles/frame-gloss.toml``. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from acquire.driverkit import Means
from acquire.driverkit.claims import Demand, implies
from acquire.driverkit.fields import Algorithm, MeterKind
from acquire.driverkit.messages import MessageTables
from acquire.driverkit.tables import AskTable, CommandTable
from acquire.errors import Fault
from acquire.schema import Number, Schema, Unsound, is_whole, rule, show, sound
from acquire.wire import CHECKSUMS, Form, LengthField, Order, Proof, Sent, Shape
from drivers.frame.contradictions import contradictions, known_by
from drivers.frame.fields import FrameBytes, HexCommand, Marker, Offset, Place, bytes_of, shown
from drivers.frame.message import MessageTable
from drivers.frame.parts import CodeTable, ValueTable

Reserved = dict[int, str]
"""What the bytes of a frame are that belong to no message."""


class LengthTable(Schema):
    offset: Offset
    size: Literal[1, 2] = 1
    order: Order = "big"
    besides: Annotated[int, Field(ge=0, le=64)] = 0


_LENGTH = "a table [frame.length] on the field that tells it; bytes for one length of all frames"


class FrameTable(Schema):
    start: Marker | None = None
    end: Marker | None = None
    bytes_: Annotated[FrameBytes | None, Field(alias="bytes")] = None
    length: Annotated[LengthTable | None, Field(description=_LENGTH)] = None
    silence_s: Annotated[Number, Field(ge=Decimal("0.001"), le=60)] = Decimal("0.1")
    together: bool = False

    @rule
    def the_length_is_told_once(self) -> Iterator[Fault]:
        if self.bytes_ is None and self.length is None:
            yield Fault("bytes", "nothing", "the length of every frame, or a [frame.length]")
        if self.bytes_ is not None and self.length is not None:
            yield Fault("length", "a table", "bytes or [frame.length], not both")


class ChecksumTable(Schema):
    kind: Algorithm
    first: Place
    last: Place
    at: Place
    order: Order | None = None
    sent: Annotated[Sent, Field(strict=False)] = Sent.PLAIN
    form: Annotated[Form, Field(strict=False)] = Form.BYTES

    @rule
    def the_order_of_several_bytes_is_told(self) -> Iterator[Fault]:
        if self.order is None and CHECKSUMS[self.kind].width_bits > 8:
            yield Fault("order", "nothing", '"big" (highest byte first) or "little"')

    def proof(self) -> Proof:
        """The checksum; of a table that has no fault."""
        order = self.order or "big"
        return Proof(self.kind, self.first, self.last, self.at, order, self.sent, self.form)


class HexCommandTable(CommandTable):
    command: HexCommand


class HexAskTable(AskTable):
    command: HexCommand


class ProfileTables(MessageTables):
    kind: MeterKind
    frame: FrameTable
    checksum: ChecksumTable | None = None
    message: Annotated[list[MessageTable], Field(min_length=1, max_length=32)]
    start: HexCommandTable | None = None
    ask: HexAskTable | None = None
    take: HexCommandTable | None = None
    identify: HexCommandTable | None = None

    # -- frames ----------------------------------------------------------------------------------

    @rule
    def every_message_has_a_length(self) -> Iterator[Fault]:
        for index, message in sound(self.message, "bytes_"):
            path = f"message[{index}].bytes"
            if self.frame.length is not None and message.bytes_ is None:
                yield Fault(path, "nothing", "the length of this frame, which its field tells")
            if self.frame.length is None and message.bytes_ is not None:
                yield Fault(path, show(message.bytes_), "no length: [frame] bytes tells it")

    @rule
    def the_parts_of_every_frame_have_room(self) -> Iterator[Fault]:
        for length in sorted(self._lengths()):
            yield from self._crowded(length)

    @rule
    def every_field_lies_in_its_frame(self) -> Iterator[Fault]:
        for index, message in enumerate(self.message):
            for path, got, wanted in self._misplaced(message):
                yield Fault(f"message[{index}].{path}", got, wanted)

    def _misplaced(self, message: MessageTable) -> Iterator[Fault]:
        length = self.frame.bytes_ or message.bytes_
        if length is None:
            return
        reserved = self._reserved(length)
        for path, first, size in message.spans():
            if first + size > length:
                got = f"bytes {first} to {first + size - 1}"
                yield Fault(path, got, f"bytes of a frame of {length}: 0 to {length - 1}")
            elif taken := [reserved[i] for i in range(first, first + size) if i in reserved]:
                yield Fault(path, f"byte {first} and on", f"no byte of {taken[0]}")

    @rule
    def each_kind_of_frame_once(self) -> Iterator[Fault]:
        known: list[tuple[int, int | None, Demand]] = []
        for index, message in sound(self.message, "bytes_", "where", "copies", "one_of"):
            if not all(map(is_whole, message.where)) or (demand := known_by(message)) is None:
                continue
            for earlier, length, other in known:
                if length == message.bytes_ and implies(demand, other):
                    got = "the same bytes" if implies(other, demand) else "bytes that it takes"
                    wanted = f"bytes that tell it from message[{earlier}]"
                    yield Fault(f"message[{index}].where", got, wanted)
                    break
            # A frame whose copies differ, or of another value, is left to those that follow.
            if not (message.copies or message.one_of):
                known.append((index, message.bytes_, demand))

    @rule
    def nothing_is_said_twice_and_differently(self) -> Iterator[Fault]:
        for index, message in enumerate(self.message):
            # As far as the message is sound.
            with suppress(Unsound):
                misplaced = {fault.path for fault in self._misplaced(message)}
                for path, got, wanted in contradictions(message):
                    if path not in misplaced:
                        yield Fault(f"message[{index}].{path}", got, wanted)

    # -- meanings --------------------------------------------------------------------------------

    def means(self) -> list[Means]:
        return [message.means for message in self.message]

    def counts(self) -> list[tuple[str, bool]]:
        return [
            (f"message[{index}].count", message.count is not None)
            for index, message in enumerate(self.message)
            if message.means is Means.READING
        ]

    @rule
    def frames_are_no_samples(self) -> Iterator[Fault]:
        if self.stream is not None:
            yield Fault("stream", "a table", "none: each frame is a press and no sample")

    @rule
    def every_value_has_a_unit(self) -> Iterator[Fault]:
        for path, value in self._values():
            if value.unit_at is None and self.unit.default is None:
                yield Fault("unit.default", "nothing", f"a unit for {path}, which has no unit_at")
            if value.unit_at is not None:
                yield from _codes(f"{path}.unit_at", value.unit_at, "unit", self.unit.tokens)

    @rule
    def limits_are_in_one_unit(self) -> Iterator[Fault]:
        for path, value in self._values():
            units = {*self.unit.tokens.values()} if value.unit_at is not None else set()
            for name, got, wanted in value.unfit(units):
                yield Fault(f"{path}.{name}", got, wanted)

    @rule
    def every_value_says_its_channel(self) -> Iterator[Fault]:
        wanted_key, channels = self.channel_key, self.channels
        for path, value in self._values():
            key, _ = value.channel
            if key and key.removesuffix("_at") != wanted_key:
                yield Fault(f"{path}.{key}", "told", f"none: {self.kind} has no {key}")
            elif not key and wanted_key and channels.default is None:
                yield self.no_channel(path)
            elif value.channel_at is not None:
                yield from _codes(f"{path}.{key}", value.channel_at, wanted_key, channels.tokens)
                for again, code in value.channel_again:
                    yield from _codes(f"{path}.{again}", code, wanted_key, channels.tokens)

    # -- what they amount to ---------------------------------------------------------------------

    def shape(self) -> Shape:
        """The shape of all frames; of tables that have no fault."""
        frame, length = self.frame, self.frame.length
        field = (
            LengthField(length.offset, length.size, length.order, length.besides)
            if length is not None
            else None
        )
        return Shape(
            frame.start or b"",
            frozenset(self._lengths()),
            field,
            frame.end or b"",
            self.checksum.proof() if self.checksum is not None else None,
        )

    def _lengths(self) -> set[int]:
        if self.frame.bytes_ is not None:
            return {self.frame.bytes_}
        return {m.bytes_ for _, m in sound(self.message, "bytes_") if m.bytes_ is not None}

    def _values(self) -> Iterator[tuple[str, ValueTable]]:
        for index, message in sound(self.message, "value"):
            for place, value in enumerate(message.value):
                yield f"message[{index}].value[{place}]", value

    def _parts(self, length: int) -> Iterator[tuple[str, str, int, int]]:
        """Path, name, first byte and bytes of what every frame of a length has."""
        frame = self.frame
        if frame.start is not None:
            yield "frame.start", "the start marker", 0, len(frame.start)
        if frame.length is not None:
            field = frame.length
            yield "frame.length", "the length", field.offset, field.size
        if frame.end is not None:
            size = len(frame.end)
            yield "frame.end", "the end marker", length - size, size
        if self.checksum is not None:
            proof = self.checksum.proof()
            yield "checksum.at", "the checksum", proof.place(length), proof.size

    def _reserved(self, length: int) -> Reserved:
        return {
            place: name
            for _, name, first, size in self._parts(length)
            for place in range(first, first + size)
        }

    def _crowded(self, length: int) -> Iterator[Fault]:
        taken: Reserved = {}
        for path, name, first, size in self._parts(length):
            places = range(first, first + size)
            if first < 0 or first + size > length:
                got = f"bytes {first} to {first + size - 1}"
                yield Fault(path, got, f"bytes of a frame of {length}: 0 to {length - 1}")
            elif others := [taken[place] for place in places if place in taken]:
                yield Fault(path, f"byte {first} and on", f"no byte of {others[0]}")
            taken |= dict.fromkeys(places, name)
        if self.checksum is not None and not (proof := self.checksum.proof()).fits(length):
            got = "bytes {} to {}".format(*proof.span(length))
            wanted = f"bytes of a frame of {length}, in order and without the checksum itself"
            yield Fault("checksum.last", got, wanted)


def _codes(path: str, code: CodeTable, table: str, tokens: Mapping[str, str]) -> Iterator[Fault]:
    """A code can be looked up: there is a table, and its keys are bytes as the frame has them."""
    if not tokens:
        yield Fault(f"{table}.tokens", "nothing", f"what {path} may say, as bytes in hex")
    seen: dict[bytes, str] = {}
    for token in tokens:
        try:
            key = bytes_of(token, 4)
        except ValueError as trouble:
            yield Fault(f"{table}.tokens.{token}", show(token), str(trouble))
            continue
        bits = code.mask or b"\xff" * code.size
        if (earlier := seen.setdefault(key, token)) != token:
            wanted = f"each code once: {show(earlier)} is the same"
            yield Fault(f"{table}.tokens.{token}", show(token), wanted)
        if len(key) != code.size:
            yield Fault(f"{table}.tokens.{token}", shown(key), f"{code.size} bytes, as {path} has")
        elif any(byte & ~mask for byte, mask in zip(key, bits, strict=True)):
            wanted = f"no bit outside of the mask {shown(bits)} of {path}"
            yield Fault(f"{table}.tokens.{token}", shown(key), wanted)
