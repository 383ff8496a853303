"""A bus in another process, as pyusb's backend interface: what is asked here, happens there.

Each open device has a connection of its own, so that a transfer that waits holds no other up. When
the other process ends, its devices are unplugged: nothing is enumerated, and handles say ENODEV.
So it is where it stands still: an answer that is not there some seconds after the time of its
transfer does not come any more. One thread a handle; enumeration from any.
"""

from __future__ import annotations

import contextlib
import errno
import re
import socket
import threading
from array import array
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any, NamedTuple

import usb.backend
import usb.core

from simulators.usb.errors import usb_error
from simulators.usb.words import LONGEST_LINE, item_of, line_of

CONNECT_S = 2.0
ANSWER_S = 30.0
ADDRESS = r"[A-Za-z0-9.-]+:[0-9]{1,5}"


class FarDevice(NamedTuple):
    """A device as it was enumerated, by the number that the other side gave it."""

    number: int


class FarHandle:
    """An open device, on a connection of its own."""

    def __init__(self, call: _Connection, number: int) -> None:
        self.call = call
        self.number = number


class FarBus(usb.backend.IBackend):  # type: ignore[misc]
    """The bus that is served at ``HOST:PORT``. Raises ValueError for another form of address.

    An answer takes at most `answer_s`, beside the time that a transfer may take by itself.
    """

    def __init__(self, address: str, answer_s: float = ANSWER_S) -> None:
        super().__init__()
        if not re.fullmatch(ADDRESS, address) or int(address.rpartition(":")[2]) > 65535:
            raise ValueError(f"got {address!r}, wanted HOST:PORT")
        host, _, port = address.rpartition(":")
        self._at = (host, int(port))
        self._answer_s = answer_s
        self._lock = threading.Lock()
        # Held while an answer is waited for, which closing must not wait for.
        self._asking = threading.Lock()
        self._looking: _Connection | None = None
        self._handles: set[FarHandle] = set()

    def close(self) -> None:
        """Let go of every connection; handles that are still open say ENODEV."""
        with self._lock:
            calls = [handle.call for handle in self._handles]
            if self._looking is not None:
                calls.append(self._looking)
            self._looking = None
            self._handles.clear()
        for call in calls:
            call.close()

    # -- what is there ---------------------------------------------------------------------------

    def enumerate_devices(self) -> Iterator[FarDevice]:
        try:
            return iter(self.listed())
        except usb.core.USBError:
            return iter(())

    def listed(self) -> list[FarDevice]:
        """What is plugged in. Raises USBError, which is an OSError, where nobody answers."""
        return [FarDevice(number) for number in self._ask("enumerate_devices")]

    def get_parent(self, dev: FarDevice) -> None:  # noqa: ARG002 - all hang on the root
        return None

    def get_device_descriptor(self, dev: FarDevice) -> Any:
        return SimpleNamespace(**self._ask("get_device_descriptor", dev.number))

    def get_configuration_descriptor(self, dev: FarDevice, config: int) -> Any:
        return SimpleNamespace(**self._ask("get_configuration_descriptor", dev.number, config))

    def get_interface_descriptor(self, dev: FarDevice, intf: int, alt: int, config: int) -> Any:
        found = self._ask("get_interface_descriptor", dev.number, intf, alt, config)
        return SimpleNamespace(**found)

    def get_endpoint_descriptor(
        self, dev: FarDevice, ep: int, intf: int, alt: int, config: int
    ) -> Any:
        found = self._ask("get_endpoint_descriptor", dev.number, ep, intf, alt, config)
        return SimpleNamespace(**found)

    def texts(self, bus: int, address: int) -> dict[str, str]:
        """What the system tells of a device to whoever may not open it; nothing where none does."""
        try:
            found: dict[str, str] = self._ask("texts", bus, address)
        except usb.core.USBError:
            return {}
        return found

    def _ask(self, name: str, *args: object) -> Any:
        with self._asking:
            looking = self._looking
            if looking is None:
                looking = _Connection(self._at, self._answer_s)
                with self._lock:
                    self._looking = looking
            try:
                return looking(name, *args)
            except usb.core.USBError as error:
                if error.errno == errno.ENODEV:
                    looking.close()
                    with self._lock:
                        self._looking = None
                raise

    # -- handles ---------------------------------------------------------------------------------

    def open_device(self, dev: FarDevice) -> FarHandle:
        call = _Connection(self._at, self._answer_s)
        try:
            handle = FarHandle(call, call("open_device", dev.number))
        except BaseException:
            call.close()
            raise
        with self._lock:
            self._handles.add(handle)
        return handle

    def close_device(self, dev_handle: FarHandle) -> None:
        with contextlib.suppress(usb.core.USBError):
            dev_handle.call("close_device", dev_handle.number)
        dev_handle.call.close()
        with self._lock:
            self._handles.discard(dev_handle)

    def set_configuration(self, dev_handle: FarHandle, config_value: int) -> None:
        dev_handle.call("set_configuration", dev_handle.number, config_value)

    def get_configuration(self, dev_handle: FarHandle) -> int:
        return int(dev_handle.call("get_configuration", dev_handle.number))

    def set_interface_altsetting(self, dev_handle: FarHandle, intf: int, altsetting: int) -> None:
        dev_handle.call("set_interface_altsetting", dev_handle.number, intf, altsetting)

    def claim_interface(self, dev_handle: FarHandle, intf: int) -> None:
        dev_handle.call("claim_interface", dev_handle.number, intf)

    def release_interface(self, dev_handle: FarHandle, intf: int) -> None:
        dev_handle.call("release_interface", dev_handle.number, intf)

    def is_kernel_driver_active(self, dev_handle: FarHandle, intf: int) -> bool:
        return bool(dev_handle.call("is_kernel_driver_active", dev_handle.number, intf))

    def detach_kernel_driver(self, dev_handle: FarHandle, intf: int) -> None:
        dev_handle.call("detach_kernel_driver", dev_handle.number, intf)

    def attach_kernel_driver(self, dev_handle: FarHandle, intf: int) -> None:
        dev_handle.call("attach_kernel_driver", dev_handle.number, intf)

    def clear_halt(self, dev_handle: FarHandle, ep: int) -> None:
        dev_handle.call("clear_halt", dev_handle.number, ep)

    def reset_device(self, dev_handle: FarHandle) -> None:
        dev_handle.call("reset_device", dev_handle.number)

    # -- transfers -------------------------------------------------------------------------------

    def ctrl_transfer(
        self,
        dev_handle: FarHandle,
        bmRequestType: int,  # noqa: N803 - pyusb's names
        bRequest: int,  # noqa: N803
        wValue: int,  # noqa: N803
        wIndex: int,  # noqa: N803
        data: array[int],
        timeout: int,
    ) -> int:
        is_in = bool(bmRequestType & 0x80)
        answer = dev_handle.call(
            "control",
            dev_handle.number,
            [bmRequestType, bRequest, wValue, wIndex],
            len(data) * data.itemsize if is_in else data.tobytes(),
            timeout,
            timeout_ms=timeout,
        )
        return _put(answer, data) if is_in else int(answer)

    def bulk_write(
        self, dev_handle: FarHandle, ep: int, intf: int, data: array[int], timeout: int
    ) -> int:
        args = (dev_handle.number, ep, intf, data.tobytes(), timeout)
        return int(dev_handle.call("write", *args, timeout_ms=timeout))

    def bulk_read(
        self, dev_handle: FarHandle, ep: int, intf: int, buff: array[int], timeout: int
    ) -> int:
        length = len(buff) * buff.itemsize
        args = (dev_handle.number, ep, intf, length, timeout)
        return _put(dev_handle.call("read", *args, timeout_ms=timeout), buff)

    intr_write = bulk_write
    intr_read = bulk_read


