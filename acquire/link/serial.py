"""Serial lines and serial servers on the network, through pySerial (its only importer).

A port is taken for this program alone where the system can do that, so that two daemons cannot
halve one meter's bytes between them. A read sleeps until bytes come, the time is up or somebody
calls `cancel`; nothing is polled. Only lines that the system cannot wait for (RFC 2217, loop,
Windows) are looked after every quarter of a second.
"""

from __future__ import annotations

import contextlib
import errno
import os
import selectors
import socket
import sys
import threading
from dataclasses import replace
from typing import Any

import serial
from serial.tools.list_ports import comports
from serial.urlhandler import protocol_socket

from acquire.driverapi import LinkNeeds, Parity
from acquire.errors import LinkLost
from acquire.link.diagnose import DEVICE, SERIAL_SERVER, TurnedAway, one_client, unavailable
from acquire.link.find import PLUG, PortLister, adapter_of, find, ports_in_words
from acquire.model import LinkAddress

READ_LIMIT_BYTES = 65536
TURNED_AWAY_S = 0.3
"""A server that has a client already hangs up on the next one as it comes, and so within a few
round trips of a local network."""
SLICE_S = 0.25
"""How long a wait that nothing can end early may last."""

_PARITY = {
    Parity.NONE: serial.PARITY_NONE,
    Parity.EVEN: serial.PARITY_EVEN,
    Parity.ODD: serial.PARITY_ODD,
}
# pySerial raises TypeError and AttributeError where a port is closed or torn while it is used.
_BREAKS: tuple[type[Exception], ...] = (
    serial.SerialException,
    OSError,
    TypeError,
    AttributeError,
    ValueError,
)
if os.name == "posix":
    import termios

    # No OSError: a line that refuses its settings, such as parity on some pseudo-terminals.
    _BREAKS = (*_BREAKS, termios.error)


class SerialLink:
    """An open serial line. One thread; `cancel` from any."""

    def __init__(
        self, port: serial.SerialBase, where: str, adapter: str, peer: str = SERIAL_SERVER
    ) -> None:
        # Any: what every kind of port has (in_waiting, fileno) is not in the base's stub.
        self._port: Any = port
        self.where = where
        self.adapter = adapter
        self._peer = peer
        self._closed = self._has_heard = False
        self._cancelled = threading.Event()
        self._waiter = _Waiter.of(port)

    def read(self, timeout_s: float) -> bytes:
        try:
            if self._waiter is None:
                return self._read_in_slices(timeout_s)
            if self._waiter.wait(timeout_s):
                data: bytes = self._port.read(READ_LIMIT_BYTES)
                self._has_heard = self._has_heard or bool(data)
                return data
        except _BREAKS as error:
            raise self._lost(error) from error
        return b""

    def write(self, data: bytes) -> None:
        try:
            self._port.write(data)
        except _BREAKS as error:
            raise self._lost(error) from error

    def cancel(self) -> None:
        self._cancelled.set()
        if self._waiter is not None:
            self._waiter.wake()

    def close(self) -> None:
        if self._closed:
            return
        self._closed = True
        if self._waiter is not None:
            self._waiter.close()
        with contextlib.suppress(*_BREAKS):
            self._port.close()

    def _read_in_slices(self, timeout_s: float) -> bytes:
        left_s = timeout_s
        while True:
            if self._cancelled.is_set():
                self._cancelled.clear()
                return b""
            self._port.timeout = min(left_s, SLICE_S)
            data: bytes = self._port.read(1)
            if data:
                self._has_heard = True
                # A line that breaks just now must not take this byte along: the next read tells.
                with contextlib.suppress(*_BREAKS):
                    data += bytes(self._port.read(self._port.in_waiting))
                return data
            left_s -= SLICE_S
            if left_s <= 0:
                return b""

    def _lost(self, error: Exception) -> LinkLost:
        if self._closed:
            return LinkLost(f"the line {self.where} is closed", got="closed on this side")
        # Of a line that is gone the library knows nothing but that; whatever else it says is told.
        got = "" if _is_gone(error) else str(error)
        if "://" in self.where and not (got or self._has_heard):
            return LinkLost(
                f"{self.where} hung up before a byte had come", next_step=one_client(self._peer)
            )
        return LinkLost(f"the line {self.where} broke", got=got, next_step=PLUG)


def _is_gone(error: Exception) -> bool:
    """Whether an error is how pySerial and the system say that the device or the far end is gone.

    pySerial tells a read without bytes and a socket that ended in words alone, by its source.
    """
    if getattr(error, "errno", None) in (errno.EIO, errno.ENXIO, errno.ENODEV, errno.EBADF):
        return True
    return "returned no data" in str(error) or "socket disconnected" in str(error)


class _Waiter:
    """Sleeps until a descriptor has bytes or somebody wakes it."""

    def __init__(self, descriptor: int) -> None:
        self._selector = selectors.DefaultSelector()
        self._ear, self._bell = os.pipe()
        self._selector.register(descriptor, selectors.EVENT_READ)
        self._selector.register(self._ear, selectors.EVENT_READ)
        self._lock = threading.Lock()
        self._has_rung = False
        self._closed = False

    @classmethod
    def of(cls, port: serial.SerialBase) -> _Waiter | None:
        """A waiter for this port, or None if the system cannot wait for it."""
        if os.name != "posix":
            return None
        try:
            return cls(port.fileno())
        except (OSError, AttributeError, ValueError):
            return None  # loop and RFC 2217 have no descriptor

    def wait(self, timeout_s: float) -> bool:
        """Whether the descriptor has something to read, be it its end."""
        if self._closed:
            raise OSError("closed")
        has_bytes = False
        for key, _ in self._selector.select(timeout_s):
            if key.fd == self._ear:
                with self._lock:
                    os.read(self._ear, 1)
                    self._has_rung = False
            else:
                has_bytes = True
        return has_bytes

    def wake(self) -> None:
        with self._lock:
            # Once is enough, and never fills the pipe.
            if not self._closed and not self._has_rung:
                os.write(self._bell, b"!")
                self._has_rung = True

    def close(self) -> None:
        with self._lock:
            if not self._closed:
                self._closed = True
                self._selector.close()
                os.close(self._ear)
                os.close(self._bell)


