"""Run one simulated counter or climate probe as a process of its own."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence

from simulators.beside.acts import ClimateBench, CounterBench
from simulators.beside.device import ClimateProbe, StrokeCounter, TotalCounter
from simulators.program import Held, serve
from simulators.program import parser as shared_parser


def main(argv: Sequence[str] | None = None) -> int:
    """Serve until `quit` or the end of the standard input; 2 for options that do not fit."""
    program = parser()
    options = program.parse_args(argv)
    return serve(program, options, held(options))


def held(options: argparse.Namespace) -> Held:
    """The device of these options in a hand."""
    return BENCHES[options.layout](options.serial)


def parser() -> argparse.ArgumentParser:
    """The options of this program."""
    return shared_parser("beside", "counter or climate probe", BENCHES)


BENCHES: dict[str, Callable[[str], Held]] = {
    StrokeCounter.layout: lambda serial: CounterBench(StrokeCounter, serial),
    TotalCounter.layout: lambda serial: CounterBench(TotalCounter, serial),
    ClimateProbe.layout: lambda serial: ClimateBench(ClimateProbe, serial),
}


if __name__ == "__main__":
    sys.exit(main())
