"""What a simulated meter sees: scatter, swirl, drift, adjustment; and that it can be repeated."""

from __future__ import annotations

from statistics import mean, stdev
from types import MappingProxyType
from typing import Any

import pytest

from simulators.gloss import TRAP, Meter, Press, Surface
from simulators.gloss.surface import Place


def surface(gloss: float, **options: Any) -> Surface:
    return Surface("zone", MappingProxyType({20: gloss, 60: gloss, 85: gloss}), **options)


def meter_on(place: Surface, *, seed: int = 1, serial: str = "SH-0417", **options: Any) -> Meter:
    meter = Meter(serial, seed, **options)
    meter.place(place)
    return meter


def value(press: Press) -> float:
    tenths = press.shown[0].tenths
    assert tenths is not None
    return tenths / 10


def values(meter: Meter, count: int, *, still: bool = False) -> list[float]:
    return [value(meter.press(still=still)) for _ in range(count)]


def test_the_same_seed_serial_and_acts_give_the_same_numbers() -> None:
    place = surface(80.0, texture_sd=0.5)
    first = values(meter_on(place), 20)
    assert values(meter_on(place), 20) == first
    assert values(meter_on(place, seed=2), 20) != first
    assert values(meter_on(place, serial="SH-0418"), 20) != first


def test_a_number_of_the_scatter_depends_on_the_press_and_not_on_what_was_asked_before() -> None:
    place = surface(80.0, texture_sd=0.5)
    plain, other = meter_on(place), meter_on(surface(20.0))
    values(plain, 3)
    values(other, 2)
    other.lift()
    other.press()
    other.place(place)
    assert value(plain.press()) == value(other.press())


def test_a_geometry_reads_the_same_whether_or_not_others_are_measured() -> None:
    place = surface(80.0, texture_sd=0.5)
    one, three = meter_on(place), meter_on(place, angles=(20, 60, 85))
    assert values(one, 10) == values(three, 10)


def test_presses_scatter_by_the_texture_and_on_one_spot_only_by_the_meter() -> None:
    place = surface(100.0, texture_sd=2.0)
    moved = values(meter_on(place), 400)
    still = values(meter_on(place), 400, still=True)
    # Four standard errors of a standard deviation of 400 values: 4 / sqrt(2 x 399) = 0.14.
    assert stdev(moved) == pytest.approx(2.0, rel=0.15)
    assert stdev(still) == pytest.approx(0.1, rel=0.3)
    assert mean(moved) == pytest.approx(100.0, abs=0.4)


def test_a_trap_reads_nothing_or_one_step_of_the_display() -> None:
    assert set(values(meter_on(TRAP), 500)) == {0.0, 0.1}


def test_a_surface_loses_its_swirl_when_the_meter_looks_across_the_marks() -> None:
    place = surface(80.0, swirl=6.0, swirl_deg=30.0)
    assert place.at(20, 30.0, Place()) == pytest.approx(80.0)
    assert place.at(20, 75.0, Place()) == pytest.approx(77.0)
    assert place.at(20, 120.0, Place()) == pytest.approx(74.0)
    assert place.at(20, 210.0, Place()) == pytest.approx(80.0)
    turned = Meter("SH-0417", 1, repeatability_sd=0)
    turned.place(place, 120.0)
    assert value(turned.press()) == 74.0


def test_no_surface_sends_back_less_than_nothing() -> None:
    assert surface(0.5, texture_sd=1.0, swirl=3.0).at(20, 90.0, Place(-2.0)) == 0.0


def test_a_press_above_the_range_shows_no_value() -> None:
    press = meter_on(surface(300.0)).press()
    assert press.shown[0].tenths is None
    assert press.shown[0].true == 300.0


def test_drift_at_once_comes_on_top_of_what_has_drifted_already() -> None:
    meter = meter_on(surface(80.0), repeatability_sd=0)
    meter.drifts[20].shift(1.05, 0.0)
    meter.drifts[20].shift(1.0, -0.5)
    assert value(meter.press()) == 83.5
    meter.drifts[20].shift(1.0, 0.3)
    assert value(meter.press()) == 83.8


def test_drift_per_press_begins_after_the_press() -> None:
    meter = meter_on(surface(50.0), repeatability_sd=0)
    meter.drifts[20].gain_per_press, meter.drifts[20].offset_per_press = 1.01, 0.1
    assert values(meter, 3) == [50.0, 50.6, 51.2]
    meter.drifts[20].gain_per_press, meter.drifts[20].offset_per_press = 1.0, 0.0
    assert values(meter, 2) == [51.8, 51.8]


