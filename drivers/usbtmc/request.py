"""Requests of the class on the control pipe, as records to send. Pure.

USBTMC 1.00, 4.2.1 and tables 15 and 16; USB488 1.00, 4.3.1. A request goes to an
endpoint of the interface (abort) or to the interface itself (clear, status).
"""

from __future__ import annotations

from enum import IntEnum

from acquire.wire.transfer import Description, setup

_TO_ENDPOINT = 0xA2
_TO_INTERFACE = 0xA1
_INITIATE_ABORT_BULK_OUT = 1
_CHECK_ABORT_BULK_OUT_STATUS = 2
_INITIATE_ABORT_BULK_IN = 3
_CHECK_ABORT_BULK_IN_STATUS = 4
_INITIATE_CLEAR = 5
_CHECK_CLEAR_STATUS = 6
_READ_STATUS_BYTE = 128

STATUS_TAGS = range(2, 128)
"""Tags of READ_STATUS_BYTE; 1 on the interrupt pipe is a service request (USB488, 3.4.1)."""


class Outcome(IntEnum):
    """First byte of every answer (table 16; USB488, table 12)."""

    SUCCESS = 0x01
    PENDING = 0x02
    INTERRUPT_IN_BUSY = 0x20
    FAILED = 0x80
    TRANSFER_NOT_IN_PROGRESS = 0x81


def abort_out(device: Description, tag: int) -> bytes:
    return setup(_TO_ENDPOINT, _INITIATE_ABORT_BULK_OUT, tag, device.bulk_out, 2)


def check_abort_out(device: Description) -> bytes:
    return setup(_TO_ENDPOINT, _CHECK_ABORT_BULK_OUT_STATUS, 0, device.bulk_out, 8)


def abort_in(device: Description, tag: int) -> bytes:
    return setup(_TO_ENDPOINT, _INITIATE_ABORT_BULK_IN, tag, device.bulk_in, 2)


def check_abort_in(device: Description) -> bytes:
    return setup(_TO_ENDPOINT, _CHECK_ABORT_BULK_IN_STATUS, 0, device.bulk_in, 8)


def clear(device: Description) -> bytes:
    return setup(_TO_INTERFACE, _INITIATE_CLEAR, 0, device.interface, 1)


def check_clear(device: Description) -> bytes:
    return setup(_TO_INTERFACE, _CHECK_CLEAR_STATUS, 0, device.interface, 2)


def read_status_byte(device: Description, tag: int) -> bytes:
    return setup(_TO_INTERFACE, _READ_STATUS_BYTE, tag, device.interface, 3)
