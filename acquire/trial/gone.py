"""Which surfaces of a plan are gone, and which stages were given up.

A zone can be read bare until its product is on, and at a stage until it was washed more often than
the stage allows: what came after cannot be taken off again. Whether somebody reads there all the
same is theirs to decide; it is told before, and on the page. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from acquire.model import Plan
from acquire.store.work_rows import ApplicationRow, GivingUpRow, WashRow
from acquire.trial.applications import latest_coats
from acquire.trial.washes import counts_of

Place = tuple[str, str]
"""A zone at a stage."""


class Gone(NamedTuple):
    """Zones whose surface of a stage is gone, and by what, as a part of a sentence."""

    zones: tuple[str, ...]
    why: str


def gone_at(
    plan: Plan,
    stage: str,
    washes: Iterable[WashRow],
    applications: Iterable[ApplicationRow],
    looked_at: Iterable[Place] = (),
) -> tuple[Gone, ...]:
    """What is gone of a stage, each zone once, by the reason that came last.

    `looked_at` are the places with a reading or a rating: whoever read a zone after ten washes had
    washed it, whatever was counted.
    """
    if stage not in plan.stages or plan.study is not None:
        return ()
    wanted = washes_before(plan, stage)
    counts = counts_of(plan, washes)
    coats = latest_coats(applications)
    later, controls = _later(plan, stage, looked_at), _controls(plan)
    found: dict[str, list[str]] = {}
    for zone in plan.zones:
        why = ""
        if wanted is not None and counts[zone.id] > wanted:
            why = _washed(counts[zone.id])
        elif after := later.get(zone.id):
            why = f"{after} was looked at"
        elif _is_bare(plan, stage) and zone.id in coats and not controls[zone.id]:
            why = "the product is on"
        if why:
            found.setdefault(why, []).append(zone.id)
    return tuple(Gone(tuple(zones), why) for why, zones in found.items())


def washes_before(plan: Plan, stage: str) -> int | None:
    """How many washes a stage comes after; None where the plan does not say.

    What stands before the first stage with washes comes before any wash, and so does the first.
    """
    washes = dict(plan.washes)
    if stage in washes:
        return washes[stage]
    first = next((k for k, s in enumerate(plan.stages) if washes.get(s)), 1)
    return 0 if stage in plan.stages[:first] else None


def _later(plan: Plan, stage: str, looked_at: Iterable[Place]) -> dict[str, str]:
    """By zone the first later stage that was looked at, and had another surface."""
    order = {s: k for k, s in enumerate(plan.stages)}
    controls = _controls(plan)
    found: dict[str, str] = {}
    for zone, other in sorted(looked_at, key=lambda p: order.get(p[1], 0)):
        if zone in controls and ends(plan, stage, other, is_control=controls[zone]):
            found.setdefault(zone, other)
    return found


def ends(plan: Plan, stage: str, other: str, *, is_control: bool) -> bool:
    """Whether the surface of a stage is gone from a zone when another stage has come."""
    if other not in plan.stages or plan.stages.index(other) <= plan.stages.index(stage):
        return False
    own, washes = washes_before(plan, stage), washes_before(plan, other)
    washed = own is not None and washes is not None and washes > own
    return washed or (_is_bare(plan, stage) and not is_control)


def _is_bare(plan: Plan, stage: str) -> bool:
    return len(plan.stages) > 1 and stage == plan.stages[0]


def _controls(plan: Plan) -> dict[str, bool]:
    """By zone whether it is untreated."""
    control = {t.id for t in plan.treatments if t.is_control}
    return {z.id: z.treatment in control for z in plan.zones}


def _washed(count: int) -> str:
    return f"{count} wash{' is' if count == 1 else 'es are'} counted"


def given_up(rows: Sequence[GivingUpRow]) -> dict[Place, GivingUpRow]:
    """The places that nobody is to read any more, each with the row that says so."""
    found: dict[Place, GivingUpRow] = {}
    for row in rows:
        for zone in row.zones.split(","):
            if row.is_given_up:
                found[zone, row.stage] = row
            else:
                found.pop((zone, row.stage), None)
    return found
