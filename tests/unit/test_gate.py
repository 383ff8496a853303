"""The gate, every way it can be shut."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from acquire.calibration import Request, gate
from acquire.model import Ending, EndReason, Instant, Judgement, Outcome, Pass
from acquire.model.verdict import ABANDONED


def second(s: float) -> Instant:
    return Instant(round(s * 1e9), round(s * 1e9))


PASSED = Pass(7, "shore", "SH-0417", frozenset({"20", "60"}), second(100), second(200))
ASKED = Request("shore", "SH-0417", frozenset({"20"}), second(150))


def test_a_valid_pass_opens_and_names_itself() -> None:
    assert gate(ASKED, PASSED, None, None).check_id == 7


def test_the_moment_of_opening_is_covered_and_the_moment_of_expiry_is_not() -> None:
    assert gate(ASKED._replace(at=second(100)), PASSED, None, None).is_open
    assert not gate(ASKED._replace(at=second(200)), PASSED, None, None).is_open
    assert not gate(ASKED._replace(at=second(99.9)), PASSED, None, None).is_open


@pytest.mark.parametrize(
    ("at", "is_open"),
    [
        (Instant(199 * 10**9, 199 * 10**9), True),
        (Instant(200 * 10**9, 199 * 10**9), False),
        (Instant(199 * 10**9, 200 * 10**9), False),
    ],
)
def test_a_pass_expires_by_whichever_clock_comes_to_its_end_first(
    at: Instant, is_open: bool
) -> None:
    assert gate(ASKED._replace(at=at), PASSED, None, None).is_open is is_open


@pytest.mark.parametrize(
    ("value", "is_open"),
    [("9.9", False), ("10.0", True), ("99.9", True), ("100.0", True), ("100.1", False)],
)
def test_a_range_has_both_of_its_ends(value: str, is_open: bool) -> None:
    within = replace(PASSED, span=(Decimal(10), Decimal(100)))
    assert gate(ASKED._replace(value=Decimal(value)), within, None, None).is_open is is_open


def test_the_last_of_the_presses_of_a_pass_is_covered_and_none_after_it() -> None:
    two = replace(PASSED, presses=2)
    assert [gate(ASKED._replace(used=used), two, None, None).is_open for used in (0, 1, 2)] == [
        True,
        True,
        False,
    ]


@pytest.mark.parametrize("reason", list(EndReason))
def test_whatever_ended_a_pass_shuts_the_gate_from_that_moment(reason: EndReason) -> None:
    ending = Ending(7, reason, second(150), f"because of {reason}")
    verdict = gate(ASKED, PASSED, ending, None)
    assert not verdict.is_open
    assert verdict.reason == reason
    assert verdict.message == f"because of {reason}"
    assert gate(ASKED._replace(at=second(149)), PASSED, ending, None).is_open


def test_another_serial_number_is_not_covered() -> None:
    verdict = gate(ASKED._replace(serial="SH-0999"), PASSED, None, None)
    assert not verdict.is_open
    assert "SH-0999" in verdict.message


def test_a_geometry_outside_the_check_is_not_covered() -> None:
    verdict = gate(ASKED._replace(channels=frozenset({"20", "85"})), PASSED, None, None)
    assert not verdict.is_open
    assert "85°" in verdict.message


def test_without_a_check_the_next_step_is_a_check() -> None:
    verdict = gate(ASKED, None, None, None)
    assert not verdict.is_open
    assert verdict.next_step == "coatbench check shore"


@pytest.mark.parametrize("outcome", [Outcome.FAIL, Outcome.UNDECIDED])
def test_a_check_that_did_not_pass_is_told_with_its_figures(outcome: Outcome) -> None:
    judgement = Judgement(outcome, (), "T1 read 2.40 too high; limit 1.0", "clean the tile")
    verdict = gate(ASKED, None, None, judgement)
    assert not verdict.is_open
    assert "T1 read 2.40 too high; limit 1.0" in verdict.message
    assert verdict.next_step == "clean the tile"


def test_a_pass_of_another_instrument_does_not_help() -> None:
    assert not gate(ASKED, replace(PASSED, instrument="deck"), None, None).is_open


def test_a_check_that_was_broken_off_is_not_called_undecided() -> None:
    last = Judgement(
        Outcome.UNDECIDED, (), f"{ABANDONED}the instrument was unplugged", "plug it in"
    )
    verdict = gate(ASKED, None, None, last)
    assert verdict.message == "the last check of shore was broken off: the instrument was unplugged"
    assert verdict.next_step == "plug it in"
