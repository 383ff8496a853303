"""How far a trial has come: what is filled, rated and washed, and what is next.

Reads only; whoever owns the query owns the thread. As quick in a store of years as in a new one:
only rows of the trial are looked at.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from acquire.model import Plan, Rated
from acquire.store.placed import FILLED
from acquire.store.work_rows import RatingRow
from acquire.store.worked import Query, Worked
from acquire.trial.gone import Place, given_up
from acquire.trial.washes import counts_of


@dataclass(frozen=True, slots=True)
class Taken:
    """So many of the places of a measure, or things of a scale, at a stage.

    `what` is the id of the measure or scale. `stage` is empty for a scale about products.
    `given_up` counts those that are open and that nobody is to take any more.
    """

    stage: str
    what: str
    is_scale: bool
    done: int
    wanted: int
    given_up: int = 0

    @property
    def is_complete(self) -> bool:
        return self.done + self.given_up >= self.wanted


@dataclass(frozen=True, slots=True)
class Progress:
    """`taken` goes by stage, measures before scales; those of products come last.

    `by_zone` has, by zone and stage, how many places of all measures are filled, `places` by stage
    how many a zone has. `washes` counts by zone. `given_up` are the zones and stages of which
    nothing more is wanted.
    """

    taken: tuple[Taken, ...]
    by_zone: Mapping[tuple[str, str], int]
    places: Mapping[str, int]
    washes: Mapping[str, int]
    given_up: frozenset[Place] = frozenset()

    @property
    def next_stage(self) -> str | None:
        """The first stage at which a place is open; None where all are filled."""
        return next((t.stage for t in self.taken if not t.is_scale and not t.is_complete), None)

    @property
    def has_begun(self) -> bool:
        return any(t.done for t in self.taken)

    def open_at(self, stage: str) -> tuple[Taken, ...]:
        return tuple(t for t in self.taken if t.stage == stage and not t.is_complete)


def progress_of(query: Query, plan: Plan) -> Progress:
    """The progress of a plan, by the store."""
    worked = Worked(query)
    ratings = worked.ratings(plan.id)
    by_zone: Counter[tuple[str, str]] = Counter()
    places: Counter[str] = Counter()
    taken: list[Taken] = []
    zones = {zone.id for zone in plan.zones}
    away = frozenset(given_up(worked.given_up(plan.id)))
    for stage in plan.stages:
        for measure in plan.measures:
            if stage not in measure.stages:
                continue
            each = measure.replicates * len(measure.channels)
            filled = {
                (r["zone"], r["replicate"], r["channel"])
                for r in query(FILLED, (plan.id, measure.id, stage))
                if r["zone"] in zones
                and r["channel"] in measure.channels
                and r["replicate"] <= measure.replicates
            }
            by_zone.update((zone, stage) for zone, _, _ in filled)
            places[stage] += each
            gone = {zone for zone in zones if (zone, stage) in away}
            missing = each * len(gone) - sum(zone in gone for zone, _, _ in filled)
            taken.append(Taken(stage, measure.id, False, len(filled), each * len(zones), missing))
        taken += _rated_at(plan, stage, ratings, away)
    taken += _rated_products(plan, ratings)
    return Progress(tuple(taken), by_zone, places, counts_of(plan, worked.washes(plan.id)), away)


def _rated_at(
    plan: Plan, stage: str, ratings: list[RatingRow], away: frozenset[Place]
) -> list[Taken]:
    found = []
    for scale in plan.scales:
        if scale.rated is Rated.ZONE and stage in scale.stages:
            done = {r.zone for r in ratings if (r.scale, r.stage) == (scale.id, stage) and r.zone}
            missing = sum((z.id, stage) in away and z.id not in done for z in plan.zones)
            found.append(Taken(stage, scale.id, True, len(done), len(plan.zones), missing))
    return found


def _rated_products(plan: Plan, ratings: list[RatingRow]) -> list[Taken]:
    products = [t for t in plan.treatments if not t.is_control]
    return [
        Taken("", s.id, True, len({r.treatment for r in ratings if r.scale == s.id}), len(products))
        for s in plan.scales
        if s.rated is Rated.TREATMENT
    ]
