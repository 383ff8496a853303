"""The uncertainty budget: a table of terms that anyone can check, and what they come to.

Source: JCGM 100:2008 (GUM), 5.1.2 (combination), G.4.1 (effective degrees of freedom), 6.2
(expanded uncertainty). Never NaN; an infinite number of degrees of freedom is ``math.inf``.

Rule for the coverage factor: t is taken at the effective degrees of freedom as they come out, a
real number, which is the interpolation that G.4.1 allows beside cutting to the next lower whole
number. Student's law exists between the whole numbers; an interval from it agrees with the t and
Welch tests that decide on the same figures, and one reading more never makes it jump. The cut
value stands beside it for whoever wants it. Pure. Any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from acquire.analysis.laws.student import t_factor

CONFIDENCE = 0.95


class Kind(StrEnum):
    """How a term was evaluated (GUM 4.2 and 4.3)."""

    A = "A"
    """From the scatter of readings."""
    B = "B"
    """From anything else known."""


class Distribution(StrEnum):
    """The law behind a standard uncertainty."""

    NORMAL = "normal"
    RECTANGULAR = "rectangular"
    COURSE = "unknown course"
    """Of a drift between two checks (`acquire.analysis.checks.departure`), of a scale between its
    pieces (`acquire.analysis.checks.meterscale`)."""


class Term(NamedTuple):
    """One line of a budget.

    `u` is the standard uncertainty of the input, `sensitivity` what one unit of it does to the
    result (GUM 5.1.3), `contribution` their product; all in units of the result or 1.
    `note` says in a sentence where the figure comes from. `is_common` is whether the same estimate
    stands in the differences of all treatments, as that of a box of blanks does.
    """

    name: str
    kind: Kind
    u: float
    nu: float
    sensitivity: float
    distribution: Distribution
    note: str
    is_common: bool = False

    @property
    def contribution(self) -> float:
        """|c| u, in the unit of the result."""
        return abs(self.sensitivity) * self.u


class Bias(NamedTuple):
    """A known shift of the result that is not corrected.

    `found` is what was found of it, `sensitivity` what one unit of it does to the result, and
    `contribution` their product, each with its sign.
    """

    name: str
    found: float
    sensitivity: float
    note: str

    @property
    def contribution(self) -> float:
        """c times what was found, in the unit of the result."""
        return self.sensitivity * self.found


def rectangular(name: str, half_width: float, note: str, *, sensitivity: float = 1.0) -> Term:
    """A type B term known to lie within +/- `half_width`: u = a/sqrt(3) (GUM 4.3.7).

    The bounds are taken as certain, so the degrees of freedom are infinite (GUM G.4.3).
    """
    return Term(
        name, Kind.B, abs(half_width) / math.sqrt(3), math.inf, sensitivity,
        Distribution.RECTANGULAR, note,
    )  # fmt: skip


class Combined(NamedTuple):
    """Combined standard uncertainty and its effective degrees of freedom."""

    u: float
    nu: float

    @property
    def nu_cut(self) -> float:
        """The next lower whole number (the other way of GUM G.4.1); infinity stays.

        A number within one part in a billion of a whole one is that one: 4.0 computed as
        3.9999999999 is not cut to 3.
        """
        if math.isinf(self.nu):
            return self.nu
        nearest = round(self.nu)
        if nearest >= 1 and abs(self.nu - nearest) <= 1e-9 * nearest:
            return float(nearest)
        return float(math.floor(self.nu))


def welch_satterthwaite(us: Sequence[float], nus: Sequence[float]) -> Combined:
    """Combine independent contributions `us` with degrees of freedom `nus` (GUM 5.1.2, G.2b).

    nu_eff = u_c^4 / sum(u_i^4 / nu_i); infinite where no contribution with finite degrees of
    freedom is above zero. Raises ValueError for a negative contribution, for degrees of freedom
    that are not positive, or for lists of different length.
    """
    if len(us) != len(nus):
        raise ValueError(f"as many degrees of freedom as contributions: {len(nus)} for {len(us)}")
    # A page has some hundred results: plain loops, since generators take most of the time.
    for u in us:
        if not 0 <= u < math.inf:
            raise ValueError(f"contributions must be finite and not negative, got {list(us)}")
    for nu in nus:
        if not nu > 0:
            raise ValueError(f"degrees of freedom must be positive, got {list(nus)}")
    combined = math.hypot(*us)
    if combined == 0:
        return Combined(0.0, math.inf)
    # Shares first, fourth powers then: a fourth power of the figures themselves may underflow.
    weight = math.fsum([(u / combined) ** 4 / nu for u, nu in zip(us, nus, strict=True)])
    return Combined(combined, 1 / weight if weight > 0 else math.inf)


@dataclass(frozen=True, slots=True)
class Budget:
    """The whole table for one result.

    `combined` is the standard uncertainty, `nu` its effective degrees of freedom,
    `coverage_factor` what it is multiplied with, and `coverage_rule` the sentence that says where
    the factor comes from. `expanded` is the interval of 95 %: factor times `combined`, plus the
    size of `bias`. `cancels` names, a sentence each, what is common to both sides and therefore
    absent.
    """

    measurand: str
    unit: str
    terms: tuple[Term, ...]
    combined: float
    nu: float
    coverage_factor: float
    coverage_rule: str
    expanded: float
    cancels: tuple[str, ...] = ()
    biases: tuple[Bias, ...] = ()

    @property
    def bias(self) -> float:
        """All known shifts together, with sign: they add up, and may cancel."""
        return total_bias(self.biases)

    def share(self, term: Term) -> float:
        """The part of the combined variance that `term` makes, 0 to 1."""
        return 0.0 if self.combined == 0 else (term.contribution / self.combined) ** 2


def budget(
    measurand: str,
    unit: str,
    terms: Sequence[Term],
    *,
    cancels: Sequence[str] = (),
    coverage: tuple[float, str] | None = None,
    biases: Sequence[Bias] = (),
) -> Budget:
    """Combine independent `terms` into a budget, and widen it by the known `biases`.

    A known shift b that is left in the result is no random error: in quadrature it would count
    for less than it is. U = k u + |b| (JCGM 100:2008 (GUM), F.2.4.5, from memory, which would
    rather have it corrected) holds the value both with and without the correction.

    `coverage` gives factor and rule where another than Student's t is due (several comparisons
    at once); without it t_95 at the effective degrees of freedom is used.
    """
    combined = welch_satterthwaite([t.contribution for t in terms], [t.nu for t in terms])
    factor, rule = coverage or _student(combined)
    return Budget(
        measurand, unit, tuple(terms), combined.u, combined.nu, factor, rule,
        factor * combined.u + abs(total_bias(biases)), tuple(cancels), tuple(biases),
    )  # fmt: skip


def total_bias(biases: Iterable[Bias]) -> float:
    """The sum of known shifts, with sign; 0 where they cancel but for their last digits."""
    parts = [b.contribution for b in biases]
    total = math.fsum(parts)
    return total if abs(total) > 1e-9 * max(map(abs, parts), default=0.0) else 0.0


def degrees(nu: float) -> str:
    """Degrees of freedom as printed: one decimal where they are not whole, or a word.

    Three where they are fewer than two: there Student's t hangs on them by much.
    """
    if math.isinf(nu) or nu >= 1e4:
        return "infinitely many" if math.isinf(nu) else "more than 10 000"
    if nu < 2 and abs(nu - round(nu)) >= 5e-4:
        return f"{nu:.3f}"
    return f"{nu:.0f}" if abs(nu - round(nu)) < 0.05 else f"{nu:.1f}"


def _student(combined: Combined) -> tuple[float, str]:
    factor = t_factor(combined.nu, CONFIDENCE)
    return factor, (
        f"k = {factor:.2f} is Student's t for 95 % at {degrees(combined.nu)} effective degrees "
        "of freedom (Welch-Satterthwaite, not cut to a whole number)."
    )
