"""What comparisons with the control have in common, so that their limit is Dunnett's.

One scatter that stands for all of them, with the same degrees of freedom (zones or blocks of all
treatments together, the blanks of films of one slide each, or a study that lends its own), and the
control, whose error is in each. The
correlation of two comparisons is then lambda_i lambda_j (`acquire.analysis.laws.dunnett`):
lambda_i^2 is the part of the control in the variance of comparison i, known from the numbers of
zones and readings. Whatever else is in the budget (display, checks) may be shared or of opposite
sign in two comparisons, so it is counted against the control: (control - rest) / all, with which
the product of two lambdas is no larger than their correlation whatever the rest does; it is rounded
down to hundredths, too. Less correlation than there is makes the limit wider. A film far deeper
than all others has a scatter and degrees of freedom of its own
(`acquire.analysis.specimens.depthlaw`), in which the control is next to nothing: its lambda is 0,
and its limit is taken at its own degrees of freedom (M. Hasler and L. A. Hothorn, Biometrical J. 50
(2008) 793, from memory). Where no one scatter stands for all of them, as where each zone has that
of its own readings, the level is shared instead (Sidak, `acquire.analysis.budget.reach`), which
holds whatever they have in common. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from acquire.analysis.laws.dunnett import loadings
from acquire.analysis.specimens.depthlaw import is_at_depth
from acquire.analysis.specimens.slidespread import SPREAD_OF_BLANKS
from acquire.analysis.treatments.basis import Evaluation

_STEPS = 100
"""Parts of a correlation, so that comparisons that are nearly alike have one limit."""
_TINY = 1e-9


def shared_loadings(found: Sequence[Evaluation], control: str) -> tuple[float, ...]:
    """lambda of each comparison, smallest first; empty where Dunnett's limit does not hold.

    `found` are differences of a treatment and the `control`.
    """
    if len(found) < 2:
        return ()
    lines, nus, parts = set(), set(), []
    for evaluation in found:
        # The lines of scatter come first, those of the meter after them.
        own = evaluation.terms[: len(evaluation.terms) - len(evaluation.known.terms)]
        scatter = [line for line in own if line.contribution > 0]
        if len(scatter) != 1 or not (scatter[0].is_common or is_at_depth(scatter[0])):
            return ()
        (line,) = scatter
        lines.add((evaluation.is_of_zones, evaluation.blocks))
        if is_at_depth(line):
            parts.append(0.0)
            continue
        nus.add(line.nu)
        every = math.fsum(t.contribution**2 for t in evaluation.terms)
        rest = every - line.contribution**2
        is_of_means = evaluation.is_of_zones or line.name == SPREAD_OF_BLANKS
        shared = _of_control(
            evaluation, control, is_of_means=is_of_means
        ) * line.contribution**2 - max(0.0, rest)
        if not shared > 0:
            return ()
        (lam,) = loadings([every - shared], shared)
        parts.append(rounded_down(lam**2))
    if len(lines) > 1 or len(nus) > 1:
        return ()
    return tuple(math.sqrt(part) for part in sorted(parts))


def rounded_down(part: float) -> float:
    """A control's part in a variance, to the hundredth that the limit counts with."""
    return math.floor(_STEPS * part + _TINY) / _STEPS


def _of_control(evaluation: Evaluation, control: str, *, is_of_means: bool) -> float:
    """The part of the control in the variance of a difference, by the weights of its cells.

    `is_of_means` where the line is in the unit of the result, as changes of zones and means of
    blanks are; what a study lends is in that of single readings.
    """
    squares = [
        (cell.treatment, weight**2 if is_of_means else (weight * cell.per_unit) ** 2 / cell.n)
        for cell, weight in evaluation.contrast.parts
    ]
    every = math.fsum(square for _, square in squares)
    return math.fsum(square for who, square in squares if who == control) / every
