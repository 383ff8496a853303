"""Run one simulated device behind Modbus registers as a process of its own."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence

from simulators.beside.acts import ClimateBench, CounterBench
from simulators.force.acts import ForceBench
from simulators.force.gauge import Gauge
from simulators.gloss.meter import Meter
from simulators.gloss.surface import ANGLES
from simulators.modbus.acts import ModbusGlossBench, ModbusHeadBench
from simulators.modbus.beside import ModbusClimate, ModbusCounter
from simulators.modbus.force import SERIAL_BYTES, ModbusForce
from simulators.modbus.gloss import COUNT_WRAPS, SERIAL_REGISTERS, TOP_TENTHS, ModbusGloss
from simulators.modbus.transmission import ModbusHead
from simulators.program import Held, number, serve
from simulators.program import parser as shared_parser
from simulators.transmission.head import Head

LONGEST_SERIAL = {"gloss": 2 * SERIAL_REGISTERS, "force": SERIAL_BYTES}


def main(argv: Sequence[str] | None = None) -> int:
    """Serve until `quit` or the end of the standard input; 2 for options that do not fit."""
    program = parser()
    options = program.parse_args(argv)
    most = LONGEST_SERIAL.get(options.layout, len(options.serial))
    if len(options.serial) > most:
        program.error(f"--serial: got {options.serial}, wanted at most {most} characters")
    if options.layout == ModbusForce.layout:
        if options.host == "pty" or options.link is not None:
            program.error("--host: got pty, wanted tcp: layout force is one of the network")
        options.host = "tcp"
    return serve(program, options, held(options))


def held(options: argparse.Namespace) -> Held:
    """The device of these options in a hand."""
    return BENCHES[options.layout](options)


def parser() -> argparse.ArgumentParser:
    """The options of this program."""
    program = shared_parser("modbus", "device behind Modbus registers", BENCHES)
    program.add_argument("--scatter", type=number(0, 10), help="of one look (GU, percent, newton)")
    return program


def _gloss(options: argparse.Namespace) -> Held:
    sd = 0.1 if options.scatter is None else options.scatter

    def make(serial: str) -> ModbusGloss:
        meter = Meter(serial, options.seed, ANGLES, sd, COUNT_WRAPS, TOP_TENTHS)
        return ModbusGloss(meter, options.clock.now_s)

    return ModbusGlossBench(make, options.serial)


def _transmission(options: argparse.Namespace) -> Held:
    sd = 0.05 if options.scatter is None else options.scatter

    def make(serial: str) -> ModbusHead:
        return ModbusHead(Head(serial, options.seed, ModbusHead.bands, sd), options.clock.now_s)

    return ModbusHeadBench(make, options.serial)


def _force(options: argparse.Namespace) -> Held:
    noise_n = 0.001 if options.scatter is None else options.scatter

    def make(serial: str) -> ModbusForce:
        return ModbusForce(Gauge(serial, options.seed, noise_n), options.clock.now_s)

    return ForceBench(make, options.serial, options.seed)


BENCHES: dict[str, Callable[[argparse.Namespace], Held]] = {
    ModbusGloss.layout: _gloss,
    ModbusHead.layout: _transmission,
    ModbusForce.layout: _force,
    ModbusCounter.layout: lambda options: CounterBench(
        lambda serial: ModbusCounter(serial, options.clock.now_s), options.serial
    ),
    ModbusClimate.layout: lambda options: ClimateBench(
        lambda serial: ModbusClimate(serial, options.clock.now_s), options.serial
    ),
}


if __name__ == "__main__":
    sys.exit(main())
