"""Conversations with a device, spoiled as lines spoil them: what a driver must bear.

Bytes of a conversation are flipped, dropped, doubled, cut off, glued and mixed with others, its
pauses are stretched; or there is nothing but random bytes. Of a USB link, which hands over whole
records, it is mostly what is in the records that is spoiled. Everything comes from the randomness
that is handed over, so the same seed spoils alike. Pure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from enum import StrEnum
from random import Random
from typing import NamedTuple

from acquire.driverapi.capture import Step
from acquire.driverapi.summing import Sum, spoilt_behind, sums_of
from acquire.wire.transfer import HEAD, Description, Pipe, Status, record

MOST_AT_ONCE = 4000
"""Bytes of one random stretch."""
DIGITS = b"0123456789"
_PAUSES_S = (0.0, 0.0, 0.0, 0.005, 0.05, 0.3, 1.2, 6.0)
_SHARES = (0.05, 0.2, 0.5, 1.0)
_CUTS = (1, 7, 7, 64, 64, 64, MOST_AT_ONCE, MOST_AT_ONCE, MOST_AT_ONCE, MOST_AT_ONCE)


class Spoilt(StrEnum):
    """How much of a conversation is left."""

    LIGHT = "light"
    """At most one byte of what is received in a step is another one."""
    HEAVY = "heavy"
    """Bytes and steps are flipped, dropped, doubled, cut, glued and mixed."""
    RANDOM = "random"
    """Nothing: all bytes are random."""
    SUMMED = "summed"
    """One or two bytes of a message are others, and its checksum fits them, where it has one."""


class Chunk(NamedTuple):
    """What a driver is given next: after a pause, told to take a reading or not, these bytes."""

    after_s: float
    takes: bool
    data: bytes


class Spoiler:
    """Spoils the conversations of one device. `is_records`: the link is one of records (USB).

    `messages`: what in the conversations is a message of its own, where that is known.
    """

    def __init__(
        self,
        conversations: Sequence[Sequence[Step]],
        randomness: Random,
        *,
        is_records: bool,
        messages: Sequence[bytes] = (),
    ) -> None:
        self._conversations = [steps for steps in conversations if steps]
        self._randomness = randomness
        self.is_records = is_records
        self._share = 1.0
        self._scraps = [
            step.received for steps in self._conversations for step in steps if step.received
        ]
        self._messages = list(messages)
        self._sums: list[Sum] | None = None

    def chunks(self, spoilt: Spoilt, least_bytes: int) -> Iterator[Chunk]:
        """What one connection is given: whole conversations of at least so many bytes together.

        They come in chunks cut anywhere. How many steps are spoiled is drawn for each anew: where
        every step has to be right before a value comes, spoiling all of them would try little.
        """
        given = 0
        while given < max(1, least_bytes):
            self._share = self._randomness.choice(_SHARES)
            for step in self._steps(spoilt):
                given += len(step.received) or 1
                yield from self._cut(step, spoilt)

    def _steps(self, spoilt: Spoilt) -> Sequence[Step]:
        choice = self._randomness
        if spoilt is Spoilt.RANDOM or not self._conversations:
            return [Step(choice.choice(_PAUSES_S), b"", self._random(), choice.random() < 0.1)]
        steps = choice.choice(self._conversations)
        if spoilt in (Spoilt.LIGHT, Spoilt.SUMMED):
            spoil = self._one_byte if spoilt is Spoilt.LIGHT else self._summed
            return [
                step._replace(received=self._within(step.received, spoil))
                if choice.random() < self._share
                else step
                for step in steps
            ]
        return [self._heavy(step) if choice.random() < self._share else step for step in steps]

    def _heavy(self, step: Step) -> Step:
        choice = self._randomness
        if choice.random() < 0.7:
            step = step._replace(received=self._within(step.received, self._ruined))
        match choice.randrange(12):
            case 0:
                step = step._replace(received=b"")
            case 1:
                step = step._replace(received=step.received * 2)
            case 2 if self._scraps:
                step = step._replace(received=step.received + choice.choice(self._scraps))
            case 3:
                step = step._replace(after_s=choice.choice(_PAUSES_S))
            case 4 if not self.is_records:
                step = step._replace(received=step.received + choice.randbytes(choice.randrange(9)))
            case 5 if self.is_records:
                step = step._replace(received=step.received + self._random_record())
        return step

    def _within(self, received: bytes, spoil: Callable[[bytes], bytes]) -> bytes:
        """Spoil the bytes, or of a link of records those in one of them."""
        if not received:
            return received
        if not self.is_records or self._randomness.random() < 0.02:
            return spoil(received)
        records = list(_records(received))
        which = self._randomness.randrange(len(records))
        head, data = records[which]
        if data:
            data = spoil(data)
            head = HEAD.pack(head[0], head[1], len(data))
        records[which] = (head, data)
        return b"".join(head + data for head, data in records)

    def _one_byte(self, data: bytes) -> bytes:
        """One byte is another one; of digits mostly another digit."""
        choice = self._randomness
        place = choice.randrange(len(data))
        byte = data[place]
        if byte in DIGITS and choice.random() < 0.5:
            byte = choice.choice(DIGITS)
        else:
            byte ^= 1 << choice.randrange(8)
        return data[:place] + bytes((byte,)) + data[place + 1 :]

    def _summed(self, data: bytes) -> bytes:
        """One message in it is another one, with a checksum that fits."""
        if self._sums is None:
            self._sums = sums_of(self._messages)
        there = [message for message in self._messages if message in data] or [data]
        message = self._randomness.choice(there)
        place = data.index(message)
        other = spoilt_behind(message, self._sums, self._randomness)
        return data[:place] + other + data[place + len(message) :]

    def _ruined(self, data: bytes) -> bytes:
        choice = self._randomness
        for _ in range(choice.choice((1, 1, 1, 2, 3, 8))):
            if not data:
                break
            place = choice.randrange(len(data))
            match choice.randrange(8):
                case 0:
                    data = data[:place] + data[place + 1 :]
                case 1:
                    data = data[:place] + data[place : place + 1] + data[place:]
                case 2:
                    data = data[:place] + choice.randbytes(1 + choice.randrange(4)) + data[place:]
                case 3:
                    data = data[:place]
                case 4 if self._scraps:
                    other = choice.choice(self._scraps)
                    data = data[:place] + other[choice.randrange(len(other)) :]
                case 5:
                    data = data[:place] + choice.randbytes(1) + data[place + 1 :]
                case _:
                    data = self._one_byte(data)
        return data

    def _random(self) -> bytes:
        choice = self._randomness
        if self.is_records and choice.random() < 0.9:
            device = Description(0, 0x01, 0x82, 0x83, 2, 64, "")
            opened = record(Pipe.OPENED, device.to_bytes()) if choice.random() < 0.3 else b""
            return opened + b"".join(self._random_record() for _ in range(choice.randrange(40)))
        size = choice.randrange(choice.choice((20, 200, MOST_AT_ONCE))) + 1
        match choice.randrange(4):
            case 0:
                return choice.randbytes(1) * size
            case 1:
                # Printable signs and line ends, as a line of wrong speed never gives them.
                return choice.randbytes(size).translate(_TEXT)
            case _:
                return choice.randbytes(size)

    def _random_record(self) -> bytes:
        choice = self._randomness
        return record(
            choice.choice(_PIPES),
            choice.randbytes(choice.randrange(40)),
            choice.choice(_STATUSES) if choice.random() < 0.3 else Status.DONE,
        )

    def _cut(self, step: Step, spoilt: Spoilt) -> Iterator[Chunk]:
        choice = self._randomness
        data, after_s, takes = step.received, step.after_s, step.takes
        if not data:
            yield Chunk(after_s, takes, b"")
            return
        most = choice.choice(_CUTS)
        place = 0
        while place < len(data):
            size = choice.randrange(most) + 1 if spoilt in (Spoilt.HEAVY, Spoilt.RANDOM) else most
            yield Chunk(after_s, takes, data[place : place + size])
            after_s, takes = 0.0, False
            if spoilt is Spoilt.HEAVY and choice.random() < 0.02:
                after_s = choice.choice(_PAUSES_S)
            place += size


def _records(received: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Heads and bytes of the records in a stretch; what is none stands as one without a head."""
    place = 0
    while len(received) - place >= HEAD.size:
        head = received[place : place + HEAD.size]
        end = place + HEAD.size + HEAD.unpack(head)[2]
        if end > len(received):
            break
        yield head, received[place + HEAD.size : end]
        place = end
    if place < len(received):
        yield received[place:], b""


_PIPES = list(Pipe)
_STATUSES = list(Status)
_TEXT = bytes((b"0123456789.,+- \r\n" * 8 + bytes(range(32, 127)))[i % 231] for i in range(256))