class SerialOpener:
    """Opens a device by identity, port or URL, with the line settings its driver needs."""

    def __init__(
        self, address: LinkAddress, needs: LinkNeeds, list_ports: PortLister = comports
    ) -> None:
        self._address = address
        self._needs = needs
        self._list_ports = list_ports
        self.address = str(address)

    def open(self) -> SerialLink:
        target = find(self._address, self._list_ports)
        is_url = "://" in target
        peer = SERIAL_SERVER if self._needs.has_line else DEVICE
        port = None
        try:
            port = _port(target, self._settings(target))
            if not is_url:
                _sharpen(port, self._needs)
            adapter = "" if is_url else adapter_of(target, self._list_ports)
            return SerialLink(port, target, adapter, peer)
        # Whatever pySerial raises on a strange port or address: the other instruments go on.
        except Exception as error:
            if port is not None:
                port.close()
            there = "" if is_url else ports_in_words(self._list_ports())
            raise unavailable(target, error, there, peer) from error

    def _settings(self, target: str) -> dict[str, Any]:
        needs = self._needs
        if _is_pseudo_terminal(target):
            # It keeps neither, and refuses to be told the second time.
            needs = replace(needs, data_bits=max(8, needs.data_bits), parity=Parity.NONE)
        settings: dict[str, Any] = {
            "baudrate": needs.port_baud_rate,
            "bytesize": needs.data_bits,
            "parity": _PARITY[needs.parity],
            "stopbits": needs.stop_bits,
            "rtscts": needs.flow_control,
            "timeout": 0,
        }
        # pySerial cannot bound writes over RFC 2217; there the socket's own buffer has to do.
        if not target.startswith("rfc2217:"):
            settings["write_timeout"] = needs.write_timeout_s
        if "://" not in target and os.name == "posix":
            settings["exclusive"] = True
        return settings


def _port(target: str, settings: dict[str, Any]) -> serial.SerialBase:
    """The open port of a device path or URL."""
    if not target.lower().startswith("socket:"):
        return serial.serial_for_url(target, **settings)
    port = _TcpPort(None, **settings)
    port.port = target
    port.open()
    return port


def _is_pseudo_terminal(target: str) -> bool:
    """Whether it is a port of a program and not of a line (Linux: pts(4))."""
    return "://" not in target and os.path.realpath(target).startswith("/dev/pts/")


def _sharpen(port: Any, needs: LinkNeeds) -> None:
    """What pySerial leaves as it is: damaged bytes, and adapters that hold bytes back."""
    if hasattr(port, "set_low_latency_mode"):
        # Many USB adapters hold bytes for 16 ms otherwise; a port that cannot do it says so.
        with contextlib.suppress(ValueError, OSError, NotImplementedError):
            port.set_low_latency_mode(True)
    if sys.platform != "win32" and needs.parity is not Parity.NONE:
        import termios  # noqa: PLC0415 - POSIX only

        # Without INPCK a byte of wrong parity passes for a good one. With it, it comes as a zero
        # byte, which no line of text has, and the line becomes noise.
        mode = termios.tcgetattr(port.fileno())
        mode[0] = (mode[0] | termios.INPCK) & ~(termios.IGNPAR | termios.PARMRK | termios.ISTRIP)
        termios.tcsetattr(port.fileno(), termios.TCSANOW, mode)


class _TcpPort(protocol_socket.Serial):
    """``socket://HOST:PORT``, mended in three places, and not open where the far side hangs up.

    pySerial's own port throws away what arrives while it opens, which may be the first line of a
    device that greets whoever connects; it leaves its socket to the garbage collector where the
    far side hung up first; and it sleeps after closing.
    """

    _socket: Any

    def open(self) -> None:
        super().open()
        _keep_alive(self._socket)
        if _hangs_up(self._socket):
            self.close()
            raise TurnedAway("hung up at once")

    def reset_input_buffer(self) -> None:
        """Nothing: every byte that comes is evidence."""

    def close(self) -> None:
        connection, self._socket = self._socket, None
        if self.is_open:
            self.is_open = False
            with contextlib.suppress(OSError):
                connection.shutdown(socket.SHUT_RDWR)
            connection.close()


def _hangs_up(connection: socket.socket) -> bool:
    """Whether the far side closes the connection at once, as a server does that has its client."""
    with selectors.DefaultSelector() as waiting:
        waiting.register(connection, selectors.EVENT_READ)
        if not waiting.select(TURNED_AWAY_S):
            return False
    try:
        return not connection.recv(1, socket.MSG_PEEK)
    except OSError:
        return True


def _keep_alive(connection: socket.socket) -> None:
    """Notice within half a minute that a serial server lost its power."""
    with contextlib.suppress(OSError):  # a system that cannot do it notices later
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        for name, value in (("TCP_KEEPIDLE", 10), ("TCP_KEEPINTVL", 5), ("TCP_KEEPCNT", 3)):
            if hasattr(socket, name):
                connection.setsockopt(socket.IPPROTO_TCP, getattr(socket, name), value)
