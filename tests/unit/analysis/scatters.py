"""Trials in which nothing differs and zones scatter differently: how often is a difference shown?

The meter does not drift. Readings scatter by 0.2 GU except where a scenario makes a zone noisier;
several zones of a treatment may change by amounts of their own. All treatments are alike, or, where
equality is asked for, apart from the control by just the margin.

``python -m tests.unit.analysis.scatters [RUNS]`` prints the rates of false decisions over who is
noisy by how much, numbers of treatments, readings and zones, with the median half width and the
smallest visible difference of the first treatment; with 1000 runs each it takes about an hour.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from math import sqrt
from statistics import median

import numpy as np

from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.results import MeasureResult, Sample, measure_results
from acquire.analysis.samples.repeatability import NOTHING, Lent
from acquire.analysis.treatments.decision import Decision
from acquire.model import Order
from tests.unit.analysis.bench import plan_of, quiet

STAGES = ("bare", "applied")
NAMES = ("wax", "seal", "dust", "tar", "oil", "gel")
NOISY = ("nobody", "wax applied", "wax", "all applied", "control")


@dataclass(frozen=True)
class Scenario:
    """`noisy` names who scatters `factor` times as much as `sd`; `zones` counts those a side.

    `zone_sd` is the standard deviation of the changes of zones of one treatment, `effect` the true
    net change of every treatment, and `step` that of the display, all in GU.
    """

    treatments: int
    readings: int
    noisy: str = "nobody"
    factor: float = 1.0
    zones: int = 1
    zone_sd: float = 0.0
    sd: float = 0.2
    step: float = 0.1
    effect: float = 0.0
    margin: str | None = None

    def scatter(self, treatment: str, stage: str) -> float:
        """The standard deviation of one reading there."""
        where = {
            "nobody": False,
            "wax applied": (treatment, stage) == ("wax", "applied"),
            "wax": treatment == "wax",
            "all applied": treatment != "control" and stage == "applied",
            "control": treatment == "control",
            "everyone": True,
        }
        return self.sd * (self.factor if where[self.noisy] else 1.0)

    def __str__(self) -> str:
        zones = f", {self.zones} zones a side apart by {self.zone_sd:g}" if self.zones > 1 else ""
        who = f"{self.noisy} x {self.factor:g}" if self.factor != 1 else "alike"
        equal = f", equality at the margin {self.margin}" if self.margin else ""
        coarse = f", step {self.step:g}, sd {self.sd:g}" if self.step != 0.1 else ""
        return f"{self.treatments} tr., n = {self.readings}, {who}{zones}{coarse}{equal}"


def trial_result(s: Scenario, draw: np.random.Generator, lent: Lent = NOTHING) -> MeasureResult:
    """One such trial, drawn; readings are taken in turn under one check a stage.

    `lent` is what a study lends to its results.
    """
    sides = ("control", *NAMES[: s.treatments])
    zones = [f"{side}{k}" if s.zones > 1 else side for side in sides for k in range(s.zones)]
    plan, measure = plan_of(zones, replicates=s.readings, order=Order.INTERLEAVED, margin=s.margin)
    start = {zone: 90 + s.step * draw.random() for zone in zones}
    own = {zone: s.zone_sd * draw.normal() for zone in zones}
    samples: list[Sample] = []
    for index, stage in enumerate(STAGES):
        for replicate, zone in product(range(s.readings), zones):
            treatment = zone.rstrip("0123456789")
            changed = own[zone] + (s.effect if treatment != "control" else 0.0)
            true = start[zone] + changed * index + s.scatter(treatment, stage) * draw.normal()
            number = len(samples) + 1
            samples.append(
                Sample(
                    zone, treatment, stage, replicate + 1, "60",
                    round(true / s.step) * s.step, 1000.0 * index + number, number,
                )
            )  # fmt: skip
    brackets = [quiet(stage, 1000.0 * index) for index, stage in enumerate(STAGES)]
    (result,) = measure_results(plan, measure, samples, brackets, s.step, lent)
    return result


def is_wrong(s: Scenario, result: MeasureResult) -> bool:
    """Whether a difference is shown where there is none, or equality where there is one."""
    found = [c for c in result.comparisons if isinstance(c, Comparison)]
    if s.margin is not None:
        return any(c.decision is Decision.EQUAL for c in found)
    return any(c.is_difference_shown for c in found)


def false_rate(s: Scenario, runs: int, seed: int = 1) -> float:
    """The part of the trials with a false decision."""
    draw = np.random.default_rng(seed)
    return sum(is_wrong(s, trial_result(s, draw)) for _ in range(runs)) / runs


def allowance(runs: int) -> float:
    """Three standard errors of a rate of 5 %."""
    return 3 * sqrt(0.05 * 0.95 / runs)


def _scenarios() -> Iterator[Scenario]:
    for treatments, readings in product((1, 2, 4, 6), (2, 3, 5, 10)):
        yield Scenario(treatments, readings)
        for noisy, factor in product(NOISY[1:], (2.0, 3.0, 5.0, 8.0)):
            yield Scenario(treatments, readings, noisy, factor)
    for treatments, zones, zone_sd in product((1, 4), (2, 3, 5), (0.0, 0.1, 0.5)):
        yield Scenario(treatments, 3, zones=zones, zone_sd=zone_sd, sd=0.1)
    for step, sd in product((0.5, 1.0), (0.05, 0.2, 0.5)):
        yield Scenario(1, 3, sd=sd, step=step)
        yield Scenario(4, 3, sd=sd, step=step)
    for noisy in ("nobody", "control", "wax applied"):
        yield Scenario(1, 3, noisy, 5.0, sd=0.1, effect=1.0, margin="1.0")


def main(runs: int) -> None:
    """Print the rates, those above the allowance marked."""
    write = sys.stdout.write
    write(f"false decisions in {runs} runs; 5 % + {allowance(runs):.1%} allowed\n")
    for s in _scenarios():
        draw = np.random.default_rng(1)
        results = [trial_result(s, draw) for _ in range(runs)]
        rate = sum(is_wrong(s, r) for r in results) / runs
        judged = [r.comparisons[0] for r in results]
        seen = [c for c in judged if isinstance(c, Comparison)]
        half = median(c.budget.expanded for c in seen) if seen else float("nan")
        visible = median(c.smallest_visible for c in seen) if seen else float("nan")
        mark = "!" if rate > 0.05 + allowance(runs) else " "
        write(f"{rate:6.1%} {mark} half {half:7.2f}  visible {visible:7.2f}  {s}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
