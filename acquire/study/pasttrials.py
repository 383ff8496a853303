"""How readings and zones scattered in the last trials of a meter, for who plans another one.

A study of marked spots says it of the meter alone, and better; this stands where none was made. It
decides nothing and is lent to no result. Reads only. One thread at a time uses a reader.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from acquire.analysis.laws.special import chdtri
from acquire.analysis.samples.summary import summarise
from acquire.analysis.specimens.scatter import Pooled, pooled_sd
from acquire.model import Plan
from acquire.settings import parse_plan
from acquire.study.found import Reader

LATEST = 3
"""Trials of a meter that are looked at: older ones are of other panels and other hands."""
_DOUBT = 0.05
LEAST_NU = 6
"""Degrees of freedom that a scatter needs to be planned with. Our choice: a factor of two."""


class Reading(NamedTuple):
    """One reading that counts: where it belongs, and its value in the unit of its quantity."""

    trial: str
    measure: str
    zone: str
    stage: str
    value: float


class PastScatter(NamedTuple):
    """Of one channel of a meter, in the unit of its quantity; each None where too little is known.

    `readings` is the scatter within a zone and stage, `zones` how much the changes of zones with
    one treatment differ beyond that, and `zones_most` what they hardly differ by more than: the
    upper limit of 95 %. `trials` are those that it was found in.
    """

    readings: Pooled | None
    zones: Pooled | None
    trials: tuple[str, ...]
    zones_most: float | None = None


def past_scatter(reader: Reader, serial: str, channel: str) -> PastScatter:
    """What the last trials of a serial number say at a channel."""
    plans = _latest_plans(reader, serial)
    if not plans:
        return PastScatter(None, None, ())
    marks = ", ".join("?" * len(plans))
    rows = reader.rows(
        "SELECT trial, measure, zone, stage, value_real FROM readings WHERE run_id IN "  # noqa: S608 - marks alone
        "(SELECT run.id FROM run JOIN trial AS t ON t.id = run.trial_id "
        f"WHERE run.serial = ? AND t.trial IN ({marks})) "
        "AND role = 'run' AND counts = 1 AND channel = ? ORDER BY reading_id",
        [serial, *plans, channel],
    )
    return scatter_of(plans.values(), [Reading(*row) for row in rows])


def scatter_of(plans: Iterable[Plan], readings: Sequence[Reading]) -> PastScatter:
    """The same of readings at one channel; those that no plan has a place for say nothing."""
    cells: dict[tuple[str, str, str, str], list[float]] = defaultdict(list)
    for r in readings:
        cells[r.trial, r.measure, r.stage, r.zone].append(r.value)
    within = _pooled(cells.values())
    beyond = _beyond_readings([x for plan in plans for x in _of_zones(plan, cells)], within)
    seen = tuple(p for p in dict.fromkeys(r.trial for r in readings))
    zones = None if beyond is None else _known(beyond.found)
    most = None if beyond is None or zones is None else beyond.most
    return PastScatter(_known(within), zones, seen, most)


class _Side(NamedTuple):
    """Changes of the zones of a treatment, and what one reading's variance counts in such one."""

    spread: Pooled
    share: float


def _of_zones(plan: Plan, cells: dict[tuple[str, str, str, str], list[float]]) -> Iterator[_Side]:
    """For each treatment of several zones: the spread of its zones' changes at the last stage."""
    for measure in plan.measures:
        bare, *later = measure.stages
        for stage in reversed(later):
            found: dict[str, list[tuple[float, float]]] = defaultdict(list)
            for zone in plan.zones:
                before = cells.get((plan.id, measure.id, bare, zone.id), [])
                after = cells.get((plan.id, measure.id, stage, zone.id), [])
                if before and after:
                    change = math.fsum(after) / len(after) - math.fsum(before) / len(before)
                    found[zone.treatment].append((change, 1 / len(before) + 1 / len(after)))
            sides = [side for side in found.values() if len(side) > 1]
            if sides:
                yield from (_side(side) for side in sides)
                break


def _side(changes: Sequence[tuple[float, float]]) -> _Side:
    spread = summarise([change for change, _ in changes]).sd or 0.0
    share = math.fsum(share for _, share in changes) / len(changes)
    return _Side(Pooled(spread, len(changes) - 1), share)


class _Beyond(NamedTuple):
    """What zones differ by, and its upper limit of 95 %."""

    found: Pooled
    most: float


def _beyond_readings(sides: Sequence[_Side], within: Pooled | None) -> _Beyond | None:
    """What the changes of zones differ by, less what the scatter of their readings explains.

    All together first: a side that spreads by less than its readings do by chance makes up for one
    that spreads by more. Taken off side by side, and none below zero, some spread of zones would be
    found where there is none. The variance is so without bias as long as it is above zero; where
    readings explain more than all of it none is left (ISO 5725-2, of the component between
    laboratories, from memory), which of zones that do not differ at all makes 0.15 to 0.2 standard
    deviations of their readings on average, and hides one of as much as half of it in a quarter of
    trials. So the limit stands beside: that of the whole variance by chi-squared, less the same.
    """
    if not sides:
        return None
    found = pooled_sd([x.spread.sd for x in sides], [x.spread.nu for x in sides])
    share = math.fsum(x.share * x.spread.nu for x in sides) / found.nu
    explained = share * within.sd**2 if within is not None else 0.0
    largest = found.sd**2 * found.nu / float(chdtri(found.nu, 1 - _DOUBT))
    return _Beyond(
        Pooled(math.sqrt(max(0.0, found.sd**2 - explained)), found.nu),
        math.sqrt(max(0.0, largest - explained)),
    )


def _pooled(cells: Iterable[Sequence[float]]) -> Pooled | None:
    read = [summarise(cell) for cell in cells if len(cell) > 1]
    known = [(s.sd, s.n - 1) for s in read if s.sd is not None]
    return pooled_sd([sd for sd, _ in known], [nu for _, nu in known]) if known else None


def _known(found: Pooled | None) -> Pooled | None:
    return found if found is not None and found.nu >= LEAST_NU else None


def _latest_plans(reader: Reader, serial: str) -> dict[str, Plan]:
    """The plans of the last trials that were read with this meter, the latest first."""
    rows = reader.rows(
        "SELECT t.trial, max(run.id) AS last FROM run JOIN trial AS t ON t.id = run.trial_id "
        "WHERE run.serial = ? AND t.id NOT IN "
        "(SELECT id FROM trial WHERE instr(text, '[study]') > 0) "
        "GROUP BY t.trial ORDER BY last DESC LIMIT ?",
        (serial, LATEST),
    )
    plans = {}
    for row in rows:
        (newest,) = reader.rows(
            "SELECT text FROM trial WHERE trial = ? ORDER BY id DESC LIMIT 1", (row["trial"],)
        )
        plan = parse_plan(newest["text"], f"trial {row['trial']} as stored")
        if plan.study is None:
            plans[plan.id] = plan
    return plans
