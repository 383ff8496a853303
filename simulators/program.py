"""A simulated device as a program: the options that all share, the port, and serving it.

Each kind adds its own options to `parser` and hands its device to `serve`. One thread.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import re
import signal
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from types import FrameType
from typing import Protocol

from simulators import uart
from simulators.bench import SERIAL, SERIAL_WANTED, Handheld
from simulators.clock import COMPUTER, HeldClock
from simulators.control import answer, open_control
from simulators.faults import DRAWN, Fault, drawn
from simulators.host import Host
from simulators.line import TroubledLine
from simulators.stand import MOST_CLOCK_S, Clocked, Device, Stand
from simulators.tcp_host import TcpHost

SIGNALS = (signal.SIGTERM, signal.SIGINT)


class Held(Device, Protocol):
    """A device in a hand, with its acts."""

    @property
    def device(self) -> Handheld:
        """The one that is in the hand by now."""
        ...


def parser(kind: str, what: str, layouts: Iterable[str]) -> argparse.ArgumentParser:
    """The options that the devices of all kinds share."""
    program = argparse.ArgumentParser(
        prog=f"python -m simulators.{kind}",
        description=f"A simulated {what} on a port of its own. Acts come as JSON lines on the "
        "standard input; the first line of output tells the port.",
    )
    add = program.add_argument
    add("--layout", choices=tuple(layouts), required=True, help="what it speaks")
    add("--host", choices=("pty", "tcp"), help="kind of port (pty; tcp with --tcp-port)")
    add("--link", type=Path, help="pty: a name that always points at the present port")
    add("--tcp-port", "--tcp", type=_port, help="tcp: the port number; 0 for any free one")
    add("--serial", required=True, help="serial number")
    add("--seed", type=int, default=0, help="of all scatter and noise")
    add("--latency-s", type=number(0, 60), default=0.0, help="from the cause to the first byte")
    add("--chatter", type=number(0, 1), default=0.0, help="chance of noise before a message")
    add("--fault-share", type=number(0, 1), default=0.0, help="chance of a fault, by --fault-kinds")
    add("--fault-kinds", nargs="+", choices=DRAWN, default=(), help="faults drawn by the seed")
    add("--baud", type=int, help="speed of its line: a host set to another one hears garbage")
    add("--format", help="with --baud: data bits, parity, stop bits (8N1)")
    add("--held-at-s", dest="clock", metavar="S", type=_held_clock, default=COMPUTER,
        help="its time stands at S until the act clock moves it (the computer's time)")  # fmt: skip
    return program


def number(low: float, high: float) -> Callable[[str], float]:
    """A type of option: a number within bounds."""

    def read(text: str) -> float:
        wanted = f"got {text}, wanted a number from {low:g} to {high:g}"
        try:
            value = float(text)
        except ValueError:
            raise argparse.ArgumentTypeError(wanted) from None
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(wanted)
        return value

    return read


def serve(
    program: argparse.ArgumentParser,
    options: argparse.Namespace,
    bench: Held,
    clocked: Clocked | None = None,
) -> int:
    """Serve until `quit` or the end of the standard input; leaves with 2 for unfit options.

    `clocked` is what sends by itself, if anything does.
    """
    if not re.fullmatch(SERIAL, options.serial):
        program.error(f"--serial: got {options.serial}, wanted {SERIAL_WANTED}")
    try:
        setting = None if options.baud is None else uart.setting(options.baud, _format(options))
        host = _host(options)
    except (ValueError, OSError) as fault:
        program.error(str(fault))
    drawing = drawn(options.fault_share, options.fault_kinds)
    line = line_of(bench.device, options.seed, options.latency_s, options.chatter, drawing)
    for one in SIGNALS:
        signal.signal(one, _leave)
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
            stand = Stand(
                bench,
                line,
                host,
                control,
                answer,
                clock=options.clock,
                clocked=clocked,
                setting=setting,
            )
            stand.run()
    return 0


def line_of(
    device: Handheld,
    seed: int,
    latency_s: float = 0.0,
    chatter: float = 0.0,
    draw: Callable[[random.Random], Fault | None] = lambda _: None,
) -> TroubledLine:
    """The line of a device, as its messages want it."""
    return TroubledLine(
        device.end,
        f"{seed}|{device.serial}",
        flip=device.flip,
        latency_s=max(latency_s, device.least_gap_s),
        chatter=chatter,
        cut=device.cut,
        draw=draw,
    )


def _leave(_: int, __: FrameType | None) -> None:
    # By an exception and not at once, so that the port is closed and its link removed; and only
    # once, so that nothing disturbs that.
    for one in SIGNALS:
        signal.signal(one, signal.SIG_IGN)
    sys.exit(0)


def _format(options: argparse.Namespace) -> str:
    return str(options.format or "8N1")


def _held_clock(text: str) -> HeldClock:
    return HeldClock(number(0, MOST_CLOCK_S)(text))


def _port(text: str) -> int:
    if not text.isdecimal() or int(text) > 65535:
        raise argparse.ArgumentTypeError(f"got {text}, wanted a port number from 0 to 65535")
    return int(text)


def _host(options: argparse.Namespace) -> Host:
    kind = options.host or ("pty" if options.tcp_port is None else "tcp")
    if kind == "tcp":
        if options.link is not None:
            raise ValueError("--link: got a name, wanted --host pty: a network port has none")
        return TcpHost(options.tcp_port or 0)
    if options.tcp_port is not None:
        raise ValueError(f"--tcp-port: got {options.tcp_port}, wanted --host tcp")
    if os.name != "posix":
        raise ValueError("--host: got pty, wanted tcp: this system has no pseudo-terminals")
    # Only here: its modules do not exist on other systems.
    from simulators.pty_host import PtyHost  # noqa: PLC0415

    return PtyHost(options.link)
