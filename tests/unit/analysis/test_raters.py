"""Agreement of raters: published worked examples, a library, and what too few ratings can say."""

from __future__ import annotations

import krippendorff
import numpy as np
import pytest

from acquire.analysis.people.agreement import Weights, cohen_kappa
from acquire.analysis.people.krippendorff import krippendorff_alpha
from acquire.analysis.people.raters import _kappas, agreement_of

# K. Krippendorff, "Computing Krippendorff's Alpha-Reliability" (2011), from memory: four observers,
# twelve units, values 1 to 5, missing ones as dots. Ordinal alpha 0.815.
OBSERVERS = (
    "1 2 3 3 2 1 4 1 2 . . .",
    "1 2 3 3 2 2 4 1 2 5 . 3",
    ". 3 3 3 2 3 4 2 2 5 1 .",
    "1 2 3 3 2 4 4 1 2 5 1 .",
)


def counts_of(rows: list[list[float]], steps: int) -> list[list[int]]:
    return [
        [sum(row[i] == step for row in rows) for step in range(1, steps + 1)]
        for i in range(len(rows[0]))
    ]


def test_the_worked_example_of_four_observers_with_gaps() -> None:
    rows = [[float("nan") if v == "." else float(v) for v in row.split()] for row in OBSERVERS]
    alpha = krippendorff_alpha(counts_of(rows, 5))
    assert alpha == pytest.approx(0.815, abs=0.0005)


@pytest.mark.parametrize("seed", range(8))
def test_alpha_is_what_a_library_says(seed: int) -> None:
    draw = np.random.default_rng(seed)
    rows = draw.integers(1, 5, size=(3, 12)).astype(float)
    rows[draw.random(rows.shape) < 0.25] = np.nan
    expected = krippendorff.alpha(
        reliability_data=rows, level_of_measurement="ordinal", value_domain=[1, 2, 3, 4]
    )
    assert krippendorff_alpha(counts_of(rows.tolist(), 4)) == pytest.approx(expected, abs=1e-9)


def test_many_kappas_at_once_are_each_as_one_alone() -> None:
    tables = np.random.default_rng(3).integers(0, 9, size=(20, 4, 4)).astype(float)
    alone = [cohen_kappa(t.astype(int).tolist(), Weights.QUADRATIC).kappa for t in tables]
    assert _kappas(tables) == pytest.approx(alone)


def things(steps: str) -> dict[int, int]:
    return {i: int(s) for i, s in enumerate(steps) if s != "."}


def test_two_people_are_told_by_kappa_and_three_by_alpha() -> None:
    two = agreement_of({"Ada": things("123412341234"), "Bea": things("123412341233")}, 4)
    assert two is not None
    assert (two.raters, two.things, two.measure) == (2, 12, "weighted kappa")
    assert two.same == pytest.approx(11 / 12)
    assert two.value is not None
    assert two.low is not None
    assert two.high is not None
    assert two.low <= two.value <= two.high <= 1
    three = {
        "Ada": things("123412341234"),
        "Bea": things("12341234...."),
        "Cid": things("1234....1234"),
    }
    several = agreement_of(three, 4)
    assert several is not None
    assert (several.measure, several.value, several.same) == ("Krippendorff's alpha", 1.0, 1.0)


def test_the_same_ratings_give_the_same_interval() -> None:
    ratings = {"Ada": things("123412341234"), "Bea": things("223412341133")}
    assert agreement_of(ratings, 4) == agreement_of(ratings, 4)


def test_few_things_have_a_figure_and_no_interval() -> None:
    found = agreement_of({"Ada": things("123"), "Bea": things("122")}, 4)
    assert found is not None
    assert found.value is not None
    assert (found.low, found.lacking) == (None, "3 things are too few to say how sure that is")


def test_one_step_for_all_is_no_agreement_beyond_chance() -> None:
    found = agreement_of({"Ada": things("3333"), "Bea": things("3333")}, 4)
    assert found is not None
    assert (found.value, found.same) == (None, 1.0)
    assert "nothing tells agreement from chance" in found.lacking


def test_one_rater_alone_agrees_with_nobody() -> None:
    assert agreement_of({"Ada": things("1234"), "Bea": {}}, 4) is None
    apart = agreement_of({"Ada": {1: 1}, "Bea": {2: 1}}, 4)
    assert apart is not None
    assert apart.lacking == "nobody rated the same thing"
    with pytest.raises(ValueError, match="1 to 4"):
        agreement_of({"Ada": {1: 5}}, 4)


def test_wholly_agreeing_people_have_no_interval_without_a_width() -> None:
    found = agreement_of({"Ada": things("123412341234"), "Bea": things("123412341234")}, 4)
    assert found is not None
    assert (found.value, found.low, found.high) == (1.0, None, None)
    # No failure in 12: 1 - 0.05^(1/12) (C. J. Clopper and E. S. Pearson 1934).
    assert "up to 22 % of such things may be" in found.lacking
