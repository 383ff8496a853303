"""Washes, applications, ratings and photos as they are asked for at the desk."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from acquire.errors import CoatbenchError, NotFound, Refused, SettingsError
from acquire.settings import parse_plan
from acquire.store.progress import Progress
from acquire.store.rows import ReadingRow
from acquire.trial.gone import given_up
from acquire.trial.key import digest_of, key_text
from acquire.trial.outoforder import application_doubts
from acquire.trial.washes import counts_of
from acquire.trial.work import Work
from tests.unit.worked_yard import PLAN, WorkedYard

NS = 1_000_000_000
KEY = key_text("quay-1", {"tern": "Grebe wax"}, bytes(16))
BLIND = PLAN.replace("[panel]", f'[trial.blind]\nkey = "{digest_of(KEY)}"\n\n[panel]')


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[WorkedYard]:
    found = WorkedYard(tmp_path)
    yield found
    found.close()


def counts(yard: WorkedYard) -> list[int]:
    return list(counts_of(parse_plan(PLAN, "t"), yard.washes()).values())


# -- washes ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "call",
    [
        ("to_wash", {"zones": ["Z9"]}),
        ("wash", {"zones": ["Z9"], "washes": 1}),
        ("wash", {"zones": [], "washes": 600_000}),
        ("correct_washes", {"zones": ["A1"], "washes": -1, "reason": "none was"}),
        ("apply", {"zones": ["Z9"]}),
        ("apply", {"zones": ["A2"]}),
        ("count_washes", {"zones": ["Z9"], "counter": "hub"}),
    ],
    ids=lambda call: f"{call[0]} {call[1]['zones']}",
)
def test_what_is_refused_opens_no_sitting_that_is_nowhere_stored(
    yard: WorkedYard, call: tuple[str, dict[str, Any]]
) -> None:
    yard.plug("shore")
    name, arguments = call
    if arguments.get("washes") == 600_000:
        yard.call("wash", trial="quay-1", zones=[], washes=600_000)
        yard.act(yard.acts.close_sitting)
    with pytest.raises(CoatbenchError):
        yard.call(name, trial="quay-1", **arguments)
    assert yard.desk.sitting_id is None
    # It names the sitting, which has to be there.
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    (sitting,) = yard.writer.query("SELECT max(id) FROM sitting")
    assert yard.desk.sitting_id == sitting[0]


def test_zones_that_are_washed_together_share_their_washes(yard: WorkedYard) -> None:
    reply = yard.call("wash", trial="quay-1", washes=3)
    assert reply["counts"] == {"A1": 3, "A2": 3, "A3": 3}
    assert yard.call("wash", trial="quay-1", zones=["A3", "A1"])["counts"] == {
        "A1": 4, "A2": 3, "A3": 4,
    }  # fmt: skip
    # Which zones those are is in the row itself, whatever a later plan has.
    assert [w.zones for w in yard.washes()] == ["A1,A2,A3", "A1,A3"]


def test_it_is_told_which_checkpoint_a_wash_led_to_or_past(yard: WorkedYard) -> None:
    assert yard.call("wash", trial="quay-1", washes=4)["next"] == {"stage": "wash-5", "washes": 5}
    reply = yard.call("wash", trial="quay-1")
    (came,) = reply["reached"]
    assert (came["stage"], came["zones"], came["is_past"]) == ("wash-5", ["A1", "A2", "A3"], False)
    assert came["looks"] == ["coatbench checkpoint quay-1 wash-5 --by NAME"]
    assert reply["next"] == {"stage": "wash-10", "washes": 10}
    past = yard.call("wash", trial="quay-1", washes=6)
    assert [(c["stage"], c["is_past"], c["unread"]) for c in past["reached"]] == [
        ("wash-10", True, ["A1", "A2", "A3"])
    ]
    assert past["next"] is None


def test_a_count_is_put_right_by_a_row_with_a_reason_and_never_below_zero(yard: WorkedYard) -> None:
    yard.call("wash", trial="quay-1", washes=2)
    with pytest.raises(Refused, match="not corrected"):
        yard.call("correct_washes", trial="quay-1", washes=-1, reason=" ")
    yard.call("correct_washes", trial="quay-1", zones=["A2"], washes=-2, reason="A2 was covered")
    assert counts(yard) == [2, 0, 2]
    with pytest.raises(Refused) as caught:
        yard.call("correct_washes", trial="quay-1", washes=-1, reason="pressed twice")
    assert caught.value.reason == "below zero"
    # Refused whole: no zone of those that were named is changed.
    assert counts(yard) == [2, 0, 2]


def test_a_count_stays_at_or_above_a_stage_that_was_looked_at(yard: WorkedYard) -> None:
    yard.call("wash", trial="quay-1", washes=6)
    yard.plug("shore")
    yard.check("shore")
    yard.begin("wash-5", text=PLAN)
    yard.press("shore", "80.0")
    with pytest.raises(Refused) as caught:
        yard.call("correct_washes", trial="quay-1", zones=["A1"], washes=-2, reason="miscounted")
    assert caught.value.reason == "below what was looked at"
    assert "wash-5" in caught.value.wanted
    yard.call("correct_washes", trial="quay-1", zones=["A1"], washes=-1, reason="miscounted")
    yard.call("correct_washes", trial="quay-1", zones=["A3"], washes=-6, reason="not washed")
    assert counts(yard) == [5, 6, 0]


def test_washes_beyond_any_plan_are_refused_and_take_no_number(yard: WorkedYard) -> None:
    yard.call("wash", trial="quay-1", washes=1_000_000)
    with pytest.raises(Refused, match="not counted"):
        yard.call("wash", trial="quay-1")
    yard.call("correct_washes", trial="quay-1", washes=-1, reason="a slip")
    assert [w.id for w in yard.washes()] == [1, 2]


def test_nothing_is_washed_of_a_trial_that_is_closed_or_not_there(yard: WorkedYard) -> None:
    with pytest.raises(NotFound):
        yard.call("wash", trial="quay-2")
    with pytest.raises(NotFound, match="no zone 'Z9'"):
        yard.call("wash", trial="quay-1", zones=["Z9"])
    yard.call("close_trial", trial="quay-1", why="done")
    with pytest.raises(Refused, match="is closed"):
        yard.call("wash", trial="quay-1")


def test_washes_outlive_a_kill_of_the_daemon(yard: WorkedYard) -> None:
    yard.call("wash", trial="quay-1", by_key=True)
    yard.restart()
    yard.call("wash", trial="quay-1", by_key=True)
    assert counts(yard) == [2, 2, 2]
    assert {w.counted_by for w in yard.washes()} == {"key"}


def test_cautions_come_once_a_sitting(yard: WorkedYard) -> None:
    assert "Wash place" in str(yard.call("wash", trial="quay-1")["cautions"])
    assert "cautions" not in yard.call("wash", trial="quay-1")
    assert "cautions" not in yard.call("apply", trial="quay-1", zones=["A1"])


# -- applications ---------------------------------------------------------------------------------


def test_a_product_is_put_on_all_its_zones_and_a_second_time_is_a_second_coat(
    yard: WorkedYard,
) -> None:
    yard.call("apply", trial="quay-1", treatment="tern", amount="4 ml", haze_minutes=2.5)
    reply = yard.call("apply", trial="quay-1", zones=["A1"], text="thin", haze_minutes=4.0)
    assert reply["coats"] == {"A1": 2}
    rows = yard.shelf.worked.applications("quay-1")
    assert [(a.zone, a.amount, a.haze_minutes, a.text) for a in rows] == [
        ("A1", "4 ml", "2.5", ""), ("A3", "4 ml", "2.5", ""), ("A1", "", "4", "thin"),
    ]  # fmt: skip


def test_the_control_stays_untreated_and_zones_have_what_the_plan_says(yard: WorkedYard) -> None:
    for arguments, reason in (
        ({"zones": ["A2"]}, "the control"),
        ({"zones": []}, "no zone"),
        ({"zones": ["A1"], "treatment": "none"}, "another treatment"),
        ({"zones": ["A1"], "applied_utc_ns": 2**62}, "not done yet"),
    ):
        with pytest.raises(Refused) as caught:
            yard.call("apply", arguments, trial="quay-1")
        assert caught.value.reason == reason
    with pytest.raises(NotFound, match="no treatment"):
        yard.call("apply", trial="quay-1", treatment="gull")
    assert yard.shelf.worked.applications("quay-1") == []


def test_an_application_is_taken_back_once_with_a_reason_and_stays_in_the_store(
    yard: WorkedYard,
) -> None:
    yard.call("apply", trial="quay-1", treatment="tern")
    with pytest.raises(Refused, match="nothing is recorded"):
        yard.call("take_back_application", trial="quay-1", applications=[1], reason=" ")
    told = yard.call("take_back_application", trial="quay-1", applications=[1], reason="it was A3")
    assert told["zones"] == ["A1"]
    for numbers in ([1], [9], []):
        with pytest.raises(NotFound):
            yard.call("take_back_application", trial="quay-1", applications=numbers, reason="x")
    worked = yard.shelf.worked
    assert [a.zone for a in worked.applications("quay-1")] == ["A3"]
    assert [a.zone for a in worked.every_application("quay-1")] == ["A1", "A3"]
    assert [v.reason for v in worked.taken_back("quay-1")] == ["it was A3"]


# -- ratings --------------------------------------------------------------------------------------


def rate(yard: WorkedYard, step: int, rater: str = "Ada", **more: object) -> dict[str, object]:
    of = {"scale": "water", "stage": "applied", "zone": "A1"}
    return yard.call("rate", {**of, **more}, trial="quay-1", rater=rater, step=step)


def test_another_rating_of_the_same_thing_needs_a_reason_and_both_stay(yard: WorkedYard) -> None:
    assert rate(yard, 3)["words"] == "3 of 3: round drops"
    with pytest.raises(Refused) as caught:
        rate(yard, 2)
    assert caught.value.reason == "rated already"
    reply = rate(yard, 2, rater=" ada ", reason="looked at the wrong zone")
    assert (reply["before"], reply["rater"]) == ("3 of 3: round drops", "Ada")
    rate(yard, 1, rater="Bea")
    assert [(r.rater, r.step, r.treatment) for r in yard.shelf.worked.ratings("quay-1")] == [
        ("Ada", 3, "tern"), ("Ada", 2, "tern"), ("Bea", 1, "tern"),
    ]  # fmt: skip


def test_a_product_is_rated_once_and_the_control_is_none(yard: WorkedYard) -> None:
    removal = {"scale": "removal", "stage": "", "zone": ""}
    rate(yard, 3, **removal, treatment="tern")
    for more in ({"treatment": "none"}, {"treatment": "tern", "zone": "A1"}, {}):
        with pytest.raises(Refused):
            rate(yard, 3, **{**removal, **more})


def test_ratings_off_the_scale_or_the_stage_are_refused(yard: WorkedYard) -> None:
    for arguments in (
        {"step": 4}, {"step": 1, "stage": "bare"}, {"step": 1, "zone": "Z9"},
        {"step": 1, "rater": " "}, {"step": 1, "treatment": "none"},
    ):  # fmt: skip
        with pytest.raises(Refused):
            rate(yard, **arguments)  # type: ignore[arg-type]
    with pytest.raises(NotFound):
        rate(yard, 1, scale="smell")
    with pytest.raises(SettingsError):
        rate(yard, 0)


def test_a_rater_who_saw_the_key_is_not_blind_nor_is_anybody_after_unsealing(
    tmp_path: Path,
) -> None:
    yard = WorkedYard(tmp_path, BLIND, KEY)
    yard.call("show_key", trial="quay-1", who="Bea", why="puts the products on")
    assert rate(yard, 3, rater="Ada")["is_blind"] is True
    assert rate(yard, 3, rater="BEA")["is_blind"] is False
    yard.call("unseal", trial="quay-1", who="Ada", why="")
    told = rate(yard, 3, rater="Ada", zone="A3")
    assert told["is_blind"] is False
    # And whoever rates hears it at once, not from the page.
    assert told["not_blind"].startswith("marked as not blind")
    yard.close()


# -- photos ---------------------------------------------------------------------------------------


def test_a_photo_is_kept_by_path_and_hash(yard: WorkedYard) -> None:
    of = {"trial": "quay-1", "path": "a1.jpg", "sha256": "0" * 64, "size_bytes": 9}
    assert yard.call("photo", of, zone="A1", stage="applied")["is_known"] is False
    assert yard.call("photo", of)["is_known"] is True
    for wrong in ({"zone": "Z9"}, {"stage": "later"}):
        with pytest.raises(NotFound):
            yard.call("photo", of, **wrong)


# -- products beside codes ------------------------------------------------------------------------


def test_screens_and_places_name_products_beside_codes_once_the_key_is_unsealed(
    tmp_path: Path,
) -> None:
    yard = WorkedYard(tmp_path, BLIND, KEY)
    yard.plug("shore")
    yard.check("shore")
    yard.begin("bare", text=BLIND)

    def told() -> tuple[object, object]:
        run = yard.act(yard.acts.status)["run"]
        places = yard.call("targets")["targets"]
        return run["next"]["treatment"], places[0]["treatment"]  # type: ignore[index, call-overload]

    assert told() == ("Tern wax", "Tern wax")
    yard.call("show_key", trial="quay-1", who="Ada")
    assert told() == ("Tern wax", "Tern wax")
    yard.call("unseal", trial="quay-1", who="Ada")
    assert told() == ("Grebe wax (tern)", "Grebe wax (tern)")
    yard.close()


def test_a_meter_has_failed_until_a_later_check_of_it_passes(yard: WorkedYard) -> None:
    yard.plug("shore")
    progress = Progress(yard.writer.query)
    found = []
    for tile in ("93.2", "99.9", "93.2"):
        yard.check("shore", tile)
        found.append(sorted(progress.failed_last()))
    assert found == [[], ["shore"], []]


# -- giving up ------------------------------------------------------------------------------------


def test_a_stage_is_given_up_where_something_is_open_with_a_reason_and_can_be_taken_back(
    yard: WorkedYard,
) -> None:
    yard.plug("shore")
    yard.check("shore")
    yard.begin("bare", text=PLAN)
    for _ in range(2):
        yard.press("shore", "80.0")
    with pytest.raises(Refused, match="nothing is set down") as caught:
        yard.call("give_up_stage", trial="quay-1", stage="bare", why="waxed too early")
    assert caught.value.reason == "run open"
    yard.call("finish_run", why="")
    done = next(iter(yard.shelf.worked.looked_at("quay-1")))[0]
    with pytest.raises(Refused, match="nothing is set down"):
        yard.call("give_up_stage", trial="quay-1", stage="bare", why=" ")
    told = yard.call("give_up_stage", trial="quay-1", stage="bare", why="waxed too early")
    # A zone that was read in full has nothing to be given up.
    assert told["zones"] == [z for z in ("A1", "A2", "A3") if z != done]
    with pytest.raises(Refused, match="nothing is set down"):
        yard.call("give_up_stage", trial="quay-1", stage="bare", zones=[done], why="so")
    with pytest.raises(Refused, match="nothing is left") as caught:
        yard.begin("bare", text=PLAN)
    assert "--take-back" in caught.value.next_step
    yard.call("take_back_stage", trial="quay-1", stage="bare", zones=["A3"], why="it is bare")
    rows = yard.shelf.worked.given_up("quay-1")
    assert list(given_up(rows)) == [(z, "bare") for z in told["zones"] if z != "A3"]
    # A run offers what is wanted still, also after a restart.
    yard.begin("bare", text=PLAN)
    assert {t["zone"] for t in yard.call("targets")["targets"]} == {done, "A3"} - {"A2"}
    yard.restart()
    assert {t["zone"] for t in yard.call("targets")["targets"]} == {done, "A3"} - {"A2"}
    yard.call("finish_run", why="")
    with pytest.raises(NotFound, match="no stage 'x'"):
        yard.call("give_up_stage", trial="quay-1", stage="x", why="so")


@pytest.mark.parametrize("words", ["a\nb", "N" * 2001, "a\u202eb"])
def test_words_that_are_kept_stand_on_one_line_and_end_somewhere(
    yard: WorkedYard, words: str
) -> None:
    for name, more in (
        ("unseal", {"who": "Ada", "why": words}),
        ("show_key", {"who": words}),
        ("close_trial", {"why": words}),
        ("give_up_stage", {"stage": "bare", "why": words}),
        ("correct_washes", {"washes": 1, "reason": words}),
        ("apply", {"amount": words}),
        ("note", {"text": words}),
        ("rate", {"scale": "water", "rater": words, "step": 1}),
    ):
        with pytest.raises(SettingsError):
            yard.call(name, trial="quay-1", **more)


def test_a_product_told_of_before_the_bare_readings_is_asked_about(yard: WorkedYard) -> None:
    yard.plug("shore")
    yard.check("shore")
    yard.begin("bare", text=PLAN)
    yard.press("shore", "80.0")
    worked = yard.shelf.worked
    plan = parse_plan(PLAN, "t")
    work = Work(plan, last_read=lambda stage: worked.last_read("quay-1", stage))
    ((zone, at_ns),) = worked.last_read("quay-1", "bare").items()
    assert zone == "A1"
    said = "bare of A1 was read after the time told: those readings would be of the product"
    assert said in application_doubts(work, ["A1", "A3"], at_ns - 1)
    assert said not in application_doubts(work, ["A1", "A3"], at_ns)
    yard.call("void", reading_id=yard.desk.ids.last(ReadingRow), reason="slipped")
    assert worked.last_read("quay-1", "bare") == {}
