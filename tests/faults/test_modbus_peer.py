"""The modbus driver against a server of other hands: pymodbus's, over a pseudo-terminal and TCP.

A real session, the real opener, the real driver at one end; at the other pymodbus's own server,
which shares no line with our codec. What it serves is read afresh from the test at each request.
"""

from __future__ import annotations

import asyncio
import os
import queue
import selectors
import socket
import struct
import sys
import threading
import tty
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from copy import deepcopy
from dataclasses import dataclass, field
from typing import Any

import pytest
from pymodbus.constants import ExcCodes
from pymodbus.pdu.device import ModbusDeviceIdentification
from pymodbus.server import ModbusSerialServer, ModbusTcpServer
from pymodbus.simulator import DataType, SimData, SimDevice

from acquire.clock import SystemClock
from acquire.driverapi import LinkNeeds
from acquire.link import SerialOpener
from acquire.link.tape import Passed, Tape, replay
from acquire.model import Batch, Fact, Flag, LinkAddress, Noise, Notice, NoticeKind, Reading
from acquire.pipeline.session import Fittings, Session
from acquire.supervise import Scope
from drivers.modbus import FAMILY
from tests.captures import profile
from tests.patience import PATIENCE_S

if sys.platform == "win32":
    pytest.skip("needs pseudo-terminals", allow_module_level=True)

NOT_MEASURED = 0x8000


@dataclass
class Registers:
    """What a pymodbus server serves: registers from address 0 on, bits sixteen a number."""

    coil: list[int] = field(default_factory=lambda: [0])
    discrete: list[int] = field(default_factory=lambda: [0])
    holding: list[int] = field(default_factory=lambda: [0] * 16)
    input: list[int] = field(default_factory=lambda: [0] * 24)
    refuse: ExcCodes | None = None
    written: queue.Queue[tuple[int, Any]] = field(default_factory=queue.Queue)

    def device(self, unit: int) -> SimDevice:
        bits = [SimData(0, values=[False] * 16, datatype=DataType.BITS) for _ in range(2)]
        registers = [
            SimData(0, values=list(table), datatype=DataType.REGISTERS)
            for table in (self.holding, self.input)
        ]
        blocks = tuple([one] for one in (*bits, *registers))
        return SimDevice(unit, simdata=blocks, action=self._act)  # type: ignore[arg-type]

    async def _act(
        self, function: int, start: int, address: int, count: int, current: Any, values: Any
    ) -> ExcCodes | None:
        if self.refuse is not None and function not in (5, 6):
            return self.refuse
        table = {
            1: self.coil, 2: self.discrete, 3: self.holding, 4: self.input,
            5: self.coil, 6: self.holding,
        }[function]  # fmt: skip
        if values is not None:
            self.written.put((function, list(values)))
            table[address : address + count] = values
            return None
        current[: len(table)] = table
        return None


@contextmanager
def served(make: Callable[[], Any]) -> Iterator[Any]:
    """A pymodbus server on a thread and event loop of its own."""
    ready: queue.Queue[Any] = queue.Queue()

    async def serve() -> None:
        server = make()
        await server.serve_forever(background=True)
        over = asyncio.Event()
        ready.put((asyncio.get_running_loop(), server, over))
        await over.wait()
        await server.shutdown()

    thread = threading.Thread(target=lambda: asyncio.run(serve()), name="peer")
    thread.start()
    try:
        loop, server, over = ready.get(timeout=PATIENCE_S)
        try:
            yield server
        finally:
            loop.call_soon_threadsafe(over.set)
    finally:
        thread.join(PATIENCE_S)


