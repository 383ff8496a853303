"""The hid driver with simulated devices on a simulated bus, through pyusb and our own link.

The devices were written from the standards alone, so a standard that was misread shows here.
"""

from __future__ import annotations

import queue
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest

from acquire.clock import SystemClock
from acquire.driverapi.capture import worded
from acquire.errors import LinkLost, LinkUnavailable
from acquire.link.tape import Tape, replay
from acquire.link.usblink import UsbOpener
from acquire.model import (
    Batch,
    Fact,
    Flag,
    Instant,
    LinkAddress,
    Noise,
    Notice,
    NoticeKind,
    Reading,
)
from acquire.pipeline.session import Fittings, Session
from acquire.supervise import Scope
from drivers.hid import FAMILY
from drivers.hid.keyboard import REFUSED
from simulators.usb.backend import SimulatedBackend
from simulators.usb.faults import drawn
from simulators.usb.hid import INTERRUPT_IN
from simulators.usb.load import Pull, Weight
from simulators.usb.scales import WeighingGauge, typing_device, weighing_gauge
from simulators.usb.waiting import HurriedWaiting
from simulators.usb.weighing import KILOGRAM, OUNCE, POUND, weighing_descriptor
from tests.captures import FOLDER, profile
from tests.drivers.usb_bench import EPOCH_NS, UsbBench
from tests.patience import PATIENCE_S


class Bench(UsbBench[WeighingGauge]):
    """A gauge on a bus, and the driver."""

    def __init__(self, draw: Any = None, changes: dict[str, Any] | None = None, **how: Any) -> None:
        super().__init__(
            lambda now_s, spoilt: weighing_gauge(
                "SG-0031", seed=3, now_s=now_s, spoilt=spoilt, **how
            ),
            draw,
        )
        self.plug_in(changes)

    @property
    def gauge(self) -> WeighingGauge:
        return self.device

    def plug_in(self, changes: dict[str, Any] | None = None) -> None:
        self.table = profile("hid-weighing")
        self.table["press"] |= changes or {}
        self.connect(FAMILY, self.table, "hid-weighing")

    def put(self, load: Weight | Pull, seconds: float = 4.0) -> list[Fact]:
        self.gauge.put(load)
        return self.run(seconds)

    def take(self) -> list[Fact]:
        self.link.write(self.driver.take(self.now()))
        return self.run(0.5)


def values(facts: list[Fact]) -> list[tuple[str, str]]:
    return [(fact.text, fact.unit) for fact in facts if isinstance(fact, Reading)]


@pytest.fixture
def bench() -> Bench:
    bench = Bench(noise_g=0.0)
    (told,) = bench.run(4.0)
    assert isinstance(told, Notice)
    assert (told.kind, told.text) == (NoticeKind.IDENTITY, "SG-0031")
    return bench


def test_the_simulated_gauge_and_the_captures_have_the_same_descriptor() -> None:
    received = (FOLDER / "hid-weighing" / "start.received").read_bytes()
    assert weighing_descriptor(2) in received


def test_the_simulated_gauge_sends_what_the_captures_have(bench: Bench) -> None:
    bench.put(Weight(500.0))
    assert bytes.fromhex("03 00 00 00 00 06 03 02 02 ff 00 00") in bench.stream
    assert bytes.fromhex("03 00 00 00 00 06 03 04 02 ff 88 13") in bench.stream
    bench.put(Weight(2500.0))
    assert bytes.fromhex("03 00 00 00 00 06 03 06 02 ff 00 00") in bench.stream


def test_each_weight_that_is_put_on_is_one_press(bench: Bench) -> None:
    for grams in (500.0, 200.0, 1000.0):
        (reading,) = [f for f in bench.put(Weight(grams)) if isinstance(f, Reading)]
        assert reading.unit == "gram_force"
        assert reading.value is not None
        assert abs(reading.value - Decimal(grams)) <= Decimal("0.5")
        assert bench.stream[reading.start : reading.end] == reading.raw
        assert bench.put(Weight(0.0)) == []


def test_a_gauge_that_rests_gives_no_facts(bench: Bench) -> None:
    assert bench.run(60.0) == []
    bench.put(Weight(500.0))
    assert bench.run(60.0) == []


