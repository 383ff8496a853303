"""Errors of several changes of one measure, drawn together with all that they have in common.

A line of scatter belongs to a zone at a stage, or to the zones of a side; wherever a change has
that line it gets the same draw with its own weight, so that a control that all share, or bare
readings that two stages share, cancel by arithmetic. The spread of a side's zones is drawn once for
all stages, and the scatter of a zone once for all channels of a press: what sets a zone or a press
apart may be in all of them alike, which is taken on the safe side for sums. Lines estimated from
few readings are drawn by Student's t (JCGM 101:2008, 6.4.9). What is known of display, checks and
sled is drawn by the normal law with the covariance that follows from the budgets of the changes and
of their differences: cov(a, b) = (V(a) + V(b) - V(a - b)) / 2.

Every line has a generator of its own, seeded by its name: the same question gives the same digits,
in whatever order items and products come. Pure and deterministic for one version of numpy.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.budget.uncertainty import Term, total_bias
from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import BALANCED, Contrast
from acquire.analysis.meter.onepiece import WAYS
from acquire.analysis.meter.systematic import Systematic, in_each_way, systematic
from acquire.analysis.samples.repeatability import Repeatability
from acquire.analysis.scoring.gains import Gain
from acquire.analysis.scoring.sidelines import SPREAD
from acquire.analysis.specimens.scatter import lines_apart
from acquire.analysis.treatments.basis import Basis

SEED = 20_816
DRAWS = 40_000
"""A chance is then good to 0.25 %, and the ends of an interval to a few percent of its width."""

BLANKS = "spread of the blanks"

Floats = NDArray[np.float64]


def source(*named: str) -> np.random.Generator:
    """The generator of what is named so."""
    return np.random.default_rng([SEED, *(zlib.crc32(n.encode()) for n in named)])


def drawn_errors(
    key: str,
    found: Sequence[Gain],
    control: str,
    basis: Basis,
    draws: int = DRAWS,
    *,
    press: str = "",
    sign: float = 1.0,
) -> Floats:
    """One row of errors for each of `found`, in its terms; `key` names measure and channel.

    Scatter is drawn alike for all that have one `press`, the same measure at other channels; `sign`
    is the way that earns points, so that what they share moves the points of all the same way.

    Raises ValueError for a change that has no uncertainty.
    """
    errors = _scattered(key, found, control, basis, draws, press=press, sign=sign)
    errors += _common(key, found, basis, draws, None)
    return errors


def drawn_in_each_way(
    key: str,
    found: Sequence[Gain],
    control: str,
    basis: Basis,
    draws: int = DRAWS,
    *,
    press: str = "",
    sign: float = 1.0,
) -> tuple[tuple[Floats, tuple[float, ...]], ...]:
    """The same errors by a meter whose checks read one piece, in each way that it may be off.

    With each the known shifts that the changes have in that way. Empty where no check leaves it
    open (`acquire.analysis.meter.onepiece`): errors and shifts of one way must not be mixed with
    those of another one, since it is the same for all changes.
    """
    if not any(g.evaluation is not None and g.evaluation.known.is_of_one for g in found):
        return ()
    scattered = _scattered(key, found, control, basis, draws, press=press, sign=sign)
    return tuple(
        (
            scattered + _common(key, found, basis, draws, way),
            tuple([_shift(g, basis, way) for g in found]),
        )
        for way in range(WAYS)
    )


def _shift(gain: Gain, basis: Basis, way: int) -> float:
    assert gain.contrast is not None
    return total_bias(_in_way(gain.contrast, basis, way).biases)


def _scattered(
    key: str,
    found: Sequence[Gain],
    control: str,
    basis: Basis,
    draws: int,
    *,
    press: str,
    sign: float,
) -> Floats:
    """Errors by the lines of scatter."""
    errors = np.zeros((len(found), draws))
    standard: dict[tuple[str, float], Floats] = {}
    for row, gain in enumerate(found):
        if gain.evaluation is None:
            raise ValueError(f"no uncertainty of the change of {gain.treatment}: {gain.lacking}")
        own = gain.evaluation.terms[: -len(gain.evaluation.known.terms) or None]
        for name, weight, nu in _weights(own, gain, control, basis.known):
            if (name, nu) not in standard:
                standard[name, nu] = sign * _standard((press or key, name), nu, draws)
            errors[row] += weight * standard[name, nu]
    return errors


def _common(key: str, found: Sequence[Gain], basis: Basis, draws: int, way: int | None) -> Floats:
    """Errors by what is known of display, checks and sled."""
    order = sorted(range(len(found)), key=lambda i: _place(found[i]))
    covariance = _known([found[i] for i in order], basis, way)
    values, vectors = np.linalg.eigh(covariance)
    # A line known as a bound only, like the course of a drift, need not fit the others exactly.
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    common: Floats = root @ source(key, "known").standard_normal((len(found), draws))
    errors: Floats = np.empty_like(common)
    errors[order] = common
    return errors


def _standard(named: tuple[str, ...], nu: float, draws: int) -> Floats:
    """Student's t; a line that is better known at one stage than at another errs the same way."""
    normal = source(*named).standard_normal(draws)
    if math.isinf(nu):
        return normal
    squares = source(*named, f"{nu:g}").chisquare(nu, draws)
    drawn: Floats = normal / np.sqrt(squares / nu)
    return drawn