class Cable:
    """Two pseudo-terminals and a thread that carries bytes between them, and may do mischief."""

    def __init__(self) -> None:
        pairs = [os.openpty(), os.openpty()]
        for fd in (fd for pair in pairs for fd in pair):
            tty.setraw(fd)
        (self._host, self._host_end), (self._device, self._device_end) = pairs
        self.host_port = os.ttyname(self._host_end)
        self.device_port = os.ttyname(self._device_end)
        self._ear, self._bell = os.pipe()
        self.echoes = False
        self.before_answer = b""
        self.is_cut = False
        self._thread = threading.Thread(target=self._carry, name="cable")
        self._thread.start()

    def _carry(self) -> None:
        with selectors.DefaultSelector() as selector:
            for fd in (self._ear, self._host, self._device):
                selector.register(fd, selectors.EVENT_READ)
            while True:
                for key, _ in selector.select():
                    if key.fd == self._ear:
                        return
                    data = os.read(key.fd, 4096)
                    if self.is_cut:
                        continue
                    if key.fd == self._host:
                        if self.echoes:
                            os.write(self._host, data)
                        os.write(self._device, data)
                    else:
                        os.write(self._host, self.before_answer + data)

    def close(self) -> None:
        os.write(self._bell, b"!")
        self._thread.join(PATIENCE_S)
        for fd in (self._ear, self._bell, self._host, self._host_end):
            os.close(fd)
        for fd in (self._device, self._device_end):
            os.close(fd)


class Bench:
    """A session on a link, and what it handed over: facts, and the tape of all bytes."""

    def __init__(self, address: LinkAddress, needs: LinkNeeds, table: dict[str, Any]) -> None:
        self.table = table
        self.batches: queue.Queue[Batch] = queue.Queue()
        self.opened: Batch | None = None
        self.passed: list[Passed] = []
        self.facts: list[Fact] = []
        self._place = 0
        self.session = Session(
            "meter",
            lambda: Fittings(SerialOpener(address, needs, list), lambda: FAMILY.driver(table, "p")),
            lambda batch, timeout_s: self.batches.put(batch) is None,
            SystemClock(),
        )

    def next(self, wanted: Callable[[Fact], bool]) -> Fact:
        """The next fact that is wanted; the ones before it are passed over."""
        while True:
            while self._place < len(self.facts):
                fact = self.facts[self._place]
                self._place += 1
                if wanted(fact):
                    return fact
            self._batch()

    def polls(self, count: int) -> None:
        """Wait for so many answers."""
        while count:
            count -= self._batch().received is not None

    def _batch(self) -> Batch:
        batch = self.batches.get(timeout=PATIENCE_S)
        if batch.connected:
            self.opened = batch
        for direction, chunk in (("sent", batch.sent), ("received", batch.received)):
            if chunk is not None:
                self.passed.append(Passed(direction, chunk.offset, chunk.at, chunk.data))
        self.facts += batch.facts
        return batch

    def reading(self, press: int | None = None) -> Reading:
        fact = self.next(lambda fact: isinstance(fact, Reading) and press in (None, fact.press))
        assert isinstance(fact, Reading)
        return fact

    def notice(self, kind: NoticeKind) -> Notice:
        fact = self.next(lambda fact: isinstance(fact, Notice) and fact.kind is kind)
        assert isinstance(fact, Notice)
        return fact

    def drain(self) -> None:
        while not self._batch().disconnected:
            pass

    def replayed(self) -> list[Fact]:
        """What a fresh driver makes of the tape of this bench."""
        assert self.opened is not None
        assert self.opened.connected is not None
        passed = sorted(
            self.passed, key=lambda p: (p.at.mono_ns, p.direction == "received", p.offset)
        )
        tape = Tape(self.opened.connected.at, "tape", tuple(passed))
        return replay(FAMILY.driver(self.table, "p"), tape)


@contextmanager
def bench_on(address: LinkAddress, table: dict[str, Any]) -> Iterator[Bench]:
    crashes: list[tuple[str, BaseException]] = []
    bench = Bench(address, FAMILY.needs(table, "p"), table)
    with Scope(lambda name, error: crashes.append((name, error))) as scope:
        scope.start("session", bench.session.run)
        try:
            yield bench
        finally:
            bench.session.stop()
    assert crashes == []


