"""How many readings a comparison needs, from the scatter of single readings. Pure; any thread.

A product is judged by its net change: a treated zone, bare and after, less the control, bare and
after, so four means of n readings each. Its standard uncertainty is 2 s/sqrt(n), in four lines of
n - 1 degrees of freedom each, and the difference it shows with 80 % probability is that of the same
limit that will decide (`acquire.analysis.budget.reach`), with its level shared among the products
that are compared with the control. Where a study is in use the limit goes by it
(`acquire.analysis.samples.repeatability`), and is narrower of few readings. Drift and the display
come on top: this is the least that is needed.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from acquire.analysis.budget.reach import POWER, reach_of, shared_level
from acquire.analysis.budget.uncertainty import CONFIDENCE, Distribution, Kind, Term
from acquire.analysis.laws.dunnett import equal_loadings
from acquire.analysis.laws.limitlaw import LimitLaw, beside_law
from acquire.analysis.samples.repeatability import far

_MEANS = 4
MOST = 1000
"""Readings of a zone beyond which nobody goes; as `acquire.settings.trial` allows."""


def net_change_seen(
    sd: float, readings: int, nu: float | None = None, treatments: int = 1
) -> float | None:
    """The net change that so many readings a zone and stage show in 80 of 100 repeats.

    In the unit of `sd`. `nu` are the degrees of freedom of a study in use that found it, which
    counts beside the readings; None without one, and one reading, which knows no scatter of its
    own, then shows None. `treatments` are compared with the control at once. Zero where `sd` is.
    Raises ValueError below one reading or treatment.
    """
    if readings == 1 and treatments >= 1:
        # The scatter of the study stands for all, so the limit is Dunnett's.
        lambdas = equal_loadings(treatments)
        return _seen(sd, readings, nu, treatments, level=1 - CONFIDENCE, lambdas=lambdas)
    level = shared_level(1 - CONFIDENCE, treatments) if treatments >= 1 else 0.0
    return _seen(sd, readings, nu, treatments, level=level)


def pair_seen(
    sd: float, readings: int, nu: float | None = None, treatments: int = 2
) -> float | None:
    """The difference of two treatments that is shown so, all of them held against one another.

    As `net_change_seen`, by the limit of all pairs; raises ValueError below two treatments.
    """
    if treatments < 2:
        raise ValueError(f"2 treatments or more are wanted, got {treatments}")
    return _seen(sd, readings, nu, treatments, level=1 - CONFIDENCE, means=treatments)


def _seen(
    sd: float,
    readings: int,
    nu: float | None,
    treatments: int,
    *,
    level: float,
    means: int = 2,
    lambdas: tuple[float, ...] = (),
) -> float | None:
    if readings < 1 or treatments < 1:
        raise ValueError(f"1 reading and treatment or more, got {readings} and {treatments}")
    if readings == 1 and nu is None:
        return None
    if sd == 0:
        return 0.0
    u = sd / math.sqrt(readings)
    if readings > 1 and nu is not None:
        return math.sqrt(_MEANS) * u * _beside(readings, nu, level, means).smallest(POWER)
    # Four means by their own scatter; single readings by the one scatter of the study.
    lines = [_line(u, readings - 1)] * _MEANS if nu is None else [_line(2 * u, nu)]
    return reach_of(lines, means, lambdas=lambdas).smallest(level, POWER)


def _beside(readings: int, nu: float, level: float, means: int) -> LimitLaw:
    """The limit of means that scatter as the study found, in standard uncertainties."""

    def square(of: float, *, is_common: bool = True) -> float:
        line = _line(1.0, of)._replace(is_common=is_common)
        return reach_of([line], means).half_width(level) ** 2

    z2, own = square(math.inf), readings - 1
    return beside_law(
        z2,
        (nu, square(nu) - z2),
        (own, square(nu + own) - z2, square(own, is_common=False) - z2),
        far(readings, nu),
        _MEANS,
    )


def _line(u: float, nu: float) -> Term:
    return Term("scatter", Kind.A, u, nu, 1.0, Distribution.NORMAL, "")


def readings_for(
    sd: float, wanted: float, treatments: int = 1, nu: float | None = None
) -> int | None:
    """The fewest readings a zone and stage that show a net change of `wanted`, as above.

    At least 2, since one tells nobody whether a zone scatters more; None where `MOST` do not.
    Raises ValueError where `wanted` is not above zero.
    """
    if not wanted > 0:
        raise ValueError(f"a difference above zero is wanted, got {wanted}")

    def shows(n: int) -> bool:
        seen = net_change_seen(sd, n, nu, treatments)
        return seen is not None and seen <= wanted

    return fewest(shows)


def fewest(shows: Callable[[int], bool]) -> int | None:
    """The fewest readings from 2 to `MOST` that show it; more never show less. None without."""
    low, high = 2, MOST
    if shows(low):
        return low
    if not shows(high):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if shows(middle) else (middle, high)
    return high
