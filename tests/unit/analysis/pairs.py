"""Means that do not differ, all held against one another: how often is a difference shown?

Each mean has a scatter of its own, from few readings. The limit of results (the studentized range
at the least known line, and Student's for all means but one together) stands beside Games and
Howell's, Tukey's with one pooled scatter, and Bonferroni's, with the mean half widths.

``python -m tests.unit.analysis.pairs [RUNS]`` prints the rates over numbers of means and readings
and over who scatters by how much; with 40,000 runs each it takes about half a minute.
"""

from __future__ import annotations

import itertools
import math
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.budget.reach import shared_level
from acquire.analysis.laws.student import t_quantile
from acquire.analysis.laws.studentrange import range_critical

Floats = NDArray[np.float64]
Limit = Callable[[Floats], Floats]
"""From the squared contributions of a pair's lines, a row a run, to half widths."""

ROOT2 = math.sqrt(2)


@dataclass(frozen=True)
class Scenario:
    """`cells` lines make a mean (2 for a change from bare), each of so many `readings`."""

    means: int
    readings: int
    cells: int
    who: str

    @property
    def scatters(self) -> Floats:
        one = np.ones(self.means)
        if self.who == "one":
            one[0] = 5.0
        elif self.who == "graded":
            one = np.geomspace(1.0, 8.0, self.means)
        elif self.who == "steep":
            one = 10.0 ** np.arange(self.means)
        return one

    def __str__(self) -> str:
        return f"{self.means} means, n = {self.readings}, {self.cells} lines each, {self.who}"


def rates(s: Scenario, runs: int, seed: int = 1) -> dict[str, tuple[float, float]]:
    """For each rule the part of runs with a false difference, and the mean half width."""
    source = np.random.default_rng(seed)
    shape, nu = (runs, s.means, s.cells), s.readings - 1
    sd = s.scatters[None, :, None] / math.sqrt(s.readings)
    means = (sd * source.standard_normal(shape)).sum(axis=2)
    squares = sd**2 * source.chisquare(nu, shape) / nu
    pooled = squares.mean(axis=(1, 2)) * 2 * s.cells
    half_of = _limits(s)
    half_of["Tukey, pooled"] = lambda _: (
        range_critical(s.means, s.means * s.cells * nu) / ROOT2 * np.sqrt(pooled)
    )
    wrong = {rule: np.zeros(runs, bool) for rule in half_of}
    widths: dict[str, list[float]] = {rule: [] for rule in half_of}
    for i, j in itertools.combinations(range(s.means), 2):
        lines = np.concatenate([squares[:, i], squares[:, j]], axis=1)
        for rule, limit in half_of.items():
            half = limit(lines)
            wrong[rule] |= np.abs(means[:, i] - means[:, j]) > half
            widths[rule].append(float(np.median(half)))
    return {r: (float(wrong[r].mean()), float(np.mean(widths[r]))) for r in half_of}


def _limits(s: Scenario) -> dict[str, Limit]:
    nu, k = s.readings - 1, s.means
    few, known = (range_critical(k, df) / ROOT2 for df in (nu, math.inf))
    few = max(few, -t_quantile(shared_level(0.05, k - 1) / 2, nu))
    alpha = 0.05 / math.comb(k, 2)
    t, z = (-t_quantile(alpha / 2, df) for df in (nu, math.inf))
    # Welch's degrees of freedom lie between that of one line and that of all.
    grid = np.linspace(nu, 2 * s.cells * nu, 80)
    of_grid = np.array([range_critical(k, float(df)) for df in grid])

    def least_known(wide: float, narrow: float) -> Limit:
        def limit(lines: Floats) -> Floats:
            square = narrow**2 * lines.sum(axis=1) + (wide**2 - narrow**2) * lines.max(axis=1)
            return np.asarray(np.sqrt(square))

        return limit

    def games_howell(lines: Floats) -> Floats:
        u2 = lines.sum(axis=1)
        df = u2**2 / ((lines**2).sum(axis=1) / nu)
        return np.asarray(np.interp(df, grid, of_grid) / ROOT2 * np.sqrt(u2))

    return {
        "least known": least_known(few, known),
        "Games and Howell": games_howell,
        "Bonferroni": least_known(t, z),
    }


def scenarios() -> Iterator[Scenario]:
    for cells, means, readings, who in itertools.product(
        (1, 2), (3, 5, 8), (2, 3, 5, 10), ("alike", "one", "graded", "steep")
    ):
        yield Scenario(means, readings, cells, who)


def main(runs: int) -> None:
    """Print the rates and half widths, rates above 5 % and three standard errors marked."""
    write = sys.stdout.write
    most = 0.05 + 3 * math.sqrt(0.05 * 0.95 / runs)
    for s in scenarios():
        told = [
            f"{rule} {rate:6.1%}{'!' if rate > most else ' '} ±{width:.2f}"
            for rule, (rate, width) in rates(s, runs).items()
        ]
        write(f"{'  '.join(told)}  {s}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40_000)
