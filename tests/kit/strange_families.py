"""Driver families that do harm, each in its own way; named as ``module:OBJECT`` in tests."""

from __future__ import annotations

import contextlib
import os
import socket
import sqlite3
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from acquire.driverapi import Driver, Due, LinkNeeds
from acquire.model import Fact, Instant


class Strange:
    """Hears everything and says nothing, but for what its deed does in `feed`."""

    def __init__(self, deed: Callable[[bytes], Any]) -> None:
        self._deed = deed

    def opening(self, at: Instant) -> bytes:
        return b""

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        found: list[Fact] = self._deed(data) or []
        return found

    def due(self, now: Instant) -> Due:
        return Due(b"", None)

    def take(self, at: Instant) -> bytes:
        return b""

    def lost(self, at: Instant) -> list[Fact]:
        return []


class StrangeFamily:
    """Takes every profile."""

    name = "strange"
    api = 1

    def __init__(self, deed: Callable[[bytes], Any]) -> None:
        self._deed = deed

    def needs(self, profile: Mapping[str, object], source: str) -> LinkNeeds:
        return LinkNeeds()

    def driver(self, profile: Mapping[str, object], source: str) -> Driver:
        return Strange(self._deed)


def _raise(data: bytes) -> None:
    raise ZeroDivisionError("no such thing")


def _hang(data: bytes) -> None:
    while True:
        pass


def _leave(data: bytes) -> None:
    raise SystemExit(7)


def _die(data: bytes) -> None:
    os.write(1, b"\x1b[2J")
    os._exit(9)


def _break_off(data: bytes) -> None:
    raise KeyboardInterrupt


def _garbage(data: bytes) -> list[object]:
    return ["a reading of 12", None]


def _counts_in_file(data: bytes) -> None:
    path = os.path.join(tempfile.gettempdir(), "strange.count")
    with open(path, "a", encoding="utf-8") as file:
        file.write("x")


def _counts_in_environment(data: bytes) -> None:
    os.environ["STRANGE_COUNT"] = str(int(os.environ.get("STRANGE_COUNT", "0")) + 1)


def _looks_up(data: bytes) -> None:
    with contextlib.suppress(OSError):
        Path("/no-such-folder/strange.ini").read_text(encoding="utf-8")


def _opens_a_database(data: bytes) -> None:
    sqlite3.connect(":memory:").close()


def _calls(data: bytes) -> None:
    with socket.socket() as own, contextlib.suppress(OSError):
        own.connect(("127.0.0.1", 1))


def _looks_at_its_own_code(data: bytes) -> None:
    Path(__file__).read_bytes()
    open(os.devnull, "w").close()


COUNTS_IN_FILE = StrangeFamily(_counts_in_file)
COUNTS_IN_ENVIRONMENT = StrangeFamily(_counts_in_environment)
LOOKS_UP = StrangeFamily(_looks_up)
OPENS_A_DATABASE = StrangeFamily(_opens_a_database)
CALLS = StrangeFamily(_calls)
LOOKS_AT_ITS_OWN_CODE = StrangeFamily(_looks_at_its_own_code)
RAISES = StrangeFamily(_raise)
HANGS = StrangeFamily(_hang)
LEAVES = StrangeFamily(_leave)
DIES = StrangeFamily(_die)
BREAKS_OFF = StrangeFamily(_break_off)
GARBAGE = StrangeFamily(_garbage)
NOTHING = 12
