"""Several zones a treatment: how the changes of zones differ says how sure a mean change is.

A zone that was prepared, treated and read is one replicate of the whole work; its readings repeat
the reading alone. Where every side of a difference has two zones or more, the type A term is the
standard deviation of the changes of zones within treatments. Readings come in through the means
only: their scatter is in it already. Zones that differ by less than the display shows are taken to
differ by as much as it may hide (`acquire.analysis.roundedspread`). A side with one zone, be it
that others were not read, has what the zones of two other treatments or more tell. Where these tell
nothing, nobody knows how zones differ, and the readings' scatter stands, for a statement about
these zones.

From three treatments on (the control is one) one standard deviation is taken for all of them,
s^2 = sum (n_i - 1) s_i^2 / sum (n_i - 1), with the sum of the degrees of freedom, as the analysis
of variance of a designed experiment has it: with C. W. Dunnett's limit (J. Amer. Statist. Assoc. 50
(1955) 1096) or Tukey's. Zones are dealt to treatments by a draw, so if the treatments do nothing,
all spread alike; and by the two or three zones of a side alone Student's limit is so wide that
hardly anything is ever shown. So that a treatment whose zones truly spread more is not judged by
its steadier neighbours, the spread of the two sides themselves is taken where it is the larger one,
at the same degrees of freedom. By drawing (``python -m tests.unit.analysis_zonepools``) the chance
of a false difference is at most 5 % where the zones of all treatments spread alike. Where a product
spreads twice as much as the others it is up to 7 %, where the control does up to 8 %; three times
as much 10 and 13 %, and up to 16 % where the restless one has fewer zones than the others. By each
side's own spread it would be below 1 % with two zones, at limits twelve times as wide. Of two
treatments alone each side has a line of its own, with one degree of freedom less than zones.

Source of the unit: the variance of treatments is judged by that of the experimental units (R. A.
Fisher, The Design of Experiments (1935)). All from memory. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from acquire.analysis.cell import Cell
from acquire.analysis.contrast import BALANCED, Contrast
from acquire.analysis.figures import rounded, signed, suffix
from acquire.analysis.roundedspread import Spread, rounded_spread, rounding_half
from acquire.analysis.uncertainty import Distribution, Kind, Term

SPREAD_OF_ZONES = "spread of zones"
"""The line of a budget that is of zones of all treatments together."""

_MOST_LISTED = 20
FEWEST_POOLED = 3
"""Treatments with several zones from which on all tell together how zones differ."""
_FEWEST_FOR_ONE = 2
"""The same where one that is compared has a single zone."""
_Zones = dict[str, dict[str, list[tuple[Cell, float]]]]


class Side(NamedTuple):
    """The zones of one treatment in a contrast, each with its change in the unit of the result.

    Changes have the sign of the zone itself, also where the side is taken off. Where a contrast
    weighs more than two stages, or by parts, a zone has its weighted sum in the place of a change.
    `halves` are what the display may have shifted each change by, in its unit.
    """

    treatment: str
    changes: tuple[float, ...]
    halves: tuple[float, ...]

    @property
    def spread(self) -> Spread:
        """The standard deviation of the changes; ValueError of fewer than two zones."""
        if len(self.changes) < 2:
            raise ValueError(f"two zones of {self.treatment} are wanted, got {len(self.changes)}")
        return rounded_spread(self.changes, self.halves)


def _sides(zones: _Zones, resolution: float) -> tuple[Side, ...]:
    """Each treatment of a difference with one change a zone, in the order of the contrast."""
    return tuple(
        [
            Side(
                treatment,
                tuple([change_of_zone(parts, len(side)) for parts in side.values()]),
                tuple([len(side) * rounding_half(parts, resolution) for parts in side.values()]),
            )
            for treatment, side in zones.items()
        ]
    )


def _by_zone(contrast: Contrast) -> _Zones:
    """Cells and weights by treatment and zone; empty where it is no difference by zones."""
    if len({cell.treatment for cell, _ in contrast.parts}) < 2:
        return {}
    zones: _Zones = {}
    for cell, weight in contrast.parts:
        if cell.summary.mean is not None:
            zones.setdefault(cell.treatment, {}).setdefault(cell.zone, []).append((cell, weight))
    if len(zones) < 2:
        return {}
    every = (parts for side in zones.values() for parts in side.values())
    return zones if all(len(p) > 1 and _is_balanced(p) for p in every) else {}


def _is_balanced(parts: Sequence[tuple[Cell, float]]) -> bool:
    """Whether the weights of a zone sum to nothing, so that its level is not in it."""
    return abs(math.fsum([w for _, w in parts])) <= BALANCED


def change_of_zone(parts: Sequence[tuple[Cell, float]], zones: int) -> float:
    """Of cells and weights of one zone; the later cell comes last, whichever sign the side has."""
    means = [c.mean for c, _ in parts if c.mean is not None]
    if len(parts) == 2 and math.isclose(abs(parts[0][1]) * zones, 1.0):
        return means[1] - means[0]
    whole = zones * math.fsum(w * mean for (_, w), mean in zip(parts, means, strict=True))
    return whole if parts[-1][1] > 0 else -whole


class Pool(NamedTuple):
    """How zones differ within treatments, of several treatments together.

    `sd` is in the unit of the changes, with `nu` degrees of freedom; `is_raised` where the display
    hides how far zones are apart.
    """

    sd: float
    nu: int
    treatments: int
    is_raised: bool


class Told(NamedTuple):
    """What zones tell of a difference: its sides, in the order of the contrast, and all together.

    `pool` is None where each side has its own spread.
    """

    sides: tuple[Side, ...]
    pool: Pool | None


def told_by_zones(contrast: Contrast, resolution: float, cells: Sequence[Cell]) -> Told | None:
    """How zones say how sure a difference is: those of its sides, or of other treatments, too.

    `resolution` is the step of the display in the unit of the readings, 0 where it is not known;
    `cells` are those of the measure, of all treatments. None where zones do not tell: the contrast
    is a value, the change of one treatment, or of zones that were not read at two stages or more,
    or a side has one zone and no other treatments say how zones differ.
    """
    zones = _by_zone(contrast)
    if not zones:
        return None
    own = _sides(zones, resolution)
    pool = _pool_of(own, _weights(zones), resolution, cells)
    if pool is None and any(len(side.changes) < 2 for side in own):
        return None
    return Told(own, pool)


def _pool_of(
    own: Sequence[Side], weights: Mapping[str, float], resolution: float, cells: Sequence[Cell]
) -> Pool | None:
    """Of all treatments with two zones that have the same stages as those of the contrast.

    None where fewer than three treatments have several zones; two are enough where a side of the
    contrast has one zone, for which else nothing tells how zones differ.
    """
    sides = {side.treatment: side for side in own if len(side.changes) > 1}
    fewest = FEWEST_POOLED if len(sides) == len(own) else _FEWEST_FOR_ONE
    single = {side.treatment for side in own} - set(sides)
    for side in _sides_at(_Same(cells), tuple(weights.items()), resolution):
        if side.treatment not in single:
            sides.setdefault(side.treatment, side)
    spreads = [(side.spread, len(side.changes) - 1) for side in sides.values()]
    nu = sum([n for _, n in spreads])
    if len(spreads) < fewest:
        return None
    return Pool(
        math.sqrt(math.fsum([n * spread.sd**2 for spread, n in spreads]) / nu),
        nu,
        len(spreads),
        any([spread.is_raised for spread, _ in spreads]),
    )


class _Same:
    """The cells of a measure, told from others by being the same object."""

    __slots__ = ("cells",)

    def __init__(self, cells: Sequence[Cell]) -> None:
        self.cells = cells

    def __hash__(self) -> int:
        return id(self.cells)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.cells is other.cells


# Every pair of a stage has all treatments of it in its pool; a page asks stage by stage.
@lru_cache(maxsize=16)
def _sides_at(
    of: _Same, weights: tuple[tuple[str, float], ...], resolution: float
) -> tuple[Side, ...]:
    """All treatments with several zones that were read at each of the stages."""
    by_stage = dict(weights)
    found = []
    for treatment, zones in read_at(of.cells, by_stage).items():
        if len(zones) > 1:
            own = [[(c, by_stage[c.stage]) for c in zone] for zone in zones]
            found.append(
                Side(
                    treatment,
                    tuple(change_of_zone(parts, 1) for parts in own),
                    tuple(rounding_half(parts, resolution) for parts in own),
                )
            )
    return tuple(found)


def stage_weights(contrast: Contrast) -> dict[str, float]:
    """What each stage weighs in the change of one zone, the last stage above zero.

    Empty where zones of the contrast have not all the same.
    """
    return _weights(_by_zone(contrast))


def _weights(zones: _Zones) -> dict[str, float]:
    found: dict[str, float] = {}
    for side in zones.values():
        for parts in side.values():
            sign = math.copysign(len(side), parts[-1][1])
            own = {cell.stage: weight * sign for cell, weight in parts}
            if not found:
                found = own
            elif found.keys() != own.keys() or any(
                not math.isclose(found[s], w, abs_tol=BALANCED) for s, w in own.items()
            ):
                return {}
    return found


def read_at(cells: Sequence[Cell], stages: Mapping[str, float]) -> dict[str, list[list[Cell]]]:
    """Cells by treatment and zone, of zones that were read at each of the stages."""
    found: dict[str, dict[str, dict[str, Cell]]] = {}
    for cell in cells:
        if cell.stage in stages and cell.mean is not None:
            found.setdefault(cell.treatment, {}).setdefault(cell.zone, {})[cell.stage] = cell
    return {
        treatment: [
            [zone[s] for s in stages] for zone in zones.values() if len(zone) == len(stages)
        ]
        for treatment, zones in found.items()
    }


def spread_terms(
    told: Told, resolution: float, unit: str, read_unit: str, *, is_relative: bool
) -> tuple[Term, ...]:
    """The type A terms of a difference that zones tell: one for all of them, or one a side.

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
    sd = max(pool.sd, own)
    listed = "; ".join(f"{side.treatment} {_listed(side, sd, step)}" for side in sides)
    taken = (
        ""
        if own <= pool.sd
        else f" The zones of {' and '.join(s.treatment for s in sides)} differ by more than those "
        f"of all together ({rounded(pool.sd, pool.sd)}{suffix(unit)}), so their own is taken."
    )
    spreads = [side.spread for side in sides if len(side.changes) > 1]
    raised = next((spread for spread in spreads if spread.is_raised), None)
    return (
        Term(
            SPREAD_OF_ZONES,
            Kind.A,
            sd,
            pool.nu,
            share,
            Distribution.NORMAL,
            "Standard deviation of the changes of zones within treatments, of "
            f"{pool.treatments} treatments together. Changes: {listed}{suffix(unit)}. c is the "
            "root of the sum of 1 over the zones of each side. The scatter of their readings is "
            f"in it.{taken}" + ("" if raised is None else raised.said(resolution, read_unit)),
            is_common=True,
        ),
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


def own_lines(told: Told) -> tuple[OwnLine, ...]:
    """How sure the mean of each side is by itself, in the order of the contrast."""
    sides, pool = told
    found = []
    for side in sides:
        n = len(side.changes)
        sd, nu = side.spread.sd if n > 1 else 0.0, n - 1
        if pool is not None:
            sd, nu = max(pool.sd, sd), pool.nu
        found.append(OwnLine(sd / math.sqrt(n), nu))
    return tuple(found)


def _listed(side: Side, u: float, resolution: float) -> str:
    """The changes to a tenth of the last digit that matters, so that the figure can be followed."""
    place = max(resolution, u) or None
    said = [signed(change, place) for change in side.changes]
    if len(said) > _MOST_LISTED:
        low, high = (rounded(edge(side.changes), place) for edge in (min, max))
        return f"they lie from {low} to {high}"
    return ", ".join(said)
