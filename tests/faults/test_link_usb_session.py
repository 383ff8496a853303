"""A whole session on a USB device: pressed, unplugged, plugged in again, taped and played again.

The driver here is a small one of this test, but where what a person is told is tried: it speaks
just enough of the class, so that what is tried is the link beneath and the session above.
"""

from __future__ import annotations

import queue
import struct
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.clock import SystemClock
from acquire.driverapi import Driver, Due, UsbNeeds
from acquire.link.base import Opener
from acquire.link.tape import Passed, Tape, TapeOpener, replay
from acquire.link.tape_file import read_tape, write_tape
from acquire.link.usblink import UsbOpener
from acquire.model import (
    Batch,
    Fact,
    IncidentKind,
    Instant,
    LinkAddress,
    Notice,
    NoticeKind,
    Quantity,
    Reading,
)
from acquire.pipeline.session import Fittings, Session
from acquire.supervise import Scope
from acquire.wire.transfer import (
    Description,
    Pipe,
    Status,
    Transfer,
    TransferReader,
    bulk_in,
    record,
)
from drivers.hid import FAMILY
from simulators.usb.backend import SimulatedBackend
from simulators.usb.faults import Spoilt
from simulators.usb.load import Weight
from simulators.usb.scales import weighing_gauge
from simulators.usb.tmc import BULK_IN
from simulators.usb.transmission import TransmissionHead, transmission_head
from tests.captures import profile
from tests.patience import PATIENCE_S

HEAD = UsbNeeds(0xFE, 3, 1, timeout_s=1.0)
GAUGE = UsbNeeds(3, 0)


class Small:
    """What both drivers below share: records in, facts out, and bytes that wait to be sent."""

    def __init__(self) -> None:
        self._reader = TransferReader()
        self._waiting = b""

    def opening(self, at: Instant) -> bytes:
        return b""

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        return [fact for one in self._reader.feed(data) for fact in self._facts(one, at)]

    def due(self, now: Instant) -> Due:
        send, self._waiting = self._waiting, b""
        return Due(send, None)

    def take(self, at: Instant) -> bytes:
        return b""

    def lost(self, at: Instant) -> list[Fact]:
        return []

    def _facts(self, one: Transfer, at: Instant) -> list[Fact]:
        if one.pipe is Pipe.OPENED:
            number = Description.from_bytes(one.data).serial_number
            raw = record(one.pipe, one.data)
            return [Notice(NoticeKind.IDENTITY, at, raw, one.start, one.end, number)]
        return self._more(one, at)

    def _more(self, one: Transfer, at: Instant) -> list[Fact]:
        raise NotImplementedError

    def _reading(self, one: Transfer, at: Instant, kind: Quantity, text: str, unit: str) -> Reading:
        raw = record(one.pipe, one.data, one.status)
        return Reading(kind, "", Decimal(text), unit, text, at, raw, one.start, one.end)


class Bands(Small):
    """Asks a transmission head for its visible band when it says that there is a spectrum."""

    def __init__(self) -> None:
        super().__init__()
        self._say(b"*SRE 1")

    def _say(self, text: bytes) -> None:
        head = struct.pack("<BBBBIB3x", 1, 1, 0xFE, 0, len(text), 1)
        self._waiting += record(Pipe.BULK_OUT, head + text + bytes(-len(text) % 4))

    def _more(self, one: Transfer, at: Instant) -> list[Fact]:
        if one.pipe is Pipe.INTERRUPT_IN and one.data[:1] == b"\x81":
            self._say(b"FETC:BAND?")
            self._waiting += record(Pipe.BULK_OUT, struct.pack("<BBBBI4x", 2, 2, 0xFD, 0, 256))
            self._waiting += bulk_in(512)
        elif one.pipe is Pipe.BULK_IN and one.status is Status.STALLED:
            self._waiting += record(Pipe.CLEAR, bytes((Pipe.BULK_IN,))) + bulk_in(512)
        elif one.pipe is Pipe.BULK_IN and one.status is Status.DONE:
            text = one.data[12:].decode().split(",")[2]
            return [self._reading(one, at, Quantity.TRANSMITTANCE, text, "percent")]
        return []


