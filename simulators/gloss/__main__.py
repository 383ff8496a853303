"""Run one simulated gloss meter as a process of its own."""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import re
import signal
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from types import FrameType

from simulators.arguments import ActFault, Arguments
from simulators.control import answer, open_control
from simulators.gloss.acts import SERIAL, SERIAL_WANTED, GlossBench, read_surface
from simulators.gloss.device import LAYOUTS, GlossDevice, gloss_device
from simulators.gloss.surface import Surface
from simulators.host import Host
from simulators.line import TroubledLine
from simulators.stand import Stand
from simulators.tcp_host import TcpHost

SIGNALS = (signal.SIGTERM, signal.SIGINT)


def main(argv: Sequence[str] | None = None) -> int:
    """Serve until `quit` or the end of the standard input; 2 for options that do not fit."""
    program = parser()
    options = program.parse_args(argv)
    if not re.fullmatch(SERIAL, options.serial):
        program.error(f"--serial: got {options.serial}, wanted {SERIAL_WANTED}")
    if not re.fullmatch(r"[0-9]{1,4}\.[0-9]{1,4}", options.firmware):
        program.error(f"--firmware: got {options.firmware}, wanted major.minor, as 1.4")

    def make(serial: str) -> GlossDevice:
        return gloss_device(
            options.layout,
            serial=serial,
            seed=options.seed,
            angles=options.angles,
            repeatability_sd=options.repeatability_sd,
            firmware=options.firmware,
            memory=options.memory,
        )

    try:
        bench = GlossBench(make, options.serial, _surfaces(options.surfaces))
        host = _host(options.host, options.link, options.tcp_port)
    except (ValueError, OSError, ActFault) as fault:
        program.error(str(fault))
    line = TroubledLine(
        bench.device.end,
        f"{options.seed}|{options.serial}",
        flip=bench.device.flip,
        latency_s=options.latency_s,
        chatter=options.chatter,
    )
    for number in SIGNALS:
        signal.signal(number, _leave)
    with open_control(sys.stdin.fileno()) as control, contextlib.ExitStack() as leaving:
        # From the first moment at which there is something to leave behind.
        leaving.callback(host.unplug)
        try:
            host.plug()
        except OSError as fault:
            program.error(str(fault))
        # A broken pipe: whoever started the device is gone, and it goes as well.
        with contextlib.suppress(BrokenPipeError):
            answer({"ready": True, **host.address(), "serial": options.serial})
            Stand(bench, line, host, control, answer).run()
    return 0


def _leave(_: int, __: FrameType | None) -> None:
    # By an exception and not at once, so that the port is closed and its link removed; and only
    # once, so that nothing disturbs that.
    for number in SIGNALS:
        signal.signal(number, signal.SIG_IGN)
    sys.exit(0)


def parser() -> argparse.ArgumentParser:
    """The options of this program."""
    program = argparse.ArgumentParser(
        prog="python -m simulators.gloss",
        description="A simulated gloss meter on a port of its own. Acts come as JSON lines on the "
        "standard input; the first line of output tells the port.",
    )
    add = program.add_argument
    add("--layout", choices=LAYOUTS, required=True, help="what it speaks")
    add("--host", choices=("pty", "tcp"), default="pty", help="kind of port")
    add("--link", type=Path, help="pty: a name that always points at the present port")
    add("--tcp-port", type=_port, default=0, help="tcp: the port number; 0 for any free one")
    add("--serial", required=True, help="serial number")
    add("--seed", type=int, default=0, help="of all scatter and noise")
    add("--angles", type=int, nargs="+", help="geometries in degrees (press: 20, asked: 60)")
    add("--repeatability-sd", type=_number(0, 10), default=0.1, help="GU, on one spot at 100 GU")
    add("--firmware", default="1.4", help="press: as major.minor")
    add("--memory", action="store_true", help="press: repeats its last result at power-on")
    add("--surfaces", type=Path, help="JSON file: a list of surfaces, each as for act surface")
    add("--latency-s", type=_number(0, 60), default=0.0, help="from press or command to line")
    add("--chatter", type=_number(0, 1), default=0.0, help="chance of noise before a line")
    return program


def _number(low: float, high: float) -> Callable[[str], float]:
    def number(text: str) -> float:
        wanted = f"got {text}, wanted a number from {low:g} to {high:g}"
        try:
            value = float(text)
        except ValueError:
            raise argparse.ArgumentTypeError(wanted) from None
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(wanted)
        return value

    return number


def _port(text: str) -> int:
    if not text.isdecimal() or int(text) > 65535:
        raise argparse.ArgumentTypeError(f"got {text}, wanted a port number from 0 to 65535")
    return int(text)


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


def _host(kind: str, link: Path | None, tcp_port: int) -> Host:
    if kind == "tcp":
        if link is not None:
            raise ValueError("--link: got a name, wanted --host pty: a network port has none")
        return TcpHost(tcp_port)
    if os.name != "posix":
        raise ValueError("--host: got pty, wanted tcp: this system has no pseudo-terminals")
    # Only here: its modules do not exist on other systems.
    from simulators.pty_host import PtyHost  # noqa: PLC0415

    return PtyHost(link)


if __name__ == "__main__":
    sys.exit(main())
