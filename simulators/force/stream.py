"""The force gauge that streams: a line a sample, a thousand a second, by the clock it is given.

What it sends depends on when it is pulled: the same seed gives the same noise under each sample
since power-on, but a pull begins at the sample of its moment.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

from simulators.force import wire
from simulators.force.device import ForceDevice
from simulators.force.gauge import NEWTONS, Gauge, Peak, displayed
from simulators.force.sled import RATE_HZ
from simulators.gloss.wire import Commands
from simulators.usb.load import Weight

TICK_S = 0.004
"""How often it is looked after: the samples of that time go out together, as adapters send them."""

MOST_BEHIND = 10 * RATE_HZ
"""Whoever stopped the process for longer than this finds a gap, as after a pulled plug."""


class StreamGauge(ForceDevice):
    """Layout `stream`. `now_s` is a clock that never goes back."""

    layout = "stream"
    end = wire.STREAM_END
    flip = wire.FLIP
    units = wire.STREAM_UNITS
    buttons = ("tare",)

    def __init__(self, gauge: Gauge, seed: int, now_s: Callable[[], float]) -> None:
        super().__init__(gauge)
        self._seed = f"{seed}|{gauge.serial}"
        self._now_s = now_s
        self._commands = Commands(self.end)
        self._life = 0
        self._noise = random.Random(self._seed)
        self._weight = Weight(0.0)
        self._load_from = 0
        self._pull: Sequence[float] = ()
        self._sent = 0
        self._begin()

    @property
    def samples(self) -> int:
        """How many it sent since power-on."""
        return self._sent

    def wait_s(self) -> float | None:
        return TICK_S if self.powered else None

    def tick(self) -> bytes:
        """The samples that are due by now."""
        if not self.powered:
            return b""
        due = int((self._now_s() - self._begun_s) * RATE_HZ)
        self._sent = max(self._sent, due - MOST_BEHIND)
        lines = [self._sample(number) for number in range(self._sent, due)]
        self._sent = max(self._sent, due)
        return b"".join(lines)

    def pull(self, forces_n: Sequence[float]) -> None:
        self._weight = Weight(0.0)
        self._pull, self._load_from = forces_n, self._sent
        self.gauge.hangs_n = 0.0

    def hang(self, mass_g: float) -> None:
        before_g = self.gauge.hangs_n / NEWTONS["gf"]
        super().hang(mass_g)
        self._pull, self._load_from = (), self._sent
        self._weight = Weight(mass_g, before_g)

    def _begin(self) -> None:
        self._life += 1
        self._begun_s = self._now_s()
        self._sent = 0
        self._second = -1
        self._load_from = -RATE_HZ * 10
        self._pull = ()
        self._seen_n = 0.0

    def _start(self) -> bytes:
        self._commands.forget()
        self._begin()
        return wire.STREAM_ON

    def _hear(self, data: bytes) -> bytes:
        return wire.stream_identity(self.serial) * self._commands.feed(data).count(b"#SN?")

    def _tell(self, _: Peak) -> bytes:
        return b""

    def _displayed(self, _: Peak) -> None:
        return None

    @property
    def shown(self) -> str | None:
        """What pulls now, by the last sample."""
        if not self.powered:
            return None
        unit = self.gauge.unit
        return displayed(wire.within(self._seen_n, unit), unit, wire.STREAM_DECIMALS)

    def _sample(self, number: int) -> bytes:
        if number // RATE_HZ != self._second:
            # A generator a second: quick, and a second is the same however it was cut.
            self._second = number // RATE_HZ
            self._noise = random.Random(f"{self._seed}|{self._life}|{self._second}")
        gauge = self.gauge
        seen_n = gauge.drift.applied(self._true_n(number)) - gauge.zero_n
        self._seen_n = seen_n + self._noise.gauss(0.0, gauge.noise_n)
        return wire.sample_line(self._seen_n, gauge.unit)

    def _true_n(self, number: int) -> float:
        since = number - self._load_from
        if self._pull:
            return self._pull[since] if 0 <= since < len(self._pull) else 0.0
        return self._weight.grams(since / RATE_HZ) * NEWTONS["gf"]
