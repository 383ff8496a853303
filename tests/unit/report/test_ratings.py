"""Ratings and the work beside readings, on the page, in the terminal and in the head of results."""

from __future__ import annotations

from dataclasses import replace

import pytest

from acquire.report.answers.ratings import agreement_words, rating_lines, ratings_of
from acquire.report.page import render
from acquire.report.record.loading import load_trial
from acquire.report.record.record import TrialRecord
from acquire.report.record.workrecord import WorkRecord
from acquire.report.sections.work import work_part
from acquire.report.terminal.summary import lines_of_record
from acquire.report.washing.waterlives import life_lines, water_lives
from acquire.settings import parse_plan
from acquire.store.work_rows import RatingRow
from tests.unit.worked_yard import PLAN, WorkedYard

MORE = PLAN
for number in range(3, 9):
    zones = ((f"B{number}", "tern"), (f"C{number}", "none"))
    for zone, treatment in zones:
        MORE += f'\n[[zone]]\nid = "{zone}"\ntreatment = "{treatment}"\n'
MORE = MORE.replace("A1", "B1").replace("A3", "B2").replace("A2", "C1")


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> TrialRecord:
    yard = WorkedYard(tmp_path_factory.mktemp("yard"))
    yard.close()
    return load_trial(yard.bench.store, "quay-1")


def rated(*rows: tuple[str, str, str, int], reason: str = "", blind: int = 0) -> list[RatingRow]:
    """Rows of (rater, stage, zone, step)."""
    return [
        RatingRow(n, n, 1, "quay-1", stage, "water", zone, "tern", who, step, blind, reason)
        for n, (who, stage, zone, step) in enumerate(rows, start=1)
    ]


def of(empty: TrialRecord, rows: list[RatingRow], text: str = PLAN) -> TrialRecord:
    return replace(empty, plan=parse_plan(text, "t"), work=WorkRecord(ratings=tuple(rows)))


def test_of_several_ratings_of_a_zone_the_middle_one_counts(empty: TrialRecord) -> None:
    rows = rated(
        ("Ada", "applied", "A1", 3), ("Bea", "applied", "A1", 2), ("Ada", "applied", "A3", 3),
        ("Ada", "applied", "A2", 1),
    )  # fmt: skip
    (found,) = ratings_of(of(empty, rows))
    assert found.title == "How water behaves at applied"
    tern, none = found.rows
    assert (tern.name, tern.median, tern.things, tern.ratings, tern.apart) == (
        "Tern wax", 2, 2, 3, 1,
    )  # fmt: skip
    assert (none.name, none.median, none.apart) == ("Untreated", 1, None)
    assert rating_lines(found)[0] == "Tern wax: 2 of 3: flat drops (3 ratings, from 2 to 3)"
    assert any("too few to say how sure that is" in line for line in rating_lines(found))


def test_a_rating_that_was_given_anew_counts_alone_and_is_named(empty: TrialRecord) -> None:
    rows = rated(("Ada", "applied", "A1", 3)) + rated(
        ("Ada", "applied", "A1", 1), reason="looked at the wrong zone"
    )
    (found,) = ratings_of(of(empty, rows))
    assert [(r.median, r.ratings) for r in found.rows] == [(1, 1)]
    assert any(
        "rated anew by Ada, 1 of 3: lies flat: looked at the wrong" in r for r in found.remarks
    )
    assert any(r == "Not rated by anybody: A2 and A3." for r in found.remarks)


def test_few_zones_are_not_tested_and_many_are_by_ranks(empty: TrialRecord) -> None:
    few = rated(("Ada", "applied", "A1", 3), ("Ada", "applied", "A2", 1))
    (found,) = ratings_of(of(empty, few))
    assert found.differences[0].startswith("No difference is tested: 1 zone of a treatment and")
    many = [("Ada", "applied", f"{row}{n}", step) for n in (1, 3, 4, 5, 6)
            for row, step in (("B", 3), ("C", 1 + n % 2))]  # fmt: skip
    (found,) = ratings_of(of(empty, rated(*many), MORE))
    # Two samples of five that do not meet: 2 of 252 ways.
    assert found.differences == ("Tern wax is rated higher than Untreated (p = 0.0079).",)


