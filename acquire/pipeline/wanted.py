"""The places of a run that are wanted: those of the plan, but for stages that were given up.

Runs on the desk's thread; changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable

from acquire.model import Measure, Plan, Slot, Target, arrange
from acquire.store.shelf import Shelf
from acquire.trial.gone import given_up, gone_at


def wanted_targets(
    shelf: Shelf, plan: Plan, measure: Measure, stage: str, filled: Iterable[Slot]
) -> list[Target]:
    """In plan order. What is filled stays, of zones of which the stage was given up, too."""
    targets = list(arrange(plan, measure, stage))
    away = {zone for zone, at in given_up(shelf.worked.given_up(plan.id)) if at == stage}
    if not away:
        return targets
    held = {slot.target for slot in filled}
    return [t for t in targets if t.zone not in away or t in held]


def gone_zones(shelf: Shelf, plan: Plan, stage: str) -> set[str]:
    """Zones whose surface of a stage is gone: nobody is sent to read them."""
    worked = shelf.worked
    found = gone_at(
        plan,
        stage,
        worked.washes(plan.id),
        worked.applications(plan.id),
        worked.looked_at(plan.id),
    )
    return {zone for one in found for zone in one.zones}
