"""Instruments come and go by what they are, not by the name their port gets.

Two simulated meters on real pseudo-terminals, the daemon on both; what is plugged in where is told
by a lister of ports as pySerial's own would.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from acquire.control.client import Client
from acquire.daemon import running_daemon
from acquire.driverapi import LinkNeeds, Needs
from acquire.link import Opener
from acquire.link.serial import SerialOpener
from acquire.model import LinkAddress
from acquire.settings import load_bench
from simulators.handle import DeviceProcess
from tests.flow.test_wires import CERTIFICATE, PIECE

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals"),
]

INSTRUMENT = """
[[instrument]]
id = "{id}"
kind = "gloss"
serial = "{serial}"
driver = "line"
profile = "gloss-press"
policy = "gloss-20"
link = {link}
"""
SERIALS = {"shore": "SH-0417", "deck": "DK-2205"}
GLOSS = {"shore": 91.4, "deck": 52.6}
LATENCY_S = 0.2
"""From a press to its bytes: the time in which a result passes for an echo is soon over."""


class Port(NamedTuple):
    """A port as pySerial lists it."""

    device: str
    serial_number: str | None
    vid: int | None = 0xFFFF
    pid: int | None = 0x0403


class Hub:
    """Two sockets of a computer. The name of a port is that of the socket."""

    def __init__(self, folder: Path, meters: dict[str, DeviceProcess]) -> None:
        self._folder = folder
        self._meters = meters
        self._in: dict[str, str] = {}

    def plug(self, socket: str, meter: str) -> None:
        self._meters[meter].act("plug")
        (self._folder / socket).symlink_to(self._folder / f"{meter}-pty")
        self._in[socket] = meter

    def pull(self, socket: str) -> None:
        meter = self._in.pop(socket)
        (self._folder / socket).unlink()
        self._meters[meter].act("unplug")

    def exchange_names(self, one: str, other: str) -> None:
        """What two ports are called changes places in one moment, while both stay open."""
        spare = self._folder / "spare"
        (self._folder / one).rename(spare)
        (self._folder / other).rename(self._folder / one)
        spare.rename(self._folder / other)
        self._in[one], self._in[other] = self._in[other], self._in[one]

    def ports(self) -> list[Port]:
        return [
            Port(str(self._folder / socket), f"ADAPTER-{meter}")
            for socket, meter in sorted(self._in.items())
        ]

    def opener(self, address: LinkAddress, needs: Needs) -> Opener:
        assert isinstance(needs, LinkNeeds)
        return SerialOpener(address, needs, list_ports=self.ports)


class Bench:
    """A hand at the hub, and an eye on the daemon."""

    def __init__(
        self, hub: Hub, meters: dict[str, DeviceProcess], client: Client, items: Any
    ) -> None:
        self.hub, self.meters = hub, meters
        self._client, self._items = client, items

    def instrument(self, name: str) -> dict[str, Any]:
        return next(i for i in self._client.call("status")["instruments"] if i["id"] == name)

    def await_that(self, name: str, **wanted: object) -> dict[str, Any]:
        """Wait until an instrument stands as wanted."""
        while True:
            found = self.instrument(name)
            if all(found[key] == value for key, value in wanted.items()):
                return found
            next(self._items)

    def press(self, meter: str) -> dict[str, Any]:
        """Press a meter's button until a reading comes that is no echo; the reading."""
        while True:
            self.meters[meter].act("press")
            while (item := next(self._items)).get("table") != "reading":
                pass
            if item["loose_reason"] != "echo":
                found: dict[str, Any] = item
                return found

    def check(self, meter: str) -> None:
        """A whole check of the meter that is the instrument of this name."""
        self._client.call("begin_check", instrument=meter)
        for piece, gloss in (("T1", 91.4), ("T2", 52.6), ("Z0", 0.0)):
            self.meters[meter].act("surface", name=piece, gloss={"20": gloss})
            self.meters[meter].act("place", surface=piece)
            taken = 0
            while taken < 3:
                taken += self.press(meter)["role"] == "check"
        assert self.await_that(meter)["check"]["valid"]
        self.meters[meter].act("place", surface="own")


