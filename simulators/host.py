"""What every port of a simulated device offers to the loop that drives it.

A port is a real one of the operating system. It loses what is sent while nobody has it open, as a
serial line does; a slow reader gets up to `PENDING_BYTES` later, and what is beyond is lost.
"""

from __future__ import annotations

import socket
from typing import Protocol

# A flood of the largest size fits; a reader that never reads cannot make the device grow.
PENDING_BYTES = 2_000_000


class Host(Protocol):
    """A port. One thread; nothing here blocks."""

    @property
    def plugged(self) -> bool:
        """Whether the plug is in."""
        ...

    @property
    def lost_bytes(self) -> int:
        """Bytes that nobody was there to take."""
        ...

    @property
    def baud(self) -> int | None:
        """The speed that the host has set; None where that cannot be known."""
        ...

    @property
    def wait_s(self) -> float | None:
        """How long at most to wait before the next `receive`; None for as long as it takes."""
        ...

    def address(self) -> dict[str, object]:
        """How a host finds the port."""
        ...

    def plug(self) -> None:
        """Put the plug in. Raises OSError when the system does not let us."""
        ...

    def unplug(self) -> None:
        """Pull the plug: whoever has the port open is hung up."""
        ...

    def readers(self) -> list[int | socket.socket]:
        """What to wait on until there is something to `receive`."""
        ...

    def writers(self) -> list[int | socket.socket]:
        """What to wait on until pending bytes can go."""
        ...

    def receive(self) -> bytes:
        """What the host has sent. Also sees that it came or went, and sends what is pending."""
        ...

    def write(self, data: bytes) -> int:
        """Send; the number of bytes that had somebody to go to."""
        ...
