"""A USB device as a link: transfers go out and come in as the records of `acquire.wire.transfer`.

`write` carries out the transfers it is given, one after the other; `read` gives their results
and, where the driver listens, the packets of the interrupt pipe. libusb cannot be woken from a
read, so a wait is cut in slices.

Through pyusb. One thread; `cancel` from any.
"""

from __future__ import annotations

import errno
import struct
import threading
from collections.abc import Callable, Mapping
from typing import Any

import usb.core
import usb.util

from acquire.driverapi import UsbNeeds
from acquire.errors import LinkLost, LinkUnavailable
from acquire.link.find import PLUG
from acquire.link.usb import find_usb, text_of
from acquire.link.usbclaim import GONE, UsbClaim
from acquire.model import LinkAddress
from acquire.wire.transfer import (
    LONGEST_TRANSFER,
    Description,
    Pipe,
    Status,
    Transfer,
    TransferReader,
    record,
)

SLICE_S = 0.1
LOOK_AFTER_S = 1.0
_SETUP = struct.Struct("<BBHHH")
_PIPES = frozenset(Pipe)


class _Endpoints:
    """The pipes of one interface, by what they are; None where it has none."""

    def __init__(self, interface: Any) -> None:
        self.bulk_out = _endpoint(interface, usb.util.ENDPOINT_TYPE_BULK, usb.util.ENDPOINT_OUT)
        self.bulk_in = _endpoint(interface, usb.util.ENDPOINT_TYPE_BULK, usb.util.ENDPOINT_IN)
        self.interrupt_in = _endpoint(interface, usb.util.ENDPOINT_TYPE_INTR, usb.util.ENDPOINT_IN)
        self.interrupt_out = _endpoint(
            interface, usb.util.ENDPOINT_TYPE_INTR, usb.util.ENDPOINT_OUT
        )

    def of(self, pipe: Pipe) -> Any:
        return {
            Pipe.BULK_OUT: self.bulk_out,
            Pipe.BULK_IN: self.bulk_in,
            Pipe.INTERRUPT_IN: self.interrupt_in,
            Pipe.INTERRUPT_OUT: self.interrupt_out,
        }.get(pipe)


