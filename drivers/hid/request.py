"""The control transfers of the class (HID 1.11, 7.1 and 7.2, from memory), as records to send.

Pure; any thread.
"""

from __future__ import annotations

from acquire.wire.hid_field import ReportKind
from acquire.wire.hid_reports import LONGEST_REPORT_BYTES
from acquire.wire.transfer import setup

SETUP_BYTES = 8
GET_DESCRIPTOR = b"\x81\x06\x00\x22"
GET_REPORT = b"\xa1\x01"
SET_REPORT = b"\x21\x09"
SET_IDLE = b"\x21\x0a"
"""How the setup packet of each begins; all go to the interface."""

LONGEST_DESCRIPTOR = 4096
"""More than any device with figures has; a device sends what it has."""


def get_descriptor(interface: int) -> bytes:
    """The record that asks for the report descriptor (7.1.1)."""
    return setup(0x81, 0x06, 0x2200, interface, LONGEST_DESCRIPTOR)


def get_report(interface: int, kind: ReportKind, report: int, length: int | None) -> bytes:
    """The record that asks for a report (7.2.1)."""
    return setup(0xA1, 0x01, kind << 8 | report, interface, length or LONGEST_REPORT_BYTES)


def set_report(interface: int, kind: ReportKind, report: int, data: bytes) -> bytes:
    """The record that sends a report; one with a number begins with it (7.2.2)."""
    head = bytes([report]) if report else b""
    return setup(0x21, 0x09, kind << 8 | report, interface, 0, head + data)


def set_idle(interface: int, units: int) -> bytes:
    """The record that says how often an unchanged report is repeated, in steps of 4 ms (7.2.4)."""
    return setup(0x21, 0x0A, min(units, 255) << 8, interface, 0)
