"""How fast each driver reads, against the byte rate of the fastest real line of its wire.

Timed are the calls of the driver alone, from bytes to facts: no guard, no gate, no store. What
answers the driver is not timed. The row's baseline is the line, the ratio how many such lines one
core would keep up with; every press must give its facts, or the figure is none.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from statistics import median_low as median
from typing import ParamSpec, TypeVar

from acquire.driverapi import Driver, Family
from acquire.model import Fact, Instant, Noise, Samples
from acquire.schema import load_toml
from acquire.settings import config_dir
from tests.benchmarks.lines import name_line
from tests.benchmarks.result import Result
from tests.benchmarks.wires import (
    GLOSS_DESCRIPTOR,
    Device,
    Head,
    Reports,
    Sender,
    Wire,
    bands_line,
    force_frame,
    force_line,
    gloss_frame,
    gloss_line,
    gloss_report,
    rtu_gloss,
    tcp_gloss,
    typed_line,
)

WANTED_TIMES = 20.0
TIMES = 3
"""The figure is the median of so many."""
POINTS = 4_096
_START = Instant(10**18, 10**12)
_SETTLED_NS = 10**10
"""Longer than any window in which a reading passes for an echo."""

P = ParamSpec("P")
T = TypeVar("T")


def _block_of(form: str) -> Callable[[dict[str, object]], object]:
    def change(table: dict[str, object]) -> None:
        spectrum = table["spectrum"]
        assert isinstance(spectrum, dict)
        spectrum["form"] = form
        if form.startswith("int"):
            spectrum["scale"] = 0.01

    return change


def _by_tcp(table: dict[str, object]) -> None:
    table["transport"] = "tcp"
    del table["line"]


def _head(name: str, code: str) -> Wire:
    return Wire(
        f"usbtmc, {name} blocks", "usbtmc-head", lambda: Head(code, POINTS), 150, _block_of(name),
    )  # fmt: skip


BANDS = b"ID TB-0117;39\r\n"
GLOSS_NAME = bytes.fromhex("A5 5A 09 49 47 46 2D 30 39 33 31 00 36 D3")
FORCE_NAME = bytes.fromhex("02 53 46 47 2D 32 32 30 37 28 03")
WIRES = (
    Wire("line, gloss-press", "gloss-press", lambda: Sender(gloss_line, name_line("SH-0417")), 300),
    Wire(
        "line, transmission-bands", "transmission-bands", lambda: Sender(bands_line, BANDS), 200
    ),
    Wire("line, force-stream", "force-stream", lambda: Sender(force_line, b"#SN PG-0032\r\n"), 300),
    Wire("frame, frame-gloss", "frame-gloss", lambda: Sender(gloss_frame, GLOSS_NAME), 200),
    Wire("frame, frame-force", "frame-force", lambda: Sender(force_frame, FORCE_NAME), 200),
    Wire("modbus, modbus-gloss", "modbus-gloss", rtu_gloss, 3_000),
    Wire("modbus, modbus-gloss by TCP", "modbus-gloss", tcp_gloss, 3_000, _by_tcp),
    Wire("keyed, keyed-gloss-20", "keyed-gloss-20", lambda: Sender(typed_line), 200),
    _head("binary32", "f"),
    _head("binary64", "d"),
    _head("int16", "h"),
    _head("int32", "i"),
    Wire("hid, hid-gloss", "hid-gloss", lambda: Reports(gloss_report, GLOSS_DESCRIPTOR, 64), 200),
)  # fmt: skip


def measure_codecs(folder: Path, times: int = TIMES) -> list[Result]:
    """Bytes a second of each driver, in the middle of so many runs."""
    results: list[Result] = []
    for wire in WIRES:
        rate, line = median(_rates(wire) for _ in range(times))
        results.append(
            Result(f"codec {wire.name}", "kB/s", rate / 1e3, line / 1e3, WANTED_TIMES, False, True)
        )
    return results


class _Watch:
    """Adds up the time of the calls of a driver."""

    def __init__(self, driver: Driver) -> None:
        self.driver = driver
        self.now = _START
        self.spent_s = 0.0
        self.facts: list[Fact] = []

    def _timed(self, call: Callable[P, T], *arguments: P.args, **named: P.kwargs) -> T:
        # Time of the processor: what else runs on the machine is not the driver's.
        begun = time.thread_time()
        given = call(*arguments, **named)
        self.spent_s += time.thread_time() - begun
        return given

    def talk(self, device: Device, chunks: list[bytes]) -> None:
        """Feed what came, and go on for as long as the device answers what is sent for it."""
        driver, waiting = self.driver, chunks
        while True:
            for chunk in waiting:
                self.pass_ns(1_000)
                self.facts += self._timed(driver.feed, chunk, self.now)
            self.pass_ns(1_000)
            due = self._timed(driver.due, self.now)
            if not due.send:
                return
            waiting = device.hear(due.send)

    def pass_ns(self, ns: int) -> None:
        self.now = Instant(self.now.utc_ns + ns, self.now.mono_ns + ns)


def _rates(wire: Wire) -> tuple[float, float]:
    """Bytes a second that pass the driver, and that pass the line."""
    table = load_toml(config_dir() / "profiles" / f"{wire.profile}.toml")
    wire.changed(table)
    family: Family = import_module(f"drivers.{wire.name.split(',')[0]}").FAMILY
    watch, device = _Watch(family.driver(table, wire.profile)), wire.make()
    opening = watch.driver.opening(watch.now)
    watch.talk(device, device.hear(opening) if opening else [])
    watch.talk(device, device.press())
    watch.pass_ns(_SETTLED_NS)
    watch.talk(device, device.press())
    watch.pass_ns(_SETTLED_NS)
    watch.facts, watch.spent_s = [], 0.0
    passed, line_s = device.passed, device.line_s
    for _ in range(wire.presses):
        watch.pass_ns(250_000_000)
        watch.talk(device, device.press())
    facts = len(watch.facts)
    odd = [fact for fact in watch.facts if isinstance(fact, Noise)]
    is_whole = facts >= wire.presses or any(isinstance(fact, Samples) for fact in watch.facts)
    if odd or not is_whole:
        raise RuntimeError(f"{wire.name}: {facts} facts of {wire.presses} presses, {odd[:1]}")
    passed, line_s = device.passed - passed, device.line_s - line_s
    return passed / watch.spent_s, passed / line_s
