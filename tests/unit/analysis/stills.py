"""Trials in which nothing differs and the display hides how zones or slides spread.

Readings are still or nearly so, and zones or slides of one treatment differ by a part of the step.

``python -m tests.unit.analysis.stills [RUNS]`` prints how often a difference is shown, against the
control and among the treatments, over numbers of slides, zones and readings; 400 runs take some
minutes a line.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from itertools import product

import numpy as np

from acquire.analysis.cells.cell import Cell
from acquire.analysis.comparisons.among import among
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.results import MeasureResult
from acquire.analysis.treatments.decision import Decision
from tests.unit.analysis.bench import result_of
from tests.unit.film_bench import films_of

STEP = 0.1
NAMES = ("wax", "seal", "dust", "tar", "oil", "gel", "dew", "fog")


@dataclass(frozen=True)
class Stills:
    """`replicates` zones or slides of each treatment, `controls` of the control.

    `spread` is the standard deviation between them and `noise` that of readings of one, in steps.
    """

    treatments: int
    controls: int
    replicates: int
    readings: int
    spread: float
    noise: float = 0.0
    of_films: bool = False

    def result(self, draw: np.random.Generator) -> MeasureResult:
        """One such trial, drawn."""
        sides = {"control": self.controls} | dict.fromkeys(
            NAMES[: self.treatments], self.replicates
        )
        # Slides of one box are alike, zones of a panel are not.
        box = 90 + STEP * draw.random()
        readings = {}
        for side, count in sides.items():
            for k in range(count):
                start = box if self.of_films else 90 + STEP * draw.random()
                own = STEP * self.spread * draw.normal()
                if not self.of_films:
                    readings[f"{side}{k}", "bare"] = self._read(start, draw)
                readings[f"{side}{k}", "applied"] = self._read(start + own, draw)
        bench = films_of if self.of_films else result_of
        return bench(readings, resolution=STEP)

    def _read(self, true: float, draw: np.random.Generator) -> tuple[float, ...]:
        read = true + STEP * self.noise * draw.standard_normal(self.readings)
        return tuple(round(round(v / STEP) * STEP, 6) for v in read.tolist())


def are_wrong(result: MeasureResult) -> tuple[bool, bool]:
    """Whether a difference is shown against the control, and among the treatments."""
    found = [c for c in result.comparisons if isinstance(c, Comparison)]
    assert len(found) == len(result.comparisons)
    cells: dict[str, list[Cell]] = {}
    for cell in result.judged:
        cells.setdefault(cell.treatment, []).append(cell)
    pairs = among(found, {n: n for n in cells}, cells, result.basis) if len(found) > 1 else ()
    return (
        any(c.is_difference_shown for c in found),
        any(p.decision in (Decision.BETTER, Decision.WORSE) for p in pairs),
    )


def false_rates(s: Stills, runs: int, seed: int = 1) -> tuple[float, float]:
    """The part of trials with a false difference from the control, and among the treatments."""
    draw = np.random.default_rng(seed)
    wrong = [are_wrong(s.result(draw)) for _ in range(runs)]
    return sum(a for a, _ in wrong) / runs, sum(b for _, b in wrong) / runs


def main(runs: int) -> None:
    """Print the rates."""
    films = (
        Stills(5, blanks, coated, 3, spread, noise, of_films=True)
        for blanks, coated in ((2, 1), (3, 1), (3, 2), (4, 3))
        for spread, noise in product((0.5, 1.0, 2.0), (0.0, 0.3))
    )
    gloss = (
        Stills(8, zones, zones, readings, spread, noise)
        for zones in (2, 3)
        for readings, noise in ((1, 0.0), (3, 0.3))
        for spread in (0.5, 1.0, 2.0)
    )
    one_zone = (Stills(8, 1, 1, readings, 0.0, 0.3) for readings in (2, 3))
    for s in (*films, *gloss, *one_zone):
        control, pairs = false_rates(s, runs)
        sys.stdout.write(f"{control:6.1%} {pairs:6.1%}  {s}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 400)
