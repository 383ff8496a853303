"""Stages that were looked at after other washes than the plan says. Pure; any thread.

Told from the rows: a wash counts for a stage where it was recorded before the first reading or
rating of that zone at the stage. Results go by the plan's count, so a mark stands beside each life.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import NamedTuple

from acquire.report.record.record import Standing, TrialRecord
from acquire.report.words.wording import listed
from acquire.trial.gone import washes_before
from acquire.trial.readiness import washed
from acquire.trial.washes import zones_of


class OtherCount(NamedTuple):
    """So many washes `had` been counted where the plan `wanted` another number."""

    had: int
    wanted: int


OtherCounts = Mapping[tuple[str, str], OtherCount]
"""By zone and stage, in the order of the plan."""


def other_counts(record: TrialRecord) -> dict[tuple[str, str], OtherCount]:
    """Zones at stages that were looked at after other washes than planned.

    Empty where none was counted with the program: the counts are those of the plan alone then.
    """
    rows = record.work.washes
    if not rows:
        return {}
    first = record.first_read(Standing.COUNTS)
    for rating in record.work.ratings:
        place = rating.zone, rating.stage
        first[place] = min(rating.at_utc_ns, first.get(place, rating.at_utc_ns))
    washed_zones = [(frozenset(zones_of(w)), w) for w in rows]
    found = {}
    for stage in record.plan.stages:
        wanted = washes_before(record.plan, stage)
        for zone in record.plan.zones if wanted is not None else ():
            at = first.get((zone.id, stage))
            if at is None or wanted is None:
                continue
            had = sum(w.washes for z, w in washed_zones if zone.id in z and w.at_utc_ns <= at)
            if had != wanted:
                found[zone.id, stage] = OtherCount(had, wanted)
    return found


def counted_mark(others: OtherCounts, zones: Collection[str], washes: Collection[float]) -> str:
    """``COUNTED 2, not 5; 4, not 10``: beside what is said of zones after these washes of the plan.

    Empty where as many were counted as planned.
    """
    found: dict[int, dict[int, None]] = {}
    for (zone, _), other in others.items():
        if zone in zones and other.wanted in washes:
            found.setdefault(other.wanted, {})[other.had] = None
    said = "; ".join(
        f"{listed([str(n) for n in sorted(had)])}, not {wanted}" for wanted, had in found.items()
    )
    return f"COUNTED {said}" if said else ""


def behind(mark: str) -> str:
    """A mark as it follows a figure; empty for none."""
    return f" ({mark})" if mark else ""


def other_count_lines(record: TrialRecord) -> Iterator[str]:
    """A sentence for each stage and number that was counted instead."""
    found: dict[tuple[str, OtherCount], list[str]] = {}
    for (zone, stage), other in other_counts(record).items():
        found.setdefault((stage, other), []).append(zone)
    places = {stage: k for k, stage in enumerate(record.plan.stages)}
    for (stage, other), zones in sorted(found.items(), key=lambda x: (places[x[0][0]], x[0][1])):
        after = f"after {washed(other.wanted)}" if other.wanted else "before any wash"
        yield (
            f"At {stage}, which comes {after}, {listed(zones, 12)} "
            f"{'was' if len(zones) == 1 else 'were'} {_looked(record, stage, zones)} when "
            f"{washed(other.had)} had been counted. Results go by the plan's count."
        )


def _looked(record: TrialRecord, stage: str, zones: Iterable[str]) -> str:
    mine = {(zone, stage) for zone in zones}
    is_read = any(
        (r.zone, r.stage) in mine and r.standing is Standing.COUNTS for r in record.readings
    )
    return "read" if is_read else "rated"
