"""A daemon with a driver that does harm beside one that works: the good one never notices."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from importlib.metadata import EntryPoint
from pathlib import Path
from typing import Any

import pytest

from acquire.clock import SystemClock
from acquire.control.client import Client
from acquire.daemon import Daemon, running_daemon
from acquire.driverapi import Driver, Due, LinkNeeds
from acquire.driverapi.registry import GROUP, Registry
from acquire.errors import DriverError, LinkLost
from acquire.link import MemoryEnd, MemoryOpener
from acquire.model import Fact, Instant, LinkAddress
from acquire.store.rows import IncidentRow, ReadingRow
from tests.benchmarks.lines import press_line
from tests.benchmarks.wide_bench import bench_of
from tests.patience import PATIENCE_S

gate = threading.Event()
"""Shut while a driver is to hang."""


class Strange:
    """A driver that says nothing and hears everything, but for one call."""

    def __init__(self, call: str, deed: Callable[[], Any]) -> None:
        self._call = call
        self._deed = deed

    def _do(self, call: str, otherwise: Any) -> Any:
        return self._deed() if call == self._call else otherwise

    def opening(self, at: Instant) -> bytes:
        return self._do("opening", b"")  # type: ignore[no-any-return]

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        return self._do("feed", [])  # type: ignore[no-any-return]

    def due(self, now: Instant) -> Due:
        return self._do("due", Due(b"", None))  # type: ignore[no-any-return]

    def take(self, at: Instant) -> bytes:
        return self._do("take", b"")  # type: ignore[no-any-return]

    def lost(self, at: Instant) -> list[Fact]:
        return self._do("lost", [])  # type: ignore[no-any-return]


class StrangeFamily:
    """Drivers of one strangeness; `strange` is set by each test."""

    name = "strange"
    api = 1
    call = ""
    deed: Callable[[], Any] = staticmethod(lambda: None)

    def needs(self, profile: Mapping[str, object], source: str) -> LinkNeeds:
        return self.deed() if self.call == "needs" else LinkNeeds()  # type: ignore[no-any-return]

    def driver(self, profile: Mapping[str, object], source: str) -> Driver:
        if self.call == "driver":
            self.deed()
        return Strange(self.call, self.deed)


FAMILY = StrangeFamily()


def hang() -> None:
    gate.wait(2 * PATIENCE_S)


def leave() -> None:
    raise SystemExit(3)


@pytest.fixture
def strange() -> Iterator[StrangeFamily]:
    gate.clear()
    yield FAMILY
    gate.set()


class Yard:
    """Meter shore with the line driver, and odd with the strange one, both on links in memory."""

    def __init__(self, folder: Path) -> None:
        self.openers = {"shore": MemoryOpener("shore"), "odd": MemoryOpener("odd")}
        bench = bench_of(folder / "s.sqlite", LinkAddress(port="shore"))
        (shore,) = bench.instruments
        odd = replace(
            shore, id="odd", serial="OD-1", driver="strange", address=LinkAddress(port="odd")
        )
        self.bench = replace(bench, instruments=(shore, odd))

    def run(self, ends_within_s: float = PATIENCE_S) -> Any:
        registry = Registry(
            [
                EntryPoint("line", "drivers.line:FAMILY", GROUP),
                EntryPoint("strange", f"{__name__}:FAMILY", GROUP),
            ]
        )
        return running_daemon(
            self.bench,
            registry=registry,
            make_opener=lambda address, needs: self.openers[address.port or ""],
            ends_within_s=ends_within_s,
        )


def press_counts(daemon: Daemon, device: MemoryEnd, number: int = 1) -> None:
    """A press at the good meter becomes a stored reading."""
    with daemon.hub.watch() as watcher:
        device.write(press_line(number, "80.0"))
        rows: list[object] = []
        while not any(isinstance(row, ReadingRow) for row in rows):
            rows, _ = watcher.pull(PATIENCE_S)
            assert rows, "no reading came"


def in_a_minute() -> Instant:
    now = SystemClock().now()
    return Instant(now.utc_ns + 60 * 10**9, now.mono_ns + 60 * 10**9)


@pytest.mark.parametrize("call", ["needs", "driver", "opening", "due", "feed", "take", "lost"])
def test_a_driver_that_ends_programs_ends_nothing(
    tmp_path: Path, strange: StrangeFamily, call: str
) -> None:
    strange.call, strange.deed = call, leave
    yard = Yard(tmp_path)
    good, odd = yard.openers["shore"].plug(), yard.openers["odd"].plug()
    with yard.run() as daemon:
        with contextlib.suppress(LinkLost):  # its session may have closed the line already
            odd.write(b"anything")
        press_counts(daemon, good)
        assert [t.startswith("odd: SystemExit(3)") for t in daemon.troubles()] == (
            [True] if call == "needs" else []
        )
    assert daemon.failure is None


def test_a_driver_that_hangs_is_named_on_the_bench_and_the_daemon_ends_without_it(
    tmp_path: Path, strange: StrangeFamily
) -> None:
    strange.call, strange.deed = "feed", hang
    yard = Yard(tmp_path)
    good, odd = yard.openers["shore"].plug(), yard.openers["odd"].plug()
    with yard.run(ends_within_s=0.2) as daemon:
        press_counts(daemon, good)
        odd.write(b"anything")
        with daemon.hub.watch() as watcher:
            told: list[IncidentRow] = []
            while not told:
                daemon.look(in_a_minute())
                told = [row for row in watcher.pull(0.05)[0] if isinstance(row, IncidentRow)]
        assert "the driver strange has not come back from feed()" in told[0].message
        press_counts(daemon, good, number=2)
        with Client.of_store(yard.bench.store) as client:
            instruments = {i["id"]: i for i in client.call("status")["instruments"]}
        assert "has not come back from feed()" in instruments["odd"]["message"]
    assert isinstance(daemon.failure, DriverError)
    assert "the driver strange has not come back from feed()" in str(daemon.failure)
    assert "what was received is stored" in str(daemon.failure)


def test_a_driver_that_hangs_before_its_line_is_open_does_not_keep_the_daemon_from_starting(
    tmp_path: Path, strange: StrangeFamily
) -> None:
    strange.call, strange.deed = "needs", hang
    yard = Yard(tmp_path)
    good = yard.openers["shore"].plug()
    with yard.run(ends_within_s=0.2) as daemon:
        press_counts(daemon, good)
        assert daemon.troubles(wait_s=0.1) == [
            "odd: the driver strange has not come back from needs()"
        ]
    assert "needs()" in str(daemon.failure)