def _place(gain: Gain) -> tuple[str, ...]:
    assert gain.contrast is not None
    return tuple(f"{c.treatment} {c.zone} {c.stage} {w:.9f}" for c, w in gain.contrast.parts)


def _weights(
    lines: Iterable[Term], gain: Gain, control: str, known: Repeatability | None
) -> Iterable[tuple[str, float, float]]:
    """Name, weight and degrees of freedom of each line of scatter, with the sign it has."""
    for line in lines:
        weight = line.sensitivity * line.u
        if line.name == f"{SPREAD}{control}":
            yield line.name, -weight, line.nu
        elif line.name == BLANKS:
            # A slide that stands alone has the blanks' spread for its own, beside their mean.
            alone = 1.0 if line.sensitivity > 1 else 0.0
            mean = math.sqrt(max(0.0, line.sensitivity**2 - alone))
            yield line.name, -mean * line.u, line.nu
            yield f"{line.name}, of {gain.treatment}", alone * line.u, line.nu
        else:
            # So that the control, in the line of a study beside others, errs alike for all.
            yield from lines_apart(line, gain.contrast or Contrast(()), known)


def _known(found: Sequence[Gain], basis: Basis, way: int | None) -> Floats:
    """The covariance of what is known of display, checks and sled."""
    contrasts = [g.contrast for g in found if g.contrast is not None]
    k = len(contrasts)
    own = [_variance(c, basis, way) for c in contrasts]
    between = np.diag(own)
    for i in range(k):
        for j in range(i):
            apart = _variance(less(contrasts[i], contrasts[j]), basis, way)
            between[i, j] = between[j, i] = (own[i] + own[j] - apart) / 2
    return between


def _in_way(contrast: Contrast, basis: Basis, way: int | None) -> Systematic:
    """What is known of it, in one way of those that one piece leaves open, or in the usual one."""
    told = contrast, basis.resolution, basis.unit, basis.unclosed
    return systematic(*told) if way is None else in_each_way(*told)[way]


def _variance(contrast: Contrast, basis: Basis, way: int | None) -> float:
    if not contrast.parts:
        return 0.0
    known = _in_way(contrast, basis, way)
    terms = (*known.terms, *(c.term(contrast) for c in basis.common))
    return math.fsum(t.contribution**2 for t in terms)


def less(first: Contrast, second: Contrast) -> Contrast:
    """The first less the second, cells of both with the difference of their weights."""
    weights: dict[tuple[str, str], tuple[Cell, float]] = {}
    for contrast, sign in ((first, 1.0), (second, -1.0)):
        for cell, weight in contrast.parts:
            at = cell.zone, cell.stage
            before = weights[at][1] if at in weights else 0.0
            weights[at] = cell, before + sign * weight
    return Contrast(tuple((c, w) for c, w in weights.values() if abs(w) > BALANCED))
