"""What a session needs of a link: bytes in, bytes out, and a clear word when it is gone.

A link is used by one thread; only `cancel` may be called from another.

Closed is not broken: a link that was closed on this side answers every call with a `LinkLost` that
says so, and never with bytes.
"""

from __future__ import annotations

from typing import Protocol


class Link(Protocol):
    """An open connection to a device."""

    @property
    def where(self) -> str:
        """What was opened, for messages: a port, an address."""
        ...

    @property
    def adapter(self) -> str:
        """The serial number of the adapter in between; empty where there is none."""
        ...

    def read(self, timeout_s: float) -> bytes:
        """Whatever has come; waits for at most `timeout_s` if nothing has, then gives b"".

        Bytes that came before the link was lost are given first. Raises `LinkLost`.
        """
        ...

    def write(self, data: bytes) -> None:
        """Send all of `data`. Raises `LinkLost`, also if the device takes no bytes for too long."""
        ...

    def cancel(self) -> None:
        """Make the `read` that waits, or else the next one, return early. Any thread."""
        ...

    def close(self) -> None:
        """Give the device free; safe to call twice."""
        ...


class Opener(Protocol):
    """Knows how to open one device's link, again and again."""

    @property
    def address(self) -> str:
        """What it opens, for messages."""
        ...

    def open(self) -> Link:
        """Open the link. Raises `LinkUnavailable` with the reason and the next step."""
        ...
