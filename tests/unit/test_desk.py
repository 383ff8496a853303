"""The desk: every reading gets its place, and none counts without a valid pass."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.cli.run import begun_words
from acquire.errors import NotFound, Refused
from acquire.model import MEASURED, Batch, Flag, Gap, NoticeKind, Slot, Target
from acquire.pipeline.course import Course, Filling
from acquire.pipeline.nearness import placing
from acquire.settings import parse_plan
from acquire.store import rows as r
from tests.yard import TRIAL, Yard, pieces


def test_a_reading_without_a_run_is_loose_and_kept(yard: Yard) -> None:
    yard.press("shore", "82.4")
    (found,) = yard.readings()
    assert (found["role"], found["value"], found["counts"]) == ("loose", "82.4", 0)
    assert found["loose_reason"] == "no run is open for this instrument"


def test_without_a_check_a_run_is_refused_with_the_next_step(yard: Yard) -> None:
    with pytest.raises(Refused, match="has not been checked") as refusal:
        yard.begin()
    assert refusal.value.reason == "no check"
    assert refusal.value.next_step == "coatbench check shore"


def test_under_a_valid_check_readings_fill_the_targets_in_plan_order(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    for value in ("80.1", "81.2", "80.3", "81.4"):
        yard.press("shore", value)
    found = yard.readings("role = 'run'")
    assert [(f["zone"], f["replicate"], f["value"]) for f in found] == [
        ("A1", 1, "80.1"),
        ("A2", 1, "81.2"),
        ("A1", 2, "80.3"),
        ("A2", 2, "81.4"),
    ]
    assert all(f["counts"] == 1 and f["bracket"] == "open" for f in found)
    yard.press("shore", "99.9")
    assert yard.readings()[-1]["loose_reason"] == "every target of the run is filled"


def test_a_failed_check_refuses_the_run_with_figure_and_limit(yard: Yard) -> None:
    yard.check("shore", tile="95.6")
    with pytest.raises(Refused, match=r"95\.60 GU.*limit 1\.0 GU") as refusal:
        yard.begin()
    assert refusal.value.reason == "check fail"
    assert "re-adjust" in refusal.value.next_step


def test_an_undecided_check_does_not_open_the_gate(yard: Yard) -> None:
    yard.check("shore", tile="94.1")
    with pytest.raises(Refused, match="too near the limit"):
        yard.begin()


def test_after_re_adjustment_the_reason_is_the_re_adjustment_and_a_new_check_opens(
    yard: Yard,
) -> None:
    yard.check("shore", tile="95.6")
    yard.tell("shore", NoticeKind.ADJUSTED)
    with pytest.raises(Refused, match="re-adjusted and has not been checked"):
        yard.begin()
    yard.check("shore")
    yard.begin()


def test_a_pass_that_ends_between_two_readings_of_one_moment_covers_the_first_alone(
    yard: Yard,
) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.press("shore", "80.2")
    placed = yard.writer.query("SELECT text, role FROM reading ORDER BY id DESC LIMIT 2")
    assert [tuple(row) for row in placed] == [("80.2", "loose"), ("80.1", "run")]


@pytest.mark.parametrize(
    ("event", "reason"),
    [
        ("expiry", "expired"),
        ("unplug", "unplugged"),
        ("power", "switched off"),
        ("adjust", "re-adjusted"),
        ("serial", "other serial number"),
        ("clock", "clock jumped"),
        ("clock back", "clock jumped"),
        ("failed check", "failed check"),
        ("abandoned check", "failed check"),
        ("gap", "bytes went unrecorded"),
        ("restart", "not watched"),
    ],
)
def test_whatever_ends_a_pass_stops_the_run_and_later_readings_are_loose(
    yard: Yard, event: str, reason: str
) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.clock.advance(5)
    if event == "expiry":
        yard.clock.advance(3600)
        yard.tick()
    elif event == "unplug":
        yard.unplug("shore")
        yard.plug("shore")
    elif event == "power":
        yard.tell("shore", NoticeKind.POWER_UP, "SH-0417")
    elif event == "adjust":
        yard.tell("shore", NoticeKind.ADJUSTED)
    elif event == "serial":
        yard.tell("shore", NoticeKind.IDENTITY, "SH-0999")
        yard.tell("shore", NoticeKind.IDENTITY, "SH-0417")
    elif event == "clock":
        yard.clock.jump(+600)
    elif event == "clock back":
        yard.set_back(3)
    elif event == "failed check":
        yard.check("shore", tile="95.6")
    elif event == "abandoned check":
        yard.act(lambda at: yard.acts.checks.begin("shore", at))
        yard.press("shore", "95.6")
        yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    elif event == "gap":
        since = yard.clock.now()
        until = yard.clock.advance(1)
        yard.store(yard.desk.take_in(Batch("shore", 1, gap=Gap("shore", since, until, 40))))
    elif event == "restart":
        yard.restart()
        yard.plug("shore")
    yard.press("shore", "80.2")
    assert yard.readings()[-1]["role"] == "loose"
    (end,) = yard.writer.query("SELECT reason, message FROM pass_end")
    assert end["reason"] == reason
    assert end["message"]
    yard.check("shore")
    if event == "restart":
        yard.act(yard.acts.runs.resume)
    yard.press("shore", "80.3")
    assert yard.readings()[-1]["role"] == "run"


def test_of_two_meters_that_were_exchanged_it_is_said_which_is_which(yard: Yard) -> None:
    other = next(name for name in yard.desk.standings if name != "shore")
    serial = yard.desk.standings[other].spec.serial
    yard.check("shore")
    yard.tell("shore", NoticeKind.IDENTITY, serial)
    yard.press("shore", "80.2")
    found = yard.readings()[-1]
    assert (found["role"], found["serial"]) == ("loose", serial)
    (row,) = yard.writer.query("SELECT message FROM incident WHERE kind = 'other serial number'")
    assert f"serial {serial} answers, which is {other} of this bench, wanted " in row["message"]
    step = f"exchange the plugs of shore and {other}, or their links in bench.toml"
    assert f"Next: {step}, then coatbench check shore" in row["message"]


def test_a_reading_that_arrives_with_the_word_of_a_gap_comes_after_it(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    since = yard.clock.now()
    yard.clock.advance(1)
    rows = yard.press("shore", "80.1", gap=Gap("shore", since, yard.clock.now(), 40))
    assert [type(row).__name__ for row in rows][:2] == ["GapRow", "PassEndRow"]
    assert yard.readings()[-1]["role"] == "loose"


def test_a_run_that_is_blocked_says_why_and_what_to_do(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.unplug("shore")
    run = yard.act(yard.acts.status)["run"]
    assert isinstance(run, dict)
    assert "unplugged" in run["blocked"]["message"]
    assert run["blocked"]["next_step"] == (
        "plug shore in and switch it on (it is found by itself), then coatbench check shore"
    )


@pytest.mark.parametrize("flag", list(Flag))
def test_a_flagged_reading_fills_no_target(yard: Yard, flag: Flag) -> None:
    yard.check("shore")
    yard.begin()
    value = None if flag in (Flag.OVER_RANGE, Flag.UNDER_RANGE) else "80.1"
    yard.press("shore", value, flags=frozenset({flag}))
    found = yard.readings()[-1]
    assert (found["role"], found["loose_reason"], found["counts"]) == ("loose", str(flag), 0)


def test_a_flagged_reading_does_not_count_in_a_check(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "93.2", flags=frozenset({Flag.ECHO}))
    checking = yard.desk.standings["shore"].checking
    assert checking is not None
    assert not checking.has_readings


def test_another_geometry_never_mixes_into_a_run(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "90.0", channel="60")
    assert yard.readings()[-1]["loose_reason"] == "the run does not want 60°"


def test_another_geometry_in_a_check_is_told_with_the_next_step(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "93.2", channel="60")
    reason = yard.readings()[-1]["loose_reason"]
    assert reason.startswith("the check does not want 60\xb0: policy ")
    assert reason.endswith(
        "checks 20\xb0; set the meter to that, or name a policy for 60\xb0 in bench.toml"
    )


def test_a_failed_closing_check_makes_readings_suspect_and_opens_their_places(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    for value in ("80.1", "81.2"):
        yard.press("shore", value)
    yard.check("shore", tile="95.6")
    assert [(f["bracket"], f["counts"]) for f in yard.readings("role = 'run'")] == [
        ("suspect", 0),
        ("suspect", 0),
    ]
    yard.check("shore")
    yard.press("shore", "80.0")
    found = yard.readings("counts = 1")
    assert [(f["zone"], f["replicate"], f["value"]) for f in found] == [("A1", 1, "80.0")]


def test_a_check_whose_readings_scatter_and_are_all_outside_opens_the_places_too(
    yard: Yard,
) -> None:
    yard.check("shore")
    yard.begin()
    for value in ("80.1", "81.2"):
        yard.press("shore", value)
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for value in ("99.5", "98.9", "0.0", "0.0"):
        yard.press("shore", value)
    assert yard.writer.query("SELECT outcome FROM checks")[-1]["outcome"] == "fail"
    found = yard.act(yard.acts.status)["suspects"]
    assert isinstance(found, dict)
    assert [run["readings"] for run in found["runs"]] == [2]
    yard.check("shore")
    assert yard.desk.run is not None
    assert yard.desk.run.course.slots_left == 4
    yard.press("shore", "80.0")
    assert [(f["zone"], f["value"]) for f in yard.readings("counts = 1")] == [("A1", "80.0")]


def test_a_check_that_passes_under_a_wider_limit_tells_what_it_makes_suspect(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.close()
    instruments = []
    for instrument in yard.bench.instruments:
        wide = tuple(replace(rule, limit=rule.limit * 10) for rule in instrument.policy.rules)
        policy = replace(instrument.policy, rules=wide)
        instruments.append(replace(instrument, policy=policy))
    yard.bench = replace(yard.bench, instruments=tuple(instruments))
    yard.open()
    yard.plug("shore")
    yard.check("shore", tile="95.6")
    found = yard.act(yard.acts.status)["suspects"]
    assert isinstance(found, dict)
    assert (found["check_id"], found["runs"][0]["readings"]) == (2, 1)


def test_an_undecided_check_that_finds_nothing_outside_leaves_a_run_where_it_stood(
    yard: Yard,
) -> None:
    yard.check("shore")
    yard.begin()
    for value in ("80.1", "81.2", "80.2"):
        yard.press("shore", value)
    first = yard.readings("role = 'run'")[0]["reading_id"]
    assert isinstance(first, int)
    yard.act(lambda at: yard.acts.readings.void(first, "dust", at))
    assert yard.desk.run is not None
    before = yard.desk.run.course
    # Scatters by more than it may, about the certified value.
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for value in ("93.6", "92.9", "0.0", "0.0"):
        yard.press("shore", value)
    assert yard.writer.query("SELECT outcome FROM checks")[-1]["outcome"] == "undecided"
    assert yard.desk.run.course is before


def test_a_passed_closing_check_brackets_what_lies_between(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.check("shore")
    (found,) = yard.readings("role = 'run'")
    assert (found["bracket"], found["closing_check_id"]) == ("bracketed", 2)


def test_a_check_after_re_adjustment_brackets_nothing_before_it(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.clock.advance(1)
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.check("shore")
    (found,) = yard.readings("role = 'run'")
    assert (found["bracket"], found["closing_check_id"]) == ("suspect", None)


def test_a_void_takes_the_reading_out_and_offers_its_place_next(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.press("shore", "20.0")
    yard.act(lambda at: yard.acts.readings.void(6, "meter slipped", at))
    yard.press("shore", "81.2")
    found = yard.readings("zone = 'A2'")
    assert [(f["value"], f["counts"], f["void_reason"]) for f in found] == [
        ("20.0", 0, "meter slipped"),
        ("81.2", 1, None),
    ]


def test_a_void_takes_out_the_whole_press(yard: Yard) -> None:
    text = TRIAL.replace("[trial]", "[trial]\nunchecked = true").replace(
        "geometry = 20", "geometry = [20, 60]"
    )
    both = replace(yard.desk.standings["shore"].spec.policy, channels=("20", "60"))
    standing = yard.desk.standings["shore"]
    standing.spec = replace(standing.spec, policy=both)
    yard.begin(text=text)
    for count, value in ((1, "80.1"), (2, "20.0")):
        for channel in ("20", "60"):
            yard.press("shore", value, channel=channel, count=count)
    answer = yard.act(lambda at: yard.acts.readings.void(3, "meter slipped", at))
    assert answer["readings"] == [3, 4]
    assert [f["value"] for f in yard.readings("counts = 1")] == ["80.1", "80.1"]
    for channel in ("20", "60"):
        yard.press("shore", "81.2", channel=channel, count=3)
    found = yard.readings("counts = 1 AND zone = 'A2'")
    assert [(f["channel"], f["value"]) for f in found] == [("20", "81.2"), ("60", "81.2")]


def test_a_void_wants_a_reason_and_a_reading_of_a_run(yard: Yard) -> None:
    yard.plug("deck")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    reading_id = yard.readings()[-1]["reading_id"]
    assert isinstance(reading_id, int)
    with pytest.raises(Refused, match="no reason"):
        yard.act(lambda at: yard.acts.readings.void(reading_id, "  ", at))
    with pytest.raises(Refused, match="nothing is to be seen") as refused:
        yard.act(lambda at: yard.acts.readings.void(reading_id, "\u200b\u2060", at))
    assert refused.value.reason == "no reason"
    with pytest.raises(Refused, match="of a check that is judged"):
        yard.act(lambda at: yard.acts.readings.void(1, "bad check reading", at))
    yard.press("deck", "80.1")
    with pytest.raises(Refused, match="in no result"):
        yard.act(lambda at: yard.acts.readings.void(reading_id + 1, "never mind", at))
    with pytest.raises(NotFound):
        yard.act(lambda at: yard.acts.readings.void(999, "x", at))
    yard.act(lambda at: yard.acts.readings.void(reading_id, "slipped", at))
    with pytest.raises(Refused, match="void already"):
        yard.act(lambda at: yard.acts.readings.void(reading_id, "slipped", at))


def test_a_loose_reading_is_assigned_only_under_the_pass_of_its_own_moment(yard: Yard) -> None:
    yard.press("shore", "80.1")
    early = yard.readings()[-1]["reading_id"]
    yard.check("shore")
    yard.press("shore", "80.2")
    covered = yard.readings()[-1]["reading_id"]
    assert isinstance(early, int)
    assert isinstance(covered, int)
    yard.begin()

    def assign(reading_id: int, zone: str = "A1", reason: str = "pressed too early") -> None:
        yard.act(
            lambda at: yard.acts.readings.assign(
                reading_id, "gelcoat", None, zone, "bare", 1, reason, at
            )
        )

    with pytest.raises(Refused, match="may not count"):
        assign(early)
    with pytest.raises(Refused, match="without a reason"):
        assign(covered, reason=" ")
    with pytest.raises(Refused, match="without a reason"):
        assign(covered, reason="\u200b\u2060")
    with pytest.raises(Refused, match="does not fit"):
        assign(covered, zone="B9")
    assign(covered)
    found = yard.readings("counts = 1")
    assert [(f["zone"], f["value"], f["assigned_reason"]) for f in found] == [
        ("A1", "80.2", "pressed too early")
    ]
    assert yard.desk.run is not None
    assert yard.desk.run.course.next is not None
    assert yard.desk.run.course.next.zone == "A2"
    with pytest.raises(Refused):
        assign(covered)


def test_a_device_with_another_serial_number_can_neither_check_nor_run(yard: Yard) -> None:
    yard.tell("shore", NoticeKind.IDENTITY, "SH-0999")
    with pytest.raises(Refused, match="serial SH-0999"):
        yard.check("shore")
    yard.press("shore", "80.0")
    assert "SH-0999 answers where SH-0417" in str(yard.readings()[-1]["loose_reason"])


def test_an_unplugged_instrument_cannot_be_checked(yard: Yard) -> None:
    with pytest.raises(Refused, match="not connected"):
        yard.check("deck")


def test_an_instrument_the_bench_does_not_have_is_named_with_those_it_has(yard: Yard) -> None:
    with pytest.raises(NotFound, match="shore, deck"):
        yard.check("mast")


def test_an_overdue_certificate_refuses_the_check(tmp_path: Path) -> None:
    yard = Yard(tmp_path, due=date(2026, 5, 3))
    yard.plug("shore")
    with pytest.raises(Refused, match="past its due date"):
        yard.check("shore")
    yard.close()


def test_a_certificate_that_is_issued_only_later_refuses_the_check(yard: Yard) -> None:
    tile, trap = pieces()
    later = replace(tile.certificates[0], issued=date(2026, 5, 5))
    yard.close()
    yard.bench = replace(yard.bench, pieces=(replace(tile, certificates=(later,)), trap))
    yard.open()
    yard.plug("shore")
    with pytest.raises(Refused, match="certificate of T1, issued only on 2026-05-05"):
        yard.check("shore")
    assert yard.writer.query("SELECT * FROM check_begin") == []


@pytest.mark.parametrize(("tile", "left"), [("93.2", ("open", 1)), ("95.6", ("suspect", 0))])
@pytest.mark.parametrize("end", ["read on", "abandon"])
def test_a_certificate_that_runs_out_within_a_check_takes_away_nothing_that_was_found(
    tmp_path: Path, end: str, tile: str, left: tuple[str, int]
) -> None:
    yard = Yard(tmp_path, due=date(2026, 5, 4), valid_for_s=86400.0)
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for value in (tile, tile, "0.0"):
        yard.press("shore", value)
    yard.clock.advance(16 * 3600)
    if end == "abandon":
        yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    else:
        yard.press("shore", "0.0")
    assert yard.writer.query("SELECT outcome FROM checks")[-1]["outcome"] == "undecided"
    assert [(f["bracket"], f["counts"]) for f in yard.readings("role = 'run'")] == [left]
    yard.close()


def test_a_pass_ends_with_the_first_certificate_that_runs_out(tmp_path: Path) -> None:
    yard = Yard(tmp_path, due=date(2026, 5, 4), valid_for_s=86400.0)
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    yard.clock.advance(16 * 3600)
    yard.tick()
    yard.press("shore", "80.0")
    assert yard.readings()[-1]["role"] == "loose"
    (end,) = yard.writer.query("SELECT reason FROM pass_end")
    assert end["reason"] == "certificate ran out"
    yard.close()


def test_an_interrupted_run_is_found_and_goes_on_under_a_fresh_check(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.restart()
    yard.plug("shore")
    interrupted = yard.act(yard.acts.status)["interrupted"]
    assert isinstance(interrupted, dict)
    assert (interrupted["trial"], interrupted["stage"]) == ("gelcoat", "bare")
    with pytest.raises(Refused, match="nobody watched shore"):
        yard.act(yard.acts.runs.resume)
    with pytest.raises(Refused, match="interrupted run waits"):
        yard.begin()
    yard.check("shore")
    yard.act(yard.acts.runs.resume)
    yard.press("shore", "81.2")
    found = yard.readings("counts = 1")
    assert [(f["zone"], f["replicate"], f["run_id"]) for f in found] == [("A1", 1, 1), ("A2", 1, 1)]


def test_a_finished_run_leaves_its_open_places_to_another(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    assert yard.act(lambda at: yard.acts.runs.finish("lunch", at))["slots_left"] == 3
    yard.begin()
    yard.press("shore", "81.2")
    assert yard.readings()[-1]["zone"] == "A2"


def test_a_full_stage_is_not_begun_again(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    for _ in range(4):
        yard.press("shore", "80.0")
    yard.act(lambda at: yard.acts.runs.finish("", at))
    with pytest.raises(Refused, match="nothing is left"):
        yard.begin()


def test_a_changed_plan_may_add_but_not_move_what_has_readings(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.act(lambda at: yard.acts.runs.finish("", at))
    swapped = TRIAL.replace('id = "A1"\ntreatment = "none"', 'id = "A1"\ntreatment = "brine"')
    swapped = swapped.replace('id = "A2"\ntreatment = "brine"', 'id = "A2"\ntreatment = "none"')
    with pytest.raises(Refused, match="contradicts its own readings"):
        yard.begin(text=swapped)
    yard.begin(text=TRIAL.replace("replicates = 2", "replicates = 3"))
    (run,) = yard.shelf.open_runs()
    assert run.trial.id == 2


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('name = "untreated"\ncontrol = true', 'name = "untreated"'),
        ('name = "Brine Shield"', 'name = "Rival Shield"'),
        ("replicates = 2", "replicates = 2\nhigher_is_better = false"),
        ("replicates = 2", "replicates = 2\nmargin = 50"),
        ('stages = ["bare", "cured"]', 'stages = ["cured", "bare"]'),
        ('stages = ["bare", "cured"]', 'stages = ["bare"]'),
        ('id = "gloss20"', 'id = "shine"'),
        ("geometry = 20", "geometry = 60"),
    ],
)
def test_a_plan_with_runs_cannot_be_rewritten(yard: Yard, old: str, new: str) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.act(lambda at: yard.acts.runs.finish("", at))
    text = TRIAL.replace(old, new)
    if "control" in old:
        text = text.replace('name = "Brine Shield"', 'name = "Brine Shield"\ncontrol = true')
    assert text != TRIAL
    with pytest.raises(Refused, match=r"contradicts its own readings|does not measure"):
        yard.begin(text=text)


def test_a_reading_assigned_to_a_place_that_the_run_has_not_leaves_its_course_alone() -> None:
    course = Course([Target("A1", "bare", 1)], ("20",), {})
    with pytest.raises(ValueError, match="no open place"):
        course.fill_at(Slot(Target("A1", "bare", 1), "60"), Filling(1, 80.0))
    assert course.next == Target("A1", "bare", 1)


def test_an_unchecked_trial_takes_readings_and_says_so_everywhere(yard: Yard) -> None:
    text = TRIAL.replace("[trial]", "[trial]\nunchecked = true")
    yard.begin(text=text)
    yard.press("shore", "80.1")
    (found,) = yard.readings()
    assert (found["role"], found["bracket"], found["counts"]) == ("run", "unchecked", 1)
    yard.act(lambda at: yard.acts.runs.finish("", at))
    yard.check("shore")
    with pytest.raises(Refused, match="declared from the plan on"):
        yard.begin(stage="cured", text=TRIAL)


def test_the_cautions_are_given_once_a_sitting(yard: Yard) -> None:
    first = yard.act(lambda at: yard.acts.checks.begin("shore", at))
    assert "cautions" in first
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    assert "cautions" not in yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    yard.act(yard.acts.close_sitting)
    assert "cautions" in yard.act(lambda at: yard.acts.checks.begin("shore", at))


def test_every_reading_points_to_its_bytes_on_the_tape(yard: Yard) -> None:
    yard.press("shore", "80.1")
    yard.press("shore", "80.2")
    for found in yard.readings():
        (tape,) = yard.writer.query(
            "SELECT start, bytes FROM tape WHERE connection_id = ? AND direction = 'received' "
            "AND start <= ? AND start + length(bytes) >= ?",
            (found["connection_id"], found["raw_start"], found["raw_end"]),
        )
        begin = found["raw_start"] - tape["start"]
        end = found["raw_end"] - tape["start"]
        assert tape["bytes"][begin:end] == found["raw"]


def test_the_bench_and_its_certificates_are_written_down_once_and_again_when_changed(
    yard: Yard,
) -> None:
    yard.restart()
    count = "SELECT count(*) FROM certificate"
    assert yard.writer.query(count)[0][0] == 2
    yard.close()
    changed = Yard(yard.bench.store.parent, due=date(2031, 1, 31), issued=date(2026, 5, 1))
    assert changed.writer.query(count)[0][0] == 4
    changed.plug("shore")
    changed.check("shore")
    used = changed.writer.query("SELECT certificate_id FROM piece_judgement ORDER BY id")
    assert [row[0] for row in used] == [3, 4]
    changed.close()
    yard.bench = changed.bench
    yard.open()


def test_a_check_begun_before_a_crash_is_judged_undecided(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "93.2")
    yard.restart()
    (found,) = yard.writer.query("SELECT outcome, message FROM checks")
    assert found["outcome"] == "undecided"
    assert "daemon stopped" in found["message"]


def test_a_clock_that_is_set_back_makes_no_earlier_reading_covered(yard: Yard) -> None:
    yard.clock.advance(600)
    yard.press("shore", "55.5")
    early = yard.readings()[-1]["reading_id"]
    assert isinstance(early, int)
    yard.set_back(700)
    yard.check("shore")
    yard.begin()
    yard.clock.advance(300)
    with pytest.raises(Refused, match="may not count"):
        yard.act(
            lambda at: yard.acts.readings.assign(
                early, "gelcoat", None, "A1", "bare", 1, "found it", at
            )
        )


def test_a_wall_clock_held_back_step_by_step_does_not_stretch_a_pass(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    for _ in range(2500):
        yard.clock.advance(1.5)
        yard.clock.jump(-1.4)
        yard.tick()
    yard.press("shore", "80.1")
    assert yard.readings()[-1]["role"] == "loose"


@pytest.mark.parametrize("restarted", [True, False])
def test_a_clock_set_back_makes_no_overdue_certificate_valid_again(
    tmp_path: Path, restarted: bool
) -> None:
    yard = Yard(tmp_path, due=date(2026, 5, 20))
    yard.plug("shore")
    yard.clock.advance(30 * 86400)
    yard.press("shore", "80.1")
    with pytest.raises(Refused, match="past its due date"):
        yard.check("shore")
    yard.clock.jump(-30 * 86400)
    if restarted:
        yard.restart()
        yard.plug("shore")
    with pytest.raises(Refused, match="before the last entry of the store"):
        yard.check("shore")
    # Nor would the certificate, were it not for the clock.
    yard.desk.keeper.clock_jump_ns = 2**62
    with pytest.raises(Refused, match="past its due date"):
        yard.check("shore")
    assert yard.writer.query("SELECT count(*) FROM incident")[0][0] == 1
    yard.close()


def test_a_re_adjustment_breaks_a_bracket_whatever_the_clock_says(yard: Yard) -> None:
    yard.clock.advance(8000)
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.set_back(7200)
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.check("shore")
    (found,) = yard.readings("role = 'run'")
    assert found["bracket"] == "suspect"


def test_what_a_driver_stamps_cannot_bring_an_ended_pass_back(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.clock.advance(120)
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.clock.jump(-1)
    yard.press("shore", "80.1")
    assert yard.readings()[-1]["role"] == "loose"


@pytest.mark.parametrize("end", ["abandon", "adjust", "power", "unplug"])
def test_a_failing_closing_check_that_is_broken_off_still_makes_readings_suspect(
    yard: Yard, end: str
) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.clock.advance(1)
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for _ in range(2):
        yard.clock.advance(1)
        yard.press("shore", "95.6")
    yard.clock.advance(1)
    if end == "abandon":
        yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    elif end == "adjust":
        yard.tell("shore", NoticeKind.ADJUSTED)
    elif end == "power":
        yard.tell("shore", NoticeKind.POWER_UP)
    else:
        yard.unplug("shore")
        yard.plug("shore")
    yard.check("shore")
    (found,) = yard.readings("role = 'run'")
    assert (found["bracket"], found["counts"]) == ("suspect", 0)
    as_found = yard.writer.query("SELECT * FROM piece_judgement WHERE check_id = 2")
    assert [(row["piece"], row["outcome"], row["mean"]) for row in as_found] == [
        ("T1", "fail", "95.6000")
    ]


def test_a_reading_of_the_wrong_piece_is_told_and_does_not_spoil_the_check(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "0.1")
    assert yard.readings()[-1]["loose_reason"] == (
        "T1 reads about 93.2 GU; this is near Z0 (0.0 GU). Next: put shore on T1"
    )
    for value in ("93.2", "93.2", "0.0", "0.0"):
        yard.press("shore", value)
    assert yard.writer.query("SELECT outcome FROM checks")[0]["outcome"] == "pass"


def test_a_meter_so_far_off_that_it_mistakes_the_piece_keeps_no_pass(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "0.1")
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    yard.press("shore", "80.1")
    assert yard.readings()[-1]["role"] == "loose"


def test_a_check_broken_off_with_good_readings_decides_nothing(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "93.2")
    yard.press("shore", "93.2")
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    (found,) = yard.readings("role = 'run'")
    assert (found["bracket"], found["counts"]) == ("open", 1)
    assert left_at(yard) == "coatbench check shore"


def left_at(yard: Yard) -> str:
    """What is to be done next after the latest check."""
    return str(yard.writer.query("SELECT next_step FROM checks ORDER BY check_id")[-1][0])


@pytest.mark.parametrize("ends", [True, False])
def test_a_check_left_before_its_first_press_asks_for_another_where_the_pass_had_ended(
    yard: Yard, ends: bool
) -> None:
    yard.check("shore")
    if ends:
        yard.clock.advance(3601)
        yard.tick()
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    goes_on = "nothing, the pass before it goes on"
    assert left_at(yard) == ("coatbench check shore" if ends else goes_on)


def test_a_passed_check_leaves_the_place_the_person_had_gone_to(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.act(yard.acts.runs.skip)
    yard.check("shore")
    yard.press("shore", "81.2")
    assert yard.readings()[-1]["zone"] == "A2"


def test_rows_come_out_in_an_order_in_which_the_store_takes_them(yard: Yard) -> None:
    rows = yard.press("shore", "80.1")
    assert [type(row) for row in rows] == [r.TapeRow, r.ReadingRow]


def test_a_check_that_goes_badly_cannot_be_undone_by_ending_the_daemon(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for _ in range(2):
        yard.press("shore", "96.4")
    yard.restart()
    outcome = yard.writer.query("SELECT outcome, message FROM checks ORDER BY check_id")[-1]
    assert outcome["outcome"] == "fail"
    assert outcome["message"].startswith("the check was abandoned: the daemon stopped; but T1")
    (reading,) = yard.readings("zone = 'A1'")
    assert (reading["bracket"], reading["counts"]) == ("suspect", 0)


def test_a_check_that_the_end_of_the_daemon_broke_off_well_is_undecided(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "93.2")
    yard.restart()
    (check,) = yard.writer.query("SELECT outcome, message FROM checks")
    assert tuple(check) == ("undecided", "the check was abandoned: the daemon stopped")


def test_a_check_broken_off_is_held_against_the_certificates_of_when_it_began(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for _ in range(2):
        yard.press("shore", "99.9")
    # The bench file now certifies what the drifted meter reads.
    yard.bench = replace(yard.bench, pieces=pieces(tile="99.9", issued=date(2026, 5, 4)))
    yard.clock.advance(60)
    yard.restart()
    outcome = yard.writer.query("SELECT outcome FROM checks ORDER BY check_id")[-1]["outcome"]
    assert outcome == "fail"
    yard.close()


def test_a_check_broken_off_is_held_against_certificates_that_a_clock_ahead_of_it_recorded(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    yard.clock.jump(-2 * 86_400)
    yard.restart()
    yard.trust_clock()
    yard.plug("shore")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for _ in range(2):
        yard.press("shore", "96.4")
    yard.bench = replace(yard.bench, pieces=pieces(tile="96.4", issued=date(2026, 5, 1)))
    yard.clock.advance(60)
    yard.restart()
    (check,) = yard.writer.query("SELECT outcome FROM checks")
    assert check["outcome"] == "fail"
    yard.close()


@pytest.mark.parametrize(
    "starts",
    [[("dirty", "")], [("dirty", ""), ("greasy", "")], [("", "dirty"), ("dirty", "")]],
    ids=["withdrawn", "withdrawn in other words later", "withdrawn after the other one"],
)
def test_a_check_broken_off_is_held_against_the_certificate_of_its_day_that_was_not_withdrawn(
    tmp_path: Path, starts: list[tuple[str, str]]
) -> None:
    yard = Yard(tmp_path)
    tile, trap = pieces()
    for whys in starts:
        own = tuple(
            replace(tile.certificates[0], value=Decimal(value), withdrawn=why)
            for value, why in zip(("93.2", "92.2"), whys, strict=True)
        )
        yard.bench = replace(yard.bench, pieces=(replace(tile, certificates=own), trap))
        yard.clock.advance(60)
        yard.restart()
    yard.plug("shore")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for _ in range(2):
        yard.press("shore", "93.9")
    yard.restart()
    (judged,) = yard.writer.query("SELECT outcome, certified FROM piece_judgement")
    assert tuple(judged) == ("fail", "92.2")
    yard.close()


def test_a_press_in_a_check_is_given_no_place_in_a_run(yard: Yard) -> None:
    yard.check("shore")
    yard.begin()
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "0.0")
    loose = yard.readings("role = 'loose'")[-1]["reading_id"]

    def assign() -> None:
        yard.act(
            lambda at: yard.acts.readings.assign(
                loose, "gelcoat", None, "A1", "bare", 1, "pressed too early", at
            )
        )

    with pytest.raises(Refused, match="may not count"):
        assign()
    for value in ("93.2", "93.2", "0.0", "0.0"):
        yard.press("shore", value)
    with pytest.raises(Refused, match="may not count") as refused:
        assign()
    assert refused.value.reason == "in a check"


def test_a_later_stage_that_begins_before_the_bare_one_is_read_names_the_zones(yard: Yard) -> None:
    yard.check("shore")
    plan = parse_plan(TRIAL, "trial.toml")
    reply = yard.act(lambda at: yard.acts.runs.begin(plan, None, "cured", "shore", at))
    assert reply["bare_open"] == ["A1", "A2"]
    assert "NOT READ BARE: A1, A2" in begun_words(reply)[0]
    yard.act(lambda at: yard.acts.runs.finish("", at))
    reply = yard.act(lambda at: yard.acts.runs.begin(plan, None, "bare", "shore", at))
    assert begun_words(reply) == []


def test_a_piece_is_put_to_a_meter_as_its_kind_is_used() -> None:
    told = [placing(kind, "m", "P") for kind in MEASURED]
    assert told == ["put m on P", "load m with P", "put P into m"]
