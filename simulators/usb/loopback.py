"""A device to try a link with: what goes out on its bulk pipe comes back in, transfer by transfer.

    device = loopback(serial_number="LB-1")
    backend.plug(device)
    with device.touched():
        device.behaviour.interrupts.append(b"\\x01\\x02")

A class request that goes in gives its own value and index back; one that goes out is kept.
"""

from __future__ import annotations

from collections import deque

from simulators.usb.behaviour import Dumb, Setup, Stall
from simulators.usb.descriptors import (
    BULK,
    INTERRUPT,
    Configuration,
    Descriptors,
    Endpoint,
    Interface,
)
from simulators.usb.device import SimulatedDevice
from simulators.usb.packets import packets

VENDOR_CLASS = 0xFF
BULK_OUT, BULK_IN, INTERRUPT_IN = 0x01, 0x82, 0x83
PACKET_BYTES = 64
INTERRUPT_BYTES = 8


class Loopback(Dumb):
    """`takes_packets` is how many more it takes before it lets the host wait; None for any."""

    def __init__(self) -> None:
        self.takes_packets: int | None = None
        self.answers_control = True
        self.interrupts: deque[bytes] = deque()
        self.kept: list[tuple[Setup, bytes]] = []
        self.waiting: deque[bytes] = deque()
        self._transfer = b""

    def handle_control(self, setup: Setup, data: bytes) -> bytes | None:
        if not self.answers_control:
            return None
        if (setup.request_type >> 5) & 3 != 1:
            raise Stall
        if setup.request_type & 0x80:
            return setup.value.to_bytes(2, "little") + setup.index.to_bytes(2, "little")
        self.kept.append((setup, data))
        return b""

    def handle_bulk_out(self, endpoint: int, packet: bytes) -> bool:  # noqa: ARG002
        if self.takes_packets is not None:
            if not self.takes_packets:
                return False
            self.takes_packets -= 1
        self._transfer += packet
        if len(packet) < PACKET_BYTES:
            self.waiting.extend(packets(self._transfer, PACKET_BYTES))
            self._transfer = b""
        return True

    def poll_bulk_in(self, endpoint: int) -> bytes | None:  # noqa: ARG002
        return self.waiting.popleft() if self.waiting else None

    def poll_interrupt_in(self, endpoint: int) -> bytes | None:  # noqa: ARG002
        return self.interrupts.popleft() if self.interrupts else None

    def reset(self) -> None:
        self.waiting.clear()
        self.interrupts.clear()
        self._transfer = b""


class LoopbackDevice(SimulatedDevice):
    """The device around a `Loopback`."""

    behaviour: Loopback


def loopback_interface(number: int = 0, alternate: int = 0) -> Interface:
    """Bulk out and in, interrupt in, of a class that is nobody's."""
    return Interface(
        number,
        VENDOR_CLASS,
        1,
        2,
        (
            Endpoint(BULK_OUT, BULK, PACKET_BYTES),
            Endpoint(BULK_IN, BULK, PACKET_BYTES),
            Endpoint(INTERRUPT_IN, INTERRUPT, INTERRUPT_BYTES, 10),
        ),
        alternate,
    )


def loopback(
    serial_number: str | None = "LB-1",
    *,
    pid: int = 1,
    configurations: tuple[Configuration, ...] | None = None,
    system_takes: frozenset[int] = frozenset(),
    configured: bool = True,
) -> LoopbackDevice:
    """A device that gives back what it is given; its vendor number is nobody's (from memory)."""
    one = configurations or (Configuration((loopback_interface(),)),)
    descriptors = Descriptors(0xFFFF, pid, one, "Slipway", "loop", serial_number)
    return LoopbackDevice(descriptors, Loopback(), system_takes=system_takes, configured=configured)
