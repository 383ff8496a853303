"""Who may stay at the daemon's door: a lobby for strangers, seats for those with the token.

A stranger has a short time to show the token, however slowly it talks, and the oldest gives way
when the lobby is full. So strangers hold up neither each other for long nor anybody with the
token, and there is always a way in for one more call. Decides only; sends nothing. Any thread.
"""

from __future__ import annotations

import contextlib
import socket
import threading

from acquire.model import Instant

SEATS = 32
LOBBY_PLACES = 16
LOBBY_S = 5.0


class Places:
    """The connections of a server. Turning one out ends its reading; a reply still goes out."""

    def __init__(self) -> None:
        self._lobby: dict[socket.socket, Instant] = {}
        self._seated: set[socket.socket] = set()
        self._lock = threading.Lock()

    def let_in(self, client: socket.socket, now: Instant) -> None:
        """A new connection into the lobby; the oldest there gives way if it is full."""
        with self._lock:
            # A dict keeps the order of arrival.
            while len(self._lobby) >= LOBBY_PLACES:
                oldest = next(iter(self._lobby))
                del self._lobby[oldest]
                _turn_out(oldest)
            self._lobby[client] = now

    def seat(self, client: socket.socket) -> bool:
        """Whether a connection that has shown the token has a seat; it gets one if one is free."""
        with self._lock:
            if client in self._seated:
                return True
            if client not in self._lobby or len(self._seated) >= SEATS:
                return False
            del self._lobby[client]
            self._seated.add(client)
            return True

    def turn_out_overdue(self, now: Instant) -> None:
        """End those that have been in the lobby for too long."""
        with self._lock:
            for client, since in list(self._lobby.items()):
                if now.seconds_since(since) < LOBBY_S:
                    return
                del self._lobby[client]
                _turn_out(client)

    def turn_out_all(self) -> None:
        with self._lock:
            for client in (*self._lobby, *self._seated):
                _turn_out(client)

    def leave(self, client: socket.socket) -> None:
        """Close a connection that its thread is done with; nobody else closes one."""
        with self._lock:
            self._lobby.pop(client, None)
            self._seated.discard(client)
            client.close()


def _turn_out(client: socket.socket) -> None:
    with contextlib.suppress(OSError):
        client.shutdown(socket.SHUT_RD)
