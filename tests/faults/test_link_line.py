"""What a line can do to a meter's bytes, through a real port, a real session and the real driver:
each fault by name, and nothing is lost or invented."""

from __future__ import annotations

import os
import queue
import socket
import sys
import tty
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

import pytest

from acquire.clock import ManualClock
from acquire.driverapi import LinkNeeds
from acquire.link import SerialOpener
from acquire.model import (
    Batch,
    Fact,
    Flag,
    IncidentKind,
    LinkAddress,
    Noise,
    Notice,
    NoticeKind,
    Reading,
)
from acquire.pipeline.session import Fittings, Session
from acquire.supervise import Scope
from drivers.line import FAMILY
from tests.captures import profile
from tests.patience import PATIENCE_S

if sys.platform == "win32":
    pytest.skip("needs pseudo-terminals", allow_module_level=True)

PROFILE = {key: table for key, table in profile("gloss-press").items() if key != "identify"}
"""It is not asked for its name, so that no reading waits for that."""
PRESS_1 = b"R,0001,20,91.4,GU*51\r\n"
PRESS_2 = b"R,0002,20,86.6,GU*56\r\n"
PRESS_3 = b"R,0003,20,91.6,GU*51\r\n"


class Port(NamedTuple):
    device: str
    serial_number: str | None
    vid: int | None
    pid: int | None


class Bench:
    """A session on a pseudo-terminal that is found by identity, wherever it is plugged in."""

    def __init__(self) -> None:
        self.clock = ManualClock()
        self.batches: queue.Queue[Batch] = queue.Queue()
        self.ports: list[Port] = []
        self.master = self.slave = -1
        needs = FAMILY.needs(PROFILE, "p")
        address = LinkAddress(identity={"serial_number": "ADAPTER1"})
        self.session = Session(
            "shore",
            lambda: Fittings(
                SerialOpener(address, needs, lambda: self.ports),
                lambda: FAMILY.driver(PROFILE, "p"),
            ),
            lambda batch, timeout_s: self.batches.put(batch) is None,
            self.clock,
        )

    def plug(self) -> Batch:
        """Plug the meter in, at whatever port is free; the connection, past its echo window."""
        self.master, self.slave = os.openpty()
        tty.setraw(self.master)
        tty.setraw(self.slave)
        self.ports = [Port(os.ttyname(self.slave), "ADAPTER1", 0x1A2B, 1)]
        self.session.wake()
        connected = self.next(lambda b: b.connected)
        self.clock.advance(5)
        return connected

    def unplug(self) -> None:
        if self.master >= 0:
            self.ports = []
            os.close(self.slave)
            os.close(self.master)
            self.master = -1

    def send(self, data: bytes) -> None:
        assert os.write(self.master, data) == len(data)

    def next(self, wanted: Callable[[Batch], object]) -> Batch:
        while True:
            batch = self.batches.get(timeout=PATIENCE_S)
            if wanted(batch):
                return batch

    def received(self, size: int) -> None:
        """Wait until so many bytes were handed over."""
        while size > 0:
            batch = self.next(lambda b: b.received)
            assert batch.received is not None
            size -= len(batch.received.data)

    def facts(self, count: int) -> list[Fact]:
        facts: list[Fact] = []
        while len(facts) < count:
            facts += self.next(lambda b: b.facts).facts
        assert len(facts) == count
        return facts


@pytest.fixture
def bench() -> Iterator[Bench]:
    crashes: list[tuple[str, BaseException]] = []
    bench = Bench()
    with Scope(lambda name, error: crashes.append((name, error))) as scope:
        scope.start("session", bench.session.run)
        yield bench
        bench.session.stop()
    bench.unplug()
    assert crashes == []


def values(facts: list[Fact]) -> list[str]:
    return [fact.text for fact in facts if isinstance(fact, Reading) and not fact.flags]


def test_unplugged_in_mid_frame_and_plugged_in_at_another_port(bench: Bench) -> None:
    where = bench.plug().connected
    bench.send(PRESS_1[:9])
    bench.received(9)
    bench.unplug()
    last = bench.next(lambda b: b.disconnected)
    (noise,) = last.facts
    assert isinstance(noise, Noise)
    assert noise.raw == PRESS_1[:9]
    assert noise.reason == "cut off when the link was lost"
    (incident,) = last.incidents
    assert incident.kind is IncidentKind.LINK_LOST
    assert "plug the device in" in incident.message
    (absent,) = bench.next(lambda b: b.incidents).incidents
    assert absent.kind is IncidentKind.LINK_UNAVAILABLE
    again = bench.plug()
    assert again.connection == 2
    assert where is not None
    assert again.connected is not None
    assert again.connected.adapter == "ADAPTER1"
    bench.send(PRESS_1)
    assert values(bench.facts(1)) == ["91.4"]


def test_garbage_on_the_line(bench: Bench) -> None:
    bench.plug()
    bench.send(bytes(range(1, 10)) + b"\xff\xfe\r\n" + PRESS_1 + b"U" * 200 + b"\r\n" + PRESS_2)
    facts = bench.facts(7)
    assert values(facts) == ["91.4", "86.6"]
    noise = [fact.raw for fact in facts if isinstance(fact, Noise)]
    assert noise == [bytes(range(1, 10)) + b"\xff\xfe", b"U" * 64, b"U" * 64, b"U" * 64, b"U" * 8]


