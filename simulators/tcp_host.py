"""A port on the loopback network, for systems without pseudo-terminals: one client at a time.

One cable has one end: whoever comes while somebody is connected is turned away. What is sent
while nobody is connected is lost. One thread.
"""

from __future__ import annotations

import contextlib
import os
import socket

from simulators.host import PENDING_BYTES

LOOPBACK = "127.0.0.1"


class TcpHost:
    """A listening socket and at most one client."""

    def __init__(self, port: int = 0) -> None:
        self.port = port
        self.lost_bytes = 0
        self._listener: socket.socket | None = None
        self._client: socket.socket | None = None
        self._pending = bytearray()
        self._heard = bytearray()

    @property
    def plugged(self) -> bool:
        return self._listener is not None

    @property
    def baud(self) -> int | None:
        return None

    @property
    def wait_s(self) -> float | None:
        return 0.0 if self._heard else None

    def address(self) -> dict[str, object]:
        return {"url": f"socket://{LOOPBACK}:{self.port}", "tcp_port": self.port}

    def plug(self) -> None:
        if self._listener is not None:
            return
        listener = socket.socket()
        try:
            if os.name == "posix":
                # Else the port of a moment ago is kept closed for a minute. Elsewhere the same
                # option would let two devices share one port.
                listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            listener.bind((LOOPBACK, self.port))
            listener.listen()
            listener.setblocking(False)
        except BaseException:
            listener.close()
            raise
        self.port = listener.getsockname()[1]
        self._listener = listener

    def unplug(self) -> None:
        if self._listener is not None:
            self._listener.close()
            self._listener = None
        self._drop_client()
        self._heard.clear()

    def readers(self) -> list[int | socket.socket]:
        return [sock for sock in (self._listener, self._client) if sock is not None]

    def writers(self) -> list[int | socket.socket]:
        return [self._client] if self._client is not None and self._pending else []

    def receive(self) -> bytes:
        self._look()
        self._write_pending()
        data = bytes(self._heard)
        self._heard.clear()
        return data

    def write(self, data: bytes) -> int:
        # Whoever connected before these bytes were sent hears them.
        self._look()
        if self._client is None:
            self.lost_bytes += len(data)
            return 0
        taken = data[: PENDING_BYTES - len(self._pending)]
        self.lost_bytes += len(data) - len(taken)
        self._pending += taken
        self._write_pending()
        return len(taken)

    def _look(self) -> None:
        # What the present client sent comes first: only so is it known whether it has gone, and
        # whether the next one is to be let in.
        self._hear()
        with contextlib.suppress(OSError):
            while self._listener is not None:
                client, _ = self._listener.accept()
                if self._client is not None:
                    client.close()
                    continue
                client.setblocking(False)
                client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                self._client = client
                self._hear()

    def _hear(self) -> None:
        try:
            while self._client is not None:
                chunk = self._client.recv(65536)
                self._heard += chunk
                if not chunk:
                    self._drop_client()
        except BlockingIOError:
            pass
        except OSError:
            self._drop_client()

    def _write_pending(self) -> None:
        try:
            while self._pending and self._client is not None:
                del self._pending[: self._client.send(self._pending)]
        except BlockingIOError:
            pass
        except OSError:
            self._drop_client()

    def _drop_client(self) -> None:
        if self._client is not None:
            self._client.close()
            self._client = None
        self.lost_bytes += len(self._pending)
        self._pending.clear()
