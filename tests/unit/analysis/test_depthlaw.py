"""How the spread of films grows with their depth, and how surely it is known at one depth."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import optimize, stats

from acquire.analysis.laws.student import t_factor
from acquire.analysis.specimens.depthlaw import LEAST_NU, Found, beyond_pool, law_of
from acquire.analysis.specimens.depthtrial import tried_spread


def test_of_two_treatments_the_limit_is_welchs_with_his_degrees_of_freedom() -> None:
    """scipy.stats.ttest_ind, another implementation of Welch (1947) and Satterthwaite (1946)."""
    source = np.random.default_rng(1)
    clear, film = source.normal(0.0, 0.01, 4), source.normal(-1.5, 0.08, 6)
    found = (Found(0.0, clear.var(ddof=1), 3), Found(1.5, film.var(ddof=1), 5))
    law = law_of(found)
    assert law is not None
    share = math.sqrt(1 / 4 + 1 / 6)
    at = law.at((1.5**2 / 6) / share**2)
    theirs = stats.ttest_ind(film, clear, equal_var=False)
    assert at.nu == pytest.approx(theirs.df, rel=1e-6)
    se = (film.mean() - clear.mean()) / theirs.statistic
    assert math.sqrt(at.variance) * share == pytest.approx(se, rel=1e-6)


def test_the_law_is_the_likeliest_one_by_two_other_roads() -> None:
    """scipy.optimize on the likelihood of chi-squared variances, and a search by trial."""
    source = np.random.default_rng(2)
    depths = np.array([0.0, 0.1, 0.3, 0.8, 2.0])
    nu = np.array([2, 4, 1, 3, 2])
    for _ in range(20):
        s2 = (1e-4 + (0.05 * depths) ** 2) * source.chisquare(nu) / nu
        law = law_of(tuple(map(Found, depths.tolist(), s2.tolist(), nu.tolist())))
        assert law is not None

        def unlikely(logs: np.ndarray, s2: np.ndarray = s2) -> float:
            variances = np.exp(logs[0]) + np.exp(logs[1]) * depths**2
            return float(nu @ (np.log(variances) + s2 / variances))

        best = optimize.minimize(
            unlikely, [-9.0, -6.0], method="Nelder-Mead",
            options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 4000},
        )  # fmt: skip
        theirs = np.exp(best.x[0]) + np.exp(best.x[1]) * 4.0
        assert law.at(4.0).variance == pytest.approx(theirs, rel=1e-3)
        tried = tried_spread(depths.tolist(), np.sqrt(s2).tolist(), nu.tolist(), 4.0)
        assert math.sqrt(law.at(4.0).variance) == pytest.approx(tried, rel=1e-6)


def test_the_degrees_of_freedom_say_how_much_the_variance_at_a_depth_varies_between_trials() -> (
    None
):
    """2 V^2 / var V of 2000 drawn trials, of many slides each, so that the law is nearly normal."""
    source = np.random.default_rng(3)
    depths, nu = np.array([0.0, 0.1, 0.4, 1.5]), np.array([40, 40, 60, 20])
    true = 1e-4 + (0.05 * depths) ** 2
    for deep in (0.0, 0.4, 1.5):
        at = []
        for _ in range(1000):
            s2 = true * source.chisquare(nu) / nu
            law = law_of(tuple(map(Found, depths.tolist(), s2.tolist(), nu.tolist())))
            assert law is not None
            at.append(law.at(deep**2))
        variances = np.array([one.variance for one in at])
        drawn = 2 * variances.mean() ** 2 / variances.var()
        assert np.median([one.nu for one in at]) == pytest.approx(drawn, rel=0.15)


def test_beside_films_without_depth_a_deep_one_has_the_degrees_of_freedom_of_its_own_slides() -> (
    None
):
    found = (*[Found(1e-5, 4e-8, 1)] * 4, Found(1.5, 5.6e-3, 1))
    law = law_of(found)
    assert law is not None
    at = law.at(1.5**2 / 2)
    assert at.nu == pytest.approx(1.0, abs=1e-3)
    assert at.variance == pytest.approx(5.6e-3 / 2, rel=1e-3)


def test_films_as_deep_as_one_another_help_each_other() -> None:
    law = law_of((Found(0.0, 4e-8, 2), *[Found(1.5, 5e-3, 2)] * 3))
    assert law is not None
    assert law.at(1.5**2 / 2).nu == pytest.approx(6.0, abs=1e-3)


def test_a_depth_of_which_no_slides_tell_has_no_degrees_of_freedom() -> None:
    law = law_of((Found(0.0, 4e-8, 1), Found(0.001, 4e-8, 1)))
    assert law is not None
    assert law.at(1.5**2).nu < LEAST_NU


@pytest.mark.parametrize(
    "found",
    [(), (Found(0.0, 0.0, 2), Found(1.5, 0.0, 2)), (Found(0.0, 1e-6, 2), Found(0.0, 1e-6, 2))],
    ids=["nothing found", "nothing scatters", "nothing has a depth"],
)
def test_without_scatter_or_depth_there_is_no_law(found: tuple[Found, ...]) -> None:
    assert law_of(found) is None


def test_all_at_one_depth_or_one_variance_of_none_still_gives_figures() -> None:
    alike = law_of((Found(1.0, 1e-4, 2), Found(1.0, 1e-4, 2)))
    assert alike is not None
    assert alike.at(1.0).variance == pytest.approx(1e-4)
    assert alike.at(1.0).nu == 4
    assert alike.at(2.0).nu == 0
    still = law_of((Found(0.0, 0.0, 1), Found(0.5, 0.0, 1), Found(1.5, 1e-3, 1)))
    assert still is not None
    assert all(math.isfinite(x) for x in still.at(2.25))


def test_the_spread_of_all_alike_stands_where_it_is_larger_or_holds_the_film_to_be_none() -> None:
    found = (*[Found(0.0, 4e-8, 2)] * 2, *[Found(0.01, 4e-8, 2)] * 2, Found(1.5, 5.6e-3, 2))
    pool = (4 * 4e-8 + 5.6e-3) / 5
    assert beyond_pool(found, 1.5**2 / 2, 1.5, 1.5, pool, 1.0, 10) is not None
    assert beyond_pool(found, 0.01**2 / 2, 1.5, 1.5, pool, 1.0, 10) is None
    assert beyond_pool(found, 1.5**2 / 2, 0.01, 1.5, pool, 1.0, 10) is None
    assert beyond_pool((), 1.5**2 / 2, 1.5, 1.5, pool, 1.0, 10) is None


def test_a_film_that_is_hardly_deeper_than_what_is_held_to_be_none_has_no_depth_to_spread_by() -> (
    None
):
    found = (*[Found(0.0, 4e-8, 2)] * 4, Found(0.01, 5e-6, 2))
    pool = (4 * 4e-8 + 5e-6) / 5
    least = t_factor(10, 0.95) * math.sqrt(pool)
    for times, is_taken in ((3.9, False), (4.1, True)):
        depth = times * least
        at = beyond_pool((*found[:4], Found(depth, 5e-6, 2)), depth**2, depth, depth, pool, 1.0, 10)
        assert (at is not None) is is_taken
