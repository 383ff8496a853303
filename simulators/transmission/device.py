"""A band head without a port: presses and host bytes in, whole messages out.

head = BandsHead(Head("TB-0117", 1, BandsHead.bands))
head.head.piece = GLASS
head.press()
head.receive(b"?ID\\r\\n")
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Sequence

from simulators.gloss.wire import Commands
from simulators.transmission.head import Head, Shown
from simulators.transmission.light import INFRARED, UVA, VISIBLE, Band

COUNT_WRAPS = 99999
TOP_TENTHS = 1200
BEYOND = "---"


class HeadDevice(ABC):
    """What all heads share: power, and that a head without it does nothing."""

    layout: str
    end: bytes
    flip: int
    cut: Callable[[bytes], Iterable[bytes]] | None = None
    least_gap_s = 0.0
    bands: Sequence[Band]

    def __init__(self, head: Head) -> None:
        self.head = head
        self.powered = True
        self.last: Shown | None = None

    @property
    def serial(self) -> str:
        """What it calls itself."""
        return self.head.serial

    def power(self, on: bool) -> bytes:
        """Switch; to switch on what is on does nothing."""
        if on == self.powered:
            return b""
        self.powered = on
        self.last = None
        self.head.restart()
        return self._start() if on else b""

    def receive(self, data: bytes) -> bytes:
        """Bytes from the host."""
        return self._hear(data) if self.powered else b""

    def press(self) -> bytes:
        """Press the button; `last` then says what it saw, None without power."""
        self.last = self.head.press() if self.powered else None
        return b"" if self.last is None else self._tell(self.last)

    @property
    def shown(self) -> dict[str, str | None]:
        """The numbers on the display since the last press, by band; None where it shows none."""
        seen = {} if self.last is None else self.last.percent
        return {band.name: self._displayed(seen[band.name]) for band in self.bands if seen}

    def set_open_beam(self) -> None:
        """Its own key for the open beam. Raises ValueError when it refuses."""
        if not self.powered:
            raise ValueError("the head is off")
        self.head.set_open_beam()

    @abstractmethod
    def _start(self) -> bytes: ...

    @abstractmethod
    def _hear(self, data: bytes) -> bytes: ...

    @abstractmethod
    def _tell(self, shown: Shown) -> bytes: ...

    @abstractmethod
    def _displayed(self, percent: float) -> str | None: ...


class BandsHead(HeadDevice):
    """Layout `bands`: all its bands in one line. A failed lamp makes none: none is for it."""

    layout = "bands"
    end = b"\r\n"
    flip = 0x01
    bands = (UVA, VISIBLE, INFRARED)

    def __init__(self, head: Head) -> None:
        super().__init__(head)
        self._commands = Commands(self.end)

    def _start(self) -> bytes:
        self._commands.forget()
        return line("ON")

    def _hear(self, data: bytes) -> bytes:
        return line(f"ID {self.serial}") * self._commands.feed(data).count(b"?ID")

    def _tell(self, shown: Shown) -> bytes:
        if shown.code:
            return b""
        uv, visible, infrared = (value(shown.percent[band.name]) for band in self.bands)
        count = (shown.count - 1) % COUNT_WRAPS + 1
        return line(f"T{count} UV={uv} VIS={visible} IR={infrared}")

    def _displayed(self, percent: float) -> str | None:
        sent = value(percent)
        return None if sent == BEYOND else sent.replace(",", ".")


def line(body: str) -> bytes:
    """A body with the sum of its bytes and its terminator."""
    data = body.encode("ascii")
    return data + b";%02X" % (sum(data) % 256) + b"\r\n"


def value(percent: float) -> str:
    """Decimal comma, one decimal, no sign: below nothing there is nothing."""
    tenths = max(0, round(percent * 10))
    return BEYOND if tenths > TOP_TENTHS else f"{tenths // 10},{tenths % 10}"
