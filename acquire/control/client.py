"""The caller's end of the control socket, for the command line and the screens.

A client is used by one thread. It opens one connection for calls; `watch` opens another.
"""

from __future__ import annotations

import socket
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any

from acquire.control import names
from acquire.control.door import Door, door_path, read_door
from acquire.control.lines import Lines
from acquire.control.troubles import error_of
from acquire.errors import ControlError

CALL_TIMEOUT_S = 15.0


class Client:
    """Talks to the daemon behind a door. Raises `ControlError`, and what the daemon raised."""

    def __init__(self, door: Door, timeout_s: float = CALL_TIMEOUT_S) -> None:
        self._door = door
        self._timeout_s = timeout_s
        self._lines: Lines | None = self._connect()

    @classmethod
    def of_store(cls, store: Path) -> Client:
        """A client of the daemon that records into `store`."""
        return cls(read_door(door_path(store)))

    def _connect(self) -> Lines:
        try:
            sock = socket.create_connection((self._door.host, self._door.port), self._timeout_s)
        except OSError as e:
            raise ControlError(
                "no daemon runs for this bench",
                got=f"{self._door.host}:{self._door.port} does not answer ({e})",
                next_step="start it: coatbench serve (in another terminal)",
            ) from e
        lines = Lines(sock)
        try:
            # At once, for the daemon is patient only with those that have shown the token.
            self._exchange(lines, names.HELLO, {})
        except BaseException:
            sock.close()
            raise
        return lines

    def call(self, name: str, **arguments: object) -> dict[str, Any]:
        """The reply to a call, once everything it did is on disk."""
        if self._lines is None:
            self._lines = self._connect()
        try:
            return self._exchange(self._lines, name, arguments)
        except ControlError:
            # A reply that comes late must not be taken for the one to the next call.
            self.close()
            raise

    def _exchange(self, lines: Lines, name: str, arguments: dict[str, object]) -> dict[str, Any]:
        try:
            lines.send({"token": self._door.token, "call": name, "arguments": arguments})
            item = lines.receive()
        except (OSError, ValueError) as e:
            raise ControlError(
                "the daemon does not answer", got=str(e), next_step="coatbench status"
            ) from e
        if item is None:
            raise ControlError(
                "the daemon has hung up",
                next_step="see what coatbench serve printed, start it again",
            )
        if item.get("ok") is not True:
            raise error_of(item.get("error"))
        reply = item.get("reply")
        return reply if isinstance(reply, dict) else {}

    @contextmanager
    def watch(self) -> Iterator[Iterator[dict[str, Any]]]:
        """Stored rows as they come: objects with ``table``, or ``missed``, or ``alive``.

        Each has the ``place`` that it brings the watcher to, as a status has the one it stands at.

        The iterator ends when the daemon stops.
        """
        lines = self._connect()
        try:
            self._exchange(lines, names.WATCH, {})
            yield self._items(lines)
        finally:
            lines.sock.close()

    @staticmethod
    def _items(lines: Lines) -> Iterator[dict[str, Any]]:
        while True:
            try:
                item = lines.receive()
            except (OSError, ValueError):
                return
            if item is None:
                return
            yield item

    def close(self) -> None:
        if self._lines is not None:
            self._lines.sock.close()
            self._lines = None

    def __enter__(self) -> Client:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        tb: TracebackType | None,
    ) -> None:
        self.close()
