"""The usbtmc driver with the simulated head on a simulated bus, through pyusb and our own link.

The head was written from the page alone, so a page that was misread shows here. What befalls the
packets on their way is drawn by seed: whatever it is, the driver tells it, goes on, and gives no
reading that the head did not make.
"""

from __future__ import annotations

import struct
from typing import Any

import pytest

from acquire.driverapi.capture import worded
from acquire.errors import LinkLost
from acquire.link.tape import Tape, replay
from acquire.model import (
    Fact,
    Flag,
    Noise,
    Notice,
    NoticeKind,
    Reading,
    Spectrum,
)
from drivers.usbtmc import FAMILY
from simulators.usb.faults import KINDS, drawn
from simulators.usb.light import BLANK, OPEN, Grid
from simulators.usb.tmc import BULK_IN, BULK_OUT, INTERRUPT_IN
from simulators.usb.transmission import TransmissionHead, transmission_head
from tests.captures import profile
from tests.drivers.usb_bench import UsbBench


class Bench(UsbBench[TransmissionHead]):
    """A head on a bus, and the driver of a layout."""

    def __init__(self, layout: str = "usbtmc-head", draw: Any = None, **how: Any) -> None:
        super().__init__(
            lambda now_s, spoilt: transmission_head(
                "LG-0093", seed=7, now_s=now_s, spoilt=spoilt, **how
            ),
            draw,
        )
        self.connect(FAMILY, profile(layout), layout)

    @property
    def head(self) -> TransmissionHead:
        return self.device

    def press(self) -> list[Fact]:
        assert self.head.press()
        return self.run(1.0)


def readings(facts: list[Fact]) -> dict[str, Reading]:
    return {fact.channel: fact for fact in facts if isinstance(fact, Reading)}


def kinds(facts: list[Fact]) -> list[str]:
    return [f.kind.value if isinstance(f, Notice) else type(f).__name__ for f in facts]


@pytest.fixture
def bench() -> Bench:
    bench = Bench(grid=Grid(250.0, 1.25, 1024))
    bench.head.lay(BLANK)
    assert kinds(bench.run(0.5)) == ["identity"]
    return bench


def means(spectrum: Spectrum, low_nm: float, high_nm: float) -> float:
    """The plain mean by another way than the driver's: all points, one by one."""
    grid: Any = spectrum.wavelengths
    values = struct.unpack(f"<{len(spectrum.values) // 4}f", spectrum.values)
    inside = [
        value
        for place, value in enumerate(values)
        if low_nm <= grid.start_nm + place * grid.step_nm <= high_nm
    ]
    return sum(inside) / len(inside)


def test_a_press_becomes_a_spectrum_and_its_bands(bench: Bench) -> None:
    facts = bench.press()
    assert kinds(facts) == ["Spectrum", "Reading", "Reading", "Reading"]
    spectrum = facts[0]
    assert isinstance(spectrum, Spectrum)
    assert (len(spectrum.values), spectrum.press) == (4096, 1)
    for name, low_nm, high_nm in (("315-400", 315, 400), ("380-780", 380, 780), ("940", 930, 950)):
        band = readings(facts)[name]
        assert band.value is not None
        assert float(band.value) == pytest.approx(means(spectrum, low_nm, high_nm), abs=1e-9)
        assert (band.press, band.flags, band.unit) == (1, frozenset(), "percent")
    assert bench.stream[spectrum.start : spectrum.end] == spectrum.raw


def test_the_mean_of_a_band_is_the_one_that_the_head_itself_tells() -> None:
    spectral, banded = Bench(), Bench("usbtmc-bands")
    for bench in (spectral, banded):
        bench.head.lay(BLANK)
        bench.run(1.2)
        bench.head.press()
        bench.run(1.5)
    of_points, told = readings(spectral.facts), readings(banded.facts)
    for channel in ("315-400", "380-780"):
        of_one, other = of_points[channel].value, told[channel].value
        assert of_one is not None
        assert other is not None
        assert abs(of_one - other) <= 0.0051  # two decimals are told


@pytest.mark.parametrize("points", [256, 1000, 4096])
def test_heads_of_few_and_many_points_are_read(points: int) -> None:
    bench = Bench(grid=Grid(300.0, 1200.0 / points, points))
    bench.run(0.5)
    (spectrum,) = [f for f in bench.press() if isinstance(f, Spectrum)]
    assert len(spectrum.values) == 4 * points


def test_a_saturated_point_makes_its_band_over_range_and_no_other(bench: Bench) -> None:
    bench.head.lay(OPEN)
    bench.head.head.beam.lamp = 1.5
    facts = readings(bench.press())
    assert facts["380-780"].value is None
    assert facts["380-780"].flags == {Flag.OVER_RANGE}


def test_a_failed_press_is_told_and_not_missed(bench: Bench) -> None:
    bench.press()
    bench.head.upset(lamp_works=False)
    (told,) = bench.press()
    assert isinstance(told, Notice)
    assert (told.kind, told.text) == (NoticeKind.TROUBLE, '101,"Lamp;2"')
    bench.head.upset()
    facts = bench.press()
    assert kinds(facts) == ["Spectrum", "Reading", "Reading", "Reading"]


def test_a_failed_press_that_is_counted_by_a_poll_is_no_restart() -> None:
    bench = Bench("usbtmc-bands")
    bench.run(2.0)
    assert len(readings(bench.press())) == 3
    bench.head.upset(lamp_works=False)
    assert [f.text for f in bench.press() if isinstance(f, Notice)] == ['101,"Lamp;2"']
    bench.head.upset()
    facts = bench.press()
    assert kinds(facts) == ["Reading", "Reading", "Reading"]