class Weights(Small):
    """Takes what a weighing device reports while it stands."""

    def _more(self, one: Transfer, at: Instant) -> list[Fact]:
        if one.pipe is not Pipe.INTERRUPT_IN or one.data[1:2] != b"\x04":
            return []
        exponent = struct.unpack_from("b", one.data, 3)[0]
        value = Decimal(int.from_bytes(one.data[4:], "little")).scaleb(exponent)
        return [self._reading(one, at, Quantity.FORCE, str(value), "gram_force")]


class Bench:
    """A running session and what it handed over."""

    def __init__(self, opener: Opener, make: Callable[[], Driver]) -> None:
        self.batches: queue.Queue[Batch] = queue.Queue()
        self.all: list[Batch] = []
        fittings = Fittings(opener, make)
        self.session = Session("gate", lambda: fittings, self._sink, SystemClock(), "small")

    def _sink(self, batch: Batch, timeout_s: float) -> bool:
        self.all.append(batch)
        self.batches.put(batch)
        return True

    def next(self, wanted: Callable[[Batch], object]) -> Batch:
        while True:
            batch = self.batches.get(timeout=PATIENCE_S)
            if wanted(batch):
                return batch

    def reading(self) -> Reading:
        batch = self.next(lambda b: any(isinstance(f, Reading) for f in b.facts))
        return next(f for f in batch.facts if isinstance(f, Reading))


Start = Callable[[Opener, Callable[[], Driver]], Bench]


@pytest.fixture
def running() -> Iterator[Start]:
    benches: list[Bench] = []
    crashes: list[tuple[str, BaseException]] = []
    with Scope(lambda name, error: crashes.append((name, error))) as scope:

        def start(opener: Opener, make: Callable[[], Driver]) -> Bench:
            bench = Bench(opener, make)
            benches.append(bench)
            scope.start(f"session-{len(benches)}", bench.session.run)
            return bench

        yield start
        for bench in benches:
            bench.session.stop()
    assert crashes == []


def at(serial_number: str) -> LinkAddress:
    return LinkAddress(identity={"vid": "ffff", "serial_number": serial_number})


def gate_on(backend: SimulatedBackend, **how: object) -> TransmissionHead:
    head = transmission_head("LG-0093", seed=7, **how)  # type: ignore[arg-type]
    backend.plug(head)
    return head


def test_a_press_of_the_button_becomes_a_reading(running: Start) -> None:
    backend = SimulatedBackend()
    head = gate_on(backend)
    bench = running(UsbOpener(at("LG-0093"), HEAD, backend), Bands)
    identity = bench.next(lambda b: b.facts)
    assert [f.text for f in identity.facts if isinstance(f, Notice)] == ["LG-0093"]
    assert identity.sent is not None
    head.press()
    reading = bench.reading()
    assert float(reading.value or 0) == pytest.approx(100.0, abs=0.1)
    received = b"".join(b.received.data for b in bench.all if b.received)
    assert received[reading.start : reading.end] == reading.raw
    bench.session.stop()
    assert bench.next(lambda b: b.disconnected)
    assert not head.claims


def test_an_unplugged_head_is_lost_and_found_again_by_its_number(running: Start) -> None:
    backend = SimulatedBackend()
    head = gate_on(backend)
    bench = running(UsbOpener(at("LG-0093"), HEAD, backend), Bands)
    bench.next(lambda b: b.sent)
    head.unplug()
    last = bench.next(lambda b: b.disconnected)
    assert [i.kind for i in last.incidents] == [IncidentKind.LINK_LOST]
    assert "is gone" in last.incidents[0].message
    backend.plug(transmission_head("LG-0094", seed=1))
    backend.plug(head)
    again = bench.next(lambda b: b.connected)
    assert again.connection == 2
    bench.next(lambda b: b.sent)
    head.press()
    assert bench.reading().unit == "percent"


def test_a_head_that_stalls_and_one_that_goes_in_mid_transfer(running: Start) -> None:
    backend = SimulatedBackend()
    made: list[Spoilt] = []

    def spoil(behaviour: object) -> Spoilt:
        made.append(Spoilt(behaviour, backend.waiting.now_s))  # type: ignore[arg-type]
        return made[0]

    head = gate_on(backend, spoilt=spoil)
    made[0].unplug = head.unplug
    bench = running(UsbOpener(at("LG-0093"), HEAD, backend), Bands)
    bench.next(lambda b: b.sent)
    with head.touched():
        made[0].add(BULK_IN, "stall")
    head.press()
    assert bench.reading().unit == "percent"
    with head.touched():
        made[0].add(BULK_IN, "unplug")
    head.press()
    last = bench.next(lambda b: b.disconnected)
    assert "is gone" in last.incidents[0].message
    facts = [f for b in bench.all for f in b.facts if isinstance(f, Reading)]
    assert len(facts) == 1, "half a transfer is no reading"


