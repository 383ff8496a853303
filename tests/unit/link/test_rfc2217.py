"""A serial server that speaks RFC 2217: settings go over, bytes come back, a wait can be ended."""

from __future__ import annotations

import contextlib
import socket
import threading

import pytest
import serial
from serial import rfc2217

from acquire.driverapi import LinkNeeds, Parity
from acquire.errors import LinkLost
from acquire.link import SerialOpener
from acquire.model import LinkAddress
from acquire.supervise import Scope


class Server:
    """pySerial's own server side before a port that gives back what it gets."""

    def __init__(self) -> None:
        self.listening = socket.create_server(("127.0.0.1", 0))
        self.port = serial.serial_for_url("loop://", timeout=0)
        self._client: socket.socket | None = None
        self._lock = threading.Lock()

    def write(self, data: bytes) -> None:
        assert self._client is not None
        with self._lock, contextlib.suppress(OSError):
            self._client.sendall(data)

    def run(self) -> None:
        """Serve one client until it hangs up."""
        with self.listening.accept()[0] as self._client:
            manager = rfc2217.PortManager(self.port, self)
            while data := self._client.recv(4096):
                self.port.write(b"".join(manager.filter(data)))
                if waiting := self.port.in_waiting:
                    self.write(b"".join(manager.escape(self.port.read(waiting))))


# pySerial's reader thread is still started the way of Python 3.9.
@pytest.mark.filterwarnings("ignore:set(Daemon|Name)\\(\\) is deprecated:DeprecationWarning")
def test_a_line_behind_rfc2217_is_a_line() -> None:
    server = Server()
    crashes: list[tuple[str, BaseException]] = []
    with server.listening, Scope(lambda name, error: crashes.append((name, error))) as scope:
        scope.start("server", server.run)
        url = f"rfc2217://127.0.0.1:{server.listening.getsockname()[1]}"
        link = SerialOpener(LinkAddress(url=url), LinkNeeds(4800, 7, Parity.EVEN, 1), list).open()
        try:
            assert (server.port.baudrate, server.port.bytesize, server.port.parity) == (
                4800,
                7,
                "E",
            )
            link.write(b"I?\xff\r\n")
            heard = b""
            while len(heard) < 5:
                heard += link.read(10.0)
            assert heard == b"I?\xff\r\n"
            link.cancel()
            assert link.read(10.0) == b""
        finally:
            link.close()
        with pytest.raises(LinkLost, match="is closed"):
            link.read(0.0)
    server.port.close()
    assert crashes == []
