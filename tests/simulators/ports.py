"""Both ends of a port, and acts for a device in this process; every wait has an end."""

from __future__ import annotations

import json
import os
import select
import socket
import time
from collections.abc import Callable
from typing import Any

from simulators.gloss import gloss_device
from simulators.gloss.acts import GlossBench
from simulators.host import Host
from simulators.line import TroubledLine
from simulators.stand import ACT_LIMIT_BYTES, Stand
from tests.patience import PATIENCE_S


def read_bytes(fd: int, count: int) -> bytes:
    """So many bytes of a descriptor, fewer when it has no more to give."""
    data = b""
    while len(data) < count:
        ready, _, _ = select.select([fd], [], [], PATIENCE_S)
        assert ready, f"got {data!r} and then nothing, wanted {count} bytes"
        chunk = _read(fd, count - len(data))
        if not chunk:
            break
        data += chunk
    return data


def _read(fd: int, count: int) -> bytes:
    try:
        return os.read(fd, count)
    except OSError:
        # EIO: a terminal that was hung up.
        return b""


def until(condition: Callable[[], bool], step: Callable[[], object]) -> None:
    """Step until it is so."""
    end = time.monotonic() + PATIENCE_S
    while not condition():
        assert time.monotonic() < end, "it never came about"
        step()


class NoPort:
    """A port of memory: takes all it is given while somebody listens."""

    wait_s: float | None = None
    baud: int | None = None

    def __init__(self, listening: bool = True) -> None:
        self.listening = listening
        self.plugged = True
        self.lost_bytes = 0
        self.taken: list[bytes] = []
        self.heard = b""

    def address(self) -> dict[str, object]:
        return {"url": "memory"}

    def plug(self) -> None:
        self.plugged = True

    def unplug(self) -> None:
        self.plugged = False

    def readers(self) -> list[int | socket.socket]:
        return []

    def writers(self) -> list[int | socket.socket]:
        return []

    def receive(self) -> bytes:
        heard, self.heard = self.heard, b""
        return heard

    def write(self, data: bytes) -> int:
        if not (self.listening and self.plugged):
            self.lost_bytes += len(data)
            return 0
        self.taken.append(data)
        return len(data)


def perform(
    *acts: dict[str, Any] | bytes,
    host: Host | None = None,
    layout: str = "press",
    serial: str = "SH-0417",
    act_limit_bytes: int = ACT_LIMIT_BYTES,
    **options: Any,
) -> list[dict[str, Any]]:
    """The answers of a device on its stand to these acts, which are all it ever gets."""
    hand, control = socket.socketpair()
    answers: list[dict[str, Any]] = []

    def make(name: str) -> Any:
        return gloss_device(layout, serial=name, seed=1, **options)

    bench = GlossBench(make, serial)
    line = TroubledLine(bench.device.end, "seed", flip=bench.device.flip)
    with hand, control:
        for act in acts:
            hand.sendall(act if isinstance(act, bytes) else json.dumps(act).encode() + b"\n")
        hand.shutdown(socket.SHUT_WR)
        Stand(bench, line, host or NoPort(), control, answers.append, act_limit_bytes).run()
    return answers
