"""Messages of the class on the bulk pipes: headers, tags, alignment. Pure; never raises on content.

USBTMC 1.00, 3.2 and 3.3, tables 1 to 4, 8 and 9. Every bulk transfer begins with
twelve bytes: MsgID, bTag, its one's complement, 0, then of the messages used here TransferSize
(four bytes, least significant first) and bmTransferAttributes, whose bit 0 is the end of the
message.
"""

from __future__ import annotations

import struct
from typing import NamedTuple

_HEADER = struct.Struct("<BBBBIBxxx")
HEADER_BYTES = _HEADER.size
_OUT = 1
_IN = 2
"""REQUEST_DEV_DEP_MSG_IN on the way out, DEV_DEP_MSG_IN on the way in."""
_END = 0x01
_MOST_ALIGNMENT = 3
HIGHEST_TAG = 255


def next_tag(tag: int) -> int:
    """The tag after this one: 1 to 255, never 0 (3.2)."""
    return tag % HIGHEST_TAG + 1


def message_out(tag: int, data: bytes) -> bytes:
    """A whole program message as one DEV_DEP_MSG_OUT, filled up to a multiple of four."""
    header = _HEADER.pack(_OUT, tag, tag ^ 0xFF, 0, len(data), _END)
    return header + data + bytes(-len(data) % 4)


def request_in(tag: int, limit_bytes: int) -> bytes:
    """The request for at most so many bytes of a response, without a TermChar."""
    return _HEADER.pack(_IN, tag, tag ^ 0xFF, 0, limit_bytes, 0)


def read_bytes(limit_bytes: int) -> int:
    """How much to read for a response of at most so many bytes.

    More than the transfer can be, so that its short or empty last packet ends the read, and a
    multiple of every packet size of bulk pipes (USB 2.0, 5.8.3; 1024 bytes at most since).
    """
    return ((HEADER_BYTES + limit_bytes + _MOST_ALIGNMENT) // 1024 + 1) * 1024


class MessageIn(NamedTuple):
    """One DEV_DEP_MSG_IN. `is_end`: the response ends with it."""

    data: bytes
    is_end: bool


def message_in(transfer: bytes, tag: int, limit_bytes: int) -> MessageIn | str:
    """The part of a response that a transfer is, or in plain words why it is none."""
    if len(transfer) < HEADER_BYTES:
        return f"{len(transfer)} bytes, fewer than a header has"
    kind, its_tag, inverse, _, size, attributes = _HEADER.unpack_from(transfer)
    if kind != _IN:
        return f"the message 0x{kind:02x}, wanted DEV_DEP_MSG_IN, 0x{_IN:02x}"
    if its_tag ^ inverse != 0xFF:
        return f"the tag 0x{its_tag:02x} with 0x{inverse:02x} as its complement"
    if its_tag != tag:
        return f"the tag {its_tag}, wanted {tag}: of another request"
    if not 1 <= size <= limit_bytes:
        return f"{size} bytes told of, wanted 1 to {limit_bytes}"
    came = len(transfer) - HEADER_BYTES
    if came < size:
        return f"{size} bytes told of, of which {came} came"
    if came > size + _MOST_ALIGNMENT:
        return f"{size} bytes told of, {came} came"
    return MessageIn(transfer[HEADER_BYTES : HEADER_BYTES + size], bool(attributes & _END))
