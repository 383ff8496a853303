"""What a meter scatters by where its display rounds about as much away as it shows."""

from __future__ import annotations

import math

import numpy as np
import pytest

from acquire.analysis.specimens.scatter import pooled_sd
from acquire.analysis.studies.roundedscatter import RoundedScatter, scatter_of_rounded
from acquire.analysis.studies.study import Study, StudyCell, study_of
from acquire.study.words import limit_line, scatter_line

STEP = 0.1
STUDIES = 50


def study(sigma: float, source: np.random.Generator, step: float = STEP) -> Study:
    """Five spots anywhere in a step, six readings each."""
    return study_of(
        [
            StudyCell(
                f"s{spot}",
                "Ann",
                tuple(
                    float(round(v / step) * step)
                    for v in 80 + source.random() + source.normal(0, sigma, 6)
                ),
            )
            for spot in range(5)
        ],
        step,
    )


def alone(sigma: float) -> RoundedScatter:
    """A scatter that is known, by a display of steps of 1."""
    return RoundedScatter(sigma, sigma, sigma, 1.0, np.array([sigma]), np.array([1.0]))


def test_with_a_fine_step_it_is_the_pooled_scatter_and_its_chi_squared_interval() -> None:
    source = np.random.default_rng(5)
    cells = [source.normal(80, 40, 6).round() for _ in range(5)]
    found = scatter_of_rounded([tuple(map(float, cell)) for cell in cells], 1.0)
    assert found is not None
    plain = pooled_sd([float(cell.std(ddof=1)) for cell in cells], [5.0] * 5)
    assert found.sd == pytest.approx(plain.sd, rel=0.002)
    assert (found.low, found.high) == pytest.approx(plain.interval(), rel=0.03)


@pytest.mark.parametrize(("steps", "as_displayed"), [(0.2, 0.4), (0.3, 0.55), (0.5, 0.9)])
def test_the_interval_holds_the_scatter_of_drawn_studies_below_the_step(
    steps: float, as_displayed: float
) -> None:
    """That of the displayed readings does so in the second of these parts at most."""
    source = np.random.default_rng(7)
    sigma = steps * STEP
    held, above, plain = [], [], []
    for _ in range(STUDIES):
        drawn = study(sigma, source)
        found = drawn.rounded()
        if found is None:
            continue
        assert drawn.repeatability is not None
        low, high = drawn.repeatability.interval()
        held.append(found.low <= sigma <= found.high)
        above.append(sigma <= found.high)
        plain.append(low <= sigma <= high)
    assert np.mean(held) >= 0.9
    assert np.mean(above) >= 0.94
    assert np.mean(plain) <= as_displayed


@pytest.mark.parametrize("sigma", [0.2, 0.4, 0.7, 1.0, 2.0])
@pytest.mark.parametrize("difference", [1.0, 2.9])
def test_two_drawn_readings_differ_by_more_than_a_limit_as_often_as_is_told(
    sigma: float, difference: float
) -> None:
    source = np.random.default_rng(9)
    level = source.random(400_000)
    first, second = ((level + source.normal(0, sigma, level.size)).round() for _ in range(2))
    steps, chance = alone(sigma).beyond(difference)
    assert steps == math.floor(difference) + 1
    assert chance == pytest.approx(float((abs(first - second) > difference).mean()), abs=0.0015)


def test_readings_that_all_agree_tell_no_scatter() -> None:
    assert scatter_of_rounded([(80.1, 80.1), (80.2,)], STEP) is None
    with pytest.raises(ValueError, match="above 0"):
        scatter_of_rounded([(80.1, 80.2)], 0.0)


def test_a_study_below_the_step_says_what_rounding_is_in_it_and_takes_one_step_for_the_limit() -> (
    None
):
    found = study_of(
        [
            StudyCell("port", "Ann", (80.1, 80.1, 80.1, 80.1, 80.1, 80.1)),
            StudyCell("keel", "Ann", (81.4, 81.4, 81.4, 81.4, 81.4, 81.4)),
            StudyCell("helm", "Ann", (82.2, 82.2, 82.3, 82.2, 82.2, 82.2)),
        ],
        STEP,
    )
    rounded_to = found.rounded()
    assert rounded_to is not None
    assert found.repeatability is not None
    said = scatter_line(found.repeatability, rounded_to, " GU")
    assert "as displayed, so that rounding to steps of 0.1 GU is in it; without that about" in said
    said = limit_line(found, rounded_to, " GU")
    assert "r       0.10 GU (one step of the display: 2.8 s_r is less" in said
    assert "2 steps or more, in fewer than 1 of 100 cases only, so that difference shows" in said


def test_a_study_above_the_step_says_how_often_whole_steps_are_more_than_the_limit() -> None:
    """At a scatter of one step 2.8 times it is less than 3 steps, and these are not so rare."""
    found = study(0.1, np.random.default_rng(11))
    rounded_to = found.rounded()
    assert rounded_to is not None
    _, chance = rounded_to.beyond(2.8 * STEP)
    assert chance > 0.05
    said = limit_line(found, rounded_to, " GU")
    assert "steps or more, in about" in said
    assert "so a smaller difference shows nothing" in said


def test_a_study_far_above_the_step_is_told_as_it_is_displayed() -> None:
    found = study(0.5, np.random.default_rng(12))
    assert found.rounded() is None
    assert found.repeatability is not None
    said = scatter_line(found.repeatability, None, " GU")
    assert "degrees of freedom, 95 %: " in said
    assert "as displayed" not in said
