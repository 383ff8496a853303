"""Points of lives and of ratings: by hand, with what is known as a bound only."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest

from acquire.analysis.durability.life import Life
from acquire.analysis.scoring.judged import rated
from acquire.analysis.scoring.keeping import Given
from acquire.analysis.scoring.lives import NOTHING_TO_LOSE, survived
from acquire.analysis.scoring.scored import TrialScore
from acquire.model import EndOfLife, Rated, Scale
from acquire.model.scorecard import When
from tests.unit.analysis.bench import BARE, Readings
from tests.unit.score_bench import judged, lasting, line, product, scored

WASHES = (("wash-5", 5), ("wash-10", 10))
HALF = EndOfLife(lost=Decimal("0.5"))
WATER = Scale("water", "Water", Rated.ZONE, ("flat", "drops", "beads"), ("applied", "wash-5"), 2)
COMING_OFF = Scale("off", "How it comes off", Rated.TREATMENT, ("bad", "fair", "good"))


def washed(**gains: tuple[float, float, float]) -> Readings:
    """Each zone's gain when applied and after 5 and 10 washes; the control gains nothing."""
    levels = {"control": (0.0, 0.0, 0.0), **gains}
    return {
        (zone, stage): tuple(v + gain for v in BARE)
        for zone, row in levels.items()
        for stage, gain in zip(("bare", "applied", "wash-5", "wash-10"), (0.0, *row), strict=True)
    }


def test_the_washes_surely_survived_count_and_a_life_that_goes_on_is_at_least() -> None:
    found = scored(
        washed(wax=(6, 6, 0), seal=(6, 6, 6), oil=(6, 0, 0)), lasting("2"), washes=WASHES, end=HALF
    )
    wax, seal, oil = (line(found, t, "life") for t in ("wax", "seal", "oil"))
    # Wax passed at 5 and failed by 10: 5 to 9 washes, of which 5 count, at 2 points each.
    assert (wax.found, wax.points, wax.slack) == ("5 to 9 washes, 5 counted", 10.0, 8.0)
    assert (seal.found, seal.points, seal.slack) == ("at least 10 washes", 20.0, None)
    assert (oil.found, oil.points) == ("0 to 4 washes, 0 counted", 0.0)
    assert (seal.is_at_least, wax.is_at_least) == (True, False)
    assert [(p.treatment, p.place) for p in found.products] == [
        ("seal", "1"), ("wax", "2"), ("oil", "3"),
    ]  # fmt: skip
    assert any(n.startswith("“At least” where washing stopped") for n in found.notes)
    assert found.notes[2].startswith("Chance to be first, each life counted at its least: Seal")


def test_the_looks_are_those_that_were_taken_and_not_all_of_the_plan() -> None:
    planned = (*WASHES, ("wash-20", 20))

    def looks(found: TrialScore) -> str:
        return next(c.value for c in found.conditions if c.what == "looked at for life after")

    readings = washed(wax=(6, 6, 0))
    assert looks(scored(readings, lasting(), washes=planned, end=HALF)) == "5, 10 washes"
    unwashed = {key: row for key, row in readings.items() if not key[1].startswith("wash")}
    assert looks(scored(unwashed, lasting(), washes=planned, end=HALF)) == "no washes"
    scale = replace(WATER, stages=("applied", "wash-5", "wash-10"))
    by_eye = [
        told
        for stage, step in (("applied", 3), ("wash-5", 2))
        for told in ratings("water", stage, wax={"Ada": step})
    ]
    found = scored(readings, lasting(scale="water"), ratings=by_eye, washes=planned, scales=[scale])
    assert line(found, "wax", "life").found == "at least 5 washes"
    assert looks(found) == "5 washes"


def test_at_the_ceiling_nothing_is_at_least_any_more() -> None:
    found = scored(
        washed(seal=(6, 6, 6), wax=(6, 6, 0)), lasting("2", ceiling="18"), washes=WASHES, end=HALF
    )
    seal = line(found, "seal", "life")
    assert (seal.points, seal.slack, seal.is_at_least) == (18.0, 0.0, False)


def test_a_treatment_without_a_gain_has_none_to_lose_and_survives_no_wash() -> None:
    found = scored(washed(wax=(0, 0, 0)), lasting(), washes=WASHES, end=HALF)
    assert line(found, "wax", "life").points == 0.0
    assert "no gain shown" in line(found, "wax", "life").found


def test_a_measure_without_an_end_of_life_earns_no_points_and_says_so() -> None:
    found = scored(washed(wax=(6, 6, 0)), lasting(), washes=WASHES)
    assert line(found, "wax", "life").points is None
    assert "says when a treatment is gone" in line(found, "wax", "life").why


