"""A simulated bus open to other processes, on loopback: what `far_bus` calls there, happens here.

Each connection is served by a thread of its own, so that a transfer that waits lets the others
through. A handle lives as long as the connection it was opened on: when a program dies, its
devices are free again, as those of a real bus are.
"""

from __future__ import annotations

import contextlib
import errno
import itertools
import socket
import socketserver
import threading
from array import array
from collections.abc import Callable
from types import TracebackType
from typing import Any

import usb.core

from simulators.usb.backend import Handle, Plugged, SimulatedBackend
from simulators.usb.words import LONGEST_LINE, item_of, line_of

LOOPBACK = "127.0.0.1"
LOOK_S = 0.05
"""How long closing it may have to wait."""
MOST_READ = 1 << 18
"""Bytes that one transfer may ask for."""

_PLAIN = frozenset(
    {
        "set_configuration",
        "get_configuration",
        "set_interface_altsetting",
        "claim_interface",
        "release_interface",
        "is_kernel_driver_active",
        "detach_kernel_driver",
        "attach_kernel_driver",
        "clear_halt",
        "reset_device",
    }
)
_DESCRIPTORS = frozenset(
    {
        "get_device_descriptor",
        "get_configuration_descriptor",
        "get_interface_descriptor",
        "get_endpoint_descriptor",
    }
)


class ServedBus:
    """``with ServedBus(backend) as served``: `served.address` is what `FarBus` takes."""

    def __init__(self, backend: SimulatedBackend, port: int = 0) -> None:
        self._server = _Server(backend, port)
        self._thread = threading.Thread(
            target=self._server.serve_forever, args=(LOOK_S,), name="served usb bus"
        )
        self._thread.start()

    @property
    def address(self) -> str:
        """Where it is reached: ``127.0.0.1:PORT``."""
        return f"{LOOPBACK}:{self._server.server_address[1]}"

    def close(self) -> None:
        """Hang up on everybody, and end."""
        self._server.shutdown()
        self._thread.join()
        self._server.hang_up()
        self._server.server_close()

    def __enter__(self) -> ServedBus:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


class _Server(socketserver.ThreadingTCPServer):
    """Listens, and knows what was enumerated; devices are numbered from 1 on."""

    daemon_threads = False
    block_on_close = True

    def __init__(self, backend: SimulatedBackend, port: int) -> None:
        self.backend = backend
        self._lock = threading.Lock()
        self._devices: dict[int, Plugged] = {}
        self._numbers = itertools.count(1)
        self._callers: set[socket.socket] = set()
        super().__init__((LOOPBACK, port), _Caller)

    def number_of(self, plugged: Plugged) -> int:
        """Its number; the same as long as it stays plugged in."""
        with self._lock:
            for number, known in self._devices.items():
                if known.device is plugged.device and known.plug_number == plugged.plug_number:
                    return number
            number = next(self._numbers)
            self._devices[number] = plugged
            return number

    def device(self, number: object) -> Plugged:
        with self._lock:
            return self._devices[number]  # type: ignore[index]

    def welcome(self, caller: socket.socket) -> None:
        with self._lock:
            self._callers.add(caller)

    def farewell(self, caller: socket.socket) -> None:
        with self._lock:
            self._callers.discard(caller)

    def hang_up(self) -> None:
        with self._lock:
            for caller in self._callers:
                with contextlib.suppress(OSError):
                    caller.shutdown(socket.SHUT_RDWR)


class _Caller(socketserver.StreamRequestHandler):
    """One connection: its calls, and the handles it has opened."""

    server: _Server

    def handle(self) -> None:
        self._handles: dict[int, Handle] = {}
        self._opened = itertools.count(1)
        self.server.welcome(self.connection)
        try:
            with contextlib.suppress(OSError, ValueError):
                while line := self.rfile.readline(LONGEST_LINE):
                    self.wfile.write(line_of(self._answer(item_of(line))))
        finally:
            self.server.farewell(self.connection)
            for handle in self._handles.values():
                self.server.backend.close_device(handle)

    def _answer(self, item: dict[str, Any]) -> dict[str, object]:
        try:
            return {"value": self._done(str(item.get("call")), list(item.get("args", ())))}
        except usb.core.USBError as error:
            return {"errno": error.errno}
        except (KeyError, IndexError, TypeError, ValueError):
            # What no program that goes through pyusb asks.
            return {"errno": errno.EINVAL}

    def _done(self, call: str, args: list[Any]) -> object:
        backend = self.server.backend
        if call == "enumerate_devices":
            return [self.server.number_of(plugged) for plugged in backend.enumerate_devices()]
        if call == "texts":
            return backend.texts(*args)
        if call in _DESCRIPTORS:
            found: object = getattr(backend, call)(self.server.device(args[0]), *args[1:])
            return found
        if call == "open_device":
            handle = backend.open_device(self.server.device(args[0]))
            number = next(self._opened)
            self._handles[number] = handle
            return number
        if call == "close_device":
            backend.close_device(self._handles.pop(args[0]))
            return None
        handle = self._handles[args[0]]
        if call in _PLAIN:
            answer: object = getattr(backend, call)(handle, *args[1:])
            return answer
        transfers: dict[str, Callable[..., object]] = {
            "write": self._write,
            "read": self._read,
            "control": self._control,
        }
        return transfers[call](handle, *args[1:])

    def _write(self, handle: Handle, ep: int, intf: int, data: str, timeout: int) -> int:
        sent = array("B", bytes.fromhex(data))
        return self.server.backend.bulk_write(handle, ep, intf, sent, timeout)

    def _read(self, handle: Handle, ep: int, intf: int, length: int, timeout: int) -> bytes:
        buffer = _buffer(length)
        came = self.server.backend.bulk_read(handle, ep, intf, buffer, timeout)
        return buffer.tobytes()[:came]

    def _control(
        self,
        handle: Handle,
        setup: list[int],
        data: str | int,
        timeout: int,
    ) -> object:
        is_in = isinstance(data, int)
        buffer = _buffer(data) if isinstance(data, int) else array("B", bytes.fromhex(data))
        kind, request, value, index = setup
        came = self.server.backend.ctrl_transfer(
            handle, kind, request, value, index, buffer, timeout
        )
        return buffer.tobytes()[:came] if is_in else came


def _buffer(length: int) -> array[int]:
    if not 0 <= length <= MOST_READ:
        raise ValueError(f"a transfer of {length} bytes")
    return array("B", bytes(length))
