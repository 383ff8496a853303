"""How many zones a product and readings a zone a comparison needs. Pure; any thread.

With several zones a side their own spread decides (`acquire.analysis.specimens.zones`): the change
of a zone varies by how zones differ from each other and by the scatter of its two means of n
readings, so a side of z zones has the standard uncertainty sqrt((s_zone^2 + 2 s^2/n) / z). Zones of
all k products and the control tell it together, with (k + 1)(z - 1) degrees of freedom; of one
product and the control each side by itself, with z - 1. Within blocks z - 1 of these go to the
blocks (`acquire.analysis.specimens.blocks`); what sets blocks apart is not taken off here, since
nobody knows it beforehand. The difference of two sides is shown by the limit that will decide,
which takes the spread of these two where it comes out larger than that of all
(`acquire.analysis.laws.limitlaw`). With one zone a side the readings alone decide
(`acquire.analysis.plans.planning`), for a statement about these zones.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from acquire.analysis.budget.reach import POWER, reach_of
from acquire.analysis.budget.uncertainty import CONFIDENCE, Distribution, Kind, Term
from acquire.analysis.laws.dunnett import equal_loadings
from acquire.analysis.plans.planning import net_change_seen
from acquire.analysis.treatments.ownspread import own_nu

FEWEST_ZONES, MOST_ZONES = 2, 12
FEWEST_READINGS, MOST_READINGS = 3, 20
"""Between which a proposal is looked for; a plan may have fewer and more. Our choice: one zone
says nothing of zones, two readings leave no odd one out, and beyond these sizes it is work for
weeks."""
ZONE_COSTS = 5
"""Readings that a zone more is worth, for it has to be prepared, treated and washed. Our choice."""


class Proposal(NamedTuple):
    """So many zones a product and readings a zone and stage, and the net change that they show.

    `is_enough` says whether that is as small as was wanted; None where nothing was wanted.
    """

    zones: int
    readings: int
    seen: float | None
    is_enough: bool | None


def zones_seen(
    sd: float, zone_sd: float, readings: int, zones: int, treatments: int,
    nu: float | None = None, *, is_paired: bool = False,
) -> float | None:  # fmt: skip
    """The net change that so many zones a side show in 80 of 100 repeats, in the unit of `sd`.

    `treatments` are compared with the control at once; `is_paired` where that is done within
    blocks, which leaves one line of their differences. None where one zone was read once and no
    study (with `nu` degrees of freedom) knows its scatter. ValueError below one of anything.
    """
    if min(readings, zones, treatments) < 1:
        raise ValueError(f"one of each or more, got {readings}, {zones} and {treatments}")
    if zones == 1:
        return net_change_seen(sd, readings, nu, treatments)
    u = math.sqrt((zone_sd**2 + 2 * sd**2 / readings) / zones)
    if u == 0:
        return 0.0
    nu_zones, both, own = zones - 1, math.sqrt(2), 0.0
    if treatments > 1:
        nu_zones *= treatments + (not is_paired)
        own = own_nu([zones] if is_paired else [zones, zones])
    lines = [both * u] if is_paired or treatments > 1 else [u, u]
    # Zones of all tell together how they differ, so the limit is Dunnett's; one is by itself.
    lambdas = equal_loadings(treatments)
    return reach_of(
        [
            Term("spread of zones", Kind.A, line, nu_zones, 1.0, Distribution.NORMAL, "")
            for line in lines
        ],
        own_nu=own,
        lambdas=lambdas,
    ).smallest(1 - CONFIDENCE, POWER)


def proposal(
    sd: float,
    zone_sd: float,
    wanted: float | None,
    treatments: int,
    zones: int | None = None,
    nu: float | None = None,
    most_zones: int = MOST_ZONES,
    *,
    is_paired: bool = False,
) -> Proposal:
    """The least work that shows a net change of `wanted`, or as much as is sensible.

    With `zones` given only the readings are looked for, else up to `most_zones`. Without a wanted
    change three zones and five readings, which is little enough for a day and lets zones show how
    they differ.
    """

    def seen_by(readings: int, each: int) -> float | None:
        return zones_seen(sd, zone_sd, readings, each, treatments, nu, is_paired=is_paired)

    if wanted is None:
        z, n = zones or 3, 5
        return Proposal(z, n, seen_by(n, z), None)
    found = [
        (each * (count + ZONE_COSTS), Proposal(each, count, seen, True))
        for each in (range(FEWEST_ZONES, most_zones + 1) if zones is None else (zones,))
        if (count := _fewest(seen_by, wanted, each)) is not None
        and (seen := seen_by(count, each)) is not None
    ]
    if found:
        return min(found)[1]
    # Nobody goes as far as that for a difference that would still not be shown.
    z, n = zones or min(4, most_zones), 10
    return Proposal(z, n, seen_by(n, z), False)


def _fewest(seen_by: Callable[[int, int], float | None], wanted: float, zones: int) -> int | None:
    for readings in range(FEWEST_READINGS, MOST_READINGS + 1):
        seen = seen_by(readings, zones)
        if seen is not None and seen <= wanted:
            return readings
    return None
