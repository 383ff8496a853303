"""How far a difference must reach before it counts: no further than the least known line allows.

Cells may scatter differently, and no test on a handful of readings can tell whether they do, so
nothing is pooled. Each line i of a budget keeps its own contribution c_i and degrees of freedom
nu_i, and the half width U of an interval at the level alpha is

    U^2 = z^2 u^2 + max_i (t_i^2 - z^2) c_i^2,    u^2 = sum c_i^2,

z and t_i being the two-sided limits at alpha of the normal law and of Student's t at nu_i. In
words: at least the interval that were due if every line but one were known exactly, whichever that
one is. The sum over all lines in place of the largest, U^2 = sum t_i^2 c_i^2, holds its level for
any scatters (S. Banerjee, Sankhya 22 (1960) 357, from memory), and costs most of the power where
lines are alike. B. L. Welch's limit (Biometrika 34 (1947) 28; effective degrees of freedom of
JCGM 100:2008, G.4.1; both from memory) is never wider than the largest, because t^2 - z^2 is a
convex function of 1/nu; by itself it errs in up to 17 of 100 runs where two readings make a cell,
and in up to 11 where three do, since the scatter that matters may come out small by chance and
take its degrees of freedom along. Rates and what the rule costs: ``python -m
tests.unit.analysis.scatters``.

Several differences at one stage share the level: each is held at 1 - (1 - alpha)^(1/m), which
keeps it for all m together whatever they have in common (Z. Sidak, J. Amer. Statist. Assoc. 62
(1967) 626, from memory); limits at degrees of freedom of each difference's own are those of
C. W. Dunnett (J. Amer. Statist. Assoc. 75 (1980) 796, from memory). Where one scatter stands for
all of them z and t are those of Dunnett's limit for all together
(`acquire.analysis.treatments.family`), which knows what they share by the control: 2 to 5 %
narrower with three zones a treatment and more, 7 to 8 % with two (12 % with two products in two
blocks), which shows 3 to 8 in 100 more of the differences that there are. That the spread of two
sides is taken where it is the larger one keeps it on the safe side still.

Where all of k means are held against one another, z and t_i are those of the studentized range
over the root of 2 (`acquire.analysis.laws.studentrange`). With one line that all differences share
this is Tukey's limit, with two means Student's. With scatters of their own it stands where P. A.
Games and J. F. Howell (J. Educational Statist. 1 (1976) 113, from memory) take the range at Welch's
degrees of freedom, and is never narrower; theirs errs in up to 14 of 100 runs where eight means
have two readings each, this in 5 at most (``python -m tests.unit.analysis.pairs``). That the range
serves means of unequal uncertainty, and errs on the safe side there, is A. J. Hayter's theorem
(Annals of Statistics 12 (1984) 61, from memory), for scatters that are known in their ratios. Where
each mean has its own line, and these are as far apart as 1, 3, 9 and so on, each decides the pairs
with all quieter ones, and k - 1 of them together err in up to 9 of 100 runs of five means of two
readings at the range alone: so t_i of a line that is not common to all is no less than Student's at
1 - (1 - alpha)^(1/(k-1)). From five readings on the range is the larger one. Within blocks every
difference has its own line (`acquire.analysis.specimens.blocks`): there t_i is no less than
Student's at 1 - (1 - alpha)^(1/m) for m differences. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

from acquire.analysis.budget.rangelevel import Known, level_of_range
from acquire.analysis.budget.uncertainty import CONFIDENCE, Term, degrees
from acquire.analysis.laws import dunnett
from acquire.analysis.laws.limitlaw import LimitLaw, Line, limit_law
from acquire.analysis.laws.root import crossing
from acquire.analysis.laws.special import ndtri
from acquire.analysis.laws.student import t_quantile
from acquire.analysis.laws.studentrange import range_critical

POWER = 0.8
"""Of the smallest difference that a run could have seen: shown in 80 of 100 repeats."""
LEAST_P = 1e-14
"""Probabilities below are reported as 0: nothing follows normal law so far out."""
LEAST_P_OF_RANGE = 1e-4
"""As `LEAST_P` where an integral is taken: below what is printed its digits are not sure."""
_HARDLY_LESS = 0.9
"""From here on a probability is Sidak's bound itself, since nothing hangs on its digits."""
_MOST_TURNS, _TURNED = 40, 1e-7
"""Of a probability that is found in turns: how many, and how little the last one changes it."""


