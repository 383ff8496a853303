"""The link of an instrument without a port: what a person types goes to the driver as bytes.

An entry is one line of printable ASCII with a line feed behind it, and one chunk: so a tape shows
what was typed, and when, as it does of a cable. Nothing can be sent. It is always there and never
lost by itself; `type_in` and `cancel` are for any thread, the rest for the session's.
"""

from __future__ import annotations

import threading
from typing import NamedTuple

from acquire.errors import LinkLost, Refused
from acquire.link.memory import memory_pair
from acquire.model import TYPED_BY_HAND

LONGEST_ENTRY = 60
"""Characters; a line of more was not read off a display."""


class Typed(NamedTuple):
    """Where an entry stands in what the link received: from its first byte to behind its end."""

    start: int
    end: int


def line_of(text: str) -> bytes:
    """The bytes of an entry. Raises `Refused` for what can be none."""
    entry = text.strip(" ")
    shown = ascii(text if len(text) <= LONGEST_ENTRY else text[: LONGEST_ENTRY - 3] + "...")
    if not entry:
        got = "nothing but spaces" if text else "nothing"
    elif len(entry) > LONGEST_ENTRY:
        got = f"{len(entry)} characters: {shown}"
    elif not (entry.isascii() and entry.isprintable()):
        strange = next(c for c in entry if not (c.isascii() and c.isprintable()))
        got = f"{shown}, with the character {strange!a}"
    else:
        return entry.encode("ascii") + b"\n"
    raise Refused(
        "nothing was typed in",
        reason="no entry",
        got=got,
        wanted=f"what the display shows, in at most {LONGEST_ENTRY} plain characters, on one line",
        next_step="type it again, such as 91.4",
    )


class TypedLink:
    """Implements `acquire.link.Link`; `type_in` is the person's end."""

    where = TYPED_BY_HAND
    adapter = ""

    def __init__(self) -> None:
        self._link, self._keys = memory_pair(TYPED_BY_HAND)
        self._lock = threading.Lock()
        self._typed_bytes = 0

    def type_in(self, text: str) -> Typed:
        """Take one entry. Raises `Refused` for what can be none, `LinkLost` if closed."""
        line = line_of(text)
        with self._lock:
            start = self._typed_bytes
            self._keys.write(line)
            self._typed_bytes += len(line)
        return Typed(start, start + len(line))

    def read(self, timeout_s: float) -> bytes:
        """One entry, or b"" after `timeout_s`."""
        return self._link.read(timeout_s)

    def write(self, data: bytes) -> None:
        """Nobody hears it. Raises `LinkLost` for anything but nothing."""
        if data:
            raise LinkLost(
                "nothing can be sent to an instrument without a port",
                got=f"{len(data)} bytes to send",
                wanted="a driver that only takes what is typed",
                next_step="give the instrument the driver keyed, or a link, in bench.toml",
            )

    def cancel(self) -> None:
        self._link.cancel()

    def close(self) -> None:
        self._link.close()


class TypedOpener:
    """Opens a `TypedLink`, again and again."""

    address = TYPED_BY_HAND

    def open(self) -> TypedLink:
        return TypedLink()
