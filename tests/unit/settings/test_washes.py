"""Counts of washes and ends of life in a trial file: what they give, every fault, and the hints."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.trial import plan_lines
from acquire.errors import SettingsError
from acquire.model import EndOfLife, Plan
from acquire.pipeline.plan_change import contradictions
from acquire.pipeline.plan_growth import additions
from acquire.settings import config_dir, load_plan, parse_plan
from acquire.settings.washes import unwashed, wash_hints
from tests.unit.two_zones import TWO_ZONES

_TEXT = (
    """
[trial]
id = "quay-1"
title = "Two protectants"
stages = ["bare", "applied", "cured", "wash-5", "wash-10"]

[trial.washes]
{counts}
"""
    + TWO_ZONES
    + """
[[measure]]
id = "gloss"
quantity = "gloss"
geometry = 20
replicates = 3
{more}
"""
)
_COUNTS = "wash-5 = 5\nwash-10 = 10"
_HALF = "[measure.end_of_life]\nlost = 0.5"


def _plan(counts: str = _COUNTS, more: str = _HALF) -> Plan:
    return parse_plan(_TEXT.format(counts=counts, more=more), "trial.toml")


def _faults(counts: str = _COUNTS, more: str = _HALF) -> list[str]:
    with pytest.raises(SettingsError) as caught:
        _plan(counts, more)
    return [str(fault) for fault in caught.value.faults]


def test_counts_and_criterion_become_part_of_the_plan() -> None:
    plan = _plan("wash-10 = 10\napplied = 0\nwash-5 = 5")
    assert plan.washes == (("applied", 0), ("wash-5", 5), ("wash-10", 10))
    [measure] = plan.measures
    assert measure.end_of_life == EndOfLife(lost=Decimal("0.5"))
    assert unwashed(plan.stages, dict(plan.washes)) == ("bare", "applied", "cured")


def test_a_plan_without_counts_is_as_it_was() -> None:
    plan = _plan("", "")
    assert (plan.washes, plan.measures[0].end_of_life) == ((), None)


def test_every_fault_of_the_counts_is_told_at_once() -> None:
    assert _faults("bare = 1\nwash-5 = 10\nwash-10 = 10\nwash-20 = 20", "") == [
        "trial.washes.bare: got 1, wanted 0, or no entry: bare is the bare stage, before any "
        "treatment",
        "trial.washes.wash-10: got 10, wanted more than 10, the count of wash-5, which comes "
        "before it",
        "trial.washes.wash-20: got 'wash-20', wanted a stage of this trial: 'bare', 'applied', "
        "'cured', 'wash-5' or 'wash-10'",
    ]


def test_a_count_is_a_whole_number_of_washes() -> None:
    assert _faults('wash-5 = -1\nwash-10 = "ten"', "") == [
        "trial.washes.wash-5: got -1, wanted 0 or more",
        "trial.washes.wash-10: got 'ten', wanted a whole number",
    ]


@pytest.mark.parametrize(
    ("more", "fault"),
    [
        ("[measure.end_of_life]", "measure[0].end_of_life: got nothing, wanted one of lost, below "
         "or above"),
        ("[measure.end_of_life]\nlost = 0.5\nbelow = 1", "measure[0].end_of_life: got 'lost' and "
         "'below', wanted one of lost, below or above"),
        ("[measure.end_of_life]\nlost = 1", "measure[0].end_of_life.lost: got 1, wanted a number, "
         "more than 0 and less than 1"),
        ("[measure.end_of_life]\nabove = 1", "measure[0].end_of_life.above: got above, wanted "
         "below, or lost: a higher value counts as better, so a life ends below a level"),
        ("higher_is_better = false\n[measure.end_of_life]\nbelow = 1",
         "measure[0].end_of_life.below: got below, wanted above, or lost: a lower value counts as "
         "better, so a life ends above a level"),
        ('stages = ["applied", "wash-5"]\n' + _HALF, "measure[0].end_of_life: got no stage bare, "
         "wanted the bare stage bare in its stages"),
        ('stages = ["bare", "applied"]\n' + _HALF, "measure[0].end_of_life: got no stage with a "
         "count of washes, wanted a stage of this measure with its count in [trial.washes], such "
         "as wash-5 = 5"),
        ('stages = ["bare", "wash-5"]\n' + _HALF, "measure[0].end_of_life: got no stage between "
         "the bare one and the first wash, wanted a stage such as applied, at which the treatment "
         "is on and not washed yet"),
    ],
)  # fmt: skip
def test_a_criterion_that_could_never_be_met_is_a_fault(more: str, fault: str) -> None:
    assert fault in _faults(more=more)


def test_a_film_has_an_end_of_life_in_percent_of_its_blanks_light() -> None:
    text = _TEXT.format(counts=_COUNTS, more=_HALF).replace(
        'quantity = "gloss"\ngeometry = 20', 'quantity = "transmittance"\nband = "315-400"'
    )
    text = text.replace("replicates = 3", "replicates = 3\nhigher_is_better = false")
    assert parse_plan(text, "trial.toml").measures[0].end_of_life == EndOfLife(lost=Decimal("0.5"))
    level = text.replace("lost = 0.5", "above = 60")
    plan = parse_plan(level, "trial.toml")
    assert "it lets above 60 % of the light through" in "\n".join(plan_lines(plan))
    with pytest.raises(SettingsError, match="more than 0: percent of the light"):
        parse_plan(level.replace("60", "0"), "trial.toml")


def test_a_stage_named_for_washes_without_a_count_gets_a_hint_and_no_guess() -> None:
    plan = _plan("wash-5 = 5", "")
    assert dict(plan.washes) == {"wash-5": 5}
    [hint] = wash_hints(plan)
    assert hint.startswith("HINT: stage wash-10 has no count of washes, and none is guessed")
    assert "wash-10 = 10" in hint


def test_the_command_that_looks_a_trial_through_gives_the_hint(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "t.toml").write_text(_TEXT.format(counts="wash-5 = 5", more=""), encoding="utf-8")
    assert run(["trial", "check", str(tmp_path / "t.toml")]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "washes wash-5 after 5" in shown
    assert "HINT: stage wash-10 has no count of washes" in shown


def test_a_count_that_its_name_contradicts_gets_a_hint() -> None:
    assert wash_hints(_plan("wash-5 = 5\nwash-10 = 15", ""))[0].startswith(
        "HINT: stage wash-10 comes after 15 washes by [trial.washes], and its name says 10"
    )


def test_a_plan_in_short_tells_counts_and_criterion() -> None:
    lines = plan_lines(_plan())
    assert "washes  wash-5 after 5, wash-10 after 10" in lines
    assert any("counts as gone on a zone when half of its gain is lost" in x for x in lines)
    low = plan_lines(_plan(more="higher_is_better = false\n[measure.end_of_life]\nabove = -0.3"))
    assert any("less the change of the control, is above -0.3 GU." in line for line in low)


def test_the_example_trial_file_has_counts_and_a_criterion() -> None:
    plan = load_plan(config_dir() / "boatyard" / "trial.toml")
    assert plan.washes == (("wash-5", 5),)
    assert plan.measures[0].end_of_life == EndOfLife(lost=Decimal("0.5"))
    assert wash_hints(plan) == []


def test_a_count_of_a_stage_with_readings_stays() -> None:
    old, new = _plan(), _plan("wash-5 = 6\nwash-10 = 12")
    assert contradictions(old, new, {("gloss", "wash-5")}, set()) == [
        "stage wash-5 was read after 5 washes, the file now says 6: a count of a stage with "
        "readings stays"
    ]
    assert contradictions(_plan("", ""), _plan(more=""), {("gloss", "wash-5")}, set()) == []
    assert additions(_plan("wash-5 = 5", ""), _plan("wash-5 = 6\nwash-10 = 10")) == [
        "stage wash-5 now comes after 6 washes, not 5",
        "stage wash-10 now comes after 10 washes",
        "measure gloss now has an end of life",
    ]


def test_a_criterion_is_settled_before_the_first_washed_reading() -> None:
    old, new = _plan(), _plan(more="[measure.end_of_life]\nlost = 0.3")
    assert contradictions(old, new, {("gloss", "applied")}, set()) == []
    [fault] = contradictions(old, new, {("gloss", "wash-5")}, set())
    assert fault.startswith("measure gloss has readings after washing")
