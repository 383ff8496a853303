"""Checking a budget by other roads: differences of the measurement model, and drawn errors.

The budget is made of formulas. Here the same uncertainty comes from the model itself, shaken: by
central differences (JCGM 100:2008 (GUM), 5.1.4), and by drawing every line from its own law with a
fixed seed (JCGM 101:2008, clauses 6 and 7). Lines of finite degrees of freedom are drawn by
Student's t (6.4.9), rectangular ones evenly, and the unknown course of a drift evenly within its
bounds. Deterministic for one version of numpy. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.budget.uncertainty import Budget, Distribution, Term
from acquire.analysis.samples.summary import checked

Floats = NDArray[np.float64]
Model = Callable[[Sequence[float]], float]

DRAWS = 200_000
SEED = 20_810


def sensitivities(model: Model, at: Sequence[float], us: Sequence[float]) -> tuple[float, ...]:
    """d model / d x_i at the point `at`, by steps of a hundredth of each standard uncertainty.

    Where u is zero the step is a millionth of the value. Raises ValueError for lists of different
    length, or where the model has no finite value.
    """
    if len(at) != len(us):
        raise ValueError(f"as many uncertainties as inputs: {len(us)} for {len(at)}")
    found = []
    for n, (x, u) in enumerate(zip(at, us, strict=True)):
        step = u / 100 if u > 0 else 1e-6 * max(abs(x), 1.0)
        high, low = (
            checked(model([*at[:n], x + sign * step, *at[n + 1 :]])) for sign in (1.0, -1.0)
        )
        found.append((high - low) / (2 * step))
    return tuple(found)


def shaken_u(
    model: Model,
    at: Sequence[float],
    us: Sequence[float],
    correlations: Sequence[Sequence[float]] | None = None,
) -> float:
    """The combined standard uncertainty of the model, from nothing but its values.

    u^2 = sum c_i c_j u_i u_j r_ij (GUM 5.2.2); without `correlations` inputs are independent.
    """
    parts = np.array([c * u for c, u in zip(sensitivities(model, at, us), us, strict=True)])
    table = np.eye(len(parts)) if correlations is None else np.array(correlations, float)
    return math.sqrt(max(0.0, float(parts @ table @ parts)))


@dataclass(frozen=True, slots=True)
class Drawn:
    """What the drawn errors of a budget come to, in its unit; the known shift is left aside.

    `u` is their standard deviation, None where a line of two degrees of freedom or fewer has none.
    `half_width` is that of the symmetric interval that holds 95 % of them, with its standard error
    `error`. `held` is the part that lies inside the budget's own interval. Of lines with a handful
    of degrees of freedom the drawn law says what is known and is wider than errors are in repeated
    trials: a limit that keeps its error rate may hold less than 95 % of it.
    """

    draws: int
    u: float | None
    half_width: float
    error: float
    held: float

    def agrees(self, budget: Budget, digits: int = 2) -> bool:
        """Whether the budget's interval is that of the draws within its last printed digit.

        JCGM 101:2008, 8.1: half a unit of the last of so many significant digits of u.
        """
        place = math.floor(math.log10(budget.combined)) - digits + 1
        limit = 0.5 * 10.0**place
        random = budget.expanded - abs(budget.bias)
        return abs(random - self.half_width) <= limit + 3 * self.error


def drawn(budget: Budget, draws: int = DRAWS, seed: int = SEED) -> Drawn:
    """Draw the errors of a budget. Raises ValueError where nothing contributes or draws are few."""
    if budget.combined == 0:
        raise ValueError(f"no line of the budget of {budget.measurand} is above zero")
    if draws < 1000:
        raise ValueError(f"1000 draws or more are wanted, got {draws}")
    source = np.random.default_rng(seed)
    total = np.zeros(draws)
    for term in budget.terms:
        total += term.contribution * _drawn_line(term, source, draws)
    size = np.sort(np.abs(total))
    half = float(np.quantile(size, 0.95))
    # The density of |error| around the quantile, from draws a percent of probability away.
    low, high = np.quantile(size, [0.94, 0.96])
    error = math.sqrt(0.95 * 0.05 / draws) * float(high - low) / 0.02
    has_u = all(t.nu > 2 or t.contribution == 0 for t in budget.terms)
    random = budget.expanded - abs(budget.bias)
    held = float((size <= random).mean())
    return Drawn(draws, float(total.std()) if has_u else None, half, error, held)


def _drawn_line(term: Term, source: np.random.Generator, draws: int) -> Floats:
    """Errors in standard uncertainties."""
    if term.distribution is not Distribution.NORMAL:
        return math.sqrt(3) * source.uniform(-1.0, 1.0, draws)
    if math.isinf(term.nu):
        return source.standard_normal(draws)
    return source.standard_t(term.nu, draws)
