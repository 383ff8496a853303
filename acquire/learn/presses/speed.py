"""Whether bytes look like those of a line whose speed and format are right. Pure.

A line heard at a wrong speed gives garbage, and text proves that it was not: of 256 bytes some
100 could stand in a text, so a dozen that all could, and an end of a line, are no coincidence.
Seven data bits with a parity bit, heard as eight without, are text with the parity in the top
bit: the format can be told from that. Binary bytes prove nothing by themselves.
"""

from __future__ import annotations

import re
from dataclasses import replace
from enum import StrEnum
from typing import NamedTuple

from acquire.driverapi import Parity
from acquire.learn.presses.framing import without_sequences
from acquire.learn.presses.press import Line

LINES = tuple(Line(rate) for rate in (9600, 19200, 115200, 38400, 57600, 4800, 2400, 1200))
"""In the order in which they are tried; common practice, no source."""

_LEAST_BYTES = 4
_ENDS = frozenset(b"\r\n\x03\x04;")
_MOST_CHANCE = 1e-3


class Looks(StrEnum):
    """What bytes look like."""

    TEXT = "text"
    BINARY = "binary"
    GARBAGE = "garbage"
    SILENCE = "silence"


class Heard(NamedTuple):
    """`line` is the format that the bytes show, heard at the speed of `line`.

    `chance` is how likely bytes of a wrong speed would look as much like text.
    """

    looks: Looks
    line: Line
    chance: float


def hear(data: bytes, line: Line) -> Heard:
    """What the bytes of a press say of the settings with which they were heard."""
    if not data:
        return Heard(Looks.SILENCE, line, 1.0)
    if _is_text(data):
        return Heard(Looks.TEXT, line, _chance(len(data)))
    if line.data_bits == 8 and line.parity is Parity.NONE:
        for parity, odd in ((Parity.EVEN, 0), (Parity.ODD, 1)):
            stripped = bytes(byte & 0x7F for byte in data)
            if all(byte.bit_count() % 2 == odd for byte in data) and _is_text(stripped):
                seven = replace(line, data_bits=7, parity=parity)
                return Heard(Looks.TEXT, seven, _chance(len(data)))
        # A parity bit that is always set, or a second stop bit, of seven data bits.
        if all(byte & 0x80 for byte in data) and _is_text(bytes(byte & 0x7F for byte in data)):
            return Heard(Looks.TEXT, replace(line, data_bits=7, stop_bits=2), _chance(len(data)))
    # Last: with their parity letters look like signs beyond ASCII, and never the other way round.
    if _is_text(_in_ascii(data)) or _is_between_marks(data):
        return Heard(Looks.TEXT, line, _chance(len(data)))
    looks = Looks.GARBAGE if _is_smeared(data) else Looks.BINARY
    return Heard(looks, line, 1.0)


def is_words(data: bytes) -> bool:
    """Whether these are lines of text without any digit: a greeting, say, and never a number.

    They prove no speed: few signs look like such a text by chance more often.
    """
    body = without_sequences(data).rstrip(bytes(_ENDS))
    is_legible = all(0x20 <= byte < 0x7F or byte in b"\r\n\t\x02" for byte in body)
    has_digit = any(0x30 <= byte <= 0x39 for byte in body)
    has_letter = any(chr(byte).isalpha() for byte in body)
    return len(body) < len(data) and is_legible and has_letter and not has_digit


_SIGNS = (
    *(sign.encode() for sign in "\xb0\u2212\xa0\xb5\u03bc\xb2"),
    *(sign.encode("latin-1") for sign in "\xb0\xa0\xb5\xb2"),
)
"""What texts have beyond ASCII: degree, minus, a space that does not break, micro and square, in
UTF-8 or Latin-1."""
_MARKS = (b"<>", b"[]", b"{}", b"()")


def _in_ascii(data: bytes) -> bytes:
    """A text as it were without signs beyond ASCII, and without the sum behind its ETX.

    Nor has it control sequences for a terminal: one that is the last thing ends it.

    A byte of two values more, or one behind STX and ETX, looks no more like text by chance.
    """
    bare = without_sequences(data)
    data = bare + b"\n" if bare and not data.endswith(bare[-1:]) else bare
    for sign in _SIGNS:
        data = data.replace(sign, b"~")
    is_framed = data[:1] == b"\x02" and data.count(b"\x03") == 1
    body, etx, behind = data.partition(b"\x03")
    has_sum = len(behind) == 1 or re.fullmatch(b"[0-9A-Fa-f]{2,4}(?:\r|\n|\r\n)?", behind)
    return body + etx if is_framed and has_sum else data


def _is_text(data: bytes) -> bool:
    has_digit = any(chr(byte).isdecimal() for byte in data if byte < 0x80)
    body = data.rstrip(bytes(_ENDS))
    return (
        len(body) < len(data)
        and _chance(len(data)) <= _MOST_CHANCE
        and has_digit
        and all(0x20 <= byte < 0x7F or byte in b"\r\n\t\x02" for byte in body)
    )


def _is_between_marks(data: bytes) -> bool:
    """Whether this is a text that a sign begins and its counterpart ends."""
    return data[:1] + data[-1:] in _MARKS and _is_text(data[:-1] + b"\n")


def is_legible(data: bytes) -> bool:
    """Whether these could be a text with a number in it, but for its end and signs beyond ASCII."""
    body = data.rstrip(bytes(_ENDS))
    has_digit = any(0x30 <= byte <= 0x39 for byte in body)
    plain = sum(0x20 <= byte < 0x7F or byte in b"\r\n\t\x02" for byte in body)
    others = [byte for byte in body if byte >= 0x7F]
    return has_digit and plain + len(others) == len(body) and 3 * len(others) < len(body)


def is_ended(data: bytes) -> bool:
    """Whether a sign stands last that ends texts."""
    return data[-1:] in {bytes([byte]) for byte in _ENDS} or data[:1] + data[-1:] in _MARKS


def _chance(length: int) -> float:
    """How likely bytes at random are all signs of a text, and the last one ends a line."""
    return (100 / 256) ** (length - 1) * len(_ENDS) / 256


def _is_smeared(data: bytes) -> bool:
    """Whether nearly all bytes are runs of equal bits: a slow line heard fast."""
    smeared = sum(_turns(byte) <= 2 for byte in data)
    return len(data) >= _LEAST_BYTES and smeared >= 0.9 * len(data)


def _turns(byte: int) -> int:
    """How often the level changes from start bit to stop bit."""
    bits = byte << 1 | 0x200
    return (bits ^ bits >> 1).bit_count() - 1
