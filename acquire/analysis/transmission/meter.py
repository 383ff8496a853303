"""Single readings of a band meter, each with its doubt, and what results share of it.

Every reading is a variable of its own with a name. Whatever is computed from it remembers how it
hangs on it, so that the dark, the open beam or the blank that two results share cancels in their
ratio or difference, and is not added twice. The bookkeeping is that of the library uncertainties
(first order, GUM 5.1.2 and 5.2.2). Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from acquire.analysis.budget.uncertainty import Budget, Distribution, Kind, Term, budget
from acquire.analysis.samples.summary import checked

if TYPE_CHECKING:
    from uncertainties import UFloat


def variable(name: str, value: float, u: float) -> UFloat:
    """A reading with its standard uncertainty, independent of all others.

    Make it once and use it wherever that reading goes in. Raises ValueError where the value is not
    finite (an over-range reading has none), `u` is negative, or it has no name.
    """
    from uncertainties.core import Variable  # noqa: PLC0415 - only whoever computes waits for it

    if not name:
        raise ValueError("a variable wants a name, by which the budget tells where doubt is from")
    if not checked(u) >= 0:
        raise ValueError(f"{name}: a standard uncertainty of 0 or more is wanted, got {u}")
    # Not by `ufloat`, which warns of an uncertainty of 0: an exact figure is none amiss here.
    return Variable(checked(value), u, tag=name)


def budget_of(
    measurand: str, unit: str, result: UFloat, degrees: Mapping[str, float] | None = None
) -> Budget:
    """The uncertainty budget of a result: a line for each variable that it hangs on.

    `degrees` has the degrees of freedom by name, where they are finite (the reading was a mean);
    such a line is of type A. What cancels has no line. Raises ValueError where two variables have
    the same name, since their lines could not be told apart.
    """
    known = degrees or {}
    terms: list[Term] = []
    for source, sensitivity in result.derivatives.items():
        name = str(source.tag)
        if any(t.name == name for t in terms):
            raise ValueError(f"two variables are named {name}; give each reading a name of its own")
        if source.std_dev == 0 or sensitivity == 0:
            continue
        nu = known.get(name, math.inf)
        kind = Kind.B if math.isinf(nu) else Kind.A
        terms.append(
            Term(
                name, kind, source.std_dev, nu, sensitivity, Distribution.NORMAL,
                "Standard uncertainty of this reading; c is what one unit of it does to the "
                "result, all ways taken together.",
            )
        )  # fmt: skip
    terms.sort(key=lambda term: -term.contribution)
    return budget(measurand, unit, terms)


def correlations(results: Sequence[UFloat]) -> list[list[float | None]]:
    """How results hang together, -1 to 1; None beside a result without uncertainty."""
    from uncertainties import covariance_matrix  # noqa: PLC0415 - see `variable`

    covariance = covariance_matrix(results)
    sds = [math.sqrt(covariance[k][k]) for k in range(len(results))]
    return [
        [
            max(-1.0, min(1.0, covariance[i][k] / (sds[i] * sds[k]))) if sds[i] and sds[k] else None
            for k in range(len(results))
        ]
        for i in range(len(results))
    ]
