"""The step of a display is what was sent, and the policy's where the readings keep to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.model import Measure
from acquire.report.evidence.displaystep import display_step, last_digit
from acquire.report.record.loading import load_trial
from acquire.report.record.record import TrialRecord
from tests.unit.reported import small


@pytest.fixture
def record(tmp_path: Path) -> TrialRecord:
    """A trial of gloss under one policy, with a step of 0.1 GU."""
    yard = small(tmp_path)
    found = load_trial(yard.bench.store, "small")
    yard.close()
    return found


def step_of(
    record: TrialRecord,
    texts: Sequence[str],
    policy: str,
    unit: str,
    *,
    policy_unit: str = "",
    instruments: Sequence[str] = ("shore",),
) -> tuple[Decimal, str]:
    """The step of readings sent as `texts` in `unit`, by turns from `instruments`."""
    first = next(r for r in record.readings if r.check_id is not None)
    readings = [
        first._replace(
            value=None if text == "----" else Decimal(text),
            sent_text=text,
            sent_unit=unit,
            instrument=instruments[i % len(instruments)],
        )
        for i, text in enumerate(texts)
    ]
    checks = tuple(
        replace(c, resolution=Decimal(policy), unit=policy_unit or unit) for c in record.checks
    )
    measure: Measure = replace(record.plan.measures[0], unit=unit)
    return display_step(replace(record, checks=checks), measure, readings)


def test_a_policy_that_the_readings_keep_to_is_the_step(record: TrialRecord) -> None:
    step, source = step_of(record, ["80.5", "81.0", "80.0"], "0.5", "gloss_unit")
    assert step == Decimal("0.5")
    assert source == "as the check policy gloss-20 states it"


def test_a_force_sent_in_hundredths_of_a_newton_has_that_step_and_not_the_policys(
    record: TrialRecord,
) -> None:
    """1 gf is 0.00980665 N (9.80665 m/s², exact, CGPM 1901)."""
    step, source = step_of(
        record, ["0.86", "0.86", "0.84"], "1", "newton", policy_unit="gram_force"
    )
    assert step == Decimal("0.01")
    assert source == (
        "taken from the last digit that was sent; the check policy gloss-20 states 1 gf instead"
    )


def test_digits_that_a_computer_made_are_no_step_beyond_the_sixth(record: TrialRecord) -> None:
    texts = ["61.970412345678", "61.990098765432"]
    step, source = step_of(record, texts, "0.1", "percent")
    assert step == Decimal("0.0001")
    assert "digit 6 of what was sent" in source
    assert source.endswith("the check policy gloss-20 states 0.1 % instead")


def test_one_reading_with_zeros_dropped_does_not_make_the_step_coarser(
    record: TrialRecord,
) -> None:
    assert step_of(record, ["80", "80.25", "81.1"], "0.1", "gloss_unit")[0] == Decimal("0.01")


def test_a_policy_finer_than_what_was_sent_does_not_make_the_step_finer(
    record: TrialRecord,
) -> None:
    step, source = step_of(record, ["80.1", "80.2"], "0.01", "gloss_unit")
    assert step == Decimal("0.1")
    assert "states 0.01 GU instead" in source


def test_of_two_instruments_the_larger_step_counts(record: TrialRecord) -> None:
    texts, two = ["80.1", "80.25", "80.2", "80.33"], ("shore", "deck")
    step, _ = step_of(record, texts, "0.1", "gloss_unit", instruments=two)
    assert step == Decimal("0.1")


def test_texts_that_are_no_numbers_leave_the_policys(record: TrialRecord) -> None:
    assert step_of(record, ["----"], "0.1", "gloss_unit")[0] == Decimal("0.1")


def test_numbers_with_a_power_of_ten_step_by_the_last_digit_of_the_largest(
    record: TrialRecord,
) -> None:
    """IEEE 488.2, 8.7.4: the digits are as many at any size, so 9.91E+00 steps by 0.01."""
    step, source = step_of(record, ["9.91E+00", "1.02E+02", "9.99e+01"], "0.5", "gloss_unit")
    assert step == 1
    assert source.startswith("taken from the last digit of the largest number that was sent")


@pytest.mark.parametrize("zero", ["0.00E+00", "0.00E+99", "0.00E-28"])
def test_a_zero_of_any_power_tells_no_step(record: TrialRecord, zero: str) -> None:
    texts = ["9.91E+00", zero, "9.99e+01"]
    assert step_of(record, texts, "0.01", "gloss_unit")[0] == Decimal("0.1")
    step, source = step_of(record, [zero], "0.5", "gloss_unit")
    assert (step, source) == (Decimal("0.5"), "as the check policy gloss-20 states it")


def test_one_unit_of_the_last_digit_is_not_told_by_a_zero_with_a_power(record: TrialRecord) -> None:
    first = record.readings[0]._replace(sent_text="0.00E+99", sent_unit="gloss_unit")
    assert last_digit(first, "gloss_unit") is None
    assert last_digit(first._replace(sent_text="9.14E+01"), "gloss_unit") == Decimal("0.1")


PACKED = {"0.87": "00 00 08 7C", "0.90": "00 00 09 0C", "0.84": "00 00 08 4C"}
"""Packed digits in hundredths of a newton, the sign in the last four bits."""


def step_of_bytes(
    record: TrialRecord,
    sent: dict[str, str],
    unit: str = "newton",
    sent_unit: str = "newton",
    policy: str = "",
) -> tuple[Decimal, str]:
    """The step of values and what was sent for them, under a policy of 1 gf or as it says."""
    first = next(r for r in record.readings if r.check_id is not None)
    readings = [
        first._replace(value=Decimal(value), unit=unit, sent_text=text, sent_unit=sent_unit)
        for value, text in sent.items()
    ]
    checks = tuple(
        replace(c, resolution=Decimal(policy or 1), unit=unit if policy else "gram_force")
        for c in record.checks
    )
    measure: Measure = replace(record.plan.measures[0], unit=unit)
    return display_step(replace(record, checks=checks), measure, readings)


def test_packed_digits_step_by_what_they_stand_for_and_not_as_the_policy_says(
    record: TrialRecord,
) -> None:
    """1 gf is 0.00980665 N (9.80665 m/s², exact, CGPM 1901); hundredths of a newton are not it."""
    step, source = step_of_bytes(record, PACKED)
    assert step == Decimal("0.01")
    assert source == (
        "taken from the last digit that was sent; the check policy gloss-20 states 1 gf instead"
    )


def test_bytes_whose_value_has_more_digits_than_a_display_leave_the_policys(
    record: TrialRecord,
) -> None:
    of_policy = (Decimal("0.00980665"), "as the check policy gloss-20 states it")
    binary = {"0.8700000047683716": "3F 5E B8 52", "0.84": "3F 57 0A 3D"}
    assert step_of_bytes(record, binary) == of_policy
    # 87 gf, told in newton: its digits are those of gravity.
    assert step_of_bytes(record, {"0.853179": "00 00 08 7C"}, sent_unit="gram_force") == of_policy


def test_a_count_of_tenths_steps_by_what_it_stands_for_and_not_by_one_of_the_count(
    record: TrialRecord,
) -> None:
    sent = {"79.7": "797", "80.0": "800", "81.2": "812"}
    step, source = step_of_bytes(record, sent, "gloss_unit", "gloss_unit", policy="0.1")
    assert (step, source) == (Decimal("0.1"), "as the check policy gloss-20 states it")
    finer, source = step_of_bytes(record, sent, "gloss_unit", "gloss_unit", policy="0.01")
    assert finer == Decimal("0.1")
    assert source.startswith("taken from the last digit that was sent; the check policy gloss-20")
