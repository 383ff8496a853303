"""A null modem in memory: two real links whose bytes go to each other.

Ships with Coatbench for whoever tests a driver or runs a device in the same process. Each end is
used by one thread; the bytes keep their order and their cuts: one `write` is one `read`.
"""

from __future__ import annotations

import threading
from collections import deque

from acquire.errors import LinkLost, LinkUnavailable


class MemoryEnd:
    """One end of a null modem."""

    def __init__(self, where: str, limit_chunks: int) -> None:
        self.where = where
        self.adapter = ""
        self._chunks: deque[bytes] = deque()
        self._limit = limit_chunks
        self._changed = threading.Condition()
        self._cancelled = False
        self._lost = False
        self.closed = False
        self.peer: MemoryEnd | None = None

    def read(self, timeout_s: float) -> bytes:
        with self._changed:
            if not self._chunks and not self._lost and not self._cancelled:
                self._changed.wait(timeout_s)
            self._cancelled = False
            if self._chunks:
                data = self._chunks.popleft()
                self._changed.notify_all()
                return data
            if self._lost or self.closed:
                raise LinkLost(
                    f"the link {self.where} is gone",
                    got="the other end was closed",
                    next_step="plug the device in again; it is found by itself",
                )
            return b""

    def write(self, data: bytes) -> None:
        """Send; waits while the other end has `limit_chunks` unread chunks, as a full line does."""
        peer = self.peer
        if self._lost or self.closed or peer is None:
            raise LinkLost(
                f"the link {self.where} is gone",
                next_step="plug the device in again; it is found by itself",
            )
        with peer._changed:
            while len(peer._chunks) >= peer._limit and not peer.closed and not self._lost:
                peer._changed.wait(1.0)
            peer._chunks.append(bytes(data))
            peer._changed.notify_all()

    def cancel(self) -> None:
        with self._changed:
            self._cancelled = True
            self._changed.notify_all()

    def lose(self) -> None:
        """The other end has gone; what it sent before can still be read."""
        with self._changed:
            self._lost = True
            self._changed.notify_all()

    def close(self) -> None:
        self.closed = True
        with self._changed:
            self._changed.notify_all()
        if self.peer is not None:
            self.peer.lose()


def memory_pair(where: str = "memory", limit_chunks: int = 1024) -> tuple[MemoryEnd, MemoryEnd]:
    """Both ends of a new null modem: the bench's and the device's."""
    bench, device = MemoryEnd(where, limit_chunks), MemoryEnd(f"{where} (device)", limit_chunks)
    bench.peer, device.peer = device, bench
    return bench, device


class MemoryOpener:
    """Opens the ends given to `plug`, one after the other; unavailable while there is none."""

    def __init__(self, address: str = "memory") -> None:
        self.address = address
        self._ends: deque[MemoryEnd] = deque()

    def plug(self) -> MemoryEnd:
        """Plug a device in; gives the device's end."""
        bench, device = memory_pair(self.address)
        self._ends.append(bench)
        return device

    def open(self) -> MemoryEnd:
        if not self._ends:
            raise LinkUnavailable(
                f"{self.address} is not there",
                got="no device",
                next_step="plug the device in; it is found by itself",
            )
        return self._ends.popleft()
