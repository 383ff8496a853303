"""Readings that were typed step by the display that their profile tells, whatever was typed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.report.evidence.displaystep import display_step
from acquire.report.evidence.evidence import evidence_of
from acquire.report.record.loading import load_trial
from acquire.report.record.record import TrialRecord
from tests.unit.hand import METER, HandYard
from tests.unit.reported import plan_text, small
from tests.yard import Yard

TEXT = plan_text(
    {"none": "Untreated", "x": "Slipway wax"},
    {"A1": "none", "A2": "x"},
    stages=("bare", "applied"),
    replicates=2,
    head="unchecked = true",
)


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[HandYard]:
    """Every entry of the bare stage is a whole number; the profile's display shows tenths."""
    yard = HandYard(tmp_path)
    yard.plug()
    read(yard, "bare", "90", "90", "90", "90")
    yield yard
    yard.close()


def read(yard: HandYard, stage: str, *values: str) -> None:
    yard.begin(stage, instrument=METER, text=TEXT)
    yard.clock.advance(20)
    yard.twice(*values)
    yard.act(lambda at: yard.acts.runs.finish("", at))


def loaded(yard: HandYard) -> TrialRecord:
    return load_trial(yard.bench.store, "gelcoat-1")


def step_of(record: TrialRecord) -> tuple[Decimal, str]:
    counting = [r for r in record.readings if r.counts]
    assert counting
    return display_step(record, record.plan.measures[0], counting)


def test_whole_numbers_typed_off_a_display_of_tenths_step_by_a_tenth(yard: HandYard) -> None:
    read(yard, "applied", "90", "90", "91", "91")
    assert step_of(loaded(yard)) == (
        Decimal("0.1"),
        "as the profile keyed-gloss-20 states it",
    )
    (evidence,) = evidence_of(loaded(yard))
    assert evidence.result.basis.resolution == pytest.approx(0.1)


def test_of_two_profiles_one_after_another_the_coarser_step_counts(yard: HandYard) -> None:
    first, *rest = yard.bench.instruments
    text = first.profile_text.replace("step = 0.1", "step = 0.5")
    assert text != first.profile_text
    coarse = replace(yard.bench, instruments=(replace(first, profile_text=text), *rest))
    yard.close()
    yard.bench = coarse
    Yard.open(yard)  # the daemon starts again, with the meter described anew
    yard.plug()
    read(yard, "applied", "90", "90", "91", "91")
    record = loaded(yard)
    assert sorted(s.size for s in record.entry_steps.values()) == [Decimal("0.1"), Decimal("0.5")]
    assert step_of(record)[0] == Decimal("0.5")


def test_a_policy_that_says_another_step_than_the_profile_is_named_beside_it(
    yard: HandYard, tmp_path: Path
) -> None:
    (tmp_path / "checked").mkdir()
    checked = small(tmp_path / "checked")
    first = load_trial(checked.bench.store, "small").checks[0]
    checked.close()
    check, record = replace(first, resolution=Decimal(1)), loaded(yard)
    readings = tuple(r._replace(check_id=check.id) for r in record.readings if r.counts)
    told = replace(record, checks=(check,), readings=readings)
    assert step_of(told) == (
        Decimal("0.1"),
        "as the profile keyed-gloss-20 states it; the check policy gloss-20 states 1 GU instead",
    )
    same = replace(told, checks=(replace(check, resolution=Decimal("0.1")),))
    assert step_of(same)[1] == "as the profile keyed-gloss-20 states it"


def test_where_the_profile_of_then_is_not_kept_the_digits_tell(yard: HandYard) -> None:
    step, source = step_of(replace(loaded(yard), entry_steps={}))
    assert (step, source) == (Decimal(1), "taken from the last digit that was sent")
