"""Trials in which nothing differs and the meter drifts: how often is a difference shown?

Zones are read 10 s apart between an opening and a closing check, at a bare and an applied stage;
the meter's error runs from 0 to the drift of the stage. Readings scatter, the display rounds them,
and so it is with the three readings of the piece at each check. All treatments are alike.

``python -m tests.unit.analysis.drifts [RUNS]`` prints the rates over courses, sizes, orders,
numbers of treatments and of replicates; with 400 runs each it takes a few minutes.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product
from math import exp, sqrt

import numpy as np

from acquire.analysis.checks.bracket import reading_doubt
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.correction import corrected_measure
from acquire.analysis.results import Bracket, MeasureResult, Sample, measure_results
from acquire.analysis.treatments.decision import Decision
from acquire.model import DriftCorrection, Order
from tests.unit.analysis.bench import plan_of

STEP = 0.1
"""Of the display, GU."""
PIECE_READINGS = 3
CERTIFIED = 93.0
"""Of the reference piece, GU."""
STAGES = ("bare", "applied")
NAMES = ("wax", "seal", "dust", "tar")

Course = Callable[[float], float]
"""The part of the drift that has happened at a position between the checks."""


def linear(draw: np.random.Generator) -> Course:
    return lambda position: position


def step(draw: np.random.Generator) -> Course:
    at = draw.random()
    return lambda position: float(position > at)


def warm_up(draw: np.random.Generator) -> Course:
    """Most of it soon after the opening check: a fifth of the bracket is its time constant."""
    return lambda position: (1 - exp(-5 * position)) / (1 - exp(-5))


COURSES: Mapping[str, Callable[[np.random.Generator], Course]] = {
    "linear": linear,
    "step": step,
    "warm-up": warm_up,
}


@dataclass(frozen=True)
class Scenario:
    """`drifts` are those of both stages, in GU. The readings fill `filled` of each bracket.

    `effect` is the true net change of every treatment, zero unless power is asked for.
    `correction` is what the result is corrected by. With `is_one_chain` the check that closes the
    bare stage opens the applied one; else each stage has two checks of its own, and the meter
    starts from 0 again. `piece_scatter` is that of the piece's readings, None for that of the
    others. With `is_gain` the scale of the meter drifts, by the drift at the piece.
    """

    course: str
    drifts: tuple[float, float]
    order: Order = Order.BY_ZONE
    treatments: int = 1
    replicates: int = 5
    scatter: float = 0.1
    filled: float = 1.0
    effect: float = 0.0
    correction: DriftCorrection = DriftCorrection.NONE
    is_one_chain: bool = False
    is_gain: bool = False
    piece_scatter: float | None = None

    @property
    def zones(self) -> tuple[str, ...]:
        """The control comes first: so the steady drift moves the last one farthest from it."""
        return ("control", *NAMES[: self.treatments])

    def places(self) -> list[str]:
        """The zones in the order in which they are read at a stage."""
        if self.order is Order.BY_ZONE:
            return [zone for zone in self.zones for _ in range(self.replicates)]
        return [zone for _ in range(self.replicates) for zone in self.zones]


def trial_result(scenario: Scenario, draw: np.random.Generator) -> MeasureResult:
    """One such trial, drawn."""
    plan, measure = plan_of(scenario.zones, replicates=scenario.replicates, order=scenario.order)
    samples: list[Sample] = []
    brackets = []
    begins, opening = 0.0, _piece(scenario, 0.0, draw)
    for index, (stage, drift) in enumerate(zip(STAGES, scenario.drifts, strict=True)):
        begun_s = 100_000.0 * index
        places = scenario.places()
        length_s = 10 * (len(places) + 1) / scenario.filled
        course = COURSES[scenario.course](draw)
        for number, zone in enumerate(places):
            position = 10 * (number + 1) / length_s
            changed = scenario.effect if stage == "applied" and zone != "control" else 0.0
            surface, error = 90 + changed, begins + drift * course(position)
            seen = surface * (1 + error / CERTIFIED) if scenario.is_gain else surface + error
            true = seen + scenario.scatter * draw.normal()
            samples.append(
                Sample(
                    zone, zone, stage, len(samples), "60", _shown(true),
                    begun_s + position * length_s, len(samples) + 1,
                )
            )  # fmt: skip
        closing = _piece(scenario, begins + drift, draw)
        brackets.append(
            Bracket(
                stage, begun_s, begun_s + length_s, closing[0] - opening[0], 0.2, "", opening[0],
                opening_doubt=reading_doubt(opening[1], PIECE_READINGS, STEP),
                closing_doubt=reading_doubt(closing[1], PIECE_READINGS, STEP),
                piece="T1", certified=CERTIFIED,
                opening_check=index + 1 if scenario.is_one_chain else 2 * index + 1,
                closing_check=index + 2 if scenario.is_one_chain else 2 * index + 2,
            )
        )  # fmt: skip
        if scenario.is_one_chain:
            begins, opening = begins + drift, closing
        else:
            opening = _piece(scenario, 0.0, draw)
    if scenario.correction is DriftCorrection.NONE:
        (result,) = measure_results(plan, measure, samples, brackets, STEP)
        return result
    measure = replace(measure, drift_correction=scenario.correction)
    corrected = corrected_measure(plan, measure, "60", samples, brackets, STEP).result
    assert corrected is not None
    return corrected


def _shown(value: float) -> float:
    return round(value / STEP) * STEP


def _piece(scenario: Scenario, error: float, draw: np.random.Generator) -> tuple[float, float]:
    """Mean and standard deviation of a piece's deviation as read in a check."""
    scatter = scenario.scatter if scenario.piece_scatter is None else scenario.piece_scatter
    read = [_shown(error + scatter * draw.normal()) for _ in range(PIECE_READINGS)]
    return float(np.mean(read)), float(np.std(read, ddof=1))


