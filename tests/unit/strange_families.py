"""Driver families that do harm, each in its own way; named as ``module:OBJECT`` in tests."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
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


RAISES = StrangeFamily(_raise)
HANGS = StrangeFamily(_hang)
LEAVES = StrangeFamily(_leave)
DIES = StrangeFamily(_die)
BREAKS_OFF = StrangeFamily(_break_off)
GARBAGE = StrangeFamily(_garbage)
NOTHING = 12