@pytest.mark.parametrize(
    ("lives", "least", "most", "words"),
    [
        ([Life(10, 20)], 10, 19, "10 to 19 washes, 10 counted"),
        ([Life(0, 1)], 0, 0, "0 washes"),
        # The lower of the two in the middle: lows 5, 10, 20, 30; highs less one 9, 19, 29, inf.
        (
            [Life(30), Life(5, 10), Life(20, 30), Life(10, 20)],
            10,
            19,
            "10 to 19 washes, 10 counted",
        ),
        ([Life(20), Life(5), Life(10)], 10, float("inf"), "at least 10 washes"),
        ([Life(1)], 1, float("inf"), "at least 1 wash"),
    ],
)
def test_the_middle_zone_counts(lives: list[Life], least: float, most: float, words: str) -> None:
    found = survived(lives)
    assert (found.least, found.most, found.words) == (least, most, words)
    assert found.zones == len(lives)


def test_no_life_is_a_fault_of_the_caller() -> None:
    with pytest.raises(ValueError, match="one zone or more"):
        survived([])
    assert NOTHING_TO_LOSE.most == 0


def ratings(scale: str, stage: str, **given: dict[str, int]) -> list[Given]:
    """By thing (a zone, or a treatment of a scale about products): steps by rater."""
    return [
        Given(scale, stage, thing if stage else "", thing, rater, step)
        for thing, steps in given.items()
        for rater, step in steps.items()
    ]


def test_the_median_of_raters_earns_the_points_of_its_step() -> None:
    told = ratings("off", "", wax={"Ada": 3, "Ben": 2, "Cy": 3}, seal={"Ada": 1, "Ben": 2})
    found = scored(
        washed(wax=(6, 6, 6), seal=(6, 6, 6)),
        judged("0", "2", "6", scale="off"),
        ratings=told,
        scales=[COMING_OFF],
    )
    assert line(found, "wax", "rated").points == 6.0
    # Of two raters the lower one of the two in the middle.
    assert line(found, "seal", "rated").points == 0.0
    assert line(found, "wax", "rated").found == "step 3 of 3, median of 3 raters"
    assert (line(found, "wax", "rated").low, line(found, "wax", "rated").high) == (2.0, 6.0)


def test_zones_are_rated_at_the_stage_and_have_the_mean_of_theirs() -> None:
    told = [
        *ratings("water", "applied", wax1={"Ada": 3}, wax2={"Ada": 2}),
        *ratings("water", "wash-5", wax1={"Ada": 1}, wax2={"Ada": 1}),
    ]
    readings = washed(wax1=(6, 6, 6), wax2=(6, 6, 6))
    found = scored(readings, judged("0", "2", "6"), ratings=told, scales=[WATER], washes=WASHES)
    one = line(found, "wax", "rated")
    assert one.points == 4.0
    assert one.found == "step 2.5 of 3, median of 1 rater, mean of 2 zones"
    assert found.notes[-1] == "Rated: one rater, so how raters differ is not in the interval."
    late = scored(
        readings, judged("0", "2", "6", when=When((), 5)), ratings=told, scales=[WATER],
        washes=WASHES,
    )  # fmt: skip
    assert line(late, "wax", "rated").points == 0.0


def test_a_life_by_a_scale_counts_the_washes_of_the_stages_rated() -> None:
    told = [
        *ratings("water", "applied", wax={"Ada": 3}, seal={"Ada": 3}),
        *ratings("water", "wash-5", wax={"Ada": 1, "Ben": 3}, seal={"Ada": 2, "Ben": 2}),
    ]
    found = scored(
        washed(wax=(6, 6, 6), seal=(6, 6, 6)),
        lasting(scale="water"),
        ratings=told,
        scales=[WATER],
        washes=WASHES,
    )
    assert line(found, "wax", "life").found == "0 to 4 washes, 0 counted"
    assert line(found, "seal", "life").found == "at least 5 washes"


def test_a_scale_that_does_not_fit_or_was_not_rated_gives_no_points_and_says_why() -> None:
    readings = washed(wax=(6, 6, 6))
    for item, scales, why in (
        (judged("0", "1"), [WATER], "has 3 steps, and the scorecard points for 2"),
        (judged("0", "1", scale="x"), [WATER], "the trial has no scale x"),
        (judged("0", "1", "2"), [WATER], "nobody has rated it"),
        (judged("0", "1", "2", when=When(("late",))), [WATER], "has no stage late"),
        (lasting(scale="off"), [COMING_OFF], "does not say below which step"),
    ):
        found = scored(readings, item, scales=scales, washes=WASHES)
        assert why in product(found, "wax").items[0].why


def test_raters_are_drawn_anew_for_all_products_alike() -> None:
    """A strict rater lowers both products in the same draws, so that their difference stays."""
    steps = {"Ada": 1, "Ben": 2, "Cy": 3}
    found = rated({"wax": [steps], "seal": [steps]}, [0.0, 5.0, 10.0], "rated", 2000)
    assert np.array_equal(found["wax"].draws, found["seal"].draws)
    # All 27 draws of three out of three alike: the middle one is lowest or highest in 7 each.
    assert (found["wax"].draws == 0.0).mean() == pytest.approx(7 / 27, abs=0.03)
