"""Run one simulated gloss meter as a process of its own."""

from __future__ import annotations

import argparse
import json
import re
import sys
from collections.abc import Sequence
from pathlib import Path

from simulators.arguments import ActFault, Arguments
from simulators.gloss.acts import GlossBench, read_surface
from simulators.gloss.device import LAYOUTS, GlossDevice, gloss_device
from simulators.gloss.surface import Surface
from simulators.program import number, serve
from simulators.program import parser as shared_parser


def main(argv: Sequence[str] | None = None) -> int:
    """Serve until `quit` or the end of the standard input; 2 for options that do not fit."""
    program = parser()
    options = program.parse_args(argv)
    if not re.fullmatch(r"[0-9]{1,4}\.[0-9]{1,4}", options.firmware):
        program.error(f"--firmware: got {options.firmware}, wanted major.minor, as 1.4")
    try:
        bench = held(options)
    except (ValueError, OSError, ActFault) as fault:
        program.error(str(fault))
    return serve(program, options, bench)


def held(options: argparse.Namespace) -> GlossBench:
    """The meter of these options in a hand. Raises ValueError, OSError and ActFault."""

    def make(serial: str) -> GlossDevice:
        return gloss_device(
            options.layout,
            serial=serial,
            seed=options.seed,
            angles=options.angles,
            repeatability_sd=options.repeatability_sd,
            firmware=options.firmware,
            memory=options.memory,
            cold_share=options.cold_share,
        )

    return GlossBench(make, options.serial, _surfaces(options.surfaces))


def parser() -> argparse.ArgumentParser:
    """The options of this program."""
    program = shared_parser("gloss", "gloss meter", LAYOUTS)
    add = program.add_argument
    add("--angles", type=int, nargs="+", help="geometries in degrees (press: 20, asked: 60)")
    add("--repeatability-sd", type=number(0, 10), default=0.1, help="GU, on one spot at 100 GU")
    add("--cold-share", type=number(0, 0.5), default=0.0, help="less light just after power-on")
    add("--firmware", default="1.4", help="press: as major.minor")
    add("--memory", action="store_true", help="press: repeats its last result at power-on")
    add("--surfaces", type=Path, help="JSON file: a list of surfaces, each as for act surface")
    return program


def _surfaces(path: Path | None) -> list[Surface]:
    if path is None:
        return []
    wanted = "a JSON list of surfaces"
    try:
        items = json.loads(path.read_text(encoding="utf-8"))
    except ValueError as fault:
        raise ActFault(str(path), str(fault), wanted) from fault
    if not isinstance(items, list) or not all(isinstance(item, dict) for item in items):
        raise ActFault(str(path), items, wanted)
    return [read_surface(Arguments(f"{path} [{n}]", item)) for n, item in enumerate(items)]


if __name__ == "__main__":
    sys.exit(main())
