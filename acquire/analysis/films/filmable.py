"""Whether a film can be told from these slides at all, and what is said where it cannot.

No ratio is taken to a blank that lets too little light through, or that is hardly known; a slide
through which no light came, or hardly more than the meter can tell from none, has no ratio but an
upper limit. Limits of `acquire.analysis.transmission`. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from acquire.analysis.budget.reach import reach_of
from acquire.analysis.budget.uncertainty import CONFIDENCE, total_bias
from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import value_of
from acquire.analysis.cells.relative import is_dark, read_mean
from acquire.analysis.figures import rounded
from acquire.analysis.scale import PERCENT
from acquire.analysis.transmission.film import LEAST_BLANK
from acquire.analysis.transmission.slides import MOST_BLANK_DOUBT
from acquire.analysis.treatments.basis import Basis, Evaluation, evaluate
from acquire.analysis.treatments.pairing import Arm

MOST_DARK_DOUBT = 0.1
"""A coated slide's mean must be known to this part of itself (standard uncertainty with known
shifts) for a ratio; beyond, only an upper limit is told. First order holds up to here, as for the
blanks: of 1500 drawn trials each at 1, 1.5, 2, 2.5 and 4 % of light with a noise of 0.3 %, ratio
or limit held the truth in 94.7 to 96.2 of 100; with twice this limit in 94."""
_BLANK = 1.0


def why_no_film(arm: Arm, control: Arm, basis: Basis) -> tuple[str, str] | None:
    """Reason and next step where no ratio is to be taken; None where it may be."""
    if basis.blanks is not None and len(control.pairs) < 2:
        return (
            "one blank does not show by how much blanks differ",
            "read at least two blanks of the same box, better five, or each slide bare before it "
            "is coated",
        )
    blanks = None if basis.blanks is None else basis.blanks[arm.stage]
    # A blank that lets no light through has no logarithm; it is named below.
    if blanks is not None and len(blanks.values) == len(control.pairs):
        doubt = blanks.spread.sd / math.sqrt(len(blanks.values))
        if doubt > MOST_BLANK_DOUBT:
            return (
                f"the blanks' mean is known to {_part(doubt)} only, because they differ",
                "read more blanks, or find out why they differ",
            )
    for cell in _blanks(arm, control):
        mean = read_mean(cell)
        if mean < PERCENT * LEAST_BLANK:
            return (
                f"the blank {cell.zone} lets only {rounded(mean, basis.resolution)} % through at "
                f"{cell.stage}, less than {PERCENT * LEAST_BLANK:g} %, so nothing can be told of a "
                f"film in {basis.scale.what}",
                "coat slides that are clear in this band (fused silica in the ultraviolet)",
            )
        if _doubt(cell, basis) > MOST_BLANK_DOUBT:
            return (
                f"the blank {cell.zone} at {cell.stage} is known to "
                f"{_part(_doubt(cell, basis))} only, too little to take a ratio to it",
                "read it more often, or find out why its readings differ",
            )
    for cell in (pair[-1] for pair in arm.pairs):
        if is_dark(read_mean(cell)):
            return _dark(f"no light came through {cell.zone}", arm, control, basis)
        if _doubt(cell, basis) > MOST_DARK_DOUBT:
            return _dark(
                f"hardly any light came through {cell.zone}: "
                f"{rounded(read_mean(cell), basis.resolution)} % is known to "
                f"{_part(_doubt(cell, basis))} of itself only",
                arm, control, basis,
            )  # fmt: skip
    return None


def _part(doubt: float) -> str:
    """``220 %``: two digits, and never a power of ten."""
    percent = PERCENT * doubt
    return f"{rounded(percent, percent)} %"


def _blanks(arm: Arm, control: Arm) -> Iterator[Cell]:
    """Slides as they were bare, and those that stayed so."""
    for pair in arm.pairs:
        yield from pair[:-1]
    for pair in control.pairs:
        yield from pair


def _doubt(cell: Cell, basis: Basis) -> float:
    """Relative standard uncertainty of a slide's mean with the known shifts; 0 where unknown."""
    found = _value(cell, basis)
    known = math.hypot(*(t.contribution for t in found.terms))
    return known + abs(total_bias(found.known.biases))


def _dark(what: str, arm: Arm, control: Arm, basis: Basis) -> tuple[str, str]:
    limit = _upper_limit(arm, control, basis)
    bound = (
        ""
        if limit is None
        else f"; its film lets at most {rounded(PERCENT * limit, PERCENT * limit)} % of the light "
        f"through that its blank lets through ({basis.scale.what}; upper limit of 95 %)"
    )
    return (
        f"{what}, so there is no ratio{bound}",
        "quote the upper limit, or measure with a finer step of the display",
    )


def _upper_limit(arm: Arm, control: Arm, basis: Basis) -> float | None:
    """Of the worst slide: every mean at the end that is worst, all together at 95 % (Bonferroni).

    None where a mean has no uncertainty or the limit comes to nothing.
    """
    worst = 0.0
    pairs = arm.pairs
    count = len({id(c) for pair in pairs for c in pair}) + sum(map(len, control.pairs))
    alpha = 2 * (1 - CONFIDENCE) / count
    shift = _BLANK
    for *bare, after in control.pairs:
        low, high = _ends(after, basis, alpha), [_ends(c, basis, alpha) for c in bare]
        if low is None or None in high:
            return None
        over = math.prod(h[1] for h in high if h is not None)
        if not low[0] > 0:
            return None
        shift = max(shift, over / low[0]) if bare else max(shift, PERCENT / low[0])
    for *bare, after in pairs:
        top = _ends(after, basis, alpha)
        below = [_ends(c, basis, alpha) for c in bare]
        if top is None or None in below:
            return None
        under = math.prod(b[0] for b in below if b is not None) if bare else PERCENT
        if not under > 0:
            return None
        worst = max(worst, top[1] / under * shift)
    return worst if worst > 0 else None


def _ends(cell: Cell, basis: Basis, alpha: float) -> tuple[float, float] | None:
    """A slide's mean less and plus its uncertainty, in percent."""
    found = _value(cell, basis)
    if found.lacking:
        return None
    half = reach_of(found.terms).half_width(alpha) + abs(total_bias(found.known.biases))
    mean = read_mean(cell)
    half = half * mean if cell.is_relative else half
    return mean - half, mean + half


def _value(cell: Cell, basis: Basis) -> Evaluation:
    return evaluate(value_of(cell), replace(basis, blanks=None))
