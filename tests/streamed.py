"""A yard with a simulated force gauge that streams: its bytes through the driver, desk and store.

The device is the simulator's, the driver the shipped one with the shipped profile; time is moved by
hand, a quarter of a second a chunk.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from acquire.driverapi.guard import Guard
from acquire.model import Batch, Chunk, Quantity
from acquire.schema import load_text, parse_toml
from acquire.settings import config_dir, parse_plan
from drivers.line import FAMILY
from simulators.force.gauge import Gauge
from simulators.force.stream import StreamGauge
from tests.yard import Yard, bench

CHUNK_S = 0.25
RATE_HZ = 1000
SERIAL = "PG-0032"
PULLED = """
[panel]
name = "Panel 3"

[[treatment]]
id = "none"
name = "Untreated"
control = true

[[treatment]]
id = "wax"
name = "Slipway wax"

[[zone]]
id = "A"
treatment = "none"

[[zone]]
id = "B"
treatment = "wax"

[[measure]]
id = "slick"
quantity = "force"
replicates = 3
order = "by-zone"
higher_is_better = false
"""
"""Of a trial file: a wax beside the control, each zone pulled three times; the sled comes last."""
_PROFILE = config_dir() / "profiles" / "force-stream.toml"


class StreamYard(Yard):
    """The yard's first meter is a gauge named ``puller`` that streams into it."""

    def __init__(self, folder: Path, seed: int = 5, noise_n: float = 0.002) -> None:
        self._noise_n, self._seed = noise_n, seed
        super().__init__(folder)
        self.plug_in()

    def open(self) -> None:
        first = bench(self.bench.store).instruments[0]
        text = load_text(_PROFILE)
        self.profile = parse_toml(text, "force-stream")
        puller = replace(
            first, id="puller", kind=Quantity.FORCE, serial=SERIAL, driver="line",
            profile_name="force-stream", profile=self.profile, profile_text=text,
            policy=replace(first.policy, quantity=Quantity.FORCE, channels=("",)),
        )  # fmt: skip
        self.bench = replace(bench(self.bench.store), instruments=(puller,))
        super().open()

    def plug_in(self) -> None:
        """A new connection of a gauge that was just switched on."""
        self.gauge = StreamGauge(
            Gauge(SERIAL, self._seed, self._noise_n),
            self._seed,
            lambda: self.clock.now().mono_ns / 1e9,
        )
        self.plug("puller")
        self._driver = FAMILY.driver(self.profile, "force-stream")
        self._guard = Guard("line", self.clock.now())
        self._driver.opening(self.clock.now())
        self._sent = 0

    def stream(self, seconds: float, zero_n: float = 0.0) -> None:
        """Let the gauge send for so long; `zero_n` is what it reads with nothing on it."""
        self.gauge.gauge.drift.offset = zero_n
        for _ in range(round(seconds / CHUNK_S)):
            self.clock.advance(CHUNK_S)
            self.feed(self.gauge.tick())

    def feed(self, raw: bytes) -> None:
        """These bytes arrive as one chunk, and after it what the gauge answers."""
        self._chunk(raw)
        if (sent := self._driver.due(self.clock.now()).send) and (
            answer := self.gauge.receive(sent)
        ):
            self._chunk(answer)

    def _chunk(self, raw: bytes) -> None:
        now = self.clock.now()
        facts = self._guard.facts(self._driver.feed(raw, now), raw, now)
        chunk = Chunk(self._sent, raw, now)
        self._sent += len(raw)
        self.store(
            self.desk.take_in(
                Batch("puller", self._connections["puller"], received=chunk, facts=tuple(facts))
            )
        )

    def pull(self, forces_n: Sequence[float], rest_s: float = 1.5, zero_n: float = 0.0) -> None:
        """Pull with these forces after a rest, and rest until the pull is over."""
        self.stream(rest_s, zero_n)
        self.gauge.pull(forces_n)
        self.stream(len(forces_n) / RATE_HZ + 1.0, zero_n)

    def begin_slick(self, stage: str, text: str) -> None:
        plan = parse_plan(text, "trial.toml")
        self.act(lambda at: self.acts.runs.begin(plan, "slick", stage, "puller", at))

    def finish(self) -> None:
        self.act(lambda at: self.acts.runs.finish("", at))


def drawn_pull(
    static_n: float, kinetic_n: float, *, slides_s: float = 1.5, slip_n: float = 0.0
) -> list[float]:
    """Forces of one pull with known truth: an even rise, a drop within 40 ms, and a slide.

    The slide swings by `slip_n` to each side about `kinetic_n`, ten whole times a second, so that
    its mean is known whatever the window.
    """
    rise = np.linspace(0.0, static_n, round(0.5 * RATE_HZ))
    drop = kinetic_n + (static_n - kinetic_n) * np.exp(-np.arange(60) / 10)
    t = np.arange(round(slides_s * RATE_HZ)) / RATE_HZ
    slide = kinetic_n + slip_n * np.sin(2 * np.pi * 10 * t)
    fall = kinetic_n * np.exp(-np.arange(150) / 20)
    return [float(f) for f in np.concatenate((rise, drop, slide, fall))]