def shared_level(alpha: float, count: int) -> float:
    """The level at which each of `count` comparisons holds `alpha` for all of them (Sidak)."""
    return 1.0 if alpha >= 1 else -math.expm1(math.log1p(-alpha) / count)


def joint_level(alpha: float, count: int) -> float:
    """The level of all of `count` comparisons where each is held at `alpha`."""
    return 1.0 if alpha >= 1 else -math.expm1(count * math.log1p(-alpha))


@dataclass(frozen=True)
class Reach:
    """Lines of one budget; at least one contribution is above zero.

    `means` says of how many means all differences are judged together; 2 for one difference.
    `is_paired` where each of these has a line of its own, as within blocks, and none for a mean.
    `own_nu` are degrees of freedom of the two sides themselves, where the first line, of all
    treatments together, is never taken smaller than these spread
    (`acquire.analysis.treatments.ownspread`). With `lambdas`, one for each comparison with a
    control, all of them are judged together by Dunnett's limit, and levels are those of all.
    """

    terms: tuple[Term, ...]
    means: int = 2
    is_paired: bool = False
    own_nu: float = 0.0
    lambdas: tuple[float, ...] = ()

    @cached_property
    def u(self) -> float:
        """The combined standard uncertainty."""
        return math.hypot(*[t.contribution for t in self.terms])

    @cached_property
    def _estimated(self) -> list[tuple[Term, float]]:
        """Lines that are not known exactly, each with its contribution."""
        found = [(line, line.contribution) for line in self.terms if math.isfinite(line.nu)]
        return [(line, c) for line, c in found if c > 0]

    @property
    def _known(self) -> Iterator[Known]:
        for line, _ in self._estimated:
            yield Known(self.share(line), line.nu, 1 if line.is_common else self._lines_apart)

    def share(self, line: Term) -> float:
        """The part of the variance that one line makes."""
        return (line.contribution / self.u) ** 2

    def least_known(self, alpha: float) -> Term | None:
        """The line that sets the limit at `alpha`; None where all are known exactly."""
        return self._widest(alpha)[0]

    def _widest(self, alpha: float) -> tuple[Term | None, float]:
        """That line, and its t^2 - z^2."""
        found, most, its = None, -math.inf, 0.0
        z2 = self._square(None, alpha)
        for line, contribution in self._estimated:
            unknown = self._square(line, alpha) - z2
            excess = unknown * contribution**2
            if excess > most:
                found, most, its = line, excess, unknown
        return found, its

    def half_width(self, alpha: float) -> float:
        """U at the two-sided level `alpha`, in the unit of the result."""
        widest, unknown = self._widest(alpha)
        if widest is None:
            return self.u * math.sqrt(self._square(None, alpha))
        square = self._square(None, alpha) + unknown * self.share(widest)
        return self.u * math.sqrt(max(0.0, square))

    def p(self, size: float) -> float:
        """The level at which a difference of `size` is just reached, 0 to 1."""
        if size <= 0:
            return 1.0
        if self.lambdas:
            return self._p_of_all(size)
        if self.means > 2:
            if size >= self.half_width(LEAST_P_OF_RANGE):
                return 0.0
            return level_of_range(size / self.u, self.means, self._known)
        if size >= self.half_width(LEAST_P):
            return 0.0

        def over(log_alpha: float) -> float:
            # At a level of one the limit is zero; the ratio keeps far apart sizes comparable.
            return 1.0 if log_alpha == 0 else 1 - self.half_width(math.exp(log_alpha)) / size

        return math.exp(crossing(over, math.log(LEAST_P), 0.0, rel=1e-13))

    @property
    def _lines_apart(self) -> int:
        """How many lines of one kind decide pairs of their own.

        Of lines far apart in size: all means but the quietest; a line of a pair decides that pair.
        """
        return math.comb(self.means, 2) if self.is_paired else self.means - 1

    def _p_of_all(self, size: float) -> float:
        """The same by Dunnett's limit: the probability of a t that the other lines leave of it."""
        if size >= self.half_width(LEAST_P_OF_RANGE):
            return 0.0
        if len(self._estimated) > 1:
            return self._p_between(size)
        (line, c) = self._estimated[0] if self._estimated else (None, self.u)
        nu, share, square = (line.nu if line else math.inf), (c / self.u) ** 2, (size / self.u) ** 2
        found = dunnett.p_value(math.sqrt(square), self.lambdas, nu)
        # The known part counts by the normal limit at the very probability; it is a small part.
        for _ in range(_MOST_TURNS):
            known = (1 - share) * self._square(None, found)
            before, left = found, max(0.0, square - known)
            found = dunnett.p_value(math.sqrt(left / share), self.lambdas, nu)
            if abs(found - before) <= _TURNED * found:
                break
        return found

    def _p_between(self, size: float) -> float:
        """By trial, above that of one difference and below Sidak's bound."""
        alone = replace(self, lambdas=()).p(size)
        most = joint_level(alone, len(self.lambdas))

        def over(log_alpha: float) -> float:
            return 1 - self.half_width(math.exp(log_alpha)) / size

        low, high = math.log(max(alone, LEAST_P_OF_RANGE)), math.log(most)
        # Near one both bounds and the limit are alike to the last digits.
        if most > _HARDLY_LESS or not over(low) < 0 < over(high):
            return most
        return math.exp(crossing(over, low, high, rel=1e-5))

    def power(self, size: float, alpha: float) -> float:
        """The chance that a true difference of `size` is shown at `alpha`, either side counted.

        Uncertainties as found stand for the true ones; each line varies as an estimate with its
        degrees of freedom does, and the limit with all of them (`acquire.analysis.laws.limitlaw`).
        With one line this is the power of Student's test, by the noncentral t law.
        """
        return self._law(alpha).shown(size / self.u)

    def smallest(self, alpha: float, wanted_power: float) -> float:
        """The true difference that is shown at `alpha` with that probability (see `power`)."""
        return self.u * self._law(alpha).smallest(wanted_power)

    def _law(self, alpha: float) -> LimitLaw:
        """The law of the limit, in true standard uncertainties."""
        z, u = self._square(None, alpha), self.u
        lines = [
            Line(
                line.nu,
                (line.contribution / u) ** 2,
                self._unknown(line, alpha),
                0.0 if place else self.own_nu,
            )
            for place, line in enumerate(self.terms)
            if line.contribution > 0
        ]
        return limit_law(z, lines)

    def _square(self, line: Term | None, alpha: float) -> float:
        if line is None:
            return _limit(alpha, math.inf, self.means, self.lambdas) ** 2
        found = _limit(alpha, line.nu, self.means, self.lambdas)
        if self.means > 2 and not line.is_common:
            found = max(found, _limit(shared_level(alpha, self._lines_apart), line.nu))
        return found**2

    def _unknown(self, line: Term, alpha: float) -> float:
        """t^2 - z^2 of a line."""
        return max(0.0, self._square(line, alpha) - self._square(None, alpha))