def test_raters_who_knew_are_named_where_the_trial_is_blind(empty: TrialRecord) -> None:
    text = PLAN.replace("[panel]", f'[trial.blind]\nkey = "{"0" * 64}"\n\n[panel]')
    rows = rated(("Ada", "applied", "A1", 3), blind=1) + rated(("Bea", "applied", "A1", 3))
    (found,) = ratings_of(of(empty, rows, text))
    assert any(r.startswith("Not blind: 1 rating by Bea") for r in found.remarks)


def test_agreement_of_many_things_has_an_interval(empty: TrialRecord) -> None:
    both = [(who, "applied", f"{row}{n}", 1 + n % 3) for who in ("Ada", "Bea")
            for row in "BC" for n in (1, 3, 4, 5, 6, 7, 8)]  # fmt: skip
    (found,) = ratings_of(of(empty, rated(*both), MORE))
    assert agreement_words(found.agreement) == (
        "2 people rated 14 things together: 100 % of pairs of ratings of one thing are the same "
        "step, weighted kappa 1.00; none was rated unlike, which leaves that up to 19 % of such "
        "things may be (95 %, one-sided)."
    )
    unlike = [("Ada", "applied", "B1", 3), *both[1:]]
    (found,) = ratings_of(of(empty, rated(*unlike), MORE))
    said = agreement_words(found.agreement)
    assert "(95 % interval 0." in said
    assert said.endswith(" to 1.00, for more things of these treatments).")
    assert "One person rated" in agreement_words(None)


# -- lives ----------------------------------------------------------------------------------------


def test_lives_by_a_scale_are_intervals_or_at_least(empty: TrialRecord) -> None:
    rows = rated(
        ("Ada", "applied", "A1", 3), ("Ada", "applied", "A3", 3), ("Ada", "applied", "A2", 1),
        ("Ada", "wash-5", "A1", 2), ("Ada", "wash-5", "A3", 3), ("Ada", "wash-5", "A2", 1),
        ("Ada", "wash-10", "A1", 1), ("Ada", "wash-10", "A3", 2),
    )  # fmt: skip
    (found,) = water_lives(of(empty, rows))
    # The control was never treated, so it has no life to lose.
    assert [(z.zone, z.words) for z in found.zones] == [
        ("A1", "lasted 5 to 10 washes"), ("A3", "lasted at least 10 washes"),
    ]  # fmt: skip
    assert found.counts == (0, 5, 10)
    assert "rated below 2 of 3: flat drops after washing" in life_lines(found)[-1]


GULL = '[[treatment]]\nid = "gull"\nname = "Gull oil"\n\n'
ON_A3 = 'id = "A3"\ntreatment = "{}"'
TWO = PLAN.replace("[[zone]]", f"{GULL}[[zone]]", 1).replace(
    ON_A3.format("tern"), ON_A3.format("gull")
)


def test_of_two_zones_one_outlived_the_other_where_their_lives_do_not_meet(
    empty: TrialRecord,
) -> None:
    rows = rated(
        ("Ada", "applied", "A1", 3), ("Ada", "applied", "A3", 3), ("Ada", "wash-5", "A1", 1),
        ("Ada", "wash-5", "A3", 3),
    )  # fmt: skip
    (found,) = water_lives(of(empty, rows, TWO))
    assert life_lines(found)[:2] == [
        "Tern wax was gone by 5 washes.",
        "Gull oil lasted at least 5 washes.",
    ]
    assert life_lines(found)[2].startswith("Gull oil outlived Tern wax: at least 5 washes against")
    alike = rated(("Ada", "wash-5", "A1", 3), ("Ada", "wash-5", "A3", 3))
    (found,) = water_lives(of(empty, alike, TWO))
    assert life_lines(found)[2].startswith("Which lasts longer cannot be told of Tern wax and Gull")


