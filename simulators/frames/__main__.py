"""Run one simulated device of a binary layout as a process of its own."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence

from simulators.force.acts import ForceBench
from simulators.force.gauge import Gauge
from simulators.frames.acts import FrameGlossBench
from simulators.frames.bands import FrameBands
from simulators.frames.force import SERIAL_BYTES as FORCE_SERIAL_BYTES
from simulators.frames.force import FrameForce
from simulators.frames.gloss import SERIAL_BYTES as GLOSS_SERIAL_BYTES
from simulators.frames.gloss import FrameGloss
from simulators.gloss.meter import Meter
from simulators.gloss.surface import ANGLES
from simulators.program import Held, number, serve
from simulators.program import parser as shared_parser
from simulators.transmission.acts import HeadBench
from simulators.transmission.head import Head

SERIAL_BYTES = {"gloss": GLOSS_SERIAL_BYTES, "force": FORCE_SERIAL_BYTES}


def main(argv: Sequence[str] | None = None) -> int:
    """Serve until `quit` or the end of the standard input; 2 for options that do not fit."""
    program = parser()
    options = program.parse_args(argv)
    most = SERIAL_BYTES.get(options.layout, len(options.serial))
    if len(options.serial) > most:
        program.error(f"--serial: got {options.serial}, wanted at most {most} characters")
    return serve(program, options, held(options))


def held(options: argparse.Namespace) -> Held:
    """The device of these options in a hand."""
    return BENCHES[options.layout](options)


def parser() -> argparse.ArgumentParser:
    """The options of this program."""
    program = shared_parser("frames", "device that sends binary frames", BENCHES)
    program.add_argument("--scatter", type=number(0, 10), help="of one look (GU, newton, percent)")
    program.add_argument("--memory", action="store_true", help="gloss: repeats its last result")
    return program


def _gloss(options: argparse.Namespace) -> Held:
    sd = 0.1 if options.scatter is None else options.scatter

    def make(serial: str) -> FrameGloss:
        return FrameGloss(Meter(serial, options.seed, ANGLES, sd), memory=options.memory)

    return FrameGlossBench(make, options.serial)


def _force(options: argparse.Namespace) -> Held:
    noise_n = 0.001 if options.scatter is None else options.scatter

    def make(serial: str) -> FrameForce:
        return FrameForce(Gauge(serial, options.seed, noise_n))

    return ForceBench(make, options.serial, options.seed)


def _bands(options: argparse.Namespace) -> Held:
    sd = 0.05 if options.scatter is None else options.scatter

    def make(serial: str) -> FrameBands:
        return FrameBands(Head(serial, options.seed, FrameBands.bands, sd))

    return HeadBench(make, options.serial)


BENCHES: dict[str, Callable[[argparse.Namespace], Held]] = {
    FrameGloss.layout: _gloss,
    FrameForce.layout: _force,
    FrameBands.layout: _bands,
}


if __name__ == "__main__":
    sys.exit(main())