_NOTHING = "no line of the budget is above zero, so nothing limits the result"


def reach_of(
    terms: Sequence[Term],
    means: int = 2,
    *,
    is_paired: bool = False,
    own_nu: float = 0.0,
    lambdas: tuple[float, ...] = (),
) -> Reach:
    """The reach of a budget. Raises ValueError where no line contributes."""
    if not any(t.contribution > 0 for t in terms):
        raise ValueError(_NOTHING)
    return Reach(tuple(terms), means, is_paired, own_nu, lambdas)


def coverage_rule(reach: Reach, level: float, family: int) -> str:
    """The sentence that lets a person recompute the factor of one of `family` comparisons."""
    line = reach.least_known(level)
    share = 0.0 if line is None else reach.share(line)
    return _rule_of_all(reach, line, share) if reach.lambdas else _rule(line, share, level, family)


def _rule_of_all(reach: Reach, line: Term | None, share: float) -> str:
    """By Dunnett's limit, at `CONFIDENCE` for all comparisons."""
    all_of = len(reach.lambdas)
    z = _limit(1 - CONFIDENCE, math.inf, lambdas=reach.lambdas)
    why = _of_control(reach)
    if line is None:
        return (
            f"k = {z:.3f} is the two-sided limit of the normal law for {all_of} comparisons with "
            f"one control at 5 %: no line is estimated from few readings. {why}"
        )
    t = _limit(1 - CONFIDENCE, line.nu, lambdas=reach.lambdas)
    return (
        f"k² = z² + (t² − z²) share: z = {z:.3f} and t = {t:.3f} are Dunnett's two-sided limits of "
        f"{all_of} comparisons with one control at 5 %, for a known scatter and for one at "
        f"{degrees(line.nu)} degrees of freedom, those of “{line.name}”, which makes "
        f"{100 * share:.2f} % of the variance. It is the line that gives the widest k. {why}"
    )


