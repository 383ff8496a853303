"""A budget as a table that anyone can check with a pocket calculator, and what dominates it.

Every line has its standard uncertainty, sensitivity, their product, degrees of freedom, share of
the variance and place by size; the sums beneath follow from the lines alone by the formulas named.
Rows hold full precision and are rounded where they are printed. Pure; any thread.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from acquire.analysis.budget.uncertainty import Budget, Distribution, Kind, welch_satterthwaite

DOMINATING = 0.9
"""The largest lines that together make this part of the variance dominate the budget."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line: contribution = |c| u, share = (contribution / u_c)^2, `place` 1 for the largest.

    `is_dominant` marks the fewest lines that make nine tenths of the variance.
    """

    name: str
    kind: Kind
    distribution: Distribution
    u: float
    sensitivity: float
    contribution: float
    nu: float
    share: float
    place: int
    is_dominant: bool
    note: str


@dataclass(frozen=True, slots=True)
class BudgetTable:
    """The rows in their order, and what they come to.

    `combined` is the root of the sum of squared contributions, `nu` = u_c^4 / sum(contribution^4 /
    nu_i), `random` = factor times `combined`, and `expanded` = `random` + |`bias`|. `dominant`
    counts the rows that dominate from 0, largest first; `sentence` names them.
    """

    rows: tuple[Row, ...]
    combined: float
    nu: float
    factor: float
    random: float
    bias: float
    expanded: float
    dominant: tuple[int, ...]
    sentence: str


def table_of(budget: Budget) -> BudgetTable:
    """The table of a budget; its sums are taken anew from the lines.

    Raises ValueError where the sums of the budget are not those of its lines.
    """
    terms = budget.terms
    both = welch_satterthwaite([t.contribution for t in terms], [t.nu for t in terms])
    random = budget.coverage_factor * both.u
    expanded = random + abs(budget.bias)
    if not math.isclose(expanded, budget.expanded, rel_tol=1e-9, abs_tol=0.0):
        raise ValueError(
            f"the budget of {budget.measurand} says ±{budget.expanded}, its lines {expanded}"
        )
    order = sorted(range(len(terms)), key=lambda n: -terms[n].contribution)
    dominant: list[int] = []
    made = 0.0
    for n in order:
        if both.u == 0 or made >= DOMINATING:
            break
        dominant.append(n)
        made += budget.share(terms[n])
    rows = tuple(
        Row(
            t.name, t.kind, t.distribution, t.u, t.sensitivity, t.contribution, t.nu,
            budget.share(t), order.index(n) + 1, n in dominant, t.note,
        )
        for n, t in enumerate(terms)
    )  # fmt: skip
    return BudgetTable(
        rows, both.u, both.nu, budget.coverage_factor, random, budget.bias, expanded,
        tuple(dominant), _sentence(rows, dominant, made),
    )  # fmt: skip


def _sentence(rows: tuple[Row, ...], dominant: list[int], made: float) -> str:
    if not dominant:
        return "No line contributes anything."
    named = "; ".join(f"{rows[n].name} ({100 * rows[n].share:.0f} %)" for n in dominant)
    if len(dominant) == len(rows):
        return f"All lines matter: {named}."
    verb = "dominates" if len(dominant) == 1 else "dominate"
    return f"{named} {verb}: {100 * made:.0f} % of the variance. Less of it helps most."
