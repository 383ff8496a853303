"""The order in which a run offers its targets."""

from __future__ import annotations

import random

from acquire.model.plan import Measure, Order, Plan
from acquire.model.target import Target


def arrange(plan: Plan, measure: Measure, stage: str) -> tuple[Target, ...]:
    """All targets of one measure at one stage, in the order of the plan.

    A shuffled order depends on the plan's seed, the measure and the stage alone, so that the
    order a reader finds in the plan is the order that was offered at the bench.
    """
    zones = [zone.id for zone in plan.zones]
    replicates = range(1, measure.replicates + 1)
    if measure.order is Order.BY_ZONE:
        return tuple(Target(z, stage, r) for z in zones for r in replicates)
    # Not a secret: a reproducible layout is wanted here.
    draw = random.Random(f"{measure.seed}/{measure.id}/{stage}")  # noqa: S311
    targets: list[Target] = []
    for replicate in replicates:
        round_of = list(zones)
        if measure.order is Order.SHUFFLED:
            draw.shuffle(round_of)
        targets.extend(Target(z, stage, replicate) for z in round_of)
    return tuple(targets)
