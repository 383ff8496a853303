"""What a simulated gauge takes a pull for: friction, dwell, drift, display; and that it repeats."""

from __future__ import annotations

import math
from itertools import pairwise
from statistics import mean
from typing import Any

import pytest

from simulators.force.device import PeakGauge
from simulators.force.gauge import NEWTONS, Gauge, shown
from simulators.force.sled import STANDARD_GRAVITY, Sled, Tow, Zone
from simulators.force.stream import MOST_BEHIND, StreamGauge

EVEN = Zone("even", texture=0.0)
WEIGHT_N = 0.2 * STANDARD_GRAVITY


def forces(zone: Zone, dwell_s: float = 0.0, pulls: int = 1, **tow: Any) -> list[float]:
    """Of the last of so many pulls over one lane."""
    sled = Sled("seed")
    sled.place(zone)
    return [sled.pull(Tow(**tow), dwell_s) for _ in range(pulls)][-1]


def test_the_first_peak_is_static_friction_and_grows_with_the_logarithm_of_the_dwell() -> None:
    # Coulomb's law: weight times coefficient. Slowly, so that the line does not pull on much while
    # the sled breaks free.
    still = Zone("still", ageing=0.0, texture=0.0)
    peak = max(forces(still, pulls=2, speed_mm_per_s=0.5))
    assert peak == pytest.approx(WEIGHT_N * 0.40, rel=0.002)
    for dwell_s in (0.0, 9.0, 999.0):
        peak = max(forces(EVEN, dwell_s, pulls=2))
        loading_s = peak / 3.0
        held = 1 + 0.05 * math.log10(1 + dwell_s + loading_s)
        assert peak == pytest.approx(WEIGHT_N * 0.40 * held, rel=0.01)


def test_a_sled_slides_by_stick_and_slip_about_its_kinetic_friction() -> None:
    pull = forces(EVEN, pulls=2, slides_s=2.0)
    free = pull.index(max(pull[:400]))
    sliding = pull[free : free + 2000]
    # Over whole swings the line carries what friction takes; sticking lifts the mean above it.
    assert WEIGHT_N * 0.30 < mean(sliding) < WEIGHT_N * 0.40
    slips = sum(a > b and a > WEIGHT_N * 0.38 for a, b in pairwise(sliding))
    assert slips > 5
    assert pull[-1] < 0.01


def test_without_a_difference_of_frictions_nothing_sticks_and_slips() -> None:
    pull = forces(Zone("oil", 0.3, 0.3, ageing=0.0, first=1.0, texture=0.0), slides_s=2.0)
    sliding = pull[600:-300]
    assert max(sliding) - min(sliding) < 0.02 * WEIGHT_N


def test_the_first_pull_over_a_fresh_lane_is_higher_and_a_new_lane_is_fresh_again() -> None:
    sled = Sled("seed")
    peaks = []
    for _ in range(2):
        sled.place(EVEN)
        peaks += [max(sled.pull(Tow(), 0.0)) for _ in range(3)]
    assert peaks[0] == pytest.approx(peaks[1] * 1.06, rel=0.005)
    assert peaks[1:3] == [peaks[1]] * 2
    assert peaks[3:] == peaks[:3]


def test_a_sled_that_stands_nowhere_cannot_be_pulled() -> None:
    with pytest.raises(ValueError, match="stands nowhere"):
        Sled("seed").pull(Tow(), 1.0)


def test_the_same_seed_gives_the_same_pulls_and_another_one_others() -> None:
    rough = Zone("rough", texture=0.05)

    def peaks(seed: str) -> list[float]:
        sled = Sled(seed)
        sled.place(rough)
        return [max(sled.pull(Tow(), 1.0)) for _ in range(5)]

    assert peaks("1") == peaks("1") != peaks("2")
    assert len(set(peaks("1"))) == 5


# A weight of 200 g pulls with 200 gf by the definition of the unit; pound and ounce are exact.
@pytest.mark.parametrize(
    ("unit", "value"), [("gf", 200.0), ("kgf", 0.2), ("lbf", 0.440925), ("ozf", 7.05479)]
)
def test_a_weight_on_the_hook_reads_as_it_weighs_in_every_unit(unit: str, value: float) -> None:
    gauge = Gauge("PG-1", 1, noise_n=0)
    gauge.hangs_n = 200 * NEWTONS["gf"]
    assert gauge.press().newton / NEWTONS[unit] == pytest.approx(value, rel=1e-5)


def test_a_peak_is_held_until_the_press_and_begins_anew_after_it() -> None:
    gauge = Gauge("PG-1", 1, noise_n=0)
    gauge.watch([0.5, 2.0, 1.0])
    gauge.watch([1.5, -1.9])
    assert gauge.press().newton == 2.0
    assert gauge.press().newton == 0.0
    gauge.watch([1.0, -3.0])
    assert gauge.press().newton == -3.0


