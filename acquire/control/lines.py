"""JSON lines over a socket: one object a line, bounded, with deadlines. Shared by both ends."""

from __future__ import annotations

import json
import socket
from typing import Any

LINE_LIMIT_BYTES = 4 * 1024 * 1024


class Lines:
    """Both directions of one connection. One thread reads, one writes.

    `limit_bytes` bounds a line that comes in; whoever reads may move it between two lines.
    """

    def __init__(self, sock: socket.socket, limit_bytes: int = LINE_LIMIT_BYTES) -> None:
        self.sock = sock
        self.limit_bytes = limit_bytes
        self._rest = b""

    def send(self, item: dict[str, Any]) -> None:
        """Send one object. Raises OSError."""
        self.sock.sendall(json.dumps(item, default=str).encode() + b"\n")

    def receive(self) -> dict[str, Any] | None:
        """The next object; None when the other end has closed.

        Raises TimeoutError by the socket's timeout, keeping what has come so far, OSError, and
        ValueError for a line that is too long or no JSON object.
        """
        while b"\n" not in self._rest:
            if len(self._rest) > self.limit_bytes:
                raise ValueError(f"a line of more than {self.limit_bytes} bytes")
            data = self.sock.recv(65536)
            if not data:
                return None
            self._rest += data
        line, self._rest = self._rest.split(b"\n", 1)
        try:
            item = json.loads(line)
        except RecursionError as e:
            raise ValueError("a line nested too deeply") from e
        if not isinstance(item, dict):
            raise ValueError("a line that is no JSON object")
        return item
