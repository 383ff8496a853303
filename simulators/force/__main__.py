"""Run one simulated force gauge as a process of its own."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from simulators.force.acts import ForceBench
from simulators.force.device import ForceDevice, PeakGauge, PowersGauge
from simulators.force.gauge import Gauge
from simulators.force.stream import StreamGauge
from simulators.program import number, serve
from simulators.program import parser as shared_parser

_LAYOUTS = (PeakGauge.layout, PowersGauge.layout, StreamGauge.layout)


class _Streaming:
    """Whatever gauge is in the bench's hand by now, as one that sends by itself."""

    def __init__(self, bench: ForceBench) -> None:
        self._bench = bench

    def wait_s(self) -> float | None:
        device = self._bench.device
        return device.wait_s() if isinstance(device, StreamGauge) else None

    def tick(self) -> bytes:
        device = self._bench.device
        return device.tick() if isinstance(device, StreamGauge) else b""


def main(argv: Sequence[str] | None = None) -> int:
    """Serve until `quit` or the end of the standard input; 2 for options that do not fit."""
    program = parser()
    options = program.parse_args(argv)
    bench = held(options)
    clocked = _Streaming(bench) if options.layout == StreamGauge.layout else None
    return serve(program, options, bench, clocked)


def held(options: argparse.Namespace) -> ForceBench:
    """The gauge of these options in a hand."""

    def make(serial: str) -> ForceDevice:
        gauge = Gauge(serial, options.seed, options.noise_n, options.limit_n)
        for one in (PeakGauge, PowersGauge):
            if options.layout == one.layout:
                return one(gauge)
        return StreamGauge(gauge, options.seed, options.clock.now_s)

    return ForceBench(make, options.serial, options.seed)


def parser() -> argparse.ArgumentParser:
    """The options of this program."""
    program = shared_parser("force", "force gauge", _LAYOUTS)
    program.add_argument("--noise-n", type=number(0, 1), default=0.001, help="scatter in newton")
    program.add_argument("--limit-n", type=number(0.5, 90), default=20.0, help="end of the range")
    return program


if __name__ == "__main__":
    sys.exit(main())
