"""The human interface device class on a device's side (USB HID 1.11): descriptors and reports.

What the reports hold is the business of a `Reports`. One thread at a time.
"""

from __future__ import annotations

import struct
from typing import Protocol

from simulators.usb.behaviour import Dumb, Setup, Stall
from simulators.usb.descriptors import (
    INTERRUPT,
    Configuration,
    Descriptors,
    Endpoint,
    Interface,
)

CLASS = 3
INTERRUPT_IN = 0x81
HID_DESCRIPTOR, REPORT_DESCRIPTOR = 0x21, 0x22
INPUT, OUTPUT, FEATURE = 1, 2, 3
_GET_DESCRIPTOR = 6
_GET_REPORT, _GET_IDLE, _GET_PROTOCOL = 1, 2, 3
_SET_REPORT, _SET_IDLE, _SET_PROTOCOL = 9, 10, 11
_STANDARD_IN, _CLASS_IN, _CLASS_OUT = 0x81, 0xA1, 0x21


class Reports(Protocol):
    """What a device reports. A report begins with its number where the device has numbers."""

    @property
    def descriptor(self) -> bytes:
        """The report descriptor (HID 1.11, 6.2.2)."""
        ...

    def next_input(self) -> bytes | None:
        """The report that is due on the interrupt pipe; None if none is."""
        ...

    def get(self, kind: int, number: int) -> bytes | None:
        """A report that is asked for on the control pipe; None if there is no such."""
        ...

    def set(self, kind: int, number: int, report: bytes) -> bool:
        """A report that comes on the control pipe; False if there is no such."""
        ...

    def power_on(self) -> None:
        """The device was plugged in."""
        ...


def hid_descriptor(report_descriptor: bytes) -> bytes:
    """HID 1.11, 6.2.1: release 1.11, no country, one class descriptor."""
    return struct.pack("<BBHBBBH", 9, HID_DESCRIPTOR, 0x0111, 0, 1, REPORT_DESCRIPTOR,
                       len(report_descriptor))  # fmt: skip


class Hid(Dumb):
    """The interface of a HID device, number 0."""

    def __init__(self, reports: Reports) -> None:
        self.reports = reports
        self._idle = 0
        self._protocol = 1

    def reset(self) -> None:
        self._idle, self._protocol = 0, 1
        self.reports.power_on()

    def poll_interrupt_in(self, endpoint: int) -> bytes | None:  # noqa: ARG002
        return self.reports.next_input()

    def handle_control(self, setup: Setup, data: bytes) -> bytes | None:
        if setup.index != 0:
            raise Stall
        kind, number = setup.value >> 8, setup.value & 0xFF
        request = (setup.request_type, setup.request)
        if request == (_STANDARD_IN, _GET_DESCRIPTOR) and number == 0:
            descriptor = self.reports.descriptor
            if kind == REPORT_DESCRIPTOR:
                return descriptor
            if kind == HID_DESCRIPTOR:
                return hid_descriptor(descriptor)
        elif request == (_CLASS_IN, _GET_REPORT):
            report = self.reports.get(kind, number)
            if report is not None:
                return report
        elif request == (_CLASS_IN, _GET_IDLE):
            return bytes((self._idle,))
        elif request == (_CLASS_IN, _GET_PROTOCOL):
            return bytes((self._protocol,))
        elif request == (_CLASS_OUT, _SET_REPORT):
            if self.reports.set(kind, number, data):
                return b""
        elif request == (_CLASS_OUT, _SET_IDLE):
            self._idle = kind
            return b""
        elif request == (_CLASS_OUT, _SET_PROTOCOL):
            self._protocol = setup.value & 1
            return b""
        raise Stall


def hid_descriptors(
    reports: Reports,
    *,
    pid: int,
    product: str,
    serial_number: str | None,
    subclass: int = 0,
    protocol: int = 0,
    packet_bytes: int = 8,
) -> Descriptors:
    """The descriptors of a device with this one interface."""
    interface = Interface(
        0,
        CLASS,
        subclass,
        protocol,
        (Endpoint(INTERRUPT_IN, INTERRUPT, packet_bytes, 10),),
        extra=hid_descriptor(reports.descriptor),
    )
    return Descriptors(
        0xFFFF, pid, (Configuration((interface,)),), "Slipway Scales", product, serial_number
    )
