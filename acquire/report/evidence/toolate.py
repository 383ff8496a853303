"""What was read on a surface that was gone, and what was given up, in sentences. Pure.

Told from the rows: a zone is bare until its first coat, and has a stage's surface until a later
stage with another one was read.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from acquire.model import Plan
from acquire.report.record.record import Standing, TrialRecord
from acquire.report.words.tabled import MARK
from acquire.report.words.wording import counted, day, listed
from acquire.store.work_rows import ApplicationRow, GivingUpRow
from acquire.trial.gone import ends, given_up

_MOST_NAMED = 12
_Place = tuple[str, str]
"""Zone and stage."""


class Taken(NamedTuple):
    """A reading that is not void; one that became suspect does not count."""

    id: int
    zone: str
    stage: str
    at_utc_ns: int
    counts: bool


def too_late_lines(record: TrialRecord) -> tuple[str, ...]:
    """A sentence for each stage with such readings, and for each giving up that stands."""
    if record.plan.study is not None:
        return ()
    return (*_too_late(record), *_given_up(record))


def late_readings(record: TrialRecord) -> dict[int, str]:
    """The readings that count and were taken when their surface was gone, and since what."""
    first = record.first_read(Standing.COUNTS, Standing.SUSPECT)
    since = _since(record.plan, record.work.applications, first)
    if not since:
        return {}
    return {
        r.id: gone[1]
        for r in record.readings
        if r.standing is Standing.COUNTS
        and (gone := since.get((r.zone, r.stage))) is not None
        and r.at_utc_ns > gone[0]
    }


def late_of(
    plan: Plan, applications: Iterable[ApplicationRow], readings: Iterable[Taken]
) -> dict[int, str]:
    """The same of readings as they were taken, those that became suspect among them."""
    taken = list(readings)
    first: dict[_Place, int] = {}
    for r in taken:
        first[r.zone, r.stage] = min(r.at_utc_ns, first.get((r.zone, r.stage), r.at_utc_ns))
    since = _since(plan, applications, first)
    return {
        r.id: gone[1]
        for r in taken
        if r.counts and (gone := since.get((r.zone, r.stage))) is not None and r.at_utc_ns > gone[0]
    }


def _since(
    plan: Plan, applications: Iterable[ApplicationRow], first: Mapping[_Place, int]
) -> dict[_Place, tuple[int, str]]:
    """When the surface of each place was gone, and by what; `first` are first readings of places.

    Without those whose surface is there still, and empty for a study, which has one surface.
    """
    if plan.study is not None:
        return {}
    coats: dict[str, int] = {}
    for row in applications:
        coats[row.zone] = min(row.applied_utc_ns, coats.get(row.zone, row.applied_utc_ns))
    control = {t.id for t in plan.treatments if t.is_control}
    since: dict[_Place, tuple[int, str]] = {}
    for k, stage in enumerate(plan.stages):
        ending = {
            is_control: [o for o in plan.stages if ends(plan, stage, o, is_control=is_control)]
            for is_control in (False, True)
        }
        for zone in plan.zones:
            gone = [
                (first[zone.id, other], f"{other} was read there")
                for other in ending[zone.treatment in control]
                if (zone.id, other) in first
            ]
            if k == 0 and zone.treatment not in control and zone.id in coats:
                gone.append((coats[zone.id], "the product was put on"))
            if gone:
                since[zone.id, stage] = min(gone)
    return since


def _too_late(record: TrialRecord) -> Iterator[str]:
    late = late_readings(record)
    stages = {s: k for k, s in enumerate(record.plan.stages)}
    zones = {z.id: k for k, z in enumerate(record.plan.zones)}
    found: dict[tuple[str, str], list[str]] = {}
    mine = [r for r in record.readings if r.id in late]
    for r in sorted(mine, key=lambda one: (stages[one.stage], zones[one.zone])):
        found.setdefault((r.stage, late[r.id]), []).append(r.zone)
    for (stage, why), where in found.items():
        verb = "was" if len(where) == 1 else "were"
        yield (
            f"{MARK}: {counted(len(where), 'reading')} of {stage} at "
            f"{listed(list(dict.fromkeys(where)), _MOST_NAMED)} {verb} taken after {why}. "
            f"That was not the surface of {stage} any more; they count all the same, and "
            "whatever is said by them is to be doubted."
        )


def _given_up(record: TrialRecord) -> Iterator[str]:
    plan = record.plan
    found: dict[GivingUpRow, list[str]] = {}
    for (zone, _), row in given_up(record.work.given_up).items():
        found.setdefault(row, []).append(zone)
    for row, zones in found.items():
        places = sum(
            m.replicates * len(m.channels) for m in plan.measures if row.stage in m.stages
        ) * len(zones)
        taken = sum(
            r.standing is Standing.COUNTS and r.stage == row.stage and r.zone in zones
            for r in record.readings
        )
        left = max(0, places - taken)
        verb = "was" if left == 1 else "were"
        yield (
            f"Given up: {row.stage} of {listed(zones, _MOST_NAMED)}, on {day(row.at_utc_ns)} "
            f"({row.why}); {counted(left, 'planned reading')} {verb} not taken."
        )
