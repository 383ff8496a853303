"""What is said of readings that no later check closed: true for one state and for mixed ones."""

from __future__ import annotations

from pathlib import Path

from acquire.analysis.cells.cell import gather
from acquire.analysis.cells.closing import unclosed_sentences
from acquire.analysis.checks.bracket import Bracket
from acquire.model import NoticeKind
from acquire.report.evidence.evidence import evidence_of
from acquire.report.record.loading import load_trial
from tests.unit.analysis.bench import quiet, samples_of
from tests.unit.reported import plan_text
from tests.yard import Yard

READINGS = {("control", "bare"): (90.0, 90.2, 90.1), ("wax", "bare"): (90.1, 90.0, 90.2)}
ZONES = [("control", "control"), ("wax", "wax")]


def said(*brackets: Bracket) -> dict[str, str]:
    return unclosed_sentences(gather(ZONES, ["bare"], samples_of(READINGS), brackets, 0.1))


def test_a_stage_whose_readings_are_all_closed_needs_no_word() -> None:
    assert said(quiet("bare", 0)) == {}


def test_a_stage_in_one_state_is_told_so() -> None:
    assert said(Bracket("bare", 0, None, None, 0.2))["bare"].startswith(
        "No closing check after bare is known yet"
    )
    assert said(Bracket("bare", 0, None, None, 0.2, is_broken=True))["bare"].startswith(
        "The meter was re-adjusted after bare, before a closing check"
    )
    assert said()["bare"].startswith("Readings at bare lie under no check")


def test_every_state_of_a_mixed_stage_is_counted_and_said_once(tmp_path: Path) -> None:
    text = plan_text(
        {"none": "Untreated", "x": "Slipway wax"}, {"A1": "none", "A2": "x"}, replicates=3,
        stages=("bare", "applied"),
    )  # fmt: skip
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin("bare", text=text)
    for value in ("80.1", "80.2", "80.3", "81.0"):
        yard.press("shore", value)
    yard.check("shore")
    yard.press("shore", "81.1")
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.check("shore")
    yard.press("shore", "81.2")
    yard.act(lambda at: yard.acts.runs.finish("", at))
    yard.begin("applied", text=text)
    for value in ("80.1", "80.2", "80.3", "83.0", "83.1", "83.2"):
        yard.press("shore", value)
    yard.act(lambda at: yard.acts.runs.finish("", at))
    (found,) = evidence_of(load_trial(yard.bench.store, "gelcoat-1"))
    yard.close()
    every = {c for v in found.result.levels for c in v.caveats} | set(found.result.caveats)
    about_bare = {c for c in every if "at bare" in c or "after bare" in c}
    assert about_bare == {
        "Of the 5 readings at bare: 4 closed by a later check, 1 without a closing check so far. "
        "What the meter did around the other 1 is not in the uncertainty."
    }
    assert any(c.startswith("No closing check after applied is known yet") for c in every)
