"""How often intervals of films hold the truth, in drawn trials.

Run by hand: ``python -m tests.unit.analysis.films [RUNS]``; the suite has short runs. Slides read
bare and coated, and coated slides against a box of blanks, with few and many readings, weak and
strong films, at a noise up to the tenth of the weakest light.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator

import numpy as np

from acquire.analysis.comparisons.comparison import Comparison
from tests.unit.film_bench import films_of

FILMS = {"wax": 0.62, "oil": 0.05, "gel": 1.0}
Drawn = dict[tuple[str, str], tuple[float, ...]]


def own_blanks(rng: np.random.Generator, n: int, noise: float) -> Drawn:
    """Each slide bare and coated; all age alike in between."""
    age = rng.uniform(0.95, 1.0)
    drawn: Drawn = {}
    for name, film in {"control": 1.0, **FILMS}.items():
        blank = rng.uniform(85, 92)
        drawn[name, "bare"] = tuple(map(float, rng.normal(blank, noise, n)))
        drawn[name, "applied"] = tuple(map(float, rng.normal(blank * film * age, noise, n)))
    return drawn


def of_a_box(
    rng: np.random.Generator, n: int, noise: float, *, blanks: int = 4, coated: int = 3
) -> Drawn:
    """Slides of a box that differ by 0.6 %; of the last film one slide alone."""
    drawn: Drawn = {}
    for name, film in {"control": 1.0, **FILMS}.items():
        number = blanks if name == "control" else 1 if name == "gel" else coated
        for k in range(number):
            level = 90 * (1 + rng.normal(0, 0.006)) * film
            drawn[f"{name}{k}", "applied"] = tuple(map(float, rng.normal(level, noise, n)))
    return drawn


def rates(draw: Iterator[Drawn], runs: int) -> tuple[dict[str, float], float]:
    """The part of intervals that hold each film, and of runs with a false decision on "gel"."""
    held = dict.fromkeys(FILMS, 0)
    judged = dict.fromkeys(FILMS, 0)
    false = 0
    for _ in range(runs):
        result = films_of(next(draw))
        for name, truth in FILMS.items():
            found = result.comparison(name, "applied")
            if isinstance(found, Comparison) and found.film is not None:
                judged[name] += 1
                low, high = found.film.interval
                held[name] += low <= truth <= high
                false += name == "gel" and found.is_difference_shown
    return {n: held[n] / judged[n] for n in FILMS if judged[n]}, false / runs


def drawn(draw: Callable[..., Drawn], seed: int, n: int, noise: float) -> Iterator[Drawn]:
    """Trials without end."""
    rng = np.random.default_rng(seed)
    while True:
        yield draw(rng, n, noise)


def main() -> None:
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 2500
    for n in (2, 3, 5):
        for noise in (0.1, 0.4):
            for draw in (own_blanks, of_a_box):
                found, false = rates(drawn(draw, 100 * n + round(10 * noise), n, noise), runs)
                said = ", ".join(f"{name} {100 * p:.1f} %" for name, p in found.items())
                sys.stdout.write(
                    f"{draw.__name__}, n = {n}, noise {noise} %: {said}; false "
                    f"{100 * false:.1f} %\n"
                )
                sys.stdout.flush()


if __name__ == "__main__":
    main()