def gloss_table(within_s: float = 5) -> dict[str, Any]:
    """The gloss meter's profile, patient with a busy machine; pseudo-terminals know no parity."""
    table = deepcopy(profile("modbus-gloss"))
    table["line"] |= {"parity": "none", "stop_bits": 1}
    table["poll"]["every_s"] = 0.02
    table["answer"]["within_s"] = within_s
    table["identity"]["at"]["address"] = 0
    return table


def gloss_registers() -> Registers:
    found = Registers()
    serial = b"SH-0417".ljust(16, b"\0")
    found.holding[:8] = struct.unpack(">8H", serial)
    found.input[:6] = [0, 0, NOT_MEASURED, NOT_MEASURED, NOT_MEASURED, 0]
    return found


@dataclass
class RtuMeter:
    """A gloss meter behind a cable, with a bench at the other end."""

    registers: Registers
    cable: Cable
    bench: Bench


@contextmanager
def rtu_meter(within_s: float = 5, *, echoes: bool = False) -> Iterator[RtuMeter]:
    registers, cable = gloss_registers(), Cable()
    cable.echoes = echoes
    try:
        with ExitStack() as stack:
            stack.enter_context(
                served(
                    lambda: ModbusSerialServer(
                        registers.device(17), port=cable.device_port, baudrate=19200
                    )
                )
            )
            bench = stack.enter_context(
                bench_on(LinkAddress(port=cable.host_port), gloss_table(within_s))
            )
            yield RtuMeter(registers, cable, bench)
    finally:
        cable.close()


@pytest.mark.parametrize("echoes", [False, True], ids=["plain", "two-wire echo"])
def test_a_meter_on_a_serial_line_is_named_read_and_replayed(echoes: bool) -> None:
    with rtu_meter(echoes=echoes) as meter:
        bench = meter.bench
        assert bench.notice(NoticeKind.IDENTITY).text == "SH-0417"
        bench.polls(2)
        meter.registers.input[:6] = [1, 0, 914, 958, NOT_MEASURED, 0]
        bench.reading(1)
        bench.polls(3)
        meter.registers.input[:6] = [2, 0, 0x7FFF, NOT_MEASURED, 0xFFFE, 0]
        bench.reading(2)
    bench.drain()
    found = [(f.press, f.channel, f.text, f.flags) for f in bench.facts if isinstance(f, Reading)]
    assert found == [
        (1, "20", "914", set()),
        (1, "60", "958", set()),
        (2, "20", "0x7FFF", {Flag.OVER_RANGE}),
        (2, "85", "-2", set()),
    ]
    assert not [fact for fact in bench.facts if isinstance(fact, Noise)]
    assert bench.replayed() == bench.facts


def test_noise_before_each_answer_is_told_and_the_answers_are_read() -> None:
    with rtu_meter() as meter:
        bench = meter.bench
        bench.polls(2)
        meter.cable.before_answer = b"\x11\x04\x0c\x00"
        meter.registers.input[:3] = [1, 0, 914]
        reading = bench.reading()
    bench.drain()
    assert str(reading.value) == "91.4"
    assert b"\x11\x04\x0c\x00" in {fact.raw for fact in bench.facts if isinstance(fact, Noise)}
    assert bench.replayed() == bench.facts


def test_a_meter_whose_cable_is_cut_is_silent_and_an_echo_when_it_is_back() -> None:
    with rtu_meter(within_s=0.2) as meter:
        bench = meter.bench
        bench.polls(2)
        meter.registers.input[:3] = [1, 0, 914]
        bench.reading()
        meter.cable.is_cut = True
        assert bench.notice(NoticeKind.TROUBLE).text == "no answer to 3 commands in a row"
        meter.cable.is_cut = False
        bench.notice(NoticeKind.POWER_UP)
        assert bench.reading().flags == {Flag.ECHO}
    bench.drain()
    assert bench.replayed() == bench.facts