@pytest.mark.parametrize(
    ("unit", "exponent", "unit_name", "in_grams"),
    [
        (KILOGRAM, -3, "kilogram_force", Decimal(1000)),
        (OUNCE, -2, "ounce_force", Decimal("28.349523125")),
        (POUND, -3, "pound_force", Decimal("453.59237")),
    ],
)
def test_other_units_are_the_forces_of_the_same_load(
    unit: int, exponent: int, unit_name: str, in_grams: Decimal
) -> None:
    bench = Bench(unit=unit, exponent=exponent, noise_g=0.0)
    bench.run(4.0)
    bench.put(Weight(500.0))
    (reading,) = [f for f in bench.facts if isinstance(f, Reading)]
    assert reading.unit == unit_name
    assert reading.value is not None
    assert abs(reading.value * in_grams - 500) <= Decimal("0.8")


def test_a_gauge_of_four_bytes_is_read_by_what_it_says_of_itself() -> None:
    bench = Bench(weight_bytes=4, exponent=-2, noise_g=0.0)
    bench.run(4.0)
    bench.put(Weight(1500.0))
    ((text, unit),) = values(bench.facts)
    assert (unit, abs(Decimal(text) - 1500) < 1) == ("gram_force", True)


def test_too_much_is_over_range_and_no_number(bench: Bench) -> None:
    (reading,) = [f for f in bench.put(Weight(2500.0)) if isinstance(f, Reading)]
    assert (reading.value, reading.flags) == (None, frozenset({Flag.OVER_RANGE}))


def test_with_after_motion_the_next_weight_needs_no_zero() -> None:
    bench = Bench(noise_g=0.0, changes={"after": "motion"})
    bench.run(4.0)
    bench.put(Weight(500.0))
    bench.put(Weight(700.0))
    assert [round(Decimal(text)) for text, _ in values(bench.facts)] == [500, 700]


def test_zero_is_taken_by_command(bench: Bench) -> None:
    assert values(bench.take()) == [("0.0", "gram_force")]


def test_faults_are_told_once_and_give_no_reading(bench: Bench) -> None:
    bench.gauge.gauge.broken = True
    facts = bench.put(Weight(500.0))
    assert [f.text for f in facts if isinstance(f, Notice)] == ["it reports a fault"]
    assert values(facts) == []


@pytest.mark.parametrize("kind", ["stall", "drop", "short", "duplicate", "slow"])
def test_after_a_packet_that_went_wrong_the_next_press_is_read(bench: Bench, kind: str) -> None:
    assert bench.spoilt is not None
    bench.spoilt.add(INTERRUPT_IN, kind)
    bench.run(3.0)
    assert bench.spoilt.suffered == [(INTERRUPT_IN, kind)]
    assert len(values(bench.put(Weight(500.0)))) == 1


@pytest.mark.parametrize("seed", range(8))
def test_whatever_befalls_the_packets_no_value_is_invented_and_a_tape_tells_the_same(
    seed: int,
) -> None:
    bench = Bench(draw=drawn(seed, 0.05, ("stall", "drop", "short", "slow")), noise_g=0.0)
    bench.run(4.0)
    for grams in (500.0, 0.0, 200.0, 0.0, 800.0, 0.0):
        bench.put(Weight(grams))
    for text, _ in values(bench.facts):
        assert min(abs(Decimal(text) - grams) for grams in (200, 500, 800)) <= 1
    for fact in bench.facts:
        assert isinstance(fact, Reading | Noise | Notice)
        assert bench.stream[fact.start : fact.end] == fact.raw
    at = bench.passed[-1].at
    facts = [*bench.facts, *bench.driver.lost(at)]
    fresh = FAMILY.driver(bench.table, "hid-weighing")
    tape = Tape(bench.opened, "usb", tuple(bench.passed))
    assert [worded(f) for f in replay(fresh, tape)] == [worded(f) for f in facts]


def test_an_unplugged_gauge_is_lost_and_after_replugging_a_load_is_no_press(bench: Bench) -> None:
    bench.put(Weight(500.0))
    bench.gauge.unplug()
    with pytest.raises(LinkLost):
        bench.run(3.0)
    bench.link.close()
    bench.backend.plug(bench.gauge)
    bench.plug_in()
    # The simulated gauge climbs from zero when it is switched on, as if the load were put on then.
    (reading,) = [f for f in bench.run(8.0) if isinstance(f, Reading)]
    assert reading.flags == {Flag.ECHO}