def test_a_peak_sits_on_top_of_the_noise() -> None:
    gauge = Gauge("PG-1", 1, noise_n=0.01)
    gauge.hangs_n = 1.0
    found = [gauge.press().newton for _ in range(50)]
    # The largest of a hundred looks lies 2.5 standard deviations up (tables of order statistics,
    # from memory: 2.51).
    assert mean(found) == pytest.approx(1.0 + 2.51 * 0.01, abs=0.002)


def test_a_zero_that_drifted_is_set_by_the_button_and_the_span_by_a_weight() -> None:
    gauge = Gauge("PG-1", 1, noise_n=0)
    gauge.drift.shift(1.02, 0.1)
    assert gauge.press().newton == pytest.approx(0.1)
    gauge.tare()
    assert gauge.press().newton == 0.0
    gauge.hangs_n = 500 * NEWTONS["gf"]
    assert gauge.press().newton / NEWTONS["gf"] == pytest.approx(510.0)
    gauge.adjust(500.0)
    assert gauge.press().newton / NEWTONS["gf"] == pytest.approx(500.0)
    with pytest.raises(ValueError, match=r"500\.0 g hang there"):
        gauge.adjust(19_000.0)


def test_a_drift_goes_on_with_every_press() -> None:
    gauge = Gauge("PG-1", 1, noise_n=0)
    gauge.drift.offset_per_press = 0.01
    assert [round(gauge.press().newton, 3) for _ in range(3)] == [0.0, 0.01, 0.02]


def test_a_display_never_shows_a_negative_zero() -> None:
    assert shown(-0.0004, "N", 3) == "+0.000"
    assert shown(-0.0006, "N", 3) == "-0.001"
    assert shown(-1.25, "N", 3, digits=2) == "-01.250"


def test_a_gauge_without_power_holds_nothing_and_counts_anew_after_it() -> None:
    device = PeakGauge(Gauge("PG-1", 1, noise_n=0))
    device.pull([1.0])
    device.press()
    device.pull([2.0])
    assert device.power(False) == b""
    device.pull([3.0])
    assert device.press() == (None, b"")
    assert device.receive(b"SN?\r") == b""
    assert device.tare() == b""
    assert device.power(True) == b"READY\r"
    assert device.press()[1] == b"P001    +0.000 N\r"


class Streamed:
    """A streaming gauge and its time."""

    def __init__(self, seed: int = 1, noise_n: float = 0.0) -> None:
        self.now_s = 50.0
        self.device = StreamGauge(Gauge("PG-2", seed, noise_n), seed, lambda: self.now_s)

    def run(self, seconds: float, every_s: float) -> bytes:
        lines = b""
        for _ in range(round(seconds / every_s)):
            self.now_s += every_s
            lines += self.device.tick()
        return lines


@pytest.mark.parametrize("every_s", [0.0004, 0.004, 0.75])
def test_a_stream_has_a_thousand_samples_a_second_however_often_it_is_looked_after(
    every_s: float,
) -> None:
    lines = Streamed(noise_n=0.01).run(3.0, every_s).split(b"\r\n")
    assert abs(len(lines) - 1 - 3000) <= 1
    assert lines[:2990] == Streamed(noise_n=0.01).run(3.0, 0.01).split(b"\r\n")[:2990]


def test_a_pull_is_in_the_stream_sample_by_sample() -> None:
    streamed = Streamed()
    streamed.run(0.5, 0.1)
    pull = forces(EVEN)
    streamed.device.pull(pull)
    lines = streamed.run(3.0, 0.01).split(b"\r\n")
    values = [float(line.split()[0]) for line in lines if line]
    at = values.index(max(values))
    assert max(values) == pytest.approx(max(pull), abs=0.0006)
    assert at == pull.index(max(pull))
    assert values[-1] == 0.0


def test_a_weight_swings_in_and_stays_and_numbers_stand_still_at_their_ends() -> None:
    streamed = Streamed()
    streamed.device.hang(500)
    assert streamed.run(2.0, 0.1).split(b"\r\n")[-2] == b"+04.903 N"
    streamed.device.gauge.unit = "gf"
    assert streamed.run(0.01, 0.005).startswith(b"+99.999 gf\r\n")


def test_a_stream_that_was_stopped_for_long_goes_on_where_it_is() -> None:
    streamed = Streamed(noise_n=0.001)
    streamed.now_s += 3600
    assert streamed.device.tick().count(b"\n") == MOST_BEHIND
    streamed.now_s += 0.0101
    assert streamed.device.tick().count(b"\n") == 10
    assert streamed.device.wait_s() is not None
    streamed.device.power(False)
    assert streamed.device.tick() == b""
    assert streamed.device.wait_s() is None