def test_a_device_in_use_is_told_once_and_opened_when_it_is_free(running: Start) -> None:
    backend = SimulatedBackend()
    head = gate_on(backend)
    other = UsbOpener(at("LG-0093"), HEAD, backend).open()
    bench = running(UsbOpener(at("LG-0093"), HEAD, backend), Bands)
    told = bench.next(lambda b: b.incidents)
    assert told.incidents[0].kind is IncidentKind.LINK_UNAVAILABLE
    assert "usb ffff:0488 is in use" in told.incidents[0].message
    other.close()
    bench.session.wake()
    bench.next(lambda b: b.connected)
    assert sum(len(b.incidents) for b in bench.all) == 1
    bench.next(lambda b: b.sent)
    head.press()
    assert bench.reading().unit == "percent"


def test_a_weighing_device_reports_by_itself(running: Start) -> None:
    backend = SimulatedBackend()
    gauge = weighing_gauge("SG-0031", seed=1, interval_s=0.01, noise_g=0.0)
    backend.plug(gauge)
    bench = running(UsbOpener(at("SG-0031"), GAUGE, backend), Weights)
    bench.next(lambda b: b.connected)
    gauge.put(Weight(250.0, before_g=250.0))
    while bench.reading().value != Decimal("250.0"):
        pass
    bench.session.stop()
    bench.next(lambda b: b.disconnected)
    assert gauge.kernel_drivers == {0}, "the system has its device back"


def test_of_a_weighing_device_that_was_unplugged_no_more_is_told_than_that(running: Start) -> None:
    backend = SimulatedBackend()
    gauge = weighing_gauge("SG-0031", seed=1, interval_s=0.01, noise_g=0.0)
    backend.plug(gauge)
    table = profile("hid-weighing")
    bench = running(UsbOpener(at("SG-0031"), GAUGE, backend), lambda: FAMILY.driver(table, "test"))
    bench.next(lambda b: b.sent)
    gauge.unplug()
    last = bench.next(lambda b: b.disconnected)
    assert [i.kind for i in last.incidents] == [IncidentKind.LINK_LOST]
    told = [f for b in bench.all for f in b.facts if isinstance(f, Notice)]
    assert [f.kind for f in told] == [NoticeKind.IDENTITY]


def taped(batches: list[Batch]) -> Tape:
    opened = next(b.connected.at for b in batches if b.connected)
    passed: list[Passed] = []
    for batch in batches:
        for name, chunk in (("sent", batch.sent), ("received", batch.received)):
            if chunk is not None:
                passed.append(Passed(name, chunk.offset, chunk.at, chunk.data))
    passed.sort(key=lambda p: (p.at.mono_ns, p.direction == "received", p.offset))
    return Tape(opened, "usb ffff:0488", tuple(passed))


def test_a_tape_of_a_usb_device_gives_the_same_facts_again(running: Start, tmp_path: Path) -> None:
    backend = SimulatedBackend()
    head = gate_on(backend)
    bench = running(UsbOpener(at("LG-0093"), HEAD, backend), Bands)
    bench.next(lambda b: b.sent)
    for _ in range(2):
        head.press()
        bench.reading()
    bench.session.stop()
    bench.next(lambda b: b.disconnected)
    facts = [fact for batch in bench.all for fact in batch.facts]
    assert sum(isinstance(fact, Reading) for fact in facts) == 2
    path = tmp_path / "gate.jsonl"
    write_tape(path, taped(bench.all))
    tape = read_tape(path)
    assert replay(Bands(), tape) == facts

    opener = TapeOpener(tape)
    batches: list[Batch] = []

    def sink(batch: Batch, timeout_s: float) -> bool:
        batches.append(batch)
        if batch.disconnected:
            session.stop()
        return True

    session = Session("gate", lambda: Fittings(opener, Bands), sink, opener.clock)
    session.run()
    assert [fact for batch in batches for fact in batch.facts] == facts