# -- devices that type ---------------------------------------------------------------------------


def typing(boot: bool) -> tuple[SimulatedBackend, HurriedWaiting, Any]:
    waiting = HurriedWaiting()
    backend = SimulatedBackend(waiting)
    device = typing_device("KB-1", boot=boot)
    backend.plug(device)
    return backend, waiting, device


def test_a_device_that_types_is_refused_with_one_message() -> None:
    backend, _, device = typing(boot=False)
    table = profile("hid-weighing")
    address = LinkAddress(identity={"serial_number": "KB-1"})
    link = UsbOpener(address, FAMILY.needs(table, "t"), backend).open()
    driver, facts, now = FAMILY.driver(table, "t"), [], Instant(EPOCH_NS, 0)
    driver.opening(now)
    for number in range(20):
        if number == 5:
            device.type("91.4\n")
        if send := driver.due(now).send:
            link.write(send)
        facts += driver.feed(link.read(0.1), now)
    assert [f.text for f in facts if isinstance(f, Notice)] == ["KB-1", REFUSED]
    assert len(facts) == 2
    link.close()


def test_a_boot_keyboard_is_not_even_opened_and_the_message_says_why() -> None:
    backend, _, _ = typing(boot=True)
    address = LinkAddress(identity={"serial_number": "KB-1"})
    with pytest.raises(LinkUnavailable) as caught:
        UsbOpener(address, FAMILY.needs(profile("hid-weighing"), "t"), backend).open()
    assert "keyboard" in str(caught.value)
    assert "switch its USB output from keyboard to data" in caught.value.next_step


# -- a whole session -----------------------------------------------------------------------------


class Running:
    """A session on the bus, and what it handed over."""

    def __init__(self, backend: SimulatedBackend) -> None:
        self.batches: queue.Queue[Batch] = queue.Queue()
        table = profile("hid-weighing")
        table["press"].pop("echo_window_s")
        address = LinkAddress(identity={"serial_number": "SG-0031"})
        opener = UsbOpener(address, FAMILY.needs(table, "t"), backend)
        fittings = Fittings(opener, lambda: FAMILY.driver(table, "t"))
        self.session = Session("pull", lambda: fittings, self._sink, SystemClock(), "hid")

    def _sink(self, batch: Batch, timeout_s: float) -> bool:
        self.batches.put(batch)
        return True

    def see_zero(self) -> None:
        """Wait until the empty hook was seen: so many reports come in a moment."""
        while not any(isinstance(f, Notice) for f in self.batches.get(timeout=PATIENCE_S).facts):
            pass
        for _ in range(5):
            self.batches.get(timeout=PATIENCE_S)

    def reading(self) -> Reading:
        while True:
            batch = self.batches.get(timeout=PATIENCE_S)
            for fact in batch.facts:
                if isinstance(fact, Reading):
                    return fact


@pytest.fixture
def hanging() -> Iterator[tuple[Running, WeighingGauge]]:
    backend = SimulatedBackend()
    gauge = weighing_gauge("SG-0031", seed=1, now_s=backend.waiting.now_s, noise_g=0.0)
    backend.plug(gauge)
    running = Running(backend)
    crashes: list[tuple[str, BaseException]] = []
    with Scope(lambda name, error: crashes.append((name, error))) as scope:
        scope.start("session-pull", running.session.run)
        yield running, gauge
        running.session.stop()
    assert crashes == []


def test_a_session_reads_what_is_hung_to_the_gauge(
    hanging: tuple[Running, WeighingGauge],
) -> None:
    running, gauge = hanging
    running.see_zero()
    gauge.put(Weight(500.0))
    reading = running.reading()
    assert (reading.unit, reading.flags) == ("gram_force", frozenset())
    assert reading.value is not None
    assert abs(reading.value - 500) <= 1


def test_a_session_can_be_asked_for_a_reading_of_what_hangs_on_the_gauge(
    hanging: tuple[Running, WeighingGauge],
) -> None:
    running, gauge = hanging
    running.see_zero()
    gauge.put(Weight(500.0))
    assert running.reading().text == "500.0"
    assert running.session.take() is True
    assert running.reading().text == "500.0"