def test_a_refusal_is_told_in_words() -> None:
    with rtu_meter() as meter:
        bench = meter.bench
        bench.polls(2)
        meter.registers.refuse = ExcCodes.ILLEGAL_ADDRESS
        assert "illegal data address" in bench.notice(NoticeKind.TROUBLE).text


@contextmanager
def tcp_bench(registers: Registers, table: dict[str, Any], name: str) -> Iterator[Bench]:
    identity = ModbusDeviceIdentification()
    identity.VendorName = name
    unit = table["unit_address"]
    with served(
        lambda: ModbusTcpServer(registers.device(unit), identity=identity, address=("127.0.0.1", 0))
    ) as server:
        port = server.transport.sockets[0].getsockname()[1]
        with bench_on(LinkAddress(url=f"socket://127.0.0.1:{port}"), table) as bench:
            yield bench


def floated(value: float) -> list[int]:
    high, low = struct.unpack(">2H", struct.pack(">f", value))
    return [low, high]


def test_a_gauge_on_tcp_is_named_and_read_when_its_bit_comes_on() -> None:
    table = deepcopy(profile("modbus-force"))
    table["answer"] = {"within_s": 5, "gap_s": 2}
    table["poll"]["every_s"] = 0.02
    registers = Registers()
    with tcp_bench(registers, table, "FG-00921") as bench:
        assert bench.notice(NoticeKind.IDENTITY).text == "FG-00921"
        bench.polls(2)
        registers.input[16:20] = [*floated(4.315), 0, 0]
        registers.discrete[0] = 1
        first = bench.reading()
        registers.discrete[0] = 0
        bench.polls(4)
        registers.input[16:20] = [*floated(440.25), 1, 0]
        registers.discrete[0] = 1
        second = bench.reading()
    bench.drain()
    assert [(str(r.value), r.unit, r.flags) for r in (first, second)] == [
        ("4.315", "newton", set()),
        ("440.25", "gram_force", set()),
    ]
    assert bench.replayed() == bench.facts


def test_a_head_on_tcp_measures_when_it_is_told_to() -> None:
    table = deepcopy(profile("modbus-transmission"))
    table |= {"transport": "tcp", "answer": {"within_s": 5, "gap_s": 2}}
    del table["line"]
    table["identity"]["object"] = 0
    table["take"] |= {"table": "holding", "address": 11, "value": 7, "settle_s": 0.05}
    registers = Registers()
    registers.holding[10] = 0x9142
    with tcp_bench(registers, table, "TH-3310") as bench:
        assert bench.notice(NoticeKind.IDENTITY).text == "TH-3310"
        assert bench.session.take()
        assert registers.written.get(timeout=PATIENCE_S) == (6, [7])
        reading = bench.reading()
    bench.drain()
    assert (str(reading.value), reading.unit, reading.channel) == ("91.42", "percent", "380-780")
    assert bench.replayed() == bench.facts


def test_a_server_that_goes_away_is_lost_in_mid_answer() -> None:
    table = deepcopy(profile("modbus-force"))
    with socket.create_server(("127.0.0.1", 0)) as server:
        url = f"socket://127.0.0.1:{server.getsockname()[1]}"
        with bench_on(LinkAddress(url=url), table) as bench:
            with server.accept()[0] as far:
                request = far.recv(100)
                assert request[2:] == bytes.fromhex("0000 0002 ff11")
                far.sendall(request[:2] + bytes.fromhex("0000 000d ff11 0a46"))
                bench.polls(1)
            noise = bench.next(lambda fact: isinstance(fact, Noise))
    assert noise.raw[2:] == bytes.fromhex("0000 000d ff11 0a46")
    assert isinstance(noise, Noise)
    assert noise.reason == "cut off when the link was lost"
