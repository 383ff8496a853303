"""The items that a HID report descriptor is made of (USB HID 1.11, 6.2.2.1 to 6.2.2.3).

A short item is a prefix byte and up to four bytes of data, a long one bears its own length. Nothing
here knows what an item means. Clauses are cited from memory. Pure; never raises on content.
"""

from __future__ import annotations

from enum import IntEnum
from typing import NamedTuple

LONG = 0xFE
_SIZES = (0, 1, 2, 4)


class ItemType(IntEnum):
    """Bits 2 and 3 of the prefix (6.2.2.2)."""

    MAIN = 0
    GLOBAL = 1
    LOCAL = 2
    RESERVED = 3
    """Also that of long items, none of which has a meaning yet (6.2.2.3)."""


class Item(NamedTuple):
    """One item; `data` is least significant byte first."""

    type: ItemType
    tag: int
    data: bytes

    @property
    def unsigned(self) -> int:
        """Its data as a number; without data 0."""
        return int.from_bytes(self.data, "little")

    @property
    def signed(self) -> int:
        """Its data as a number in two's complement."""
        return int.from_bytes(self.data, "little", signed=True)


def items(descriptor: bytes) -> tuple[list[Item], str]:
    """The whole items, and in plain words why the last bytes are none; empty if all are."""
    found: list[Item] = []
    at, end = 0, len(descriptor)
    while at < end:
        prefix = descriptor[at]
        if prefix == LONG:
            if at + 3 > end:
                return found, "the descriptor ends within the head of a long item"
            size, tag, head = descriptor[at + 1], descriptor[at + 2], 3
            kind = ItemType.RESERVED
        else:
            size, tag, head = _SIZES[prefix & 3], prefix >> 4, 1
            kind = ItemType(prefix >> 2 & 3)
        data = descriptor[at + head : at + head + size]
        if len(data) < size:
            return found, f"the descriptor ends within an item: {len(data)} of {size} bytes"
        found.append(Item(kind, tag, data))
        at += head + size
    return found, ""
