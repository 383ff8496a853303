"""What a device does beneath its descriptors: the small interface that device simulators fill.

A behaviour is called by one thread at a time, with the bus held; it never waits. What a pipe of
one direction moves is packets: one of fewer bytes than the endpoint takes ends a transfer, and so
does one of none (USB 2.0, 5.8.3).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol


class Stall(Exception):
    """The device refuses: a control request is stalled, any other pipe is halted."""


@dataclass(frozen=True)
class Setup:
    """The setup packet of a control transfer (USB 2.0, 9.3)."""

    request_type: int
    request: int
    value: int
    index: int
    length: int


class Behaviour(Protocol):
    """What device simulators plug in. Every call may raise `Stall`."""

    def handle_control(self, setup: Setup, data: bytes) -> bytes | None:
        """A request that is no standard request of every device; gives what comes in.

        None lets the host wait, and the request come again.
        """
        ...

    def handle_bulk_out(self, endpoint: int, packet: bytes) -> bool:
        """A packet to a pipe that goes out, bulk or interrupt; False lets the host try again."""
        ...

    def poll_bulk_in(self, endpoint: int) -> bytes | None:
        """The next packet of a bulk pipe; None if there is none yet."""
        ...

    def poll_interrupt_in(self, endpoint: int) -> bytes | None:
        """The next packet of an interrupt pipe; None if there is none yet."""
        ...

    def halt_cleared(self, endpoint: int) -> None:
        """The host has cleared the halt of an endpoint."""
        ...

    def reset(self) -> None:
        """The device has just been plugged in."""
        ...


class Dumb:
    """A behaviour that knows nothing: it refuses requests, takes all packets and gives none."""

    def handle_control(self, setup: Setup, data: bytes) -> bytes | None:  # noqa: ARG002
        raise Stall

    def handle_bulk_out(self, endpoint: int, packet: bytes) -> bool:  # noqa: ARG002
        return True

    def poll_bulk_in(self, endpoint: int) -> bytes | None:  # noqa: ARG002
        return None

    def poll_interrupt_in(self, endpoint: int) -> bytes | None:  # noqa: ARG002
        return None

    def halt_cleared(self, endpoint: int) -> None:
        pass

    def reset(self) -> None:
        pass
