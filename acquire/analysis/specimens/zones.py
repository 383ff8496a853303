"""Several zones a treatment: how the changes of zones differ says how sure a mean change is.

A zone that was prepared, treated and read is one replicate of the whole work; its readings repeat
the reading alone. Where every side of a difference has two zones or more, the type A term is the
standard deviation of the changes of zones within treatments. Readings come in through the means
only: their scatter is in it already. Zones that differ by less than the display shows are taken to
differ by as much as it may hide (`acquire.analysis.specimens.roundedspread`). A side with one zone,
be it that others were not read, has what the zones of other treatments tell with two degrees of
freedom or more, be it three zones of the control alone: by the readings 68 of 100 drawn trials had
a false difference where those zones differed by a third more than readings scatter, and showed it.
Where others tell nothing, nobody knows how zones differ, and the readings' scatter stands, for a
statement about these zones; of two zones alone Student's limit is so wide that nothing is shown.

From three treatments on (the control is one) one standard deviation is taken for all of them,
s^2 = sum (n_i - 1) s_i^2 / sum (n_i - 1), with the sum of the degrees of freedom, as the analysis
of variance of a designed experiment has it, and with it C. W. Dunnett's limit (J. Amer. Statist.
Assoc. 50 (1955) 1096; `acquire.analysis.treatments.family`) or Tukey's. Zones are dealt to
treatments by a draw, so if the treatments do nothing, all spread alike; and by the two or three
zones of a side alone Student's limit is so wide that hardly anything is ever shown. So that a
treatment whose zones truly spread more is not judged by its steadier neighbours, the spread of the
two sides themselves is taken where it is the larger one, at the same degrees of freedom. By drawing
(``python -m tests.unit.analysis.zonepools``) the chance of a false difference is at most 5 % where
the zones of all treatments spread alike. Where a product spreads twice as much as the others it is
up to 6 %, where the control does up to 12 %; three times as much 9 and 16 % (19 % with twelve
products in two blocks), and up to 22 % where the restless one has two zones beside more of the
others; among all pairs of products 12 and 22 %. A zone that stands alone has no spread to be held
against the pool: there it is up to 31 % at twice and 50 % at three times
(`acquire.analysis.rules.lonezones`). Student's limit at Sidak's level in the place of Dunnett's is
2 to 9 % wider (up to 14 % in two blocks) and has about 3 % in the place of 4 where all spread
alike, and 18 in that of 22 with two zones. By each side's own spread it would be below 1 % with two
zones, at limits twelve times as wide. Films spread the more the deeper they are: where one is so
deep that slides of its depth spread by more than those of all together, what they do is taken, at
degrees of freedom of its own (`acquire.analysis.specimens.depthlaw`). Of two treatments alone each
side has a line of its own, with one degree of freedom less than zones.

Source of the unit: the variance of treatments is judged by that of the experimental units (R. A.
Fisher, The Design of Experiments (1935)). All from memory. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import Contrast
from acquire.analysis.specimens.depthlaw import Found
from acquire.analysis.specimens.roundedspread import Spread, rounding_half
from acquire.analysis.specimens.zonesides import (
    Side,
    by_zone,
    change_of_zone,
    read_at,
    sides_of,
    weights_of,
)

FEWEST_POOLED = 3
"""Treatments with several zones from which on all tell together how zones differ."""
ENOUGH_FOR_ONE = 2
"""Degrees of freedom that zones of others tell with where one that is compared has a single one; of
a film at its depth."""


class Pool(NamedTuple):
    """How zones differ within treatments, of several treatments together.

    `sd` is in the unit of the changes, with `nu` degrees of freedom; `is_raised` where the display
    hides how far zones are apart. `clear` is the highest mean change of a treatment, of films that
    of the clearest, and `found` are the variances of which the pool is made, each at how far its
    zones changed below that.
    """

    sd: float
    nu: int
    treatments: int
    is_raised: bool
    clear: float
    found: tuple[Found, ...]

    def depth(self, change: float) -> float:
        """How far a change is below the highest one: of films how deep it is."""
        return max(0.0, self.clear - change)


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
    zones = by_zone(contrast)
    if not zones:
        return None
    own = sides_of(zones, resolution)
    pool = _pool_of(own, weights_of(zones), resolution, cells)
    if pool is None and any(len(side.changes) < 2 for side in own):
        return None
    return Told(own, pool)


def _pool_of(
    own: Sequence[Side], weights: Mapping[str, float], resolution: float, cells: Sequence[Cell]
) -> Pool | None:
    """Of all treatments with two zones that have the same stages as those of the contrast.

    None where fewer than three treatments have several zones; two degrees of freedom are enough
    where a side of the contrast has one zone, for which else nothing tells how zones differ.
    """
    spreads = {side.treatment: _part_of(side) for side in own if len(side.changes) > 1}
    every = _parts_at(_Same(cells), tuple(weights.items()), resolution)
    clear = max([every.clear, *[side.mean for side in own]])
    if len(spreads) < len(own):
        single = {side.treatment for side in own} - set(spreads)
        found = {t: part for t, part in every.parts.items() if t not in single} | spreads
        is_told = sum(part.nu for part in found.values()) >= ENOUGH_FOR_ONE
        return _pooled(found.values(), clear) if is_told else None
    if every.parts.items() >= spreads.items():
        return every.pool
    found = every.parts | spreads
    return _pooled(found.values(), clear) if len(found) >= FEWEST_POOLED else None


class _Part(NamedTuple):
    """What the zones of one treatment have in a pool: their spread and mean change."""

    spread: Spread
    nu: int
    mean: float


def _part_of(side: Side) -> _Part:
    return _Part(side.spread, len(side.changes) - 1, side.mean)


class _Parts(NamedTuple):
    """All treatments with several zones, and their pool; None where they are too few.

    `clear` is the highest mean change of all treatments, those with one zone among them.
    """

    parts: dict[str, _Part]
    pool: Pool | None
    clear: float


def _pooled(parts: Iterable[_Part], clear: float) -> Pool:
    held = tuple(parts)
    nu = sum([part.nu for part in held])
    return Pool(
        math.sqrt(math.fsum([part.nu * part.spread.sd**2 for part in held]) / nu),
        nu,
        len(held),
        any([part.spread.is_raised for part in held]),
        clear,
        tuple([Found(clear - part.mean, part.spread.sd**2, part.nu) for part in held]),
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
def _parts_at(of: _Same, weights: tuple[tuple[str, float], ...], resolution: float) -> _Parts:
    """Of the treatments with several zones that were read at each of the stages."""
    by_stage = dict(weights)
    found, clear = {}, -math.inf
    for treatment, zones in read_at(of.cells, by_stage).items():
        if zones:
            own = [[(c, by_stage[c.stage]) for c in zone] for zone in zones]
            side = Side(
                treatment,
                tuple([change_of_zone(parts, 1) for parts in own]),
                tuple([rounding_half(parts, resolution) for parts in own]),
            )
            clear = max(clear, side.mean)
            if len(zones) > 1:
                found[treatment] = _part_of(side)
    pool = _pooled(found.values(), clear) if len(found) >= FEWEST_POOLED else None
    return _Parts(found, pool, clear)
