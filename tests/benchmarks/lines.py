"""Bytes of a gloss meter that sends on its own, by the description in drivers/line/WIRE.md."""

from __future__ import annotations

import os
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

    `device` is its end of a pseudo-terminal, whose other end is held open. To be closed first.
    """

    def __init__(self, device: int, answer: bytes, question: bytes = WHO) -> None:
        self._device, self._answer, self._question = device, answer, question
        self._ended, self._end = os.pipe()
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def close(self) -> None:
        os.close(self._end)
        self._thread.join()
        os.close(self._ended)

    def _run(self) -> None:
        heard = b""
        while self._ended not in select.select([self._device, self._ended], [], [])[0]:
            heard += os.read(self._device, 4096)
            asked = heard.count(self._question)
            heard = heard.rpartition(self._question)[2]
            if asked:
                os.write(self._device, self._answer * asked)
