"""What is due of a trial, from its plan to its publication, and what comes first."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC
from typing import Any

from acquire.settings import parse_plan
from acquire.store.progress import LeftOpen, Taken
from acquire.store.work_rows import ApplicationRow, GivingUpRow, RatingRow, WashRow
from acquire.trial.due import due_at, due_of
from acquire.trial.readiness import AtHand, doubts, given_up_words, looks
from acquire.trial.urgency import Due, Urgency
from acquire.trial.work import Work
from tests.unit.worked_yard import PLAN

HOUR = 3600 * 1_000_000_000
DAY = 1_700_000_000_000_000_000
TRIAL = parse_plan(PLAN, "t")
ZONES = "A1,A2,A3"


def taken(*stages: str, state: str = "bracketed", places: int = 6) -> list[Taken]:
    return [Taken("gloss20", stage, "shore", state, places) for stage in stages]


def coats(*zones: str, at_ns: int = DAY) -> list[ApplicationRow]:
    return [
        ApplicationRow(n, DAY, 1, "quay-1", zone, at_ns, "", None, "")
        for n, zone in enumerate(zones, start=1)
    ]


def washes(*counts: tuple[str, int]) -> list[WashRow]:
    return [
        WashRow(n, DAY, 1, "quay-1", zones, count, "typed", None, "" if count > 0 else "slip")
        for n, (zones, count) in enumerate(counts, start=1)
    ]


def rated(stage: str, *zones: str, rater: str = "Ada") -> list[RatingRow]:
    return [
        RatingRow(n, DAY, 1, "quay-1", stage, "water", z, "tern", rater, 2, 0, "")
        for n, z in enumerate(zones, start=1)
    ]


PRODUCT = RatingRow(9, DAY, 1, "quay-1", "", "removal", "", "tern", "Ada", 2, 0, "")


def told_of(stage: str, **more: Any) -> list[str]:
    """What is told before a stage, of treated zones that were read with their product on before."""
    more.setdefault("looked_at", [("A1", "applied"), ("A3", "applied")] * (stage > "bare"))
    return doubts(TRIAL, stage, AtHand(**more), DAY, UTC)


def due(work: Work, now_ns: int = DAY) -> list[Due]:
    return due_of(work, now_ns, UTC)


def said(work: Work, now_ns: int = DAY) -> list[tuple[Urgency, str]]:
    return [(d.urgency, d.what) for d in due(work, now_ns)]


def test_a_new_trial_wants_its_bare_stage() -> None:
    (first,) = due(Work(TRIAL, meters={"gloss20": "shore"}))
    assert first.urgency is Urgency.MEASURE
    assert first.command == "coatbench run quay-1 bare --with shore"


def test_then_the_products_are_put_on_and_the_cure_time_is_waited_for() -> None:
    assert said(Work(TRIAL, taken("bare"))) == [
        (Urgency.APPLY, "put the products on A1, A3, for applied")
    ]
    work = Work(TRIAL, taken("bare"), applications=coats("A1", "A3"), ratings=[PRODUCT])
    assert said(work, DAY + 11 * HOUR) == [
        (Urgency.WAITING, "applied waits for its cure time, until 10:13 (A1, A3)")
    ]
    (ready,) = due(work, DAY + 12 * HOUR)
    assert ready.urgency is Urgency.CURED
    # Zones are rated there as well, so it is done in one screen.
    assert ready.command == "coatbench checkpoint quay-1 applied --with METER --by NAME"


def test_a_later_coat_begins_the_cure_time_anew() -> None:
    rows = [*coats("A1", "A3"), *coats("A1", at_ns=DAY + 5 * HOUR)]
    work = Work(TRIAL, taken("bare"), applications=rows, ratings=[PRODUCT])
    assert said(work, DAY + 13 * HOUR)[0][0] is Urgency.WAITING


def test_washes_are_to_go_until_the_checkpoint_is_reached() -> None:
    work = {"applications": coats("A1", "A3"), "taken": taken("bare", "applied"),
            "ratings": [PRODUCT, *rated("applied", "A1", "A2", "A3")]}  # fmt: skip
    some = Work(TRIAL, **work, washes=washes((ZONES, 3)))
    assert said(some) == [(Urgency.WASH, "2 washes to go to wash-5")]
    uneven = Work(TRIAL, **work, washes=washes((ZONES, 5), ("A2", -1)))
    (left,) = due(uneven)
    assert (left.what, left.command) == (
        "1 wash of A2 to go to wash-5", "coatbench wash quay-1 --zones A2",
    )  # fmt: skip
    (there,) = due(Work(TRIAL, **work, washes=washes((ZONES, 5))))
    assert there.urgency is Urgency.CHECKPOINT
    assert there.what == "CHECKPOINT reached: measure wash-5, gloss20: 6 readings to take"


def test_a_stage_that_was_begun_is_measured_on_whatever_is_counted() -> None:
    work = Work(TRIAL, [*taken("bare", "applied"), *taken("wash-5", places=4)])
    assert Urgency.CHECKPOINT in [d.urgency for d in due(work)]


def test_ratings_are_missing_of_everybody_who_began() -> None:
    rows = [*rated("applied", "A1", "A2", "A3"), *rated("applied", "A1", rater="Bea"), PRODUCT]
    work = Work(TRIAL, taken("bare", "applied"), [], coats("A1", "A3"), rows)
    assert next((d.what, d.command) for d in due(work)) == (
        "rate applied: 2 ratings to give by Bea", "coatbench rate quay-1 applied --by Bea",
    )  # fmt: skip
    nobody = Work(TRIAL, taken("bare", "applied"))
    assert "rate applied: 3 ratings to give" in [d.what for d in due(nobody)]


def test_what_loses_worth_by_waiting_comes_first() -> None:
    work = Work(
        TRIAL,
        [*taken("bare", state="open"), *taken("applied", state="suspect", places=2),
         *taken("applied", places=4)],
        left_open=[LeftOpen(7, DAY - HOUR, "quay-1", "gloss20", "applied", "shore")],
    )  # fmt: skip
    assert [d.urgency for d in due(work)][:3] == [
        Urgency.RUN_OPEN, Urgency.SUSPECT, Urgency.CLOSING,
    ]  # fmt: skip
    assert "run 7 (gloss20, applied) is open since 21:13" in due(work)[0].what
    assert "2 readings of gloss20 became suspect" in due(work)[1].what


def test_a_run_that_is_open_is_gone_on_with_and_not_offered_a_second_time() -> None:
    begun = Work(TRIAL, taken("bare", places=3),
                 left_open=[LeftOpen(7, DAY, "quay-1", "gloss20", "bare", "shore")])  # fmt: skip
    assert [d.urgency for d in due(begun)] == [Urgency.RUN_OPEN]


def test_a_trial_whose_stages_are_done_wants_to_be_published_and_closed() -> None:
    every = [r for s in ("applied", "wash-5", "wash-10") for r in rated(s, "A1", "A2", "A3")]
    (last,) = due(Work(TRIAL, taken(*TRIAL.stages), ratings=every))
    assert last.urgency is Urgency.DONE
    assert "coatbench trial close quay-1" in last.command


def test_who_puts_the_products_of_a_blind_trial_on_is_told_how_to_learn_the_codes() -> None:
    blind = replace(TRIAL, key_digest="ab" * 32)
    assert [d.what for d in due(Work(blind, taken("bare"), is_unsealed=False))] == [
        "put the products on A1, A3, for applied; who does is told the codes by coatbench trial "
        "key quay-1 --to NAME"
    ]
    assert [d.what for d in due(Work(blind, taken("bare"), is_unsealed=True))] == [
        "put the products on A1, A3, for applied"
    ]


def test_nobody_is_told_to_unseal_or_publish_while_anything_else_is_due() -> None:
    every = [r for s in ("applied", "wash-5", "wash-10") for r in rated(s, "A1", "A2", "A3")]
    last = TRIAL.stages[-1]
    mixed = [*taken(*TRIAL.stages[:-1]), *taken(last, state="open")]
    assert [d.urgency for d in due(Work(TRIAL, mixed, ratings=every))] == [Urgency.CLOSING]


def test_a_stage_at_which_nothing_is_measured_is_rated_once_it_is_come_to() -> None:
    measured = TRIAL.stages[:-1]
    plan = replace(TRIAL, measures=tuple(replace(m, stages=measured) for m in TRIAL.measures))
    every = [r for s in ("applied", "wash-5") for r in rated(s, "A1", "A2", "A3")]
    work = Work(plan, taken(*measured), washes((ZONES, 5)), ratings=every)
    assert [d.what for d in due(work)] == ["5 washes to go to wash-10"]
    come = replace(work, washes=washes((ZONES, 10)))
    (rate,) = due(come)
    assert (rate.urgency, rate.what) == (Urgency.RATE, "rate wash-10: 3 ratings to give")
    done = replace(come, ratings=[*every, *rated("wash-10", "A1", "A2", "A3")])
    assert [d.urgency for d in due(done)] == [Urgency.DONE]


# -- what is told before a run --------------------------------------------------------------------


def test_washes_that_differ_from_the_plan_are_told_by_zone() -> None:
    (told,) = told_of("wash-5", washes=washes((ZONES, 5), ("A2", 1), ("A3", -2)))
    assert told.startswith("wash-5 comes after 5 washes, and 3 washes of A3 and 6 washes of A2 are")
    assert told_of("wash-5", washes=washes((ZONES, 5))) == []
    (none,) = told_of("wash-5")
    assert "coatbench wash quay-1 --count 5" in none


def test_cure_times_that_are_not_over_are_told_and_what_was_never_put_on() -> None:
    told = told_of("applied", applications=coats("A1"))
    assert told[0].startswith("applied wants 12 hours after the application, and A1 waits until")
    assert "nothing is recorded to be on A3" in told[1]
    assert told_of("bare") == []


# -- what is gone, and what was given up ----------------------------------------------------------


def given_up(stage: str, *zones: str) -> list[GivingUpRow]:
    return [GivingUpRow(1, DAY, "quay-1", stage, ",".join(zones), 1, "washed on")]


def test_a_bare_surface_is_gone_once_the_product_is_on() -> None:
    (told,) = told_of("bare", applications=coats("A1"))
    assert told.startswith("bare of A1 is gone: the product is on.")
    assert "coatbench trial give-up quay-1 bare --zones A1 --why" in told
    # Whoever read a treated zone later had put the product on, whatever was written down.
    (read,) = told_of("bare", looked_at=[("A3", "applied"), ("A2", "applied")])
    assert read.startswith("bare of A3 is gone: applied was looked at.")


def test_stages_before_any_wash_are_doubted_once_washes_are_counted() -> None:
    for stage in ("bare", "applied"):
        (told,) = told_of(stage, washes=washes((ZONES, 10)), looked_at=[("A1", "applied"),
                          ("A3", "applied")] * (stage != "bare"),
                          applications=coats("A1", "A3", at_ns=0) * (stage != "bare"))  # fmt: skip
        assert told.startswith(f"{stage} comes before any wash, and 10 washes of A1, A2, A3 are")


def test_products_of_which_nobody_wrote_that_they_are_on_are_told_until_they_were_read() -> None:
    plan = replace(TRIAL, cure_hours=())
    (told,) = doubts(plan, "applied", AtHand(), DAY, UTC)
    assert told.startswith("nothing is recorded to be on A1, A3.")
    read = AtHand(looked_at=[("A1", "applied"), ("A3", "applied")])
    assert doubts(plan, "applied", read, DAY, UTC) == []


def test_a_stage_is_looked_at_with_its_ratings_where_it_has_any() -> None:
    assert looks(TRIAL, "wash-5") == ["coatbench checkpoint quay-1 wash-5 --by NAME"]
    assert looks(replace(TRIAL, scales=()), "wash-5") == ["coatbench run quay-1 wash-5"]
    several = replace(TRIAL, measures=(*TRIAL.measures, replace(TRIAL.measures[0], id="gloss60")))
    assert looks(several, "wash-5") == [
        f"coatbench checkpoint quay-1 wash-5 --measure {m} --by NAME"
        for m in ("gloss20", "gloss60")
    ]
    rated_alone = replace(TRIAL, measures=())
    assert looks(rated_alone, "wash-5") == ["coatbench rate quay-1 wash-5 --by NAME"]


def test_a_correction_is_offered_only_while_it_would_be_taken() -> None:
    rows = washes((ZONES, 10))
    (free,) = told_of("wash-5", washes=rows)
    assert "coatbench wash quay-1 --correct" in free
    (stuck,) = told_of("wash-5", washes=rows, looked_at=[(z, "wash-10") for z in ZONES.split(",")]
                       + [("A1", "applied"), ("A3", "applied")])  # fmt: skip
    assert "--correct" not in stuck
    assert "coatbench trial give-up quay-1 wash-5 --why TEXT" in stuck


def test_what_cannot_be_taken_any_more_is_told_once_and_then_given_up() -> None:
    every = [r for s in ("applied", "wash-5", "wash-10") for r in rated(s, "A1", "A2", "A3")]
    work = Work(
        TRIAL,
        [*taken("bare", "applied", "wash-10"), *taken("wash-5", state="suspect")],
        washes((ZONES, 10)), coats("A1", "A3", at_ns=0), [*every, PRODUCT],
        looked_at=lambda: [("A1", "wash-10"), ("A2", "wash-10"), ("A3", "wash-10")],
    )  # fmt: skip
    (gone,) = due(work)
    assert (gone.urgency, gone.command) == (
        Urgency.GONE, "coatbench trial give-up quay-1 wash-5 --why TEXT",
    )  # fmt: skip
    assert gone.what == (
        "wash-5 is gone of A1, A2, A3, since 10 washes are counted: 6 readings of gloss20 that "
        "became suspect cannot be taken any more, and results go without them"
    )
    quiet = replace(work, given_up=given_up("wash-5", "A1", "A2", "A3"))
    assert [d.urgency for d in due(quiet)] == [Urgency.DONE]


def test_what_was_given_up_is_told_and_not_asked_about_again() -> None:
    rows = given_up("bare", "A1")
    assert told_of("bare", applications=coats("A1"), given_up=rows) == []
    (said,) = given_up_words("bare", rows, UTC)
    assert said == "bare of A1 was given up on 2023-11-14: washed on"
    over = told_of("wash-5", washes=washes((ZONES, 10)), given_up=given_up("wash-5", "A1", "A2"))
    assert over[0].startswith("wash-5 comes after 5 washes, and 10 washes of A3 are counted")


def test_zones_whose_surface_is_still_there_are_read_and_the_others_are_told() -> None:
    work = Work(
        TRIAL, taken("bare", state="suspect"), applications=coats("A1"),
        filled=lambda measure, stage: {},
    )  # fmt: skip
    again, gone = due(work)[0], next(d for d in due(work) if d.urgency is Urgency.GONE)
    assert again.what == "read again at bare: 4 readings of gloss20 became suspect"
    assert gone.what.startswith("bare is gone of A1, since the product is on: 2 readings")


def test_ratings_of_a_surface_that_is_gone_are_asked_of_nobody() -> None:
    work = Work(
        TRIAL, taken("bare", "applied"), washes((ZONES, 1)), coats("A1", "A3", at_ns=0), [PRODUCT]
    )
    assert "rate" not in " ".join(d.what for d in due(work))
    assert due(work)[0].what.startswith(
        "applied is gone of A1, A2, A3, since 1 wash is counted (a wrong count is put right by "
        "coatbench wash quay-1 --correct): 3 ratings"
    )


def test_a_second_rater_who_rated_some_zones_leaves_nothing_to_give_up_once_the_stage_is_past() -> (
    None
):
    ratings = [
        *rated("applied", "A1", "A2", "A3"),
        *rated("wash-5", "A1", "A2", "A3"),
        *rated("wash-5", "A1", rater="Bea"),
        PRODUCT,
    ]
    work = Work(
        TRIAL, taken("bare", "applied", "wash-5"), washes((ZONES, 5)), coats("A1", "A3"), ratings
    )
    assert "rate wash-5: 2 ratings to give by Bea" in [what for _, what in said(work)]
    past = replace(work, washes=washes((ZONES, 6)))
    assert [what for _, what in said(past)] == ["4 washes to go to wash-10"]
    # A zone that nobody rated is missing still.
    fewer = replace(past, ratings=[r for r in ratings if (r.stage, r.zone) != ("wash-5", "A2")])
    (gone,) = (d for d in due(fewer) if d.urgency is Urgency.GONE)
    assert "1 rating cannot be taken any more" in gone.what
    assert "--zones A2 --why" in gone.command


def test_a_meter_that_failed_its_last_check_is_named_where_it_is_to_measure() -> None:
    work = Work(TRIAL, meters={"gloss20": "shore"}, failed=lambda: {"shore"})
    (first,) = due(work)
    assert first.what == (
        "measure bare, gloss20: 6 readings to take; shore FAILED its last check: see to it, then "
        "coatbench check shore comes first"
    )
    assert "FAILED" not in due(replace(work, failed=lambda: {"force"}))[0].what


def test_what_is_due_at_a_stage_is_told_whatever_comes_first() -> None:
    work = Work(TRIAL, meters={"gloss20": "shore"}, washes=washes(("A1", 5)))
    (first,) = due_at(work, "wash-5", DAY, UTC)
    assert first.command == "coatbench checkpoint quay-1 wash-5 --with shore --by NAME"
    rows = rated("wash-5", *ZONES.split(","))
    full = replace(work, taken=taken("wash-5"), ratings=rows)
    assert due_at(full, "wash-5", DAY, UTC) == []
    unrated = replace(full, ratings=())
    assert [d.urgency for d in due_at(unrated, "wash-5", DAY, UTC)] == [Urgency.RATE]
    unclosed = replace(full, taken=taken("bare", "wash-5", state="open"))
    (closing,) = due_at(unclosed, "wash-5", DAY, UTC)
    assert closing.what == "no closing check of shore yet after 6 readings at wash-5"


def test_of_what_is_read_in_full_nothing_is_doubted() -> None:
    """Bare stays as it was read, whatever was put on the zones and washed off them since."""
    gone = {"washes": washes((ZONES, 5)), "applications": coats("A1", "A3")}
    assert told_of("bare", **gone)
    zones = ZONES.split(",")
    assert told_of("bare", **gone, done=zones) == []
    # Of a zone that is still to be read it is, and of that one alone.
    (told,) = told_of("bare", **gone, done=zones[:2])
    assert "5 washes of A3 are counted" in told
