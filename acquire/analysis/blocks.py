"""Differences within complete blocks: what sets one block apart from another is in none of them.

Where the zones were dealt in blocks in which each treatment is equally often, the zones of a block
lie together, and sun, dirt and the hand that washes meet them alike. The difference of two
treatments is then taken in each block, and its type A term is the standard deviation of these
differences over the root of their number, with one degree of freedom less than blocks: the paired t
test, which for two treatments is the analysis of variance by treatment and block without
interaction (R. A. Fisher, The Design of Experiments (1935); from memory). The scatter of other
treatments is lent to no difference, as everywhere (`acquire.analysis.scatter`).

It is settled by the layout and by which zones were read, never by what they read. Blocks with one
zone of each treatment are always compared so; of larger ones five are wanted, since few blocks have
few degrees of freedom where the zones in them would have more. Pure; any thread.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from acquire.analysis.cell import Cell
from acquire.analysis.contrast import BALANCED, Contrast
from acquire.analysis.figures import rounded, signed, suffix
from acquire.analysis.roundedspread import rounded_spread, rounding_half
from acquire.analysis.uncertainty import Distribution, Kind, Term
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

    Their mean is the contrast. `halves` are what the display may have shifted each by.
    """

    first: str
    second: str
    values: tuple[float, ...]
    halves: tuple[float, ...]


def differences_of(
    contrast: Contrast, blocks: Blocks, resolution: float = 0.0
) -> Differences | None:
    """The differences within blocks; None where the contrast is none of two treatments in blocks.

    Each side must have been read in the same blocks, equally often in each, and every zone at two
    stages or more. `resolution` is the step of the display in the unit of the readings.
    """
    zones: dict[str, dict[str, list[tuple[Cell, float]]]] = {}
    for cell, weight in contrast.parts:
        zones.setdefault(cell.treatment, {}).setdefault(cell.zone, []).append((cell, weight))
    if len(zones) != 2 or not blocks:
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
        tuple(
            number * math.fsum(w * c.mean for c, w in parts if c.mean is not None)
            for parts in found.values()
        ),
        tuple(number * rounding_half(parts, resolution) for parts in found.values()),
    )


def within_term(
    found: Differences, resolution: float, unit: str, read_unit: str, *, is_relative: bool
) -> Term:
    """The type A term of differences within blocks.

    `resolution` is the step of the display in `read_unit`, `unit` that of the differences.
    """
    spread, number = rounded_spread(found.values, found.halves), len(found.values)
    u = spread.sd / math.sqrt(number)
    # Ratios have no step of their own: it is that of the display over what was read.
    place = max(0.0 if is_relative else resolution, u) or None
    return Term(
        f"{WITHIN}{found.first} less {found.second}",
        Kind.A,
        u,
        number - 1,
        1.0,
        Distribution.NORMAL,
        f"Standard deviation of the differences in {number} blocks over the root of their number: "
        f"{_listed(found.values, place)}{suffix(unit)}. The scatter of readings is "
        "in it, and what sets one block apart from another is not."
        + spread.said(resolution, read_unit),
    )


def own_spreads(changes: Sequence[Contrast], blocks: Blocks) -> list[tuple[float, int]] | None:
    """Uncertainty and degrees of freedom of each treatment's mean change, blocks taken off.

    For drawing several treatments together: residuals of the table of treatments by blocks, each
    treatment's by itself, so that two of them have about the uncertainty of their difference (on
    average just that). None where a treatment was not read in every block.
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
    of_block = {b: math.fsum(row[b] for row in rows) / k for b in numbers}
    whole = math.fsum(of_block.values()) / len(numbers)
    found = []
    for row in rows:
        mean = math.fsum(row.values()) / len(numbers)
        squares = math.fsum((row[b] - of_block[b] - mean + whole) ** 2 for b in numbers)
        variance = squares / (len(numbers) - 1) * k / (k - 1)
        found.append((math.sqrt(variance / len(numbers)), len(numbers) - 1))
    return found


def _listed(values: Sequence[float], place: float | None) -> str:
    """The differences, so that the figure can be followed."""
    if len(values) > _MOST_LISTED:
        low, high = (rounded(edge(values), place) for edge in (min, max))
        return f"they lie from {low} to {high}"
    return ", ".join(signed(value, place) for value in values)
