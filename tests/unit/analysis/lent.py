"""Trials of single zones with a study in use, in which nothing differs: how often is one shown?

A study of some degrees of freedom finds the scatter of its marked spots, and readings of the trial
scatter as these do, or all of them, or those of one zone, more.

``python -m tests.unit.analysis.lent [RUNS]`` prints the rates of false decisions by how many
readings a zone has, with the median half width in units of the scatter of the study's spots; with
1000 runs each it takes about an hour.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from itertools import product
from math import sqrt
from statistics import median
from typing import NamedTuple

import numpy as np

from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.samples.repeatability import Lent, Repeatability
from tests.unit.analysis.scatters import Scenario, is_wrong, trial_result

SPOTS_SD = 0.2
STEP = 0.01
COUNTS = (1, 2, 3, 5, 10)


class Drawn(NamedTuple):
    """The part of trials with a false decision, and the median half width in the spots' scatter."""

    false: float
    half: float


def drawn(s: Scenario, nu: int, runs: int, seed: int = 1) -> Drawn:
    """As many trials, each with a study of its own of `nu` degrees of freedom."""
    draw = np.random.default_rng(seed)
    false, halves = 0, []
    for _ in range(runs):
        sd = SPOTS_SD * sqrt(draw.chisquare(nu) / nu)
        lent = Lent({"60": Repeatability(sd, nu, 85.0, 95.0, "study 1 of 2026-11-20")})
        result = trial_result(s, draw, lent)
        false += is_wrong(s, result)
        halves += [
            (c.interval[1] - c.interval[0]) / 2 / SPOTS_SD
            for c in result.comparisons
            if isinstance(c, Comparison)
        ]
    return Drawn(false / runs, median(halves))


def scenario(
    treatments: int, readings: int, noisy: str = "nobody", factor: float = 1.0
) -> Scenario:
    """Of single zones."""
    return Scenario(treatments, readings, noisy, factor, sd=SPOTS_SD, step=STEP)


def _scenarios() -> Iterator[tuple[int, int, str, float]]:
    for treatments, nu in product((1, 2, 3, 6), (10, 45)):
        yield treatments, nu, "nobody", 1.0
        for factor in (1.5, 2.0, 3.0):
            yield treatments, nu, "everyone", factor
        for noisy, factor in product(("control", "wax"), (2.0, 3.0, 10.0)):
            yield treatments, nu, noisy, factor


def main(runs: int) -> None:
    """Print a line for each of the designs."""
    write = sys.stdout.write
    write(f"false decisions in {runs} runs and median half width over the scatter of the spots\n")
    for treatments, nu, noisy, factor in _scenarios():
        write(f"{treatments} tr., {nu} degrees of freedom, {noisy} x {factor:g}:")
        for readings in COUNTS:
            found = drawn(scenario(treatments, readings, noisy, factor), nu, runs)
            write(f"  n = {readings}: {found.false:.1%} {found.half:.2f}")
        write("\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
