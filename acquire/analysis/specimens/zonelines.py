"""The lines of a budget that zones tell: one for all treatments together, or one a side.

Rules and sources: `acquire.analysis.specimens.zones`. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from acquire.analysis.budget.uncertainty import CONFIDENCE, Distribution, Kind, Term
from acquire.analysis.figures import rounded, signed, suffix
from acquire.analysis.laws.student import t_factor
from acquire.analysis.specimens.depthlaw import AT_DEPTH, FAR, AtDepth, beyond_pool, law_of
from acquire.analysis.specimens.zones import ENOUGH_FOR_ONE, Pool, Told
from acquire.analysis.specimens.zonesides import Side

SPREAD_OF_ZONES = "spread of zones"
"""The line of a budget that is of zones of all treatments together."""

_MOST_LISTED = 20


def spread_terms(
    told: Told, resolution: float, unit: str, read_unit: str, *, is_relative: bool
) -> tuple[Term, ...]:
    """The type A terms of a difference that zones tell: one for all of them, or one a side.

    That of films far deeper than others is of their depth (`acquire.analysis.specimens.depthlaw`).
    `resolution` is the step of the display in `read_unit`, that of the readings; `unit` is that of
    the changes, and `is_relative` whether they are logarithms.
    """
    sides, pool = told
    # Ratios have no step of their own: it is that of the display over what was read.
    step = 0.0 if is_relative else resolution
    if pool is None:
        return tuple(_of_side(side, resolution, unit, read_unit, step) for side in sides)
    share = math.hypot(*(1 / math.sqrt(len(side.changes)) for side in sides))
    own = 0.0
    if all(len(side.changes) > 1 for side in sides):
        own = math.hypot(*(s.spread.sd / math.sqrt(len(s.changes)) for s in sides)) / share
    at_depth = _at_depth(sides, pool, share) if is_relative else None
    of_all = pool.sd if at_depth is None else math.sqrt(at_depth.variance)
    sd = max(of_all, own)
    of_two = "the root of the mean square depth of both sides, each weighed by 1 over its zones"
    said = "" if at_depth is None else f", {at_depth.said(of_two)}"
    listed = "; ".join(f"{side.treatment} {_listed(side, sd, step)}" for side in sides)
    taken = (
        ""
        if own <= of_all
        else f" The zones of {' and '.join(s.treatment for s in sides)} differ by more than those "
        f"of all together ({rounded(of_all, of_all)}{suffix(unit)}), so their own is taken."
    )
    spreads = [side.spread for side in sides if len(side.changes) > 1]
    raised = next((spread for spread in spreads if spread.is_raised), None)
    return (
        Term(
            SPREAD_OF_ZONES + ("" if at_depth is None else AT_DEPTH),
            Kind.A,
            sd,
            pool.nu if at_depth is None else at_depth.nu,
            share,
            Distribution.NORMAL,
            "Standard deviation of the changes of zones within "
            f"{_within(pool.treatments)}{said}. "
            f"Changes: {listed}{suffix(unit)}. c is the "
            "root of the sum of 1 over the zones of each side. The scatter of their readings is "
            f"in it.{taken}" + ("" if raised is None else raised.said(resolution, read_unit)),
            is_common=at_depth is None,
        ),
    )


def _at_depth(sides: Sequence[Side], pool: Pool, share: float) -> AtDepth | None:
    """What slides spread by at the depths of two films, each by what it has in the variance."""
    depths = [pool.depth(side.mean) for side in sides]
    weighed = zip(depths, sides, strict=True)
    square = math.fsum(depth**2 / len(side.changes) for depth, side in weighed) / share**2
    apart = abs(sides[0].mean - sides[-1].mean)
    return beyond_pool(pool.found, square, apart, max(depths), pool.sd**2, share, pool.nu)


def _within(treatments: int) -> str:
    return (
        "one treatment" if treatments == 1 else f"treatments, of {treatments} treatments together"
    )


def _of_side(side: Side, resolution: float, unit: str, read_unit: str, step: float) -> Term:
    spread = side.spread
    u = spread.sd / math.sqrt(len(side.changes))
    return Term(
        f"spread of the zones of {side.treatment}",
        Kind.A,
        u,
        len(side.changes) - 1,
        1.0,
        Distribution.NORMAL,
        f"Standard deviation of the changes of its {len(side.changes)} zones over the root of "
        f"their number: {_listed(side, u, step)}{suffix(unit)}. The scatter of their readings is "
        f"in it.{spread.said(resolution, read_unit)}",
    )


class OwnLine(NamedTuple):
    """The standard uncertainty of the mean of one side, and its degrees of freedom."""

    u: float
    nu: float


def own_lines(told: Told, *, is_relative: bool) -> tuple[OwnLine, ...]:
    """How sure the mean of each side is by itself, in the order of the contrast.

    `is_relative` whether the changes are logarithms.
    """
    sides, pool = told
    found = []
    for side in sides:
        n = len(side.changes)
        sd, nu = side.spread.sd if n > 1 else 0.0, float(n - 1)
        if pool is not None:
            of_all, nu = pool.sd, float(pool.nu)
            at_depth = _at_depth_of(side, pool) if is_relative else None
            if at_depth is not None:
                of_all, nu = math.sqrt(at_depth.variance), at_depth.nu
            sd = max(of_all, sd)
        found.append(OwnLine(sd / math.sqrt(n), nu))
    return tuple(found)


def _at_depth_of(side: Side, pool: Pool) -> AtDepth | None:
    """As `_at_depth`, of one side alone."""
    if not _is_told(side, pool):
        return None
    share = 1 / math.sqrt(len(side.changes))
    depth = pool.depth(side.mean)
    return beyond_pool(pool.found, depth**2, depth, depth, pool.sd**2, share, pool.nu)


def is_lone_slide_told(told: Told) -> bool:
    """Whether slides of others tell how a film of a single slide would differ at its depth.

    Where others have no depth to speak of they tell how slides differ, and nothing of films.
    """
    return told.pool is None or all(_is_told(side, told.pool) for side in told.sides)


def _is_told(side: Side, pool: Pool) -> bool:
    if len(side.changes) > 1:
        return True
    depth = pool.depth(side.mean)
    # How slides differ is most of what a film does that is no deeper.
    if not depth > FAR * t_factor(pool.nu, CONFIDENCE) * pool.sd:
        return True
    law = law_of(pool.found)
    return law is None or law.at(depth**2).nu >= ENOUGH_FOR_ONE


def _listed(side: Side, u: float, resolution: float) -> str:
    """The changes to a tenth of the last digit that matters, so that the figure can be followed."""
    place = max(resolution, u) or None
    said = [signed(change, place) for change in side.changes]
    if len(said) > _MOST_LISTED:
        low, high = (rounded(edge(side.changes), place) for edge in (min, max))
        return f"they lie from {low} to {high}"
    return ", ".join(said)
