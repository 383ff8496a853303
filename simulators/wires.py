"""Every wire that a scenario may name, and what a device on it can be told when it is made.

A wire's name is the one word for the layout, beside its kind of link and what it measures. Pure
data, but for `on_table`, which makes a device without a port to try acts on.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple

from simulators import faults, uart
from simulators.arguments import Arguments
from simulators.program import Held
from simulators.usb import faults as usb_faults

GLOSS, FORCE, LIGHT = "gloss", "force", "transmittance"
COUNTER, CLIMATE = "counter", "climate"
BESIDE = (COUNTER, CLIMATE)
"""What measures no surface: nothing is laid within its reach, and it is put on nothing."""
PTY, TCP, USB = "pty", "tcp", "usb"

Read = Callable[[Arguments, str], object]


def _number(low: float, high: float) -> Read:
    return lambda args, name: args.number(name, low, high)


def _whole(low: int, high: int) -> Read:
    return lambda args, name: args.whole(name, low, high)


def _flag(args: Arguments, name: str) -> object:
    return args.flag(name)


def _format(args: Arguments, name: str) -> object:
    return args.text(name, uart.FORMAT, uart.FORMAT_WANTED)


def _angles(args: Arguments, name: str) -> object:
    return args.angles(name)


def _kinds(known: Iterable[str]) -> Read:
    return lambda args, name: args.words(name, known)


LINE: Mapping[str, Read] = {
    "latency_s": _number(0, 60),
    "chatter": _number(0, 1),
    "fault_share": _number(0, 1),
    "fault_kinds": _kinds(faults.DRAWN),
    "tcp_port": _whole(0, 65535),
}
SERIAL: Mapping[str, Read] = {
    **LINE,
    "baud": _whole(uart.LEAST_BAUD, uart.MOST_BAUD),
    "format": _format,
}
BUS: Mapping[str, Read] = {
    "fault_share": _number(0, 1),
    "fault_kinds": _kinds(usb_faults.KINDS),
}
FETCHED_S = 1.0
"""Hosts ask a few times a second, and nobody presses oftener than about once in one."""
APART_S = 3.0
"""A load that swings in and is taken off, and a while without one."""
SCATTER: Mapping[str, Read] = {"scatter": _number(0, 10)}
GLOSS_METER: Mapping[str, Read] = {
    "repeatability_sd": _number(0, 10),
    "cold_share": _number(0, 0.5),
}


class Wire(NamedTuple):
    """A wire: the program and the layout that speak it, what is measured over it, what a button
    does, and the options that a device on it takes beside its serial number and seed.
    """

    kind: str
    layout: str
    measures: str
    options: Mapping[str, Read]
    ports: tuple[str, ...] = (PTY, TCP)
    serial_longest: int = 32
    channels: tuple[str, ...] = ("",)
    """Geometries (of a device that is told none) or bands of one press; force has none."""
    presses: str = "press"
    """`press`: at its button. `pull`: a pull is its own result, there is no button. `stream`: so,
    and what hangs still is none. `asked`: it measures when its host says so and not by itself."""
    apart_s: float = 0.0
    """So long a hand waits between presses: until a result that is kept alone was fetched, or what
    hung on it is off."""


WIRES: Mapping[str, Wire] = {
    "gloss-press": Wire(
        "gloss", "press", GLOSS, {**SERIAL, **GLOSS_METER, "angles": _angles, "memory": _flag},
        channels=("20",),
    ),
    "gloss-asked": Wire("gloss", "asked", GLOSS, {**SERIAL, **GLOSS_METER}, channels=("60",)),
    "force-peak": Wire(
        "force", "peak", FORCE,
        {**SERIAL, "noise_n": _number(0, 1), "limit_n": _number(0.5, 90)},
    ),
    "force-powers": Wire(
        "force", "powers", FORCE,
        {**SERIAL, "noise_n": _number(0, 1), "limit_n": _number(0.5, 90)},
    ),
    "force-stream": Wire(
        "force", "stream", FORCE,
        {**SERIAL, "noise_n": _number(0, 1), "limit_n": _number(0.5, 90)},
        presses="stream", apart_s=APART_S,
    ),
    "transmission-bands": Wire(
        "transmission", "bands", LIGHT, {**SERIAL, "noise_sd": _number(0, 10)},
        channels=("315-400", "380-780", "780-1400"),
    ),
    "frame-gloss": Wire(
        "frames", "gloss", GLOSS, {**SERIAL, **SCATTER, "memory": _flag}, serial_longest=8,
        channels=("20", "60", "85"),
    ),
    "frame-force": Wire("frames", "force", FORCE, {**SERIAL, **SCATTER}, serial_longest=7),
    "frame-bands": Wire(
        "frames", "bands", LIGHT, {**SERIAL, **SCATTER}, channels=("315-400", "380-780", "940")
    ),
    "modbus-gloss": Wire(
        "modbus", "gloss", GLOSS, {**SERIAL, **SCATTER}, serial_longest=16,
        channels=("20", "60", "85"), apart_s=FETCHED_S,
    ),
    "modbus-transmission": Wire(
        "modbus", "transmission", LIGHT, {**SERIAL, **SCATTER}, channels=("380-780",),
        presses="asked",
    ),
    "modbus-force": Wire(
        "modbus", "force", FORCE, {**LINE, **SCATTER}, (TCP,), serial_longest=8, presses="pull",
        apart_s=FETCHED_S,
    ),
    "usbtmc-head": Wire(
        "usb", "head", LIGHT, {**BUS, "press_s": _number(0, 60)}, (USB,),
        channels=("315-400", "380-780", "940"), apart_s=FETCHED_S,
    ),
    # The same head; it is told by its host to send counts.
    "usbtmc-counts": Wire(
        "usb", "head", LIGHT, {**BUS, "press_s": _number(0, 60)}, (USB,),
        channels=("315-400", "380-780", "780-1400"), apart_s=FETCHED_S,
    ),
    "hid-weighing": Wire(
        "usb", "weighing", FORCE, {
            **BUS,
            "noise_g": _number(0, 10),
            "interval_s": _number(0.005, 10),
            "settle_s": _number(0.001, 10),
        }, (USB,), presses="stream", apart_s=APART_S
    ),
    "counter-strokes": Wire("beside", "strokes", COUNTER, SERIAL),
    "counter-total": Wire("beside", "total", COUNTER, SERIAL),
    "climate-asked": Wire("beside", "climate", CLIMATE, SERIAL, presses="asked"),
    "modbus-counter": Wire("modbus", "counter", COUNTER, SERIAL, serial_longest=16),
    "modbus-climate": Wire(
        "modbus", "climate", CLIMATE, SERIAL, serial_longest=16, presses="asked"
    ),
}  # fmt: skip


def on_table(wire: Wire, serial: str, seed: int, options: Mapping[str, object]) -> Held:
    """A device of the wire without port and process. Raises ValueError for unfit options."""
    program = importlib.import_module(f"simulators.{wire.kind}.__main__")
    words = ["--layout", wire.layout, "--serial", serial, "--seed", str(seed)]
    given = program.parser().parse_args(words)
    for name, value in options.items():
        setattr(given, name, value)
    held: Held = program.held(given)
    return held
