"""Run one simulated transmission head as a process of its own."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from simulators.program import number, serve
from simulators.program import parser as shared_parser
from simulators.transmission.acts import HeadBench
from simulators.transmission.device import BandsHead, HeadDevice
from simulators.transmission.head import Head


def main(argv: Sequence[str] | None = None) -> int:
    """Serve until `quit` or the end of the standard input; 2 for options that do not fit."""
    program = parser()
    options = program.parse_args(argv)
    return serve(program, options, held(options))


def held(options: argparse.Namespace) -> HeadBench:
    """The head of these options in a hand."""

    def make(serial: str) -> HeadDevice:
        return BandsHead(Head(serial, options.seed, BandsHead.bands, options.noise_sd))

    return HeadBench(make, options.serial)


def parser() -> argparse.ArgumentParser:
    """The options of this program."""
    program = shared_parser("transmission", "transmission head", (BandsHead.layout,))
    program.add_argument("--noise-sd", type=number(0, 10), default=0.05, help="scatter in percent")
    return program


if __name__ == "__main__":
    sys.exit(main())
