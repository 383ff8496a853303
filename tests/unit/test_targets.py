"""Where readings belong, told: open, skipped and filled places, and what a plan has added."""

from __future__ import annotations

import pytest

from acquire.errors import CoatbenchError, NotFound, Refused
from acquire.pipeline.status import status
from acquire.settings import parse_plan
from tests.yard import TRIAL, Yard


@pytest.fixture
def yard(yard: Yard) -> Yard:
    yard.check("shore")
    return yard


def fill(yard: Yard, *values: str) -> None:
    for value in values:
        yard.clock.advance(1)
        yard.press("shore", value)


def targets(yard: Yard, trial: str = "", stage: str = "") -> list[tuple[object, ...]]:
    reply = yard.act(lambda _: yard.acts.runs.targets(trial or None, None, stage or None))
    found = reply["targets"]
    assert isinstance(found, list)
    return [
        (t["zone"], t["replicate"], t["state"], [r["reading_id"] for r in t["readings"]])
        for t in found
    ]


def finish(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.runs.finish("done", at))


# -- the places ----------------------------------------------------------------------------------


def test_each_place_of_the_run_is_next_open_skipped_or_filled_by_a_numbered_reading(
    yard: Yard,
) -> None:
    yard.begin()
    fill(yard, "80.1")
    yard.act(yard.acts.runs.skip)
    assert targets(yard) == [
        ("A1", 1, "filled", [5]),
        ("A2", 1, "skipped", []),
        ("A1", 2, "next", []),
        ("A2", 2, "open", []),
    ]
    fill(yard, "80.2", "80.3")
    assert targets(yard)[1] == ("A2", 1, "next", [])


def test_places_of_an_interrupted_run_and_of_a_finished_stage_are_told_too(yard: Yard) -> None:
    yard.begin()
    fill(yard, "80.1")
    yard.restart()
    assert targets(yard)[:2] == [("A1", 1, "filled", [5]), ("A2", 1, "open", [])]
    reply = yard.act(lambda _: yard.acts.runs.targets(None, None, None))
    assert reply["interrupted"] == {"run_id": 1, "instrument": "shore"}
    finish(yard)
    with pytest.raises(Refused) as refused:
        targets(yard)
    assert refused.value.next_step == (
        "name a trial and a stage: coatbench targets gelcoat bare --measure gloss20"
    )
    assert targets(yard, "gelcoat", "bare")[0] == ("A1", 1, "filled", [5])


def test_a_trial_or_stage_that_is_not_there_is_answered_with_those_that_are(yard: Yard) -> None:
    yard.begin()
    finish(yard)
    with pytest.raises(NotFound) as missing:
        targets(yard, "gellcoat", "bare")
    assert missing.value.wanted == "gelcoat"
    with pytest.raises(NotFound) as missing:
        targets(yard, "gelcoat", "washed")
    assert missing.value.wanted == "bare, cured"


# -- the last reading ----------------------------------------------------------------------------


def test_the_status_names_the_last_reading_of_run_and_check(yard: Yard) -> None:
    yard.begin()
    fill(yard, "80.1")
    now = status(yard.desk, yard.clock.now())
    run = now["run"]
    assert isinstance(run, dict)
    assert run["last_taken"] == {
        "reading_id": 5,
        "value": "80.1",
        "unit": "gloss_unit",
        "channel": "20",
        "zone": "A1",
        "replicate": 1,
        "piece": None,
    }
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    fill(yard, "93.2")
    now = status(yard.desk, yard.clock.now())
    instruments = now["instruments"]
    assert isinstance(instruments, list)
    last = instruments[0]["checking"]["last_taken"]
    assert (last["reading_id"], last["value"], last["piece"]) == (6, "93.2", "T1")
    run = now["run"]
    assert isinstance(run, dict)
    assert run["last_taken"]["reading_id"] == 5


def test_what_is_void_is_the_last_reading_no_more(yard: Yard) -> None:
    yard.begin()
    fill(yard, "80.1", "80.2")
    yard.act(lambda at: yard.acts.readings.void(6, "dust", at))
    run = status(yard.desk, yard.clock.now())["run"]
    assert isinstance(run, dict)
    assert run["last_taken"] is None


# -- assign --------------------------------------------------------------------------------------


def assign(yard: Yard, reading_id: int, zone: str, stage: str = "bare") -> CoatbenchError:
    with pytest.raises(CoatbenchError) as refused:
        yard.act(
            lambda at: yard.acts.readings.assign(
                reading_id, "gelcoat", None, zone, stage, 1, "pressed late", at
            )
        )
    return refused.value


def test_an_assignment_that_does_not_fit_is_told_the_open_places(yard: Yard) -> None:
    yard.begin()
    fill(yard, "80.1")
    finish(yard)
    yard.press("shore", "80.2")
    refused = assign(yard, 6, "A1")
    assert refused.wanted == "an open place of measure gloss20 at bare: A1 2; A2 1, 2"
    assert refused.next_step == "name one of them with --zone and --replicate"
    assert "A1, bare, replicate 1 is filled" in refused.got
    refused = assign(yard, 6, "C9")
    assert "the plan has no zone C9" in refused.got


