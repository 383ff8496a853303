"""Bytes of presses cut into lines: what ends each, and whether they are text at all. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence

_ENDS = (b"\r\n", b"\n\r", b"\r", b"\n")
_CONTROLS = frozenset(b"\r\n\t\x02\x03\x04\x06\x1e\x00")
_CLOSERS = frozenset(b"\x03\x04\x17")
"""End of text, of transmission and of a block (ISO/IEC 646, table 3)."""


SEQUENCE = r"\x1B\[[0-?]*[ -/]*[@-~]"
"""What a text sends to a terminal to clear it and to move about on it (ECMA-48, 5.4)."""
_SEQUENCE = re.compile(SEQUENCE.encode())


def without_sequences(data: bytes) -> bytes:
    """A text without its control sequences for a terminal."""
    return _SEQUENCE.sub(b"", data)


_MARKS = bytes(range(0x20))


def _unmarked(presses: Sequence[bytes]) -> Sequence[bytes]:
    """The presses without the control signs at their ends, where these are the same for all."""
    bare = [data.lstrip(_MARKS) for data in presses]
    if len({data[: len(data) - len(one)] for data, one in zip(presses, bare, strict=True)}) == 1:
        presses = bare
    bare = [data.rstrip(_MARKS) for data in presses]
    if len({data[len(one) :] for data, one in zip(presses, bare, strict=True)}) == 1:
        presses = bare
    return presses


def is_text(presses: Sequence[bytes]) -> bool:
    """Whether all bytes could be a text: printable, or signs that frame lines, or Latin-1.

    Control sequences for a terminal may stand in it, and any control signs that begin or end all.
    """
    presses = _unmarked([without_sequences(data) for data in presses])
    if encoding_of(presses) == "utf-8":
        return True
    return all(
        0x20 <= byte < 0x7F or byte in _CONTROLS or byte >= 0xA0
        for data in presses
        for byte in data
    )


_BYTE_BEHIND = re.compile(rb"\x02?[\x20-\x7E]+\x03[\x00-\xFF](?:\r\n|\r|\n)?")


def has_byte_behind(presses: Sequence[bytes]) -> bool:
    """Whether each is a text up to ETX with one byte behind it, and they are of several lengths.

    A line is ended by what it ends with, a frame has one length: no profile reads these.
    """
    are_such = all(_BYTE_BEHIND.fullmatch(data) for data in presses)
    return are_such and len(set(map(len, presses))) > 1


MINUS = "\u2212"
"""The minus of Unicode, which some send in UTF-8 (RFC 3629): three bytes."""


def has_minus(data: bytes) -> bool:
    """Whether this is a text in UTF-8 with the minus of Unicode."""
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return MINUS in text and all(sign.isprintable() or ord(sign) in _CONTROLS for sign in text)


def encoding_of(presses: Sequence[bytes]) -> str:
    """How these texts are told apart from bytes: in UTF-8 only where a minus shows it."""
    return "utf-8" if any(map(has_minus, presses)) and all(map(_is_utf8, presses)) else "latin-1"


def _is_utf8(data: bytes) -> bool:
    return data.isascii() or has_minus(data)


def encoded(text: str) -> bytes:
    """The bytes of such a text."""
    return text.encode("utf-8" if MINUS in text else "latin-1")


def terminator(presses: Sequence[bytes]) -> bytes | None:
    """What ends every line: CR and LF as they come, or else the sign with which all presses end.

    A sign that closes a text and stands before every CR or LF ends the line with it, so that a
    checksum before it is the last thing of the line.
    """
    for end in _ENDS:
        if all(data.endswith(end) for data in presses):
            return _closer(presses, end) + end
    if (sequence := _last_sequence(presses)) is not None:
        return sequence
    last = {data[-1:] for data in presses}
    if len(last) > 1:
        return None
    (end,) = last
    # Not a letter or digit: that could be a unit. Where it stands within lines, too, it ends none.
    if (
        end.isalnum()
        or end in (b"%", b" ")
        or end[0] > 0x7F
        or any(len(data) < 2 for data in presses)
    ):
        return None
    return end


def _last_sequence(presses: Sequence[bytes]) -> bytes | None:
    """The control sequence with which all presses end: it is no part of a word or a number."""
    last = {max(_SEQUENCE.findall(data), default=b"", key=data.rfind) for data in presses}
    (end,) = last if len(last) == 1 else (b"",)
    return end if end and all(data.endswith(end) and data != end for data in presses) else None


def _closer(presses: Sequence[bytes], end: bytes) -> bytes:
    """The sign that stands before every `end`, or nothing."""
    before = {line[-1:] for data in presses for line in data.split(end)[:-1]}
    (closer,) = before if len(before) == 1 else (b"",)
    return closer if closer and closer[0] in _CLOSERS else b""


_MOST_CLOSERS = 3


def closers_of(presses: Sequence[bytes], end: bytes) -> list[bytes]:
    """The signs that stand before every `end`, the last one, the last two and so on.

    No letters or digits: those could be a unit, or of a checksum.
    """
    lines = [line for data in presses for line in data.split(end)[:-1] if line]
    found = []
    for size in range(1, _MOST_CLOSERS + 1):
        last = {line[-size:] for line in lines}
        (closer,) = last if len(last) == 1 else (b"",)
        if len(closer) < size or closer[:1].isalnum() or closer[0] > 0x7F:
            break
        found.append(closer)
    return found if all(len(line) > len(found) for line in lines) else []


def has_empty(data: bytes, end: bytes) -> bool:
    """Whether a press has an empty line somewhere."""
    return b"" in data.split(end)[:-1]


def lines_of(data: bytes, end: bytes) -> list[bytes]:
    """The lines of a press that are not empty, as a framer gives them."""
    return [line for line in data.split(end) if line]
