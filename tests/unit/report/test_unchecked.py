"""An unchecked trial: a difference is judged only where one meter read both sides in one go."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.model import Gap, NoticeKind
from acquire.report.evidence.evidence import evidence_of
from acquire.report.evidence.unchecked import LONGEST_BREAK_S
from acquire.report.record.loading import load_trial
from tests.unit.reported import page, plan_text
from tests.yard import Yard

TEXT = plan_text(
    {"none": "Untreated", "x": "Slipway wax"},
    {"A1": "none", "A2": "x"},
    stages=("bare", "applied"),
    replicates=4,
    head="unchecked = true",
)
CONTROL, WAX = ("80.0", "80.1", "79.9", "80.0"), ("81.0", "81.1", "80.9", "81.0")


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    """A yard whose bare stage was read by shore in one go, without a check."""
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.plug("deck")
    read(yard, "bare", "shore", *CONTROL, *WAX)
    yield yard
    yard.close()


def read(yard: Yard, stage: str, meter: str, *values: str) -> None:
    yard.begin(stage, instrument=meter, text=TEXT)
    for value in values:
        yard.clock.advance(2)
        yard.press(meter, value)
    yard.act(lambda at: yard.acts.runs.finish("", at))


def verdict(yard: Yard) -> Comparison | Refusal:
    (evidence,) = evidence_of(load_trial(yard.bench.store, "gelcoat-1"))
    (found,) = evidence.result.comparisons
    return found


def test_one_meter_in_one_go_is_judged_without_a_check(yard: Yard) -> None:
    yard.clock.advance(9 * 3600)
    read(yard, "applied", "shore", *CONTROL, "84.0", "84.1", "83.9", "84.0")
    found = verdict(yard)
    assert isinstance(found, Comparison)
    assert found.estimate == pytest.approx(3.0)


def test_two_meters_that_read_three_units_apart_are_no_gain(yard: Yard) -> None:
    read(yard, "applied", "shore", *CONTROL)
    read(yard, "applied", "deck", "84.0", "84.1", "83.9", "84.0")
    found = verdict(yard)
    assert isinstance(found, Refusal)
    assert found.reason == (
        "treated and control zones were read by different meters or with a break between them, "
        "and 8 of its readings at applied lie under no check"
    )
    assert found.next_step == "read control and treated zones in one sitting, with one meter"
    shown = page(yard, "gelcoat-1", yard.bench.store.parent).text
    assert "▲" not in shown.split("What this rests on", maxsplit=1)[0]


def test_two_meters_that_both_read_every_zone_alike_are_judged(yard: Yard) -> None:
    for meter, wax in (("shore", "84.0"), ("deck", "87.0")):
        yard.begin("applied", instrument=meter, text=TEXT)
        for zone, values in (("A1", CONTROL[:2]), ("A2", (wax, wax))):
            yard.act(lambda at, z=zone: yard.acts.runs.go_to(z, None, at))  # type: ignore[misc]
            for value in values:
                yard.clock.advance(2)
                yard.press(meter, value)
        yard.act(lambda at: yard.acts.runs.finish("", at))
    assert isinstance(verdict(yard), Comparison)


def readjust(yard: Yard) -> None:
    yard.tell("shore", NoticeKind.ADJUSTED)


def switch_on(yard: Yard) -> None:
    yard.tell("shore", NoticeKind.POWER_UP)


def plug_again(yard: Yard) -> None:
    yard.unplug("shore")
    yard.plug("shore")


def lose_bytes(yard: Yard) -> None:
    now = yard.clock.now()
    yard.clock.advance(1)
    yard.take_in("shore", gap=Gap("shore", now, yard.clock.now(), 12))


def go_home(yard: Yard) -> None:
    yard.clock.advance(LONGEST_BREAK_S + 10)


def set_back_and_readjust(yard: Yard) -> None:
    yard.clock.jump(-3600)
    readjust(yard)
    yard.clock.advance(30)


def set_back_and_switch_on(yard: Yard) -> None:
    """What the clock shows then lies before the sitting began."""
    yard.clock.jump(-60)
    switch_on(yard)
    yard.clock.advance(5)


def go_home_and_set_back(yard: Yard) -> None:
    yard.clock.advance(20 * 3600)
    yard.clock.jump(-19 * 3600)


def set_back_and_go_home(yard: Yard) -> None:
    """The clock shows three hours and a half of four hours and a half."""
    yard.clock.jump(-3600)
    yard.take_in("deck")
    yard.clock.advance(4.5 * 3600)


def swap_for_a_while(yard: Yard) -> None:
    yard.tell("shore", NoticeKind.IDENTITY, "XX-1")
    yard.clock.advance(1)
    yard.tell("shore", NoticeKind.IDENTITY, "SH-0417")


@pytest.mark.parametrize(
    "between",
    [
        set_back_and_readjust,
        set_back_and_switch_on,
        go_home_and_set_back,
        set_back_and_go_home,
        swap_for_a_while,
    ],
)
def test_neither_a_clock_that_was_set_nor_another_meter_in_between_hides_a_shift(
    yard: Yard, between: Callable[[Yard], None]
) -> None:
    read(yard, "applied", "shore", *CONTROL)
    yard.clock.advance(1)
    between(yard)
    read(yard, "applied", "shore", "84.0", "84.1", "83.9", "84.0")
    found = verdict(yard)
    assert isinstance(found, Refusal)
    assert "with a break between them" in found.reason


def test_one_go_after_the_clock_was_set_back_is_judged_also_within_the_time_that_came_twice(
    yard: Yard,
) -> None:
    yard.clock.advance(1)
    yard.clock.jump(-3600)
    read(yard, "applied", "shore", *CONTROL, "84.0", "84.1", "83.9", "84.0")
    assert isinstance(verdict(yard), Comparison)


def test_a_meter_that_tells_its_own_serial_number_goes_on_in_its_stretch(yard: Yard) -> None:
    read(yard, "applied", "shore", *CONTROL)
    yard.tell("shore", NoticeKind.IDENTITY, "SH-0417")
    read(yard, "applied", "shore", "84.0", "84.1", "83.9", "84.0")
    assert isinstance(verdict(yard), Comparison)


@pytest.mark.parametrize("between", [readjust, switch_on, plug_again, lose_bytes, go_home])
def test_a_meter_that_may_stand_elsewhere_between_the_two_sides_is_not_judged(
    yard: Yard, between: Callable[[Yard], None]
) -> None:
    read(yard, "applied", "shore", *CONTROL)
    yard.clock.advance(1)
    between(yard)
    read(yard, "applied", "shore", "84.0", "84.1", "83.9", "84.0")
    found = verdict(yard)
    assert isinstance(found, Refusal)
    assert "with a break between them" in found.reason


def test_what_befalls_the_other_meter_does_not_matter(yard: Yard) -> None:
    read(yard, "applied", "shore", *CONTROL)
    yard.clock.advance(1)
    yard.tell("deck", NoticeKind.ADJUSTED)
    read(yard, "applied", "shore", "84.0", "84.1", "83.9", "84.0")
    assert isinstance(verdict(yard), Comparison)
