"""What a check that closed nothing found is in the uncertainty, and is named beside the results."""

from __future__ import annotations

import html
from collections.abc import Sequence

import pytest

from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.treatments.decision import Decision
from acquire.report.answers.coverage import coverage
from acquire.report.answers.recomputed import recomputed_lines
from acquire.report.evidence.evidence import Evidence, corrections_of, evidence_of
from acquire.report.page import render
from acquire.report.record.loading import load_trial
from acquire.report.record.record import TrialRecord
from acquire.report.terminal.shortlines import short_lines
from acquire.report.terminal.summary import lines_of
from tests.unit.reported import plan_text, read_stage
from tests.yard import Yard

NAMES = {"none": "Untreated", "tern": "Tern wax", "knot": "Knot sealant"}
ZONES = {"A1": "none", "A2": "tern", "A3": "knot"}
SCATTER = (-0.1, 0.0, 0.1, 0.0, 0.0)
TEXT = plan_text(NAMES, ZONES, replicates=5, stages=("bare", "applied"), control="none")
BETTER = [Decision.BETTER, Decision.BETTER]
NONE_SHOWN = [Decision.NOT_SHOWN, Decision.NOT_SHOWN]
NAMED = (
    "Check 3 (undecided) read T1 at 20° off by +0.90 GU. It came after 15 of these readings and "
    "closed nothing, yet what it found counts as drift of the meter in their uncertainty, like "
    "that of a passed check."
)


def read_twice(yard: Yard, drift: float, text: str = TEXT) -> None:
    """Three zones that stay as they are; the meter drifts while the second stage is read."""
    yard.check("shore", tile="93.2")
    for stage, slope in (("bare", 0.0), ("applied", drift)):
        moved = iter(slope * k / 15 for k in range(1, 16))
        read_stage(
            yard, stage, text, [[f"{80 + d + next(moved):.1f}" for d in SCATTER] for _ in ZONES]
        )
        if stage == "bare":
            yard.check("shore", tile="93.2")


def break_off(yard: Yard, *tiles: str) -> None:
    """A check in which T1 alone was read so."""
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for tile in tiles:
        yard.clock.advance(1)
        yard.press("shore", tile)
    yard.clock.advance(3)
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))


def record_of(yard: Yard) -> TrialRecord:
    return load_trial(yard.bench.store, "gelcoat-1")


def judged(yard: Yard) -> tuple[Evidence, list[Comparison]]:
    (one,) = evidence_of(record_of(yard))
    found = [c for c in one.ranked("applied") if isinstance(c, Comparison)]
    assert len(found) == 2
    return one, found


def decisions(yard: Yard) -> list[Decision]:
    return [c.decision for c in judged(yard)[1]]


def notes(found: Sequence[Comparison]) -> str:
    terms = [t.note for c in found for t in c.budget.terms]
    return "\n".join([*terms, *(b.note for c in found for b in c.budget.biases)])


def outcomes(yard: Yard) -> list[object]:
    return [row["outcome"] for row in yard.writer.query("SELECT outcome FROM checks")]


def test_with_no_drift_found_the_same_readings_would_be_called_better(yard: Yard) -> None:
    """So that what follows is due to the check: the drift itself is what looks like a gain."""
    read_twice(yard, 0.9)
    yard.check("shore", tile="93.2")
    assert decisions(yard) == BETTER


@pytest.mark.parametrize("later", [(), ("93.2",)], ids=["the only one", "a pass after it"])
def test_a_drift_that_an_undecided_check_found_makes_no_treatment_better(
    yard: Yard, later: tuple[str, ...]
) -> None:
    read_twice(yard, 0.9)
    for tile in ("94.1", *later):
        yard.check("shore", tile=tile)
    assert outcomes(yard) == ["pass", "pass", "undecided", *["pass"] * len(later)]
    _, found = judged(yard)
    assert [c.decision for c in found] == NONE_SHOWN
    assert "Check 2 and check 3 (undecided) differ by +0.90 GU" in notes(found)
    assert "check 4" not in notes(found)
    record = record_of(yard)
    assert all(r.counts for r in record.readings)


