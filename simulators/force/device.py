"""A force gauge without a port: pulls, presses and host bytes in, whole messages out.

For in-process use as it is; only the streaming one knows a clock, which is given to it.

    gauge = PeakGauge(Gauge("PG-0031", seed=1))
    gauge.pull(sled.pull(Tow(), dwell_s=1))
    gauge.press()
    gauge.receive(b"SN?\\r")
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal

from simulators.force import wire
from simulators.force.gauge import NEWTONS, Gauge, Peak, displayed
from simulators.gloss.wire import Commands


class ForceDevice(ABC):
    """What all gauges share: power, and that a gauge without it does nothing."""

    layout: str
    end: bytes
    flip: int
    cut: Callable[[bytes], Iterable[bytes]] | None = None
    least_gap_s = 0.0
    units: Sequence[str] = tuple(NEWTONS)
    buttons: Sequence[str] = ("press", "tare")
    shows_pulls = False
    """Whether a pull is a result, without a press."""

    def __init__(self, gauge: Gauge) -> None:
        self.gauge = gauge
        self.powered = True
        self.last: Peak | None = None

    @property
    def serial(self) -> str:
        """What it calls itself."""
        return self.gauge.serial

    def power(self, on: bool) -> bytes:
        """Switch; to switch on what is on does nothing."""
        if on == self.powered:
            return b""
        self.powered = on
        self.last = None
        self.gauge.restart()
        return self._start() if on else b""

    def receive(self, data: bytes) -> bytes:
        """Bytes from the host."""
        return self._hear(data) if self.powered else b""

    def pull(self, forces_n: Sequence[float]) -> None:
        """These forces pull at it, a thousand a second; after them nothing does."""
        self.gauge.hangs_n = 0.0
        if self.powered:
            self.gauge.watch(forces_n)

    def hang(self, mass_g: float) -> None:
        """A weight hangs on its hook from now on; with 0 nothing does."""
        self.gauge.hangs_n = mass_g * NEWTONS["gf"]

    def press(self, *, moving: bool = False) -> tuple[Peak | None, bytes]:
        """Press the button, perhaps while the force still moves; None without power."""
        self.last = peak = self.gauge.press(moving=moving) if self.powered else None
        return peak, b"" if peak is None else self._tell(peak)

    @property
    def shown(self) -> str | None:
        """The number on the display since the last press; None where it shows none."""
        if self.last is None or self.last.beyond or not self.gauge.cell_works:
            return None
        return self._displayed(self.last)

    @property
    def shown_unit(self) -> str:
        """The unit beside it."""
        return self.last.unit if self.last else self.gauge.unit

    def tare(self) -> bytes:
        """Its own button for zero."""
        if not self.powered:
            return b""
        self.gauge.tare()
        return self._tell_adjusted()

    def adjust(self, certified_g: float) -> bytes:
        """Its own button for the span, with a weight. Raises ValueError when it refuses."""
        if not self.powered:
            raise ValueError("the gauge is off")
        self.gauge.adjust(certified_g)
        return self._tell_adjusted()

    @abstractmethod
    def _start(self) -> bytes: ...

    @abstractmethod
    def _hear(self, data: bytes) -> bytes: ...

    @abstractmethod
    def _tell(self, peak: Peak) -> bytes: ...

    @abstractmethod
    def _displayed(self, peak: Peak) -> str | None: ...

    def _tell_adjusted(self) -> bytes:
        return b""


class PeakGauge(ForceDevice):
    """Layout `peak`: holds the peak and sends it at its button."""

    layout = "peak"
    end = wire.PEAK_END
    flip = wire.FLIP

    def __init__(self, gauge: Gauge) -> None:
        super().__init__(gauge)
        self._commands = Commands(self.end)

    def _start(self) -> bytes:
        self._commands.forget()
        return wire.READY

    def _hear(self, data: bytes) -> bytes:
        asked = self._commands.feed(data).count(b"SN?")
        return wire.peak_identity(self.serial) * asked

    def _tell(self, peak: Peak) -> bytes:
        return wire.peak_line(peak)

    def _displayed(self, peak: Peak) -> str:
        return displayed(peak.newton, peak.unit, wire.PEAK_DECIMALS[peak.unit])

    def _tell_adjusted(self) -> bytes:
        return wire.TARE


class PowersGauge(ForceDevice):
    """Layout `powers`: holds the peak and sends it at its button, with a power of ten."""

    layout = "powers"
    end = wire.POWERS_END
    flip = wire.FLIP
    units = wire.POWERS_UNITS
    buttons = ("press", "tare", "cell")

    def __init__(self, gauge: Gauge) -> None:
        super().__init__(gauge)
        self._commands = Commands(self.end)

    def _start(self) -> bytes:
        self._commands.forget()
        return wire.POWERS_ON

    def _hear(self, data: bytes) -> bytes:
        return wire.powers_identity(self.serial) * self._commands.feed(data).count(b"ID?")

    def _tell(self, peak: Peak) -> bytes:
        return wire.powers_line(peak, cell_works=self.gauge.cell_works)

    def _displayed(self, peak: Peak) -> str:
        # All digits that it sends, written out.
        return format(Decimal(wire.powers_value(peak)), "f").removeprefix("+")

    def _tell_adjusted(self) -> bytes:
        return wire.POWERS_ZERO
