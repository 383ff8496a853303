"""A net change in logarithms said as a film: what it lets through, blocks, absorbs.

The figures come from `acquire.analysis.transmission.film`, which are held to reference cases.
Pure; any thread.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from acquire.analysis.figures import rounded
from acquire.analysis.scale import MOST_LOGARITHM, PERCENT, Scale
from acquire.analysis.transmission.film import absorbance_u, film
from acquire.analysis.treatments.basis import Basis
from acquire.analysis.treatments.decision import WORTH_SAYING, Decision, Finding


@dataclass(frozen=True, slots=True)
class Film:
    """What a film does in one band; `what` has band and weights. All but `what` are parts of 1.

    `transmittance` is the coated slide over its blank, `interval` of 95 % for all treatments of the
    stage together and `equality_interval` of 90 %. A ratio above 1 stays, with a `blocking` below
    0. `absorbance` (decadic) is None where no light comes through.
    """

    what: str
    transmittance: float
    interval: tuple[float, float]
    equality_interval: tuple[float, float]
    blocking: float
    absorbance: float | None
    absorbance_u: float | None


def film_of(
    treated: float, control: float, half_width: float, narrow: float, u: float, scale: Scale
) -> Film:
    """From the logarithms of both sides: of T_after / T_bare, or where nothing was bare of T.

    `half_width` and `narrow` belong to the intervals of their difference, `u` is its standard
    uncertainty, all relative.
    """
    # Both sides over the control's, so that its level is no matter of what counts as a blank.
    found = film(math.exp(treated - control), 1.0)
    ratio = found.transmittance
    return Film(
        scale.what, ratio, _around(ratio, half_width), _around(ratio, narrow), found.blocking,
        found.absorbance, absorbance_u(ratio, u * ratio),
    )  # fmt: skip


def _around(ratio: float, half: float) -> tuple[float, float]:
    return ratio * math.exp(-half), ratio * math.exp(min(half, MOST_LOGARITHM))


def worded_film(
    decision: Decision, finding: Finding, found: Film, subject: str, basis: Basis, smallest: float
) -> str:
    """The decision in sentences, as `acquire.analysis.treatments.decision.worded` has it of
    differences."""
    scale, u = basis.scale, finding.half_width
    value = finding.estimate
    passes = scale.figure(value, u)
    blocks = _blocked(found, u)
    span = scale.span(value - u, value + u, u)
    said = (
        f"In {found.what}, the film lets {passes} % of the light through that its blank lets "
        f"through (95 % interval {span} %){blocks}."
    )
    if abs(finding.bias) >= WORTH_SAYING * u:
        source = finding.bias_source[0].upper() + finding.bias_source[1:]
        said += (
            f" {source} would alone have made "
            f"{scale.figure(finding.bias, u)} % of it between equal slides; the interval is wider "
            "by as much."
        )
    seen = (
        "The smallest change this run could have seen is "
        f"{scale.seen(smallest, u, value)} % of the blank's light{scale.taken_at(smallest, u)}."
    )
    if decision is Decision.EQUAL and finding.margin is not None:
        narrow, margins = finding.equality_half_width, (-finding.margin, finding.margin)
        tail = (
            " A change is shown too, but it is smaller than the margin."
            if finding.is_difference_shown
            else ""
        )
        return (
            f"{subject}: shown equal to the control within {scale.margin(finding.margin)} of the "
            f"blank's light. {said} Equality is decided by the 90 % interval, "
            f"{scale.span(value - narrow, value + narrow, u, margins)} %, which lies inside the "
            f"margin.{tail} {seen}"
        )
    if decision is Decision.NOT_SHOWN:
        left = " That alone keeps it from being called a change." if finding.is_left_to_bias else ""
        return (
            f"{subject}: no difference from the control shown. {said}{left} A change is not shown: "
            f"it lies inside what was not certain. {seen} That none was shown does not mean that "
            "there is none."
        )
    return f"{subject}: {decision} than the control. {said} {seen}"


def _blocked(found: Film, u: float) -> str:
    """What it blocks; of a ratio above 1 that it is more than the blank."""
    if found.blocking <= 0:
        return ": more than the blank by itself" if found.blocking < 0 else ""
    depth = absorbance_text(found, u)
    return f": it blocks {blocked_text(found, u)} %{f' (absorbance {depth})' if depth else ''}"


def blocked_text(found: Film, u: float) -> str:
    """In percent, to the place of the relative half width `u` of the film."""
    half = PERCENT * found.transmittance * math.expm1(min(u, MOST_LOGARITHM))
    return rounded(PERCENT * found.blocking, half)


def absorbance_text(found: Film, u: float) -> str:
    """The absorbance to the place of the relative half width `u`; empty without one."""
    return "" if found.absorbance is None else rounded(found.absorbance, u / math.log(10))
