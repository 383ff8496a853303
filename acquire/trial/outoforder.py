"""What an application or a wash would do out of its order, told before it is recorded.

It is asked about and never refused: what was done at the bench was done, and is to be written down.
Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from acquire.model import Plan
from acquire.store.work_rows import ApplicationRow, WashRow
from acquire.trial.applications import latest_coats
from acquire.trial.gone import washes_before
from acquire.trial.opened import open_at
from acquire.trial.readiness import names, nothing_on, washed
from acquire.trial.washes import TYPED, counts_of
from acquire.trial.work import Work


def wash_doubts(work: Work, zones: Sequence[str], washes: int) -> list[str]:
    """Products that are not on yet, before the first wash; looks that the washes would end."""
    plan, counts = work.plan, counts_of(work.plan, work.washes)
    fresh = [zone for zone in zones if not counts[zone]]
    row = WashRow(0, 0, None, plan.id, ",".join(zones), washes, TYPED, None, "")
    return [
        *(nothing_on(plan, fresh, work.applications, work.looked_at()) if fresh else ()),
        *_ended(work, replace(work, washes=[*work.washes, row])),
    ]


def leaves_a_stage(plan: Plan, counts: Mapping[str, int], zones: Sequence[str]) -> bool:
    """Whether one more wash takes one of the zones past a count at which the plan has a stage."""
    wanted = {washes_before(plan, stage) for stage in plan.stages}
    return any(counts[zone] in wanted for zone in zones)


def application_doubts(work: Work, zones: Sequence[str], applied_utc_ns: int) -> list[str]:
    """Zones that have a coat, were washed or looked at later than bare; looks that end by it.

    Nothing where the control is among them, since that is refused.
    """
    if any(work.plan.treatment_of(zone).is_control for zone in zones):
        return []
    plan, counts = work.plan, counts_of(work.plan, work.washes)
    coats = latest_coats(work.applications)
    on = [zone for zone in zones if zone in coats]
    found = []
    if on:
        found.append(
            f"{names(on)} {'has' if len(on) == 1 else 'have'} the product on already: this is "
            f"another coat. A wrong entry is taken back by coatbench apply {plan.id} "
            f"{' '.join(on)} --take-back --reason TEXT"
        )
    wet = [zone for zone in zones if counts[zone]]
    if wet:
        least = min(counts[zone] for zone in wet)
        some = washed(least) if len({counts[z] for z in wet}) == 1 else f"{washed(least)} or more"
        found.append(f"{names(wet)} had {some} before this application")
    bare = plan.stages[0]
    read = work.last_read(bare)
    before = [z for z in zones if z not in coats and read.get(z, 0) > applied_utc_ns]
    if before:
        found.append(
            f"{bare} of {names(before)} was read after the time told: those readings would be of "
            "the product"
        )
    later: dict[str, list[str]] = {}
    for zone, stage in work.looked_at():
        if zone in zones and zone not in coats and stage != bare:
            later.setdefault(stage, []).append(zone)
    found += [f"{stage} of {names(own)} was looked at already" for stage, own in later.items()]
    rows = [
        ApplicationRow(0, applied_utc_ns, None, plan.id, zone, applied_utc_ns, "", None, "")
        for zone in zones
    ]
    return [*found, *_ended(work, replace(work, applications=[*work.applications, *rows]))]


def _ended(work: Work, after: Work) -> Iterator[str]:
    """Readings and ratings of a stage that could be taken before an act, and not after it."""
    for stage in work.plan.stages:
        then = open_at(after, stage)
        if not (then.lost or then.ratings_lost):
            continue
        now = open_at(work, stage)
        parts = []
        for measure, (number, _) in then.lost.items():
            more = number - now.lost.get(measure, (0, 0))[0]
            if more:
                parts.append(f"{more} reading{'' if more == 1 else 's'} of {measure}")
        more = then.ratings_lost - now.ratings_lost
        if more:
            parts.append(f"{more} rating{'' if more == 1 else 's'}")
        if parts:
            before = {zone for gone in now.gone for zone in gone.zones}
            zones = [z for gone in then.gone for z in gone.zones if z not in before]
            told = " and ".join(filter(None, (", ".join(parts[:-1]), parts[-1])))
            yield (
                f"{stage} of {names(zones)} was not looked at in full: {told} cannot be taken "
                "after this any more"
            )