@pytest.mark.parametrize("later", [(), ("93.2",)], ids=["the only one", "a pass after it"])
def test_results_in_full_in_short_and_on_the_page_name_the_check_that_widened_them(
    yard: Yard, later: tuple[str, ...]
) -> None:
    read_twice(yard, 0.9)
    for tile in ("94.1", *later):
        yard.check("shore", tile=tile)
    record = record_of(yard)
    assert NAMED in coverage(record)
    assert NAMED in short_lines(yard.bench.store, "gelcoat-1")
    assert NAMED in lines_of(yard.bench.store, "gelcoat-1")
    page = html.unescape(render(record)).replace("\xa0", " ")
    assert NAMED in page
    assert "changed by +0.90 GU until check 3 (undecided)" in page


def test_readings_before_an_undecided_check_alone_are_said_to_be_confirmed_by_none(
    yard: Yard,
) -> None:
    read_twice(yard, 0.9)
    yard.check("shore", tile="94.1")
    _, found = judged(yard)
    (said,) = {x for c in found for x in c.caveats if "applied" in x and "passed check" in x}
    assert said.startswith(
        "No passed check has closed applied, so what its readings rest on is not confirmed. What a "
        "check that closed nothing found of the drift there is in the uncertainty. Since then "
        "check 3, undecided"
    )
    assert "is not in the uncertainty" not in said


def test_a_check_that_was_broken_off_widens_no_less_than_one_that_passed(
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    found = []
    for is_broken_off in (False, True):
        yard = Yard(tmp_path_factory.mktemp("yard"))
        yard.plug("shore")
        read_twice(yard, 0.6)
        if is_broken_off:
            break_off(yard, "93.8", "93.8")
            yard.clock.advance(300)
            yard.check("shore", tile="93.2")
        else:
            yard.check("shore", tile="93.8")
        found.append([(c.estimate, *c.interval, c.decision) for c in judged(yard)[1]])
        yard.close()
    passed, broken_off = found
    for one, other in zip(passed, broken_off, strict=True):
        assert one[0] == pytest.approx(other[0], abs=0.01)
        # It did not read at zero, so whether readings far from the tile drifted by less is open.
        assert one[1] - 0.15 < other[1] <= one[1] + 0.01
        assert one[2] - 0.01 <= other[2] < one[2] + 0.15
        assert one[3] is other[3] is Decision.NOT_SHOWN


def test_a_piece_that_a_check_did_not_read_in_full_is_no_finding(yard: Yard) -> None:
    read_twice(yard, 0.0)
    break_off(yard, "93.9")
    yard.check("shore", tile="93.2")
    assert outcomes(yard)[2] == "undecided"
    assert "Check 2 and check 4 differ by 0.00 GU" in notes(judged(yard)[1])
    assert not any("Check 3" in line for line in coverage(record_of(yard)))


def test_a_slipped_press_in_an_undecided_check_is_told_with_its_scatter(yard: Yard) -> None:
    read_twice(yard, 0.0)
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for value in ("93.2", "90.2", "0.0", "0.0"):
        yard.press("shore", value)
    assert outcomes(yard)[2] == "undecided"
    yard.check("shore", tile="93.2")
    (said,) = [line for line in coverage(record_of(yard)) if line.startswith("Check 3")]
    assert "(its readings scattered by 2.1 GU, more than they may)" in said


def test_a_plan_that_corrects_by_a_line_which_a_check_contradicts_counts_its_drift_in_full(
    yard: Yard,
) -> None:
    text = TEXT + 'drift_correction = "offset"\n'
    read_twice(yard, 0.9, text)
    for tile in ("94.1", "93.2"):
        yard.check("shore", tile=tile)
    (correction,) = corrections_of(record_of(yard)).values()
    assert "contradicts a straight line" in correction.why_not["applied"]
    assert decisions(yard) == NONE_SHOWN


def test_an_undecided_check_alone_corrects_nothing(yard: Yard) -> None:
    read_twice(yard, 0.9, TEXT + 'drift_correction = "offset"\n')
    yard.check("shore", tile="94.1")
    (correction,) = corrections_of(record_of(yard)).values()
    assert "no passed closing check" in correction.why_not["applied"]
    assert decisions(yard) == NONE_SHOWN


def test_what_a_failed_check_found_is_in_nothing_that_was_said_before_it(yard: Yard) -> None:
    """The change that a failed check makes is told against results that knew nothing of it."""
    read_twice(yard, 0.9)
    yard.check("shore", tile="97.2")
    assert outcomes(yard)[-1] == "fail"
    said = recomputed_lines(yard.bench.store, 3)
    assert sum("was “better”" in line for line in said) == 2