def test_drift_without_end_stays_within_what_the_display_can_show() -> None:
    meter = meter_on(surface(50.0), repeatability_sd=0)
    meter.drifts[20].gain_per_press, meter.drifts[20].offset_per_press = 0.2, -50.0
    assert values(meter, 50)[-1] == -95.0


def test_a_bright_piece_adjusts_the_gain_and_a_dark_one_the_zero() -> None:
    meter = meter_on(surface(93.2), repeatability_sd=0)
    meter.drifts[20].shift(1.04, 0.6)
    assert value(meter.press()) == 97.5
    meter.adjust({20: 93.2})
    assert value(meter.press()) == 93.2
    meter.place(surface(0.0))
    assert value(meter.press()) == 0.6
    meter.adjust({20: 0.0})
    assert value(meter.press()) == 0.0
    # One piece cannot tell both: the bright one is off again by what the zero was.
    meter.place(surface(93.2))
    assert value(meter.press()) == 92.6
    meter.adjust({20: 93.2})
    meter.place(surface(46.6))
    assert value(meter.press()) == 46.6


def test_a_tile_that_is_no_longer_what_its_certificate_says_puts_the_meter_wrong() -> None:
    scratched = surface(90.0)
    meter = meter_on(scratched, repeatability_sd=0)
    meter.adjust({20: 93.2})
    meter.place(surface(50.0))
    assert value(meter.press()) == 51.8


@pytest.mark.parametrize(
    ("true", "certified", "message"),
    [(0.0, 93.2, "too far"), (1.0, 93.2, "too far"), (500.0, 0.0, "too bright")],
)
def test_an_adjustment_on_another_piece_is_refused_and_changes_nothing(
    true: float, certified: float, message: str
) -> None:
    meter = meter_on(surface(true), repeatability_sd=0)
    with pytest.raises(ValueError, match=message):
        meter.adjust({20: certified})
    meter.place(surface(50.0))
    assert value(meter.press()) == 50.0


def test_a_lifted_meter_is_not_adjusted() -> None:
    with pytest.raises(ValueError, match="stands on nothing"):
        Meter("SH-0417", 1).adjust({20: 93.2})


def test_a_surface_without_a_geometry_of_the_meter_is_refused() -> None:
    with pytest.raises(ValueError, match="tile has no gloss at 60 degrees"):
        Meter("SH-0417", 1, (20, 60)).place(Surface("tile", MappingProxyType({20: 93.2})))


def test_a_slope_is_the_gloss_that_the_far_edge_has_more_than_the_near_one() -> None:
    place = surface(80.0, slope=4.0)
    near, far = meter_on(place, repeatability_sd=0), meter_on(place, repeatability_sd=0)
    near.place(place, along=-0.5)
    far.place(place, along=0.5)
    assert (value(near.press()), value(far.press())) == (78.0, 82.0)
    anywhere = values(meter_on(place, repeatability_sd=0), 400)
    assert 78.0 <= min(anywhere) < 78.2
    assert 81.8 < max(anywhere) <= 82.0
    # Even over its breadth: the standard deviation of an even law is the breadth over root 12.
    assert stdev(anywhere) == pytest.approx(4.0 / 12**0.5, rel=0.1)


def test_a_spot_takes_its_gloss_from_the_presses_that_hit_one() -> None:
    read = values(meter_on(surface(80.0, spots=0.25, spot_loss=9.0), repeatability_sd=0), 400)
    assert set(read) == {80.0, 71.0}
    assert read.count(71.0) / 400 == pytest.approx(0.25, abs=0.07)


def test_a_cold_lamp_comes_up_while_it_burns() -> None:
    meter = meter_on(surface(80.0), repeatability_sd=0, cold_share=0.05)
    assert value(meter.press()) == 80.0
    meter.restart()
    cold = value(meter.press())
    # 2 s after power-on: 5 % x exp(-2/120) less.
    assert cold == pytest.approx(80.0 * (1 - 0.05 * 0.98347), abs=0.05)
    meter.wait(120)
    assert cold < value(meter.press()) < 80.0
    meter.wait(3600)
    assert value(meter.press()) == 80.0