def test_glued_frames(bench: Bench) -> None:
    bench.plug()
    bench.send(PRESS_1 + PRESS_2 + PRESS_3)
    assert values(bench.facts(3)) == ["91.4", "86.6", "91.6"]


def test_split_frames(bench: Bench) -> None:
    bench.plug()
    for byte in PRESS_1:
        bench.send(bytes([byte]))
        bench.received(1)
    # The last of these batches had the reading in it.
    bench.send(PRESS_2[:-1])
    bench.received(len(PRESS_2) - 1)
    bench.send(PRESS_2[-1:])
    assert values(bench.facts(1)) == ["86.6"]


def test_an_echo_at_power_up(bench: Bench) -> None:
    bench.plug()
    bench.send(PRESS_2)
    assert values(bench.facts(1)) == ["86.6"]
    bench.send(b"B,SH-0417,1.4*5D\r\n" + PRESS_2)
    power_up, echo = bench.facts(2)
    assert isinstance(power_up, Notice)
    assert (power_up.kind, power_up.text) == (NoticeKind.POWER_UP, "SH-0417")
    assert isinstance(echo, Reading)
    assert echo.flags == {Flag.ECHO}


def test_a_meter_that_repeats_itself(bench: Bench) -> None:
    bench.plug()
    bench.send(PRESS_1 + PRESS_1)
    first, second = bench.facts(2)
    assert isinstance(first, Reading)
    assert isinstance(second, Reading)
    assert (first.flags, second.flags) == (set(), {Flag.REPEAT})


def test_a_line_that_stops_in_mid_frame(bench: Bench) -> None:
    bench.plug()
    bench.send(PRESS_1[:9])
    bench.received(9)
    bench.clock.advance(1)
    bench.session.wake()
    (noise,) = bench.facts(1)
    assert isinstance(noise, Noise)
    bench.send(PRESS_2)
    assert values(bench.facts(1)) == ["86.6"]


@contextmanager
def on_a_serial_server() -> Iterator[tuple[socket.socket, Session, queue.Queue[Batch]]]:
    """A session that reads from a serial server of its own; it ends with the block, and whole."""
    batches: queue.Queue[Batch] = queue.Queue()
    crashes: list[tuple[str, BaseException]] = []
    with socket.create_server(("127.0.0.1", 0)) as server:
        url = f"socket://127.0.0.1:{server.getsockname()[1]}"
        session = Session(
            "shore",
            lambda: Fittings(
                SerialOpener(LinkAddress(url=url), LinkNeeds(), list),
                lambda: FAMILY.driver(PROFILE, "p"),
            ),
            lambda batch, timeout_s: batches.put(batch) is None,
            ManualClock(),
        )
        with Scope(lambda name, error: crashes.append((name, error))) as scope:
            scope.start("session", session.run)
            try:
                yield server, session, batches
            finally:
                session.stop()
    assert crashes == []


def test_a_serial_server_that_goes_away_in_mid_frame_and_comes_back() -> None:
    with on_a_serial_server() as (server, session, batches):
        with server.accept()[0] as far:
            far.sendall(PRESS_1[:9])
            while not batches.get(timeout=PATIENCE_S).received:
                pass
        while not (last := batches.get(timeout=PATIENCE_S)).disconnected:
            pass
        session.wake()
        with server.accept()[0] as far:
            far.sendall(PRESS_1)
            while not (whole := batches.get(timeout=PATIENCE_S)).received:
                pass
    (noise,) = last.facts
    assert isinstance(noise, Noise)
    assert noise.raw == PRESS_1[:9]
    (echo,) = whole.facts
    assert isinstance(echo, Reading)


def test_a_serial_server_that_has_its_one_client_is_told_once_and_taken_when_it_is_free() -> None:
    with on_a_serial_server() as (server, session, batches):
        port = server.getsockname()[1]
        for _ in range(4):
            server.accept()[0].close()
            session.wake()
        with server.accept()[0] as far:
            far.sendall(PRESS_1)
            told = [batches.get(timeout=PATIENCE_S)]
            while not told[-1].received:
                told.append(batches.get(timeout=PATIENCE_S))
    (incident,) = [one for batch in told for one in batch.incidents]
    assert incident.kind is IncidentKind.LINK_UNAVAILABLE
    assert f"socket://127.0.0.1:{port} answers and hangs up at once" in incident.message
    assert "another program or computer" in incident.message
    assert "found by itself as soon as it is free" in incident.message
    assert [bool(batch.connected) for batch in told].count(True) == 1, "no row for those in vain"
    assert not any(batch.disconnected for batch in told)


def test_a_port_that_is_replaced_by_another_device_is_not_taken(
    bench: Bench, tmp_path: Path
) -> None:
    bench.plug()
    bench.unplug()
    bench.next(lambda b: b.disconnected)
    bench.ports = [Port(str(tmp_path), "SOMEBODY ELSE", 0x1A2B, 1)]
    bench.session.wake()
    incident = bench.next(
        lambda b: b.incidents and "SOMEBODY ELSE" in b.incidents[0].message
    ).incidents[0]
    assert incident.kind is IncidentKind.LINK_UNAVAILABLE