def test_an_assignment_to_a_stage_without_a_run_is_told_those_with_one(yard: Yard) -> None:
    yard.begin()
    finish(yard)
    yard.press("shore", "80.2")
    refused = assign(yard, 5, "A1", "cured")
    assert refused.wanted == "a stage of measure gloss20 that has a run: bare"
    assert refused.next_step == "begin a run of cured first, or name one of these"


def test_many_open_places_are_told_in_short(yard: Yard) -> None:
    yard.begin(text=TRIAL.replace("replicates = 2", "replicates = 40"))
    fill(yard, "80.1")
    finish(yard)
    yard.press("shore", "80.2")
    assert assign(yard, 6, "A1").wanted == (
        "an open place of measure gloss20 at bare: A1 2 to 40; A2 1 to 40"
    )


# -- a plan that has grown -----------------------------------------------------------------------


def grown(yard: Yard, old: str, new: str) -> Refused:
    with pytest.raises(Refused) as refused:
        yard.begin(text=TRIAL.replace(old, new))
    return refused.value


def test_a_geometry_that_the_meter_does_not_cover_is_named_where_nothing_else_is_left(
    yard: Yard,
) -> None:
    yard.begin()
    fill(yard, "80.1", "80.2", "80.3", "80.4")
    finish(yard)
    refused = grown(yard, "geometry = 20", "geometry = [20, 60]")
    assert "nothing is left for shore to measure at stage bare" in refused.what
    assert "measure gloss20 now wants 60° too" in refused.got
    assert "4 readings at 60° are open" in refused.got
    assert "gloss-20" in refused.got
    assert refused.next_step.startswith("take an instrument whose check policy covers 60°")


def test_added_replicates_begin_a_run_that_names_them(yard: Yard) -> None:
    yard.begin()
    fill(yard, "80.1", "80.2", "80.3", "80.4")
    finish(yard)
    plan = parse_plan(TRIAL.replace("replicates = 2", "replicates = 3"), "trial.toml")
    reply = yard.act(lambda at: yard.acts.runs.begin(plan, None, "bare", "shore", at))
    assert reply["slots_left"] == 2
    assert reply["plan_changes"] == ["measure gloss20 now wants 3 replicates of each zone, not 2"]


def test_an_unchanged_plan_with_nothing_left_says_what_can_be_done(yard: Yard) -> None:
    yard.begin()
    fill(yard, "80.1", "80.2", "80.3", "80.4")
    finish(yard)
    refused = grown(yard, "x", "x")
    assert refused.got == "4 of 4 readings"
    assert "void" in refused.next_step
    assert "replicates" in refused.next_step


def test_the_one_measure_that_the_instrument_takes_need_not_be_named(yard: Yard) -> None:
    other = """
[[measure]]
id = "gloss60"
quantity = "gloss"
geometry = 60
replicates = 1
order = "by-zone"
"""
    yard.begin(text=TRIAL + other)
    assert yard.desk.run is not None
    assert yard.desk.run.measure.id == "gloss20"
    finish(yard)
    yard.press("shore", "80.2")
    yard.act(
        lambda at: yard.acts.readings.assign(
            5, "gelcoat", None, "A1", "bare", 1, "pressed late", at
        )
    )
    with pytest.raises(NotFound) as missing:
        yard.begin(text=TRIAL + other + other.replace("gloss60", "again").replace("60", "20"))
    assert missing.value.wanted == "gloss20, gloss60, again"


# -- notes ---------------------------------------------------------------------------------------


def test_a_note_of_a_trial_or_stage_that_is_not_there_is_answered_with_those_that_are(
    yard: Yard,
) -> None:
    def note(trial: str, stage: str = "") -> dict[str, object]:
        return yard.act(lambda at: yard.acts.note("sun on the panel", trial, stage, at))

    with pytest.raises(NotFound) as missing:
        note("gelcoat")
    assert missing.value.wanted == "a trial that has a run; none has yet"
    yard.begin()
    with pytest.raises(NotFound) as missing:
        note("gellcoat")
    assert (missing.value.got, missing.value.wanted) == ("'gellcoat'", "gelcoat")
    with pytest.raises(NotFound) as missing:
        note("gelcoat", "washed")
    assert (missing.value.got, missing.value.wanted) == ("'washed'", "bare, cured")
    with pytest.raises(Refused) as refused:
        note("", "bare")
    assert refused.value.next_step == "name its trial, too: --trial TRIAL"
    assert note("gelcoat", "cured") == {"note_id": 1}
    assert note("") == {"note_id": 2}


def test_a_note_in_which_nothing_is_to_be_seen_is_not_kept(yard: Yard) -> None:
    with pytest.raises(Refused) as refused:
        yard.act(lambda at: yard.acts.note("\u200b \u2060", "", "", at))
    assert refused.value.reason == "no remark"
    assert refused.value.next_step
    assert yard.writer.query("SELECT id FROM note") == []