def test_a_polled_head_tells_of_its_own_readjustment() -> None:
    bench = Bench("usbtmc-bands")
    bench.run(2.0)
    bench.head.adjust()
    assert kinds(bench.run(2.0)) == ["adjusted"]


def test_a_readjustment_by_the_heads_own_key_is_told_once(bench: Bench) -> None:
    bench.head.adjust()
    assert kinds(bench.run(5.0)) == ["adjusted"]
    bench.head.adjust()
    assert kinds(bench.run(5.0)) == ["adjusted"]


def test_a_reading_taken_by_command_is_one(bench: Bench) -> None:
    bench.link.write(bench.driver.take(bench.now()))
    facts = bench.run(3.0)
    assert kinds(facts) == ["Spectrum", "Reading", "Reading", "Reading"]


def test_a_command_that_brings_nothing_is_given_up_and_told_why(bench: Bench) -> None:
    bench.head.upset(covered=False)
    bench.link.write(bench.driver.take(bench.now()))
    facts = bench.run(6.0)
    assert [f.text for f in facts if isinstance(f, Notice)] == [
        r"no answer to 'READ?\n': no answer in time",
        '102,"Cover open;1"',
    ]
    bench.head.upset()
    assert "Spectrum" in kinds(bench.press())


def test_a_quiet_head_gives_no_facts(bench: Bench) -> None:
    assert bench.run(60.0) == []


@pytest.mark.parametrize("kind", ["stall", "drop", "short", "wrong_tag", "duplicate", "slow"])
@pytest.mark.parametrize("pipe", [BULK_IN, INTERRUPT_IN])
def test_after_a_packet_that_went_wrong_the_next_press_is_read(
    bench: Bench, pipe: int, kind: str
) -> None:
    spoilt = bench.spoilt
    assert spoilt is not None
    spoilt.add(pipe, kind)
    bench.head.press()
    bench.run(20.0)
    assert spoilt.suffered == [(pipe, kind)]
    facts = bench.press()
    assert kinds(facts)[-4:] == ["Spectrum", "Reading", "Reading", "Reading"]
    assert readings(facts)["380-780"].press == 2
    assert NoticeKind.POWER_UP not in [f.kind for f in bench.facts if isinstance(f, Notice)]


def test_a_refused_message_is_told_and_the_device_set_up_anew(bench: Bench) -> None:
    assert bench.spoilt is not None
    bench.spoilt.add(BULK_OUT, "stall")
    bench.head.press()
    facts = bench.run(10.0)
    assert any(isinstance(f, Noise) and "did not go out" in f.reason for f in facts)
    assert kinds(facts)[-4:] == ["Spectrum", "Reading", "Reading", "Reading"]


@pytest.mark.parametrize("seed", range(12))
def test_whatever_befalls_the_packets_no_spectrum_is_invented(seed: int) -> None:
    clean = Bench()
    clean.head.lay(BLANK)
    clean.run(0.5)
    good: dict[int | None, bytes] = {}
    for _ in range(40):
        good |= {f.press: f.values for f in clean.press() if isinstance(f, Spectrum)}
    # Bytes changed, or packets doubled where others are missing, do not happen on a bus: packets
    # bear a CRC and a sequence bit (USB 2.0, 8.3.5 and 8.6, from memory).
    draw = drawn(seed, 0.02, ("stall", "drop", "short", "slow"))
    bench = Bench(draw=draw)
    bench.head.lay(BLANK)
    bench.run(5.0)
    for _ in range(8):
        bench.head.press()
        bench.run(8.0)
    spectra = [f for f in bench.facts if isinstance(f, Spectrum)]
    assert all(good.get(f.press) == f.values for f in spectra)
    for fact in bench.facts:
        assert bench.stream[fact.start : fact.end] == fact.raw


@pytest.mark.parametrize("layout", ["usbtmc-head", "usbtmc-bands"])
@pytest.mark.parametrize("seed", range(6))
def test_a_tape_gives_the_same_facts_as_the_day_it_was_made(layout: str, seed: int) -> None:
    bench = Bench(layout, draw=drawn(seed, 0.02, [kind for kind in KINDS if kind != "unplug"]))
    bench.head.lay(BLANK)
    bench.run(2.0)
    for number in range(6):
        if number == 3:
            bench.head.adjust()
        if number == 4 and (sent := bench.driver.take(bench.now())):
            bench.link.write(sent)
        bench.head.press()
        bench.run(3.0)
    at = bench.passed[-1].at
    lost = bench.driver.lost(at)
    assert any(isinstance(fact, Reading) for fact in bench.facts)
    tape = Tape(bench.opened, "usb", tuple(bench.passed))
    fresh = FAMILY.driver(profile(layout), layout)
    assert [worded(f) for f in replay(fresh, tape)] == [worded(f) for f in [*bench.facts, *lost]]


def test_a_head_that_is_unplugged_in_mid_answer_leaves_noise_and_no_reading(bench: Bench) -> None:
    spoilt = bench.spoilt
    assert spoilt is not None
    spoilt.unplug = bench.head.unplug
    spoilt.add(BULK_IN, *(["clean"] * 3), "unplug")
    bench.head.press()
    with pytest.raises(LinkLost):
        bench.run(3.0)
    at = bench.now()
    facts = bench.guard.facts(bench.driver.lost(at), b"", at)
    assert not any(isinstance(f, Reading | Spectrum) for f in [*bench.facts, *facts])
