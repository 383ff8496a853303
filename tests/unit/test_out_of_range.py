"""Presses out of the meter's range in a run: which zone is one-sided, and what is not decided."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.errors import Refused
from acquire.live.words import voided_words
from acquire.model import Flag
from acquire.report.answers.coverage import coverage
from acquire.report.evidence.evidence import Evidence, evidence_of
from acquire.report.record.loading import load_trial
from acquire.report.record.record import TrialRecord
from acquire.report.sections.leftouts import left_outs
from acquire.report.sections.tables import zone_tables
from tests.two_angles import TwoAngleYard
from tests.unit.reported import SMALL, SMALL_VALUES, page, read_stage
from tests.yard import Yard

ZONES = ("A1", "A2")
ABOVE = frozenset({Flag.OVER_RANGE})
BELOW = frozenset({Flag.UNDER_RANGE})


def press(yard: Yard, value: str, flags: frozenset[Flag] = frozenset()) -> None:
    yard.clock.advance(2)
    yard.press("shore", None if flags else value, flags=flags)


def begun(folder: Path) -> Yard:
    """`SMALL` read bare, and its run at cured begun."""
    yard = Yard(folder)
    yard.plug("shore")
    yard.check("shore")
    read_stage(yard, "bare", SMALL, [SMALL_VALUES[z, "bare"] for z in ZONES])
    yard.begin("cured", text=SMALL)
    return yard


def read_on(yard: Yard, *values: str) -> None:
    for value in values:
        press(yard, value)


def ended(yard: Yard) -> TrialRecord:
    yard.act(lambda at: yard.acts.runs.finish("", at))
    yard.check("shore")
    return load_trial(yard.bench.store, "small")


def places(record: TrialRecord) -> list[tuple[str, str, bool]]:
    return [(b.zone, b.stage, b.is_above) for b in record.beyond]


def gloss(record: TrialRecord) -> Evidence:
    (evidence,) = evidence_of(record)
    return evidence


def whole(folder: Path) -> Yard:
    """One press at A2, cured, was above the range, and its place was read again."""
    yard = begun(folder)
    read_on(yard, *SMALL_VALUES["A1", "cured"], "84.0")
    press(yard, "", ABOVE)
    read_on(yard, "84.1", "84.2")
    return yard


def test_a_decision_that_rests_on_a_zone_with_a_press_out_of_range_is_not_claimed(
    tmp_path: Path,
) -> None:
    yard = whole(tmp_path)
    evidence = gloss(ended(yard))
    yard.close()
    (found,) = evidence.ranked("cured")
    assert isinstance(found, Refusal)
    assert found.sentence == (
        "Brine Shield, cured: no decision, because at zone A2, cured, 1 press was above the "
        "meter's range: the mean of what counts there is one-sided. Next: read it with a meter "
        "whose range holds it; if such a press was a slip, take it out with the reason (coatbench "
        "void NUMBER --reason TEXT)."
    )


def test_a_zone_with_a_press_out_of_range_is_marked_where_its_figures_stand(tmp_path: Path) -> None:
    yard = whole(tmp_path)
    record = ended(yard)
    found = page(yard, "small", tmp_path)
    yard.close()
    evidence = gloss(record)
    bare, cured = zone_tables(record, evidence)
    marks = {(t.stage, r.zone): (r.late, r.change_late, r.u) for t in (bare, cured) for r in t.rows}
    assert marks["cured", "A2"] == ("OUT OF RANGE", "OUT OF RANGE", "–")
    assert all(m[:2] == ("", "") for place, m in marks.items() if place != ("cured", "A2"))
    level = evidence.result.level("A2", "cured")
    assert level is not None
    assert level.budget is None
    assert "no uncertainty, because at zone A2, cured, 1 press was above" in level.sentence
    (change,) = (c for c in evidence.result.changes if c.zone == "A2")
    assert change.budget is None
    (said,) = [x for x in coverage(record) if x.startswith("OUT OF RANGE")]
    number = record.beyond[0].reading_id
    assert said.startswith(
        f"OUT OF RANGE at zone A2, cured at 20°: 1 press was above the meter's range (reading "
        f"{number}). What is out of range has no value"
    )
    (loose,) = left_outs(record, [evidence]).loose
    assert loose.place == "shore, no place; the run was at zone A2, cured"
    assert "84.10 OUT OF RANGE" in found.text


def test_a_press_out_of_range_that_a_person_took_out_as_a_slip_says_nothing_of_its_zone(
    tmp_path: Path,
) -> None:
    yard = whole(tmp_path)
    (number,) = (b.reading_id for b in ended(yard).beyond)
    reply = yard.act(lambda at: yard.acts.readings.void(number, "in the air", at))
    record = load_trial(yard.bench.store, "small")
    with pytest.raises(Refused, match="void already"):
        yard.act(lambda at: yard.acts.readings.void(number, "once more", at))
    yard.close()
    assert voided_words(reply) == (
        f"reading {number} (over range at 20°) is void; no zone is one-sided by it"
    )
    assert record.beyond == ()
    evidence = gloss(record)
    (found,) = evidence.ranked("cured")
    assert isinstance(found, Comparison)
    (loose,) = left_outs(record, [evidence]).loose
    assert loose.reason == "over-range; void: in the air"


def test_presses_out_of_range_are_at_the_place_where_the_hand_had_gone(tmp_path: Path) -> None:
    yard = begun(tmp_path)
    read_on(yard, "79.9")
    yard.act(lambda at: yard.acts.runs.go_to("A2", None, at))
    press(yard, "", BELOW)
    yard.act(lambda at: yard.acts.runs.go_to("A1", None, at))
    read_on(yard, "80.0", "80.1", "84.0", "84.1", "84.2")
    record = ended(yard)
    yard.close()
    assert places(record) == [("A2", "cured", False)]


def test_a_run_that_ended_after_a_press_out_of_range_was_at_its_next_open_place(
    tmp_path: Path,
) -> None:
    yard = begun(tmp_path)
    read_on(yard, *SMALL_VALUES["A1", "cured"])
    press(yard, "", ABOVE)
    press(yard, "", ABOVE)
    record = ended(yard)
    yard.close()
    assert places(record) == [("A2", "cured", True)] * 2
    evidence = gloss(record)
    (found,) = evidence.ranked("cured")
    assert isinstance(found, Refusal)
    assert "2 presses were above the meter's range" in found.sentence
    level = evidence.result.level("A2", "cured")
    assert level is not None
    assert level.sentence == (
        "Zone A2, cured: no reading counts; 2 presses were above the meter's range."
    )


def test_a_run_that_ended_where_the_hand_had_gone_was_there_for_a_press_out_of_range(
    tmp_path: Path,
) -> None:
    yard = begun(tmp_path)
    read_on(yard, "79.9")
    yard.act(lambda at: yard.acts.runs.go_to("A2", 2, at))
    press(yard, "", ABOVE)
    record = ended(yard)
    yard.close()
    assert places(record) == [("A2", "cured", True)]


def test_a_press_out_of_range_in_a_check_or_under_none_is_of_no_zone(tmp_path: Path) -> None:
    yard = begun(tmp_path)
    read_on(yard, "79.9")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    press(yard, "", ABOVE)
    read_on(yard, "95.9", "95.9", "0.0", "0.0")
    press(yard, "", ABOVE)
    yard.check("shore")
    read_on(yard, "79.9", "80.0", "80.1", "84.0", "84.1", "84.2")
    record = ended(yard)
    yard.close()
    assert places(record) == []


def test_a_press_out_of_range_under_a_pass_that_was_found_wrong_is_left_out_with_its_readings(
    tmp_path: Path,
) -> None:
    yard = begun(tmp_path)
    press(yard, "", ABOVE)
    read_on(yard, "79.9")
    yard.check("shore", tile="95.9")
    yard.check("shore")
    read_on(yard, *SMALL_VALUES["A1", "cured"], *SMALL_VALUES["A2", "cured"])
    record = ended(yard)
    yard.close()
    assert places(record) == []


def test_a_slip_takes_all_angles_of_its_press_out_that_lay_out_of_range(tmp_path: Path) -> None:
    yard = TwoAngleYard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin("bare")
    for values in (("----", "----"), ("----", "12.0"), ("----", "60.1")):
        yard.clock.advance(2)
        yard.press_both(*values)
    loose = [row["reading_id"] for row in yard.readings("role = 'loose' AND flags <> ''")]
    slipped = yard.readings("role = 'run' AND channel = '60'")[0]["reading_id"]
    assert isinstance(loose[0], int)
    assert isinstance(slipped, int)

    def left() -> list[int]:
        return [b.reading_id for b in load_trial(yard.bench.store, "gelcoat").beyond]

    assert left() == loose[:4]
    reply = yard.act(lambda at: yard.acts.readings.void(loose[0], "in the air", at))
    assert reply["readings"] == loose[:2]
    assert left() == loose[2:4]
    # Whoever voids the angle that was read of a slip has said it of the other one, too.
    reply = yard.act(lambda at: yard.acts.readings.void(slipped, "off the edge", at))
    assert reply["readings"] == [loose[2], slipped]
    assert left() == loose[3:4]
    yard.close()


def test_a_press_out_of_range_has_its_place_by_the_numbers_where_the_clock_tells_no_order(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin("bare", text=SMALL)
    for value in (*SMALL_VALUES["A1", "bare"], "81.0", None, "81.1", "81.2"):
        yard.press("shore", value, flags=frozenset() if value else BELOW)
    yard.act(lambda at: yard.acts.runs.finish("", at))
    yard.begin("cured", text=SMALL)
    for value in (*SMALL_VALUES["A1", "cured"], *SMALL_VALUES["A2", "cured"]):
        yard.press("shore", value)
    record = ended(yard)
    yard.close()
    assert len({r.at_utc_ns for r in (*record.readings, *record.loose)}) == 1
    assert places(record) == [("A2", "bare", False)]


def test_an_angle_out_of_range_is_one_sided_at_that_angle_alone(tmp_path: Path) -> None:
    yard = TwoAngleYard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin("bare")
    for values in (("----", "60.0"), ("80.0", "60.1"), ("81.0", "61.0")):
        yard.clock.advance(2)
        yard.press_both(*values)
    yard.act(lambda at: yard.acts.runs.finish("", at))
    record = load_trial(yard.bench.store, "gelcoat")
    yard.close()
    ((channel, zone),) = ((b.channel, b.zone) for b in record.beyond)
    assert (channel, zone) == ("20", "A1")
    at_20, at_60 = evidence_of(record)
    assert set(at_20.result.basis.one_sided) == {("A1", "bare")}
    assert not at_60.result.basis.one_sided