def test_a_zone_that_never_beaded_has_no_life_and_nothing_is_told_before_washing(
    empty: TrialRecord,
) -> None:
    before = rated(("Ada", "applied", "A1", 1))
    assert water_lives(of(empty, before)) == ()
    rows = [*before, *rated(("Ada", "wash-5", "A1", 1), ("Ada", "wash-5", "A3", 3))]
    (found,) = water_lives(of(empty, rows))
    assert found.zones[0].words == "not told: it failed the criterion before the first wash"
    assert found.zones[1].words == "lasted at least 5 washes"


# -- the page -------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> TrialRecord:
    yard = WorkedYard(tmp_path_factory.mktemp("yard"))
    yard.call("apply", trial="quay-1", zones=["A1"], amount="<b>4 ml</b>", haze_minutes=3)
    for _ in range(3):
        yard.call("wash", trial="quay-1", by_key=True)
    yard.call("correct_washes", trial="quay-1", washes=-1, reason="pressed twice")
    yard.call(
        "photo", trial="quay-1", zone="A1", path="/home/ada/secret/a1.jpg", sha256="0" * 64,
        size_bytes=9,
    )  # fmt: skip
    yard.plug("shore")
    yard.check("shore")
    yard.begin("wash-5", text=PLAN)
    for value in ("80.1", "80.2"):
        yard.press("shore", value)
    for who in ("Ada", "Bea"):
        yard.call(
            "rate", trial="quay-1", scale="water", stage="wash-5", zone="A1", rater=who, step=3
        )
    yard.close()
    return load_trial(yard.bench.store, "quay-1")


def test_the_work_is_on_the_page_with_names_of_photos_alone(worked: TrialRecord) -> None:
    page = render(worked)
    assert "What was put on, and how it was washed" in page
    assert "&lt;b&gt;4 ml&lt;/b&gt;" in page
    assert "a1.jpg" in page
    assert "secret" not in page
    assert "What people saw and felt" in page
    assert "Wash life by How water behaves" in page


def test_washes_of_keys_are_one_line_and_corrections_their_own(worked: TrialRecord) -> None:
    part = work_part(worked)
    assert [(w.washes, w.how) for w in part.washes] == [
        ("+3", "counted by key"), ("-1", "corrected: pressed twice"),
    ]  # fmt: skip
    assert part.sentences == (
        "Washes counted in all: A1, A2 and A3: 2 washes.",
        "At wash-5, which comes after 5 washes, A1 was read when 2 washes had been counted. "
        "Results go by the plan's count.",
    )


def test_the_terminal_says_lives_and_ratings_too(worked: TrialRecord) -> None:
    from acquire.report.evidence.evidence import evidence_of

    lines = list(lines_of_record(worked, evidence_of(worked)))
    assert "Wash life by how water behaves (scale water)" in lines
    assert "  Tern wax: 3 of 3: round drops (2 ratings)" in lines


def test_a_page_without_such_work_has_no_such_sections(empty: TrialRecord) -> None:
    page = render(empty)
    assert 'id="ratings"' not in page
    assert 'id="work"' not in page


def test_ratings_lives_and_agreement_are_rows_of_results(worked: TrialRecord) -> None:
    from acquire.report.rows.resultrows import COLUMNS, result_records

    rows = [r for r in result_records(worked) if r["scale"] == "water"]
    assert {len(r) for r in rows} == {len(COLUMNS)}
    assert [(r["result"], r["zone"], r["median_step"], r["life_low"]) for r in rows] == [
        ("rating", None, 3, None),
        ("agreement", None, None, None),
        ("life", "A1", None, 5.0),
        ("life", "A3", None, None),
    ]