def _of_control(reach: Reach) -> str:
    """What the control has in the comparisons; in those at a depth of their own it has nothing."""
    parts = [x**2 for x in reach.lambdas if x > 0]
    count, all_of = len(parts), len(reach.lambdas)
    if not parts:
        return (
            "Each film has the scatter at its own depth, in which the control is taken to have no "
            "part; all comparisons of the stage together hold 95 % (Dunnett, Hasler and Hothorn)."
        )
    low, high = min(parts), max(parts)
    shared = f"{low:.2f}" if round(low, 2) == round(high, 2) else f"{low:.2f} to {high:.2f}"
    if count == all_of:
        return (
            f"One scatter stands for all {all_of} treatments, and the control, which is in each "
            f"comparison, makes {shared} of its variance, so that all comparisons of the stage "
            "together hold 95 % (Dunnett)."
        )
    return (
        f"One scatter stands for {count} of {all_of} treatments, of whose variance the control "
        f"makes {shared}; in that at the depth of a film it is taken to have no part. Each limit "
        "has the degrees of freedom of its own scatter, and all comparisons of the stage together "
        "hold 95 % (Dunnett, Hasler and Hothorn)."
    )


def coverage_of(terms: Sequence[Term], level: float) -> tuple[float, str]:
    """Factor and sentence of one difference by itself, as `Reach` and `coverage_rule` have them.

    A page has a thousand means and changes: each line is looked at once. Raises as `reach_of`.
    """
    z2 = _limit(level, math.inf) ** 2
    square, found, most = 0.0, None, -1.0
    # By shares of the largest line, since the square of a very small one is nothing.
    largest = max((line.contribution for line in terms), default=0.0)
    if not largest > 0:
        raise ValueError(_NOTHING)
    for line in terms:
        own = (line.sensitivity * line.u / largest) ** 2
        square += own
        if own > 0 and math.isfinite(line.nu):
            excess = max(0.0, _limit(level, line.nu) ** 2 - z2) * own
            if excess > most:
                found, most = line, excess
    share = 0.0 if found is None else (found.contribution / largest) ** 2 / square
    return math.sqrt(z2 + max(0.0, most) / square), _rule(found, share, level, 1)


def _rule(line: Term | None, share: float, level: float, family: int) -> str:
    each = f"{100 * (1 - level):.4g} %"
    z = _limit(level, math.inf)
    together = (
        ""
        if family == 1
        else f" Each of the {family} treatments is held at {each}, {CONFIDENCE:.2f}^(1/{family}), "
        "so that all comparisons of the stage together hold 95 % (Šidák, since no one scatter "
        "stands for all of them)."
    )
    if line is None:
        return (
            f"k = {z:.3f} is the two-sided limit of the normal law for {each}: no line is "
            f"estimated from few readings.{together}"
        )
    t = _limit(level, line.nu)
    return (
        f"k² = z² + (t² − z²) share: z = {z:.3f} and t = {t:.3f} are the two-sided limits for "
        f"{each} of the normal law and of Student's t at {degrees(line.nu)} degrees of freedom, "
        f"those of “{line.name}”, which makes {100 * share:.2f} % of the variance. It "
        f"is the line that gives the widest k{'' if line.is_common else _WHATEVER}.{together}"
    )


_WHATEVER = ", so that k holds whatever the zones scatter by"


@lru_cache(maxsize=4096)
def _limit(alpha: float, nu: float, means: int = 2, lambdas: tuple[float, ...] = ()) -> float:
    """Two-sided limit; from the lower tail, where small probabilities keep their digits."""
    if lambdas:
        return 0.0 if alpha >= 1 else dunnett.critical(lambdas, nu, alpha)
    if means > 2:
        if alpha >= 1:
            return 0.0
        return range_critical(means, nu, alpha) / math.sqrt(2)
    return -float(ndtri(alpha / 2)) if math.isinf(nu) else -t_quantile(alpha / 2, nu)