def benched(tmp_path: Path, links: dict[str, str], stack: ExitStack) -> Bench:
    """Both meters plugged in, shore into socket-0 and deck into socket-1; the daemon has them."""
    meters = {
        name: stack.enter_context(
            DeviceProcess(
                "gloss",
                layout="press",
                serial=serial,
                seed=3,
                latency_s=LATENCY_S,
                link=tmp_path / f"{name}-pty",
            )
        )
        for name, serial in SERIALS.items()
    }
    for name, meter in meters.items():
        meter.act("surface", name="own", gloss={"20": GLOSS[name]})
        meter.act("place", surface="own")
        meter.act("unplug")
    hub = Hub(tmp_path, meters)
    text = '[bench]\nname = "two"\nstore = "two.sqlite"\n'
    for name, serial in SERIALS.items():
        text += INSTRUMENT.format(id=name, serial=serial, link=links[name])
    for piece, kind, value in (
        ("T1", "gloss-tile", 91.4), ("T2", "gloss-tile", 52.6), ("Z0", "black-trap", 0.0),
    ):  # fmt: skip
        text += PIECE.format(id=piece, kind=kind) + CERTIFICATE.format(
            quantity="gloss", channel="geometry = 20", value=value, unit="gloss_unit"
        )
    file = tmp_path / "bench.toml"
    file.write_text(text, encoding="utf-8")
    hub.plug("socket-0", "shore")
    hub.plug("socket-1", "deck")
    loaded = load_bench(file)
    stack.enter_context(running_daemon(loaded, make_opener=hub.opener))
    client = stack.enter_context(Client.of_store(loaded.store))
    bench = Bench(hub, meters, client, stack.enter_context(client.watch()))
    for name in SERIALS:
        bench.await_that(name, connected=True)
    return bench


@pytest.fixture
def stack() -> Iterator[ExitStack]:
    with ExitStack() as stack:
        yield stack


def test_two_meters_that_swap_their_ports_swap_the_ports_and_never_the_readings(
    tmp_path: Path, stack: ExitStack
) -> None:
    by_adapter = {name: f'{{ serial_number = "ADAPTER-{name}" }}' for name in SERIALS}
    bench = benched(tmp_path, by_adapter, stack)
    bench.check("shore")
    for socket in ("socket-0", "socket-1"):
        bench.hub.pull(socket)
    for name in SERIALS:
        bench.await_that(name, connected=False)
    assert bench.instrument("shore")["check"]["reason"] == "unplugged"
    bench.hub.plug("socket-0", "deck")
    bench.hub.plug("socket-1", "shore")
    for name, socket in (("shore", "socket-1"), ("deck", "socket-0")):
        assert socket in bench.await_that(name, connected=True)["message"]
        found = bench.press(name)
        assert (found["instrument"], found["serial"]) == (name, SERIALS[name])
        assert abs(float(found["value"]) - GLOSS[name]) < 1


def test_ports_that_change_their_names_under_open_sessions_leave_each_reading_with_its_meter(
    tmp_path: Path, stack: ExitStack
) -> None:
    by_adapter = {name: f'{{ serial_number = "ADAPTER-{name}" }}' for name in SERIALS}
    bench = benched(tmp_path, by_adapter, stack)
    bench.check("shore")
    bench.hub.exchange_names("socket-0", "socket-1")
    for name, serial in SERIALS.items():
        found = bench.press(name)
        assert (found["instrument"], found["serial"]) == (name, serial)
        assert abs(float(found["value"]) - GLOSS[name]) < 1
    # Nothing was unplugged: what was checked is what is read.
    assert bench.instrument("shore")["check"]["valid"]
    # The name says nothing of who is there, so each is found at its new one.
    for socket, name in (("socket-0", "deck"), ("socket-1", "shore")):
        bench.hub.pull(socket)
        bench.await_that(name, connected=False)
        bench.hub.plug(socket, name)
        assert socket in bench.await_that(name, connected=True)["message"]
        found = bench.press(name)
        assert (found["instrument"], found["serial"]) == (name, SERIALS[name])
    assert bench.instrument("shore")["check"]["reason"] == "unplugged"


def test_where_ports_are_named_the_swapped_meters_are_told_apart_and_end_the_check(
    tmp_path: Path, stack: ExitStack
) -> None:
    by_port = {
        name: f'{{ port = "{tmp_path / socket}" }}'
        for name, socket in (("shore", "socket-0"), ("deck", "socket-1"))
    }
    bench = benched(tmp_path, by_port, stack)
    bench.check("shore")
    for socket in ("socket-0", "socket-1"):
        bench.hub.pull(socket)
    for name in SERIALS:
        bench.await_that(name, connected=False)
    bench.hub.plug("socket-0", "deck")
    bench.hub.plug("socket-1", "shore")
    bench.await_that("shore", connected=True, serial=SERIALS["deck"])
    found = bench.press("deck")
    assert (found["instrument"], found["role"]) == ("shore", "loose")
    assert "DK-2205 answers where SH-0417 is expected" in found["loose_reason"]
    assert not bench.instrument("shore")["check"]["valid"]
