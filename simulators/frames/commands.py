"""Finds the commands that a device knows in what the host sends. Anything else is ignored."""

from __future__ import annotations


class ExactCommands:
    """Some whole commands, byte for byte; a piece of one is kept until it is told what it is."""

    def __init__(self, *known: bytes) -> None:
        self._known = known
        self._longest = max(len(one) for one in known)
        self._rest = b""

    def feed(self, data: bytes) -> list[bytes]:
        """The commands that these bytes complete, in order."""
        data = self._rest + data
        found: list[bytes] = []
        while places := [(at, one) for one in self._known if (at := data.find(one)) >= 0]:
            at, one = min(places)
            found.append(one)
            data = data[at + len(one) :]
        self._rest = data[-(self._longest - 1) :]
        return found

    def forget(self) -> None:
        self._rest = b""