class UsbLink:
    """An open interface of a USB device."""

    def __init__(self, claim: UsbClaim, needs: UsbNeeds, adapter: str) -> None:
        self.where = claim.where
        self.adapter = adapter
        self._claim = claim
        self._device = claim.device
        self._pipes = _Endpoints(claim.interface)
        self._needs = needs
        self._timeout_ms = max(1, round(needs.timeout_s * 1000))
        self._reader = TransferReader()
        self._cancelled = threading.Event()
        self._closed = False
        self._lost: LinkLost | None = None
        self._is_deaf = False
        self._unseen_s = 0.0
        self._results = bytearray(record(Pipe.OPENED, self._description().to_bytes()))

    def _description(self) -> Description:
        pipes = self._pipes
        return Description(
            self._claim.number,
            _address(pipes.bulk_out),
            _address(pipes.bulk_in),
            _address(pipes.interrupt_in),
            _packet_bytes(pipes.interrupt_in),
            _packet_bytes(pipes.bulk_in),
            self.adapter,
        )

    # -- the link ----------------------------------------------------------------------------------

    def read(self, timeout_s: float) -> bytes:
        left_s = timeout_s
        if self._closed:
            raise self._why_lost()
        while not self._results:
            if self._lost is not None:
                raise self._why_lost()
            if self._cancelled.is_set() or left_s <= 0:
                self._cancelled.clear()
                return b""
            step_s = min(SLICE_S, left_s)
            left_s -= step_s
            self._listen(step_s)
        results = bytes(self._results)
        self._results.clear()
        return results

    def write(self, data: bytes) -> None:
        for transfer in self._reader.feed(data):
            if self._closed or self._lost is not None:
                raise self._why_lost()
            self._carry_out(transfer)
        if self._reader.fault:
            raise self._no_transfer(self._reader.fault)

    def cancel(self) -> None:
        self._cancelled.set()

    def close(self) -> None:
        if self._closed:
            return
        self._closed = True
        self._claim.give_back()

    # -- transfers -----------------------------------------------------------------------------

    def _listen(self, timeout_s: float) -> None:
        """Wait for a packet of the interrupt pipe, or for nothing where there is none to wait for.

        A packet that is lost to a broken pipe is told as a stall and the halt is cleared. A pipe
        that stays broken is told once, and asked again only slice by slice. Of a device that is
        gone nothing is told but that: its pipe was not broken.
        """
        pipe = self._pipes.interrupt_in
        if pipe is None or not self._needs.listens:
            self._cancelled.wait(timeout_s)
            self._look_after(timeout_s)
            return
        ms = max(1, round(timeout_s * 1000))
        status, packet = self._try(lambda: bytes(pipe.read(_packet_bytes(pipe), ms)))
        if status is Status.STALLED:
            self._try(pipe.clear_halt)
        if status in (Status.DONE, Status.TIMED_OUT):
            self._is_deaf = False
            if packet:
                self._results += record(Pipe.INTERRUPT_IN, packet)
        elif self._lost is not None:
            return
        elif not self._is_deaf:
            self._is_deaf = True
            self._results += record(Pipe.INTERRUPT_IN, b"", status)
        else:
            self._cancelled.wait(timeout_s)

    def _look_after(self, passed_s: float) -> None:
        """Where nothing is heard, ask now and then whether the device is still there.

        GET_STATUS (USB 2.0, 9.4.5) changes nothing; what comes of it is of no interest.
        """
        self._unseen_s += passed_s
        if self._unseen_s >= LOOK_AFTER_S:
            self._unseen_s = 0.0
            self._try(lambda: self._device.ctrl_transfer(0x80, 0, 0, 0, 2, self._timeout_ms))

    def _carry_out(self, transfer: Transfer) -> None:
        self._unseen_s = 0.0
        pipe, data = transfer.pipe, transfer.data
        if pipe is Pipe.CONTROL and len(data) >= _SETUP.size:
            self._control(data)
        elif pipe is Pipe.CLEAR and data and data[0] in _PIPES:
            endpoint = self._pipes.of(Pipe(data[0]))
            if endpoint is not None:
                self._try(endpoint.clear_halt)
        elif pipe in (Pipe.BULK_OUT, Pipe.INTERRUPT_OUT):
            self._out(pipe, data)
        elif pipe is Pipe.BULK_IN and len(data) == 4:
            # As much as a record holds, however much was asked for: a buffer is made for it.
            self._bulk_in(min(int.from_bytes(data, "big"), LONGEST_TRANSFER))
        else:
            raise self._no_transfer(f"{pipe.name} with {len(data)} bytes: {data[:16].hex(' ')}")

    def _control(self, data: bytes) -> None:
        head = data[: _SETUP.size]
        request_type, request, value, index, length = _SETUP.unpack(head)
        is_in = request_type & 0x80
        payload: int | bytes = length if is_in else data[_SETUP.size :]
        status, answer = self._try(
            lambda: self._device.ctrl_transfer(
                request_type, request, value, index, payload, self._timeout_ms
            )
        )
        came = bytes(answer) if is_in and answer is not None else b""
        self._results += record(Pipe.CONTROL, head + came, status)

    def _out(self, pipe: Pipe, data: bytes) -> None:
        endpoint = self._pipes.of(pipe)
        if endpoint is None:
            self._results += record(pipe, bytes(4), Status.FAILED)
            return
        status, sent = self._try(lambda: int(endpoint.write(data, self._timeout_ms)))
        if status is not Status.DONE or sent != len(data):
            if status is Status.DONE:
                status = Status.TIMED_OUT
            self._results += record(pipe, (sent or 0).to_bytes(4, "big"), status)

    def _bulk_in(self, limit_bytes: int) -> None:
        endpoint = self._pipes.bulk_in
        if endpoint is None:
            self._results += record(Pipe.BULK_IN, b"", Status.FAILED)
            return
        status, came = self._try(lambda: bytes(endpoint.read(limit_bytes, self._timeout_ms)))
        self._results += record(Pipe.BULK_IN, came or b"", status)

    def _try(self, call: Callable[[], Any]) -> tuple[Status, Any]:
        """The result of one transfer; a device that is gone is remembered for the next call.

        What a backend cannot do and what it does not know (`NotImplementedError`, `ValueError`)
        is a transfer that failed, too.
        """
        try:
            return Status.DONE, call()
        except usb.core.USBTimeoutError:
            return Status.TIMED_OUT, None
        except usb.core.USBError as error:
            if error.errno == errno.EPIPE:
                return Status.STALLED, None
            if error.errno in GONE:
                self._lost = LinkLost(
                    f"the USB device {self.where} is gone", got=str(error), next_step=PLUG
                )
            return Status.FAILED, None
        except (NotImplementedError, ValueError):
            return Status.FAILED, None

    def _no_transfer(self, got: str) -> LinkLost:
        return LinkLost(
            f"the driver of {self.where} sent what is no transfer",
            got=got,
            next_step="report it to whoever wrote the driver",
        )

    def _why_lost(self) -> LinkLost:
        if self._closed:
            return LinkLost(f"the link to {self.where} is closed", got="closed on this side")
        assert self._lost is not None
        return self._lost


class UsbOpener:
    """Opens the interface of a USB device by identity. `backend` replaces libusb."""

    def __init__(self, address: LinkAddress, needs: UsbNeeds, backend: Any = None) -> None:
        self._wanted: Mapping[str, str] = address.identity or {}
        self._needs = needs
        self._backend = backend
        self.address = str(address)

    def open(self) -> UsbLink:
        if not self._wanted:
            raise LinkUnavailable(
                f"{self.address} is no USB device",
                got="a port or a url",
                wanted="vid and pid, or serial_number, of the device itself: its driver speaks USB",
                next_step="coatbench devices lists them; mend the link in bench.toml",
            )
        device = find_usb(self._wanted, self._backend)
        adapter = text_of(device, "serial_number")
        return UsbLink(UsbClaim(device, self._needs), self._needs, adapter)


def _endpoint(interface: Any, kind: int, direction: int) -> Any:
    return usb.util.find_descriptor(
        interface,
        custom_match=lambda e: (
            usb.util.endpoint_type(e.bmAttributes) == kind
            and usb.util.endpoint_direction(e.bEndpointAddress) == direction
        ),
    )


def _address(endpoint: Any) -> int:
    return 0 if endpoint is None else int(endpoint.bEndpointAddress)


def _packet_bytes(endpoint: Any) -> int:
    # Above bit 10 a fast pipe says how many packets it sends at once (USB 2.0, table 9-13).
    return 0 if endpoint is None else int(endpoint.wMaxPacketSize) & 0x7FF
