"""Bytes of a gloss meter that sends on its own, by the description in drivers/line/WIRE.md."""

from __future__ import annotations

import os
import queue
import select
import threading
from functools import reduce
from operator import xor

WHO = b"I?\r\n"
"""What the host sends to be told the serial number."""


def press_line(count: int, value: str) -> bytes:
    """One ``gloss-press`` line at 20 degrees; the count wraps from 9999 to 1."""
    return _line(f"R,{(count - 1) % 9999 + 1:04d},20,{value},GU".encode())


def name_line(serial: str) -> bytes:
    """What ``gloss-press`` answers when it is asked who it is."""
    return _line(f"I,{serial}".encode())


def _line(body: bytes) -> bytes:
    return body + b"*%02X\r\n" % reduce(xor, body)


class Teller:
    """Tells the name of a device when it is asked for it, on a thread of its own.

    What it listens to is the device's end of a pseudo-terminal, whose other end is held open.
    """

    def __init__(self, answer: bytes, question: bytes = WHO) -> None:
        self._answer, self._question = answer, question
        self._woken, self._wake = os.pipe()
        self._changes: queue.SimpleQueue[int | None] = queue.SimpleQueue()
        self._heeded = threading.Semaphore(0)
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def listen(self, device: int | None) -> None:
        """Listen to this one from now on and to none of before; None for nothing."""
        self._changes.put(device)
        os.write(self._wake, b"c")
        self._heeded.acquire()

    def close(self) -> None:
        """The last call."""
        os.close(self._wake)
        self._thread.join()
        os.close(self._woken)

    def _run(self) -> None:
        heard, owed = b"", 0
        device: int | None = None
        while True:
            devices = [] if device is None else [device]
            # Whoever floods the line lets an answer in between; nobody may be there to read it.
            writers = devices if owed else []
            ready, free, _ = select.select([self._woken, *devices], writers, [])
            if self._woken in ready:
                if not os.read(self._woken, 1):
                    return
                heard, owed, device = b"", 0, self._changes.get()
                self._heeded.release()
                continue
            for asked in free:
                os.write(asked, self._answer * owed)
                owed = 0
            for asking in ready:
                heard += os.read(asking, 4096)
                owed += heard.count(self._question)
                heard = heard.rpartition(self._question)[2]
