"""A loose reading is given a place only where it would count."""

from __future__ import annotations

from typing import cast

import pytest

from acquire.errors import Refused
from acquire.model import Flag, NoticeKind
from tests.yard import TRIAL, Yard


@pytest.fixture
def yard(yard: Yard) -> Yard:
    yard.check("shore")
    return yard


def last_id(yard: Yard) -> int:
    return cast(int, yard.readings()[-1]["reading_id"])


def assign(yard: Yard, reading_id: int) -> dict[str, object]:
    return yard.act(
        lambda at: yard.acts.readings.assign(
            reading_id, "gelcoat", None, "A1", "bare", 1, "pressed too early", at
        )
    )


@pytest.mark.parametrize("plan", [TRIAL, TRIAL.replace("[trial]", "[trial]\nunchecked = true")])
def test_a_reading_that_a_later_check_made_suspect_gets_no_place(yard: Yard, plan: str) -> None:
    yard.press("shore", "80.1")
    early = last_id(yard)
    yard.begin(text=plan)
    yard.check("shore", tile="99.0")
    yard.check("shore")
    with pytest.raises(Refused) as refused:
        assign(yard, early)
    assert (refused.value.reason, refused.value.got) == (
        "suspect",
        "a reading under check 1; check 2 found shore outside a limit, so all that was read "
        "between them is suspect",
    )
    yard.press("shore", "80.3")
    assert [(q["zone"], q["replicate"], q["counts"]) for q in yard.readings("role = 'run'")] == [
        ("A1", 1, 1)
    ]


def test_a_reading_that_a_later_check_has_closed_well_gets_its_place(yard: Yard) -> None:
    yard.press("shore", "80.1")
    early = last_id(yard)
    yard.begin()
    yard.check("shore")
    assign(yard, early)
    (found,) = yard.readings("role = 'run'")
    assert (found["reading_id"], found["bracket"], found["counts"]) == (early, "bracketed", 1)


def test_what_came_after_the_end_of_a_pass_is_not_under_it_though_its_clock_says_so(
    yard: Yard,
) -> None:
    yard.begin()
    yard.clock.advance(10)
    yard.tell("shore", NoticeKind.POWER_UP)
    # By less than would be noticed as a step.
    yard.clock.jump(-1.5)
    yard.press("shore", "80.1")
    with pytest.raises(Refused) as refused:
        assign(yard, last_id(yard))
    assert refused.value.reason == "switched off"


def test_what_is_over_range_or_has_its_place_is_given_none(yard: Yard) -> None:
    yard.press("shore", None, flags=frozenset({Flag.OVER_RANGE}))
    over = last_id(yard)
    yard.press("shore", "80.0", flags=frozenset({Flag.ECHO}))
    echo = last_id(yard)
    yard.begin()
    yard.press("shore", "80.1")
    for reading_id, got in (
        (over, "a loose reading flagged"),
        (echo, "a loose reading flagged"),
        (last_id(yard), "a run reading"),
    ):
        with pytest.raises(Refused) as refused:
            assign(yard, reading_id)
        assert refused.value.reason == "not assignable"
        assert refused.value.got.startswith(got)


def test_a_press_that_was_refused_last_in_a_check_stood_on_a_piece(yard: Yard) -> None:
    yard.begin()
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "0.0")
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    with pytest.raises(Refused) as refused:
        assign(yard, last_id(yard))
    assert refused.value.reason == "in a check"


@pytest.mark.parametrize("step_s", [-1.5, 0.0, 1.5])
def test_a_press_in_a_check_gets_no_place_wherever_the_clock_crept(
    yard: Yard, step_s: float
) -> None:
    yard.begin()
    yard.clock.advance(60)
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.clock.advance(0.2)
    yard.clock.jump(step_s)
    yard.press("shore", "0.0")
    on_the_trap = last_id(yard)
    for value in ("93.2", "93.2", "0.0", "0.0"):
        yard.clock.advance(1)
        yard.press("shore", value)
    with pytest.raises(Refused) as refused:
        assign(yard, on_the_trap)
    assert refused.value.reason == "in a check"
