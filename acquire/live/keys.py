"""Single keys from the terminal, and the terminal as it was when done. The screen's thread.

On POSIX the terminal is put in cbreak mode (no echo, no waiting for Enter; Ctrl-C still
interrupts) and put back however the block is left, also on SIGTERM and SIGHUP. On Windows keys
come from the console directly.
"""

from __future__ import annotations

import codecs
import signal
import sys
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from types import FrameType
from typing import IO, Protocol

ENTER, ESCAPE, BACKSPACE = "enter", "escape", "backspace"
_NAMED = {"\r": ENTER, "\n": ENTER, "\x7f": BACKSPACE, "\x08": BACKSPACE}


class Keys(Protocol):
    """Where keys come from: one character, or the name of a key without one."""

    def read(self, timeout_s: float) -> str | None:
        """The next key, None if none came in time. Raises EOFError when the terminal is gone."""
        ...


class KeyDecoder:
    """Bytes of a terminal to keys; sequences for keys that have no meaning here are swallowed."""

    def __init__(self) -> None:
        self._text = codecs.getincrementaldecoder("utf-8")("ignore")

    def feed(self, data: bytes) -> list[str]:
        """The keys of a stretch as the terminal sent it: a sequence comes in one stretch."""
        keys: list[str] = []
        text = self._text.decode(data)
        at = 0
        while at < len(text):
            char = text[at]
            at += 1
            if char in _NAMED:
                keys.append(_NAMED[char])
            elif char == "\x1b":
                end = _sequence_end(text, at)
                if end == at:
                    keys.append(ESCAPE)
                at = end
            elif char.isprintable():
                keys.append(char)
        return keys


def _sequence_end(text: str, at: int) -> int:
    """Where an escape sequence ends (ECMA-48, 5.4: parameters, then a byte 0x40 to 0x7E)."""
    if text[at : at + 1] == "O":
        return min(at + 2, len(text))
    if text[at : at + 1] != "[":
        return at
    at += 1
    while at < len(text) and not "@" <= text[at] <= "~":
        at += 1
    return min(at + 1, len(text))


if sys.platform == "win32":
    import msvcrt
    import time

    class _Console:
        def read(self, timeout_s: float) -> str | None:
            until = time.monotonic() + timeout_s
            while not msvcrt.kbhit():
                if time.monotonic() >= until:
                    return None
                time.sleep(0.01)
            char = msvcrt.getwch()
            if char in ("\x00", "\xe0"):
                msvcrt.getwch()
                return None
            if char == "\x03":
                raise KeyboardInterrupt
            if char == "\x1b":
                return ESCAPE
            return _NAMED.get(char, char if char.isprintable() else None)

    @contextmanager
    def keyboard(_stream: IO[str]) -> Iterator[Keys]:
        """Keys of the console while the block runs."""
        yield _Console()

else:
    import os
    import select
    import termios
    import tty

    class _Terminal:
        def __init__(self, fd: int) -> None:
            self._fd = fd
            self._decoder = KeyDecoder()
            self._keys: deque[str] = deque()

        def read(self, timeout_s: float) -> str | None:
            if not self._keys:
                ready, _, _ = select.select([self._fd], [], [], timeout_s)
                if ready:
                    try:
                        data = os.read(self._fd, 1024)
                    except OSError as e:  # EIO: the terminal's other end has gone
                        raise EOFError from e
                    if not data:
                        raise EOFError
                    self._keys.extend(self._decoder.feed(data))
            return self._keys.popleft() if self._keys else None

    def _leave(number: int, _frame: FrameType | None) -> None:
        raise SystemExit(128 + number)

    @contextmanager
    def keyboard(stream: IO[str]) -> Iterator[Keys]:
        """Keys of the terminal `stream` while the block runs. Main thread only (signals)."""
        fd = stream.fileno()
        before = termios.tcgetattr(fd)
        handlers = {s: signal.signal(s, _leave) for s in (signal.SIGTERM, signal.SIGHUP)}
        try:
            # Now, and not with what was typed before let go unseen: the loop says that it was.
            tty.setcbreak(fd, termios.TCSANOW)
            # A suspended screen would leave the shell with the screen's terminal settings.
            mode = termios.tcgetattr(fd)
            mode[6][termios.VSUSP] = b"\x00"
            termios.tcsetattr(fd, termios.TCSANOW, mode)
            yield _Terminal(fd)
        finally:
            # A terminal that was closed cannot be put back, and need not be.
            with suppress(termios.error):
                termios.tcsetattr(fd, termios.TCSADRAIN, before)
            for number, handler in handlers.items():
                signal.signal(number, handler)
