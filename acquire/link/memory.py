"""A null modem in memory: two real links whose bytes go to each other.

Ships with Coatbench for whoever tests a driver or runs a device in the same process. Each end is
used by one thread; the bytes keep their order and their cuts: one `write` is one `read`. A line
can be given mischief to do, by the place of the byte in the stream, so that it does the same
every time.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from acquire.errors import LinkLost, LinkUnavailable

_NEXT = "plug the device in; it is found by itself"


@dataclass(frozen=True, slots=True)
class Mischief:
    """What a line does to the bytes of one direction, by their offset from its first byte on.

    A byte at an offset of `drop` is swallowed; one in `flip` arrives with these bits changed;
    before an offset of `split` a new chunk begins; `cut_at` is where the cable is cut: no byte from
    there on arrives, and both ends are lost.
    """

    drop: frozenset[int] = frozenset()
    flip: Mapping[int, int] = field(default_factory=dict)
    split: Iterable[int] = ()
    cut_at: int | None = None


NO_MISCHIEF = Mischief()


class _Cable:
    """What both ends share: one lock for both directions."""

    def __init__(self, limit_chunks: int) -> None:
        self.changed = threading.Condition()
        self.limit_chunks = limit_chunks
        self.why_lost = ""


class MemoryEnd:
    """One end of a null modem."""

    def __init__(self, where: str, cable: _Cable, mischief: Mischief) -> None:
        self.where = where
        self.adapter = ""
        self._cable = cable
        self._mischief = mischief
        self._splits = frozenset(mischief.split)
        self._written = 0
        self._chunks: deque[bytes] = deque()
        self._cancelled = False
        self._closed = False
        self._peer: MemoryEnd | None = None

    @property
    def closed(self) -> bool:
        """Whether this end was closed, by whoever holds it."""
        return self._closed

    def read(self, timeout_s: float) -> bytes:
        """One chunk as it was sent, or b"" after `timeout_s`."""
        with self._cable.changed:
            self._cable.changed.wait_for(
                lambda: self._chunks or self._cancelled or self._closed or self._cable.why_lost,
                timeout_s,
            )
            self._cancelled = False
            if self._closed:
                raise self._lost()
            if self._chunks:
                data = self._chunks.popleft()
                self._cable.changed.notify_all()
                return data
            if self._cable.why_lost:
                raise self._lost()
            return b""

    def write(self, data: bytes) -> None:
        """Send; waits while the other end has `limit_chunks` unread chunks, as a full line does."""
        cable, peer = self._cable, self._peer
        assert peer is not None
        with cable.changed:
            cable.changed.wait_for(
                lambda: len(peer._chunks) < cable.limit_chunks or self._closed or cable.why_lost
            )
            if self._closed or cable.why_lost:
                raise self._lost()
            for chunk in self._pass(bytes(data)):
                if chunk:
                    peer._chunks.append(chunk)
            cable.changed.notify_all()

    def cancel(self) -> None:
        with self._cable.changed:
            self._cancelled = True
            self._cable.changed.notify_all()

    def close(self) -> None:
        with self._cable.changed:
            self._closed = True
            self._cable.why_lost = self._cable.why_lost or "the other end was closed"
            self._cable.changed.notify_all()

    def cut(self) -> None:
        """Cut the cable: what was sent before can still be read, at both ends."""
        with self._cable.changed:
            self._cable.why_lost = self._cable.why_lost or "the cable was cut"
            self._cable.changed.notify_all()

    def _pass(self, data: bytes) -> list[bytes]:
        """The chunks that arrive of what was written."""
        mischief, first = self._mischief, self._written
        self._written += len(data)
        if mischief is NO_MISCHIEF:
            return [data]
        chunks = [bytearray()]
        for offset, byte in enumerate(data, first):
            if offset == mischief.cut_at:
                self._cable.why_lost = "the cable was cut"
                break
            if offset in self._splits:
                chunks.append(bytearray())
            if offset not in mischief.drop:
                chunks[-1].append(byte ^ mischief.flip.get(offset, 0))
        return [bytes(chunk) for chunk in chunks]

    def _lost(self) -> LinkLost:
        if self._closed:
            return LinkLost(f"the link {self.where} is closed", got="closed on this side")
        return LinkLost(f"the link {self.where} is gone", got=self._cable.why_lost, next_step=_NEXT)


def memory_pair(
    where: str = "memory", limit_chunks: int = 1024, mischief: Mischief = NO_MISCHIEF
) -> tuple[MemoryEnd, MemoryEnd]:
    """Both ends of a new null modem: the bench's and the device's.

    `mischief` is done to what the device sends.
    """
    cable = _Cable(limit_chunks)
    bench = MemoryEnd(where, cable, NO_MISCHIEF)
    device = MemoryEnd(f"{where} (device)", cable, mischief)
    bench._peer, device._peer = device, bench
    return bench, device


class MemoryOpener:
    """Opens the ends given to `plug`, one after the other; unavailable while there is none."""

    def __init__(self, address: str = "memory") -> None:
        self.address = address
        self._ends: deque[MemoryEnd] = deque()

    def plug(self, mischief: Mischief = NO_MISCHIEF) -> MemoryEnd:
        """Plug a device in; gives the device's end."""
        bench, device = memory_pair(self.address, mischief=mischief)
        self._ends.append(bench)
        return device

    def open(self) -> MemoryEnd:
        if not self._ends:
            raise LinkUnavailable(
                f"{self.address} is not there",
                got="no device",
                next_step=_NEXT,
            )
        return self._ends.popleft()
