"""Differences within complete blocks: what sets one block apart from another is in none of them.

Where the zones were dealt in blocks in which each treatment is equally often, the zones of a block
lie together, and sun, dirt and the hand that washes meet them alike. The difference of two
treatments is then taken in each block, and its type A term is the standard deviation of such
differences over the root of their number. From three treatments with one zone in each of the blocks
on, all of them tell together what it is: the residual of the analysis of variance by treatment and
block without interaction, with (blocks - 1)(treatments - 1) degrees of freedom (R. A. Fisher, The
Design of Experiments (1935); from memory). Where the differences of the two treatments themselves
spread more, their own standard deviation is taken, at the same degrees of freedom, as everywhere
(`acquire.analysis.specimens.zones`). Films far deeper than others are judged by how differences to
the clearest one spread at their depth (`acquire.analysis.specimens.depthlaw`). Of two treatments
alone it is the paired t test.

It is settled by the layout and by which zones were read, never by what they read. Blocks with one
zone of each treatment are always compared so; of larger ones five are wanted, since few blocks have
few degrees of freedom where the zones in them would have more. Pure; any thread.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from acquire.analysis.budget.uncertainty import Distribution, Kind, Term
from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import BALANCED, Contrast
from acquire.analysis.figures import rounded, signed, suffix
from acquire.analysis.specimens.depthlaw import AT_DEPTH, Found, beyond_pool
from acquire.analysis.specimens.roundedspread import rounded_spread, rounding_half
from acquire.analysis.specimens.zonelines import OwnLine
from acquire.analysis.specimens.zones import FEWEST_POOLED
from acquire.analysis.specimens.zonesides import change_of_zone, read_at, stage_weights
from acquire.model import Plan

WITHIN = "spread of the differences within blocks, "
"""Begins the name of the line."""
ENOUGH_BLOCKS = 5
"""Blocks with several zones of a treatment from which on their differences decide. Our choice: t of
four degrees of freedom is 1.4 times the limit of the normal law."""
_MOST_LISTED = 20

Blocks = Mapping[str, int]
"""The block of each zone."""

NO_BLOCKS: Blocks = {}


def complete_blocks(plan: Plan) -> Blocks:
    """The blocks of a plan; none unless every treatment is equally often in each, of two or more.

    Each treatment counts for itself: a control may have two zones in every block.
    """
    if any(zone.block is None for zone in plan.zones):
        return NO_BLOCKS
    blocks = {zone.id: zone.block for zone in plan.zones if zone.block is not None}
    counts = Counter((zone.treatment, zone.block) for zone in plan.zones)
    numbers = set(blocks.values())
    for treatment in {zone.treatment for zone in plan.zones}:
        if len({counts[treatment, number] for number in numbers}) > 1:
            return NO_BLOCKS
    return blocks if len(numbers) > 1 else NO_BLOCKS


def is_paired(plan: Plan) -> bool:
    """Whether differences of a plan will be taken within blocks, if every zone is read."""
    blocks = complete_blocks(plan)
    number = len(set(blocks.values()))
    return bool(blocks) and (
        number >= ENOUGH_BLOCKS or len(plan.zones) == number * len(plan.treatments)
    )


class Differences(NamedTuple):
    """The difference of two treatments in each block, in the unit of the result.

    Their mean is the contrast. `blocks` are the numbers of the blocks, `halves` what the display
    may have shifted each difference by.
    """

    first: str
    second: str
    blocks: tuple[int, ...]
    values: tuple[float, ...]
    halves: tuple[float, ...]


def differences_of(
    contrast: Contrast, blocks: Blocks, resolution: float = 0.0
) -> Differences | None:
    """The differences within blocks; None where the contrast is none of two treatments in blocks.

    Each side must have been read in the same blocks, equally often in each, and every zone at two
    stages or more. `resolution` is the step of the display in the unit of the readings.
    """
    if not blocks:
        return None
    zones: dict[str, dict[str, list[tuple[Cell, float]]]] = {}
    for cell, weight in contrast.parts:
        zones.setdefault(cell.treatment, {}).setdefault(cell.zone, []).append((cell, weight))
    if len(zones) != 2:
        return None
    sides = list(zones.values())
    every = [(zone, parts) for side in sides for zone, parts in side.items()]
    if any(zone not in blocks or len(parts) < 2 for zone, parts in every):
        return None
    if any(abs(math.fsum(w for _, w in parts)) > BALANCED for _, parts in every):
        return None
    one, other = (Counter(blocks[zone] for zone in side) for side in sides)
    if set(one) != set(other) or len(one) < 2:
        return None
    if len(set(one.values())) > 1 or len(set(other.values())) > 1:
        return None
    is_single = max(*one.values(), *other.values()) == 1
    if not is_single and len(one) < ENOUGH_BLOCKS:
        return None
    number = len(one)
    found: dict[int, list[tuple[Cell, float]]] = {block: [] for block in sorted(one)}
    for zone, parts in every:
        found[blocks[zone]] += parts
    first, second = zones
    return Differences(
        first,
        second,
        tuple(found),
        tuple(
            number * math.fsum(w * c.mean for c, w in parts if c.mean is not None)
            for parts in found.values()
        ),
        tuple(number * rounding_half(parts, resolution) for parts in found.values()),
    )


class Residual(NamedTuple):
    """What is left of a table of treatments by blocks: variance of one zone, degrees of freedom.

    `clear` is the highest mean change of a treatment, of films that of the clearest; `found` are
    the variances of differences to it within blocks, each at how far the other changed below it.
    `depths` are those of the two that are compared.
    """

    variance: float
    nu: int
    treatments: int
    clear: float
    found: tuple[Found, ...]
    depths: tuple[float, ...] = ()


def residual_of(
    contrast: Contrast, found: Differences, cells: Sequence[Cell], blocks: Blocks
) -> Residual | None:
    """Of all treatments with one zone in each of the blocks of the differences, perhaps in more.

    `cells` are those of the measure, of all treatments. None where these are fewer than three, or
    the two that are compared are not among them.
    """
    weights = stage_weights(contrast)
    rows = {}
    for treatment, zones in read_at(cells, weights).items():
        row = {
            blocks[zone[0].zone]: change_of_zone([(c, weights[c.stage]) for c in zone], 1)
            for zone in zones
            if zone[0].zone in blocks
        }
        if len(row) == len(zones) and set(row) >= set(found.blocks):
            rows[treatment] = [row[block] for block in found.blocks]
    if len(rows) < FEWEST_POOLED or not {found.first, found.second} <= set(rows):
        return None
    left = _residual(list(rows.values()))
    depths = tuple(left.clear - _mean(rows[t]) for t in (found.first, found.second))
    return left._replace(depths=depths)


def _residual(rows: Sequence[Sequence[float]]) -> Residual:
    """Of a table with a row for each treatment and a column for each block."""
    squares = math.fsum(own * (len(row) - 1) for row, own in zip(rows, _left(rows), strict=True))
    nu = (len(rows) - 1) * (len(rows[0]) - 1)
    clearest = max(rows, key=_mean)
    found = [_below(row, clearest) for row in rows if row is not clearest]
    return Residual(squares / nu, nu, len(rows), _mean(clearest), tuple(found))


def _below(row: Sequence[float], clearest: Sequence[float]) -> Found:
    """How differences to the highest row spread; what blocks have alike is in none."""
    apart = [high - own for high, own in zip(clearest, row, strict=True)]
    depth, nu = _mean(apart), len(apart) - 1
    return Found(depth, math.fsum((value - depth) ** 2 for value in apart) / nu, nu)


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)


def _left(rows: Sequence[Sequence[float]]) -> list[float]:
    """The sum of squared residuals of each row over blocks less one."""
    k, b = len(rows), len(rows[0])
    of_block = [math.fsum(column) / k for column in zip(*rows, strict=True)]
    whole = math.fsum(of_block) / b
    means = [math.fsum(row) / b for row in rows]
    return [
        math.fsum((v - own - mean + whole) ** 2 for v, own in zip(row, of_block, strict=True))
        / (b - 1)
        for row, mean in zip(rows, means, strict=True)
    ]


def within_term(
    found: Differences,
    residual: Residual | None,
    resolution: float,
    unit: str,
    read_unit: str,
    *,
    is_relative: bool,
) -> Term:
    """The type A term of differences within blocks.

    `resolution` is the step of the display in `read_unit`, `unit` that of the differences;
    `residual` is that of all treatments, None where the two stand alone.
    """
    spread, number = rounded_spread(found.values, found.halves), len(found.values)
    of_all = 0.0 if residual is None else math.sqrt(2 * residual.variance)
    at_depth = None
    if is_relative and residual is not None and residual.variance > 0:
        depths = residual.depths
        at_depth = beyond_pool(
            residual.found, math.fsum(depth**2 for depth in depths), abs(_mean(found.values)),
            max(depths), of_all**2, 1 / math.sqrt(number), residual.nu,
        )  # fmt: skip
        of_all = of_all if at_depth is None else math.sqrt(at_depth.variance)
    sd = max(spread.sd, of_all)
    u = sd / math.sqrt(number)
    # Ratios have no step of their own: it is that of the display over what was read.
    place = max(0.0 if is_relative else resolution, u) or None
    listed = f"{_listed(found.values, place)}{suffix(unit)}"
    if residual is None or residual.variance <= 0:
        what = f"Standard deviation of the differences in {number} blocks"
    else:
        what = (
            f"Standard deviation of differences within {number} blocks, of {residual.treatments} "
            "treatments together"
        )
        if at_depth is None:
            what += " (residual of treatments by blocks)"
        else:
            what += f", {at_depth.said('the root of the sum of the squared depths of both')}"
        if spread.sd <= of_all:
            what += "" if at_depth is None else ","
        else:
            what += (
                f", {rounded(of_all, of_all)}{suffix(unit)}; those of {found.first} less "
                f"{found.second} spread more, so their own is taken,"
            )
    return Term(
        f"{WITHIN}{found.first} less {found.second}{'' if at_depth is None else AT_DEPTH}",
        Kind.A,
        u,
        (number - 1 if residual is None else residual.nu) if at_depth is None else at_depth.nu,
        1.0,
        Distribution.NORMAL,
        f"{what} over the root of their number. Differences: {listed}. The scatter of readings is "
        "in it, and what sets one block apart from another is not."
        + (spread.said(resolution, read_unit) if sd == spread.sd else ""),
        is_common=residual is not None and at_depth is None,
    )


def own_spreads(changes: Sequence[Contrast], blocks: Blocks) -> list[OwnLine] | None:
    """Uncertainty and degrees of freedom of each treatment's mean change, blocks taken off.

    For drawing several treatments together: residuals of the table of treatments by blocks, from
    three treatments on of all together, or each treatment's own where it is larger; of two so that
    they have just the uncertainty of their difference. None where a treatment was not read in every
    block.
    """
    rows = []
    for change in changes:
        sums: dict[int, float] = {}
        for cell, weight in change.parts:
            if cell.mean is None or cell.zone not in blocks:
                return None
            block = blocks[cell.zone]
            sums[block] = sums.get(block, 0.0) + weight * cell.mean
        rows.append({block: len(sums) * value for block, value in sums.items()})
    k, numbers = len(rows), sorted(rows[0])
    if k < 2 or len(numbers) < 2 or any(sorted(row) != numbers for row in rows):
        return None
    table = [[row[b] for b in numbers] for row in rows]
    own = [variance * k / (k - 1) for variance in _left(table)]
    if k < FEWEST_POOLED:
        return [OwnLine(math.sqrt(variance / len(numbers)), len(numbers) - 1) for variance in own]
    residual = _residual(table)
    lines = []
    for row, variance in zip(table, own, strict=True):
        least, nu = residual.variance, float(residual.nu)
        depth = residual.clear - _mean(row)
        # One film has half of what a difference of two that are as deep has.
        share = 1 / math.sqrt(2 * len(numbers))
        at_depth = beyond_pool(
            residual.found, 2 * depth**2, depth, depth, 2 * least, share, nu
        )  # fmt: skip
        if changes[0].is_relative and at_depth is not None:
            least, nu = at_depth.variance / 2, at_depth.nu
        lines.append(OwnLine(math.sqrt(max(least, variance) / len(numbers)), nu))
    return lines


def _listed(values: Sequence[float], place: float | None) -> str:
    """The differences, so that the figure can be followed."""
    if len(values) > _MOST_LISTED:
        low, high = (rounded(edge(values), place) for edge in (min, max))
        return f"they lie from {low} to {high}"
    return ", ".join(signed(value, place) for value in values)