class _Connection:
    """Calls on one socket, one after the other. Raises USBError: ENODEV where nobody answers."""

    def __init__(self, at: tuple[str, int], answer_s: float) -> None:
        self._answer_s = answer_s
        try:
            self._socket = socket.create_connection(at, CONNECT_S)
        except OSError:
            raise usb_error(errno.ENODEV) from None
        self._socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._file = self._socket.makefile("rb")

    def __call__(self, name: str, *args: object, timeout_ms: int | None = None) -> Any:
        """What the other side answers; a transfer with a timeout of 0 may wait for ever (pyusb)."""
        own_s = 0.0 if timeout_ms is None else timeout_ms / 1000
        try:
            self._socket.settimeout(None if timeout_ms == 0 else own_s + self._answer_s)
            self._socket.sendall(line_of({"call": name, "args": args}))
            answer = item_of(self._file.readline(LONGEST_LINE))
        except (OSError, ValueError):
            # A later answer would be taken for that of a later call.
            self._end()
            raise usb_error(errno.ENODEV) from None
        if "errno" in answer:
            raise usb_error(int(answer["errno"]))
        return answer.get("value")

    def close(self) -> None:
        # First what wakes a thread that waits for an answer: it holds the file.
        self._end()
        self._file.close()
        self._socket.close()

    def _end(self) -> None:
        with contextlib.suppress(OSError):
            self._socket.shutdown(socket.SHUT_RDWR)


def _put(digits: str, into: array[int]) -> int:
    came = bytes.fromhex(digits)
    into[: len(came)] = array("B", came)
    return len(came)