def shown_rate(scenario: Scenario, runs: int, seed: int = 1) -> float:
    """The part of the trials in which a difference of any treatment is shown."""
    draw = np.random.default_rng(seed)
    return sum(_is_any_shown(trial_result(scenario, draw)) for _ in range(runs)) / runs


def ahead_rate(scenario: Scenario, runs: int, seed: int = 1) -> float:
    """The part of the trials in which the best treatment is called ahead of any other one."""
    draw = np.random.default_rng(seed)
    return (
        sum(
            any(x.decision is Decision.BETTER for x in trial_result(scenario, draw).leads)
            for _ in range(runs)
        )
        / runs
    )


def _is_any_shown(result: MeasureResult) -> bool:
    return any(c.is_difference_shown for c in result.comparisons if isinstance(c, Comparison))


def allowance(runs: int) -> float:
    """Three standard errors of a rate of 5 %."""
    return 3 * sqrt(0.05 * 0.95 / runs)


def _scenarios() -> Iterator[Scenario]:
    sizes = ((0.0, 0.0), *((sign * d, d) for d in (0.1, 0.3, 0.6, 0.9, 1.8) for sign in (1, -1)))
    # The shapes that differ most in kind, not every pair of both numbers.
    shapes = ((1, 3), (1, 5), (2, 4), (4, 3), (4, 5))
    orders = (Order.BY_ZONE, Order.INTERLEAVED)
    for course, order, (treatments, replicates), drifts, filled in product(
        COURSES, orders, shapes, sizes, (1.0, 0.3)
    ):
        yield Scenario(course, drifts, order, treatments, replicates, filled=filled)


def main(runs: int) -> None:
    """Print the largest rate of each course, order and size, and where it was met."""
    worst: dict[tuple[str, str, str], tuple[float, str]] = {}
    for s in _scenarios():
        sign = "0" if s.drifts[1] == 0 else "alike" if s.drifts[0] > 0 else "opposed"
        key = (s.course, s.order.value, f"{s.drifts[1]:.1f} {sign}")
        where = f"{s.treatments} treatments, {s.replicates} readings, {s.filled:.0%} filled"
        worst[key] = max(worst.get(key, (0.0, "")), (shown_rate(s, runs), where))
    said = [f"largest false-decision rates of {runs} runs, 5 % + {allowance(runs):.1%} allowed"]
    for key, (rate, where) in worst.items():
        said.append(f"{key[0]:8} {key[1]:12} {key[2]:12} {rate:6.1%}  {where}")
    said.append("the best of four treatments called ahead of any other one, 3 readings each")
    for course, (order, drift) in product(
        COURSES, ((Order.BY_ZONE, 0.0), (Order.BY_ZONE, 0.6), (Order.INTERLEAVED, 0.6))
    ):
        rate = ahead_rate(Scenario(course, (-drift, drift), order, 4, 3), runs)
        said.append(f"{course:8} {order.value:12} {drift:.1f} {rate:6.1%}")
    sys.stdout.write("\n".join([*said, ""]))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 400)
