"""Bytes of a gloss meter that sends on its own, by the description in drivers/line/WIRE.md."""

from __future__ import annotations

from functools import reduce
from operator import xor


def press_line(count: int, value: str) -> bytes:
    """One ``gloss-press`` line at 20 degrees; the count wraps from 9999 to 1."""
    body = f"R,{(count - 1) % 9999 + 1:04d},20,{value},GU".encode()
    return body + b"*%02X\r\n" % reduce(xor, body)
