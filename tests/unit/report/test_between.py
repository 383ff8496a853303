"""A check between the two around readings is named, and a straight line goes by what it found."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.analysis.figures import signed
from acquire.report.evidence.between import between_words
from acquire.report.evidence.evidence import corrections_of, evidence_of
from acquire.report.record.loading import load_trial
from tests.unit.reported import SMALL, SMALL_VALUES, page, read_stage
from tests.yard import Yard

CORRECTED = SMALL + 'drift_correction = "offset"\n'


def taken(yard: Yard, *tiles: str, text: str = SMALL) -> None:
    """Both stages under check 1 and its renewal 2, then checks that read these values of T1."""
    yard.check("shore", tile="93.2")
    for stage in ("bare", "cured"):
        read_stage(yard, stage, text, [SMALL_VALUES[z, stage] for z in ("A1", "A2")])
    for tile in tiles:
        yard.clock.advance(600)
        yard.check("shore", tile=tile)


def outcome(yard: Yard, check_id: int) -> str:
    found = yard.writer.query("SELECT outcome FROM checks WHERE check_id = ?", (check_id,))
    return str(found[0]["outcome"])


def test_an_undecided_check_between_is_named_beside_the_bracket(yard: Yard, tmp_path: Path) -> None:
    taken(yard, "94.2", "93.2")
    assert outcome(yard, 2) == "undecided"
    text = page(yard, "small", tmp_path).text
    assert "closed by check 3" in text
    assert "between: check 2, undecided" in text
    assert "found T1 at 20 off by +1.00 GU" in text
    assert "That it was so all the time is not shown." in text
    assert "inside its limits before and after" not in text


def test_nothing_is_named_where_no_check_lies_between(yard: Yard, tmp_path: Path) -> None:
    taken(yard, "93.3")
    assert between_words(load_trial(yard.bench.store, "small"), 1, 2) == ""
    assert "inside its limits before and after" in page(yard, "small", tmp_path).text


def test_no_straight_line_is_drawn_past_a_check_that_contradicts_it(yard: Yard) -> None:
    taken(yard, "94.2", "93.2", text=CORRECTED)
    (found,) = corrections_of(load_trial(yard.bench.store, "small")).values()
    assert found.stages == ()
    assert "check 2 read T1 +1.00" in found.why_not["cured"]
    assert "contradicts a straight line" in found.why_not["cured"]


@pytest.mark.parametrize(
    ("between", "closing", "is_drawn"),
    [("93.2", "93.2", True), ("93.2", "93.3", True), ("93.3", "93.2", False)],
    ids=["on the line", "off it by less than a display of 0.1 tells", "off it by more"],
)
def test_a_check_between_lets_the_line_be_drawn_where_its_readings_leave_room_for_it(
    yard: Yard, between: str, closing: str, is_drawn: bool
) -> None:
    """Room by hand: 2 hypot(u, u/2, u/2) = 0.07 GU half way, u = 0.1 / sqrt(12)."""
    taken(yard, text=CORRECTED)
    yard.clock.advance(600)
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for _ in range(2):
        yard.press("shore", between)
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    yard.clock.advance(600)
    yard.check("shore", tile=closing)
    assert (outcome(yard, 2), outcome(yard, 3)) == ("undecided", "pass")
    (found,) = corrections_of(load_trial(yard.bench.store, "small")).values()
    assert found.stages == (("bare", "cured") if is_drawn else ())
    assert is_drawn or "contradicts a straight line" in found.why_not["cured"]


def test_an_undecided_check_since_is_told_where_no_closing_check_is_known(yard: Yard) -> None:
    taken(yard, "94.2")
    (one,) = evidence_of(load_trial(yard.bench.store, "small"))
    told = " ".join(str(c) for c in one.result.comparisons)
    assert "Since then check 2, undecided" in told
    assert f"off by {signed(1.0, 0.2)}" in told or "off by +1.0" in told
