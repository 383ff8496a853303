"""Loose readings, voids in checks, troubles: what of the bench's life belongs to a trial's page."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.model import Flag
from acquire.report.answers.coverage import coverage
from acquire.report.record.loading import load_trial
from acquire.report.record.troubles import in_own_words
from acquire.report.words.wording import reason_alone
from acquire.store import rows as r
from tests.two_angles import AlikeYard
from tests.unit.reported import SMALL, full, page, plan_text, read_stage, small
from tests.yard import Yard

OTHER = SMALL.replace('id = "small"', 'id = "other"')


def loose_of(yard: Yard, trial: str = "small") -> list[tuple[str, str]]:
    return [(str(x.value), x.loose_reason) for x in load_trial(yard.bench.store, trial).loose]


def test_a_press_after_a_failed_check_is_loose_because_the_check_failed(tmp_path: Path) -> None:
    yard = small(tmp_path)
    yard.check("shore", tile="95.9")
    yard.press("shore", "80.0")
    reason = yard.readings("role = 'loose'")[-1]["loose_reason"]
    yard.close()
    assert reason == "no run is open: the last check of shore failed"


def test_loose_readings_of_other_hours_trials_and_meters_are_only_counted(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.plug("deck")
    yard.check("shore")
    yard.check("deck")
    values = [("80.1", "80.2", "80.3"), ("81.0", "81.1", "81.2")]
    yard.press("shore", "70.1")
    read_stage(yard, "bare", SMALL, values)
    yard.check("shore")
    yard.clock.advance(60)
    yard.press("shore", "70.2")
    yard.press("deck", "70.3")
    yard.begin("bare", text=OTHER)
    yard.press("shore", "70.4", channel="60")
    yard.act(lambda at: yard.acts.runs.finish("", at))
    found = page(yard, "small", tmp_path)
    mine, others = loose_of(yard), loose_of(yard, "other")
    yard.close()
    assert [value for value, _ in mine] == ["70.1"]
    # The check that closed the one trial opened the other, a minute before.
    assert [value for value, _ in others] == ["70.2", "70.4"]
    assert "3 other loose readings are in this store" in found.text
    assert "1 loose reading came around its runs and counts for nothing." in found.text


def test_other_angles_of_the_same_presses_are_said_to_be_no_more_than_that(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin("bare", text=SMALL)
    for value, angle in (("80.0", "20"), ("91.0", "60"), ("80.1", "20"), ("91.1", "60")):
        yard.clock.advance(2)
        yard.press("shore", value, channel=angle)
    yard.act(lambda at: yard.acts.runs.finish("", at))
    yard.check("shore")
    (said,) = [x for x in coverage(load_trial(yard.bench.store, "small")) if "loose" in x]
    yard.close()
    assert said == (
        "2 loose readings came around its runs and count for nothing; 2 of them are of other "
        "angles or bands than were asked for."
    )


def test_readings_out_of_the_meters_range_are_said_to_be_so_beside_the_results(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin("bare", text=SMALL)
    for value in ("80.0", None, "80.1"):
        yard.clock.advance(2)
        over = frozenset({Flag.OVER_RANGE}) if value is None else frozenset[Flag]()
        yard.press("shore", value, flags=over)
    yard.act(lambda at: yard.acts.runs.finish("", at))
    yard.check("shore")
    (said,) = [x for x in coverage(load_trial(yard.bench.store, "small")) if "loose" in x]
    yard.close()
    assert said == (
        "1 loose reading came around its runs and counts for nothing; the meter sent that it lay "
        "outside of its range, which is no value."
    )


def test_loose_readings_inside_a_run_of_another_trial_are_not_this_one_s(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    values = [("80.1", "80.2", "80.3"), ("81.0", "81.1", "81.2")]
    read_stage(yard, "bare", SMALL, values)
    yard.clock.advance(5)
    yard.begin("bare", text=OTHER)
    yard.press("shore", "70.4", channel="60")
    yard.clock.advance(5)
    yard.act(lambda at: yard.acts.runs.finish("", at))
    yard.clock.advance(5)
    read_stage(yard, "cured", SMALL, values)
    yard.check("shore")
    mine, others = loose_of(yard), loose_of(yard, "other")
    yard.close()
    assert mine == []
    assert [value for value, _ in others] == ["70.4"]


def test_a_reason_is_printed_without_the_step_that_was_for_the_bench(tmp_path: Path) -> None:
    yard = small(tmp_path)
    number = yard.readings("stage = 'cured'")[-1]["reading_id"]
    assert isinstance(number, int)
    yard.act(lambda at: yard.acts.readings.void(number, "slipped", at))
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for value in ("0.1", "93.2", "93.2", "0.0", "0.0"):
        yard.clock.advance(1)
        yard.press("shore", value)
    yard.begin("cured", text=SMALL)
    yard.press("shore", "84.2")
    found = page(yard, "small", tmp_path)
    yard.close()
    assert "this is near Z0 (0.0 GU)" in found.text
    assert "Next: put" not in found.text
    assert reason_alone("it slipped. Next: put it back. Next: go on") == "it slipped"


def test_a_void_in_a_check_takes_its_piece_along_and_both_are_counted_alike(tmp_path: Path) -> None:
    yard = small(tmp_path)
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "93.3")
    yard.press("shore", "92.0")
    second = yard.readings()[-1]["reading_id"]
    assert isinstance(second, int)
    yard.act(lambda at: yard.acts.readings.void(second, "slipped", at))
    for value in ("93.3", "93.3", "0.0", "0.0"):
        yard.clock.advance(1)
        yard.press("shore", value)
    found = page(yard, "small", tmp_path)
    yard.close()
    assert (
        f"Void before the verdict: 2 readings of T1 (number {second - 1}, {second}). A person took "
        f"out reading {second} (slipped); the 1 other of the piece went with it, and it was read "
        "anew in full."
    ) in found.text
    assert "In the checks 2 readings of reference pieces are void" in found.text


def test_what_was_taken_back_of_a_press_on_another_piece_is_no_void_of_a_person(
    tmp_path: Path,
) -> None:
    yard = AlikeYard(tmp_path)
    yard.plug("shore")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "93.4", channel="60", count=8)
    yard.press("shore", "0.0", channel="20", count=8)
    yard.count = 8
    for twenty in ("93.2", "93.2", "0.0", "0.0"):
        yard.press_both(twenty, "93.2")
    yard.begin()
    yard.press_both("80.1", "80.2")
    found = page(yard, "gelcoat", tmp_path)
    yard.close()
    assert (
        "Void at once: reading 1 of T1, since reading 2 of its press tells that shore was not on T1"
    ) in found.text
    assert "A person took out" not in found.text
    assert "In the checks" not in found.text


def test_a_run_with_suspects_says_so_beside_how_it_ended(tmp_path: Path) -> None:
    yard = full(tmp_path)
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    assert "(ended as: all zones read); 10 readings of it are suspect since" in found.text


def test_a_daemon_that_was_killed_is_among_the_troubles(tmp_path: Path) -> None:
    yard = small(tmp_path)
    yard.clock.advance(1)
    yard.restart()
    yard.clock.advance(9)
    yard.plug("shore")
    yard.unplug("shore")
    yard.plug("shore")
    found = page(yard, "small", tmp_path)
    yard.close()
    rows = [row for row in found.rows if row[2:3] in (["daemon ended"], ["not watched"])]
    assert [row[2] for row in rows] == ["daemon ended", "not watched"]
    assert "the daemon was killed, or the computer failed, after this moment" in rows[0][3]
    assert "the line was opened again on 4 May 2026, 08:00:" in rows[0][3]
    assert "nobody watched shore meanwhile; its check ended with that" in rows[1][3]


@pytest.mark.parametrize(
    ("kind", "message", "told"),
    [
        (
            "link lost",
            "shore: the line /dev/shore broke: got device reports readiness to read but returned "
            "no data (device disconnected or multiple access on port?). Next: plug it in",
            "shore: the line /dev/shore broke",
        ),
        (
            "link unavailable",
            "shore: /dev/shore cannot be opened: got [Errno 2] could not open port: [Errno 2] no "
            "such file: '/dev/shore', wanted a port that is there. Next: plug it in",
            "shore: /dev/shore cannot be opened",
        ),
        (
            "driver failed",
            "shore: the driver line failed on the bytes b'12: x': KeyError: 'x'. Next: report it",
            "shore: the driver line failed",
        ),
        (
            "other serial number",
            "shore: serial 7 answers, wanted 8. Next: plug in 8, or change the serial",
            "shore: serial 7 answers, wanted 8",
        ),
    ],
)
def test_of_a_trouble_only_our_own_words_are_printed(kind: str, message: str, told: str) -> None:
    assert in_own_words(kind, message) == told


def test_the_page_leaves_the_words_of_libraries_in_the_store(tmp_path: Path) -> None:
    yard = small(tmp_path)
    now = yard.clock.now().utc_ns
    text = "shore: the line broke: got device reports readiness. Next: plug it in"
    yard.store([r.IncidentRow(1, now, "shore", "link lost", text)])
    found = page(yard, "small", tmp_path)
    yard.close()
    (row,) = [row for row in found.rows if row[1:3] == ["shore", "link lost"]]
    assert row[3] == "shore: the line broke"


def test_equality_names_the_interval_it_was_decided_by(tmp_path: Path) -> None:
    names = {"none": "Untreated", "x": "Slipway wax"}
    text = plan_text(names, {"A1": "none", "A2": "x"}, stages=("bare", "cured"), replicates=3)
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    for stage in ("bare", "cured"):
        values = [("80.1", "80.2", "80.3"), ("81.1", "81.2", "81.3")]
        read_stage(yard, stage, text.replace("margin = 0.3", "margin = 0.9"), values)
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    assert "by its 90 % interval, −0." in found.row("Slipway wax")[1].replace("\u00a0", " ")
    assert "narrower than the 95 % interval" in found.text


def test_nothing_holds_at_95_percent_where_nothing_was_judged(tmp_path: Path) -> None:
    names = {"none": "Untreated", "x": "Slipway wax"}
    text = plan_text(names, {"A1": "none", "A2": "x"}, replicates=2)
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    read_stage(yard, "bare", text, [("80.1", "80.2"), ("81.1", "81.2")])
    found = page(yard, "gelcoat-1", tmp_path)
    yard.close()
    assert "Every 95 % interval" not in found.text


def test_the_way_to_prove_a_reading_stands_where_readings_are_listed(tmp_path: Path) -> None:
    yard = small(tmp_path)
    found = page(yard, "small", tmp_path)
    yard.close()
    assert "coatbench proof NUMBER" in found.text
