"""How calls of pyusb's backend go over a socket: a JSON object a line, bytes as hexadecimal digits.

A call is ``{"call": name, "args": [...]}`` with a device or a handle by its number; an answer is
``{"value": ...}`` or ``{"errno": n}``. Pure.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from types import SimpleNamespace
from typing import Any

LONGEST_LINE = 1 << 20
"""Bytes of a call or an answer: the longest transfer of the product, and room beside it."""


def line_of(item: Mapping[str, object]) -> bytes:
    """One line, with its end."""
    return json.dumps(item, default=_plain).encode() + b"\n"


def item_of(line: bytes) -> dict[str, Any]:
    """What a line says. Raises ValueError for anything but a whole object."""
    if not line.endswith(b"\n"):
        raise ValueError("the line has no end")
    try:
        item = json.loads(line)
    except RecursionError:
        raise ValueError("too deep for a call") from None
    if not isinstance(item, dict):
        raise ValueError("no object")
    return item


def _plain(value: object) -> object:
    if isinstance(value, bytes | bytearray):
        return value.hex()
    if isinstance(value, SimpleNamespace):
        return vars(value)
    raise TypeError(f"{type(value).__name__} goes over no socket")
