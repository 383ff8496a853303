"""Ratings as they stand: the last one of each rater on each thing, and what is still to be rated.

A later rating of the same thing by the same rater takes the place of the earlier one; both stay in
the store. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from acquire.model import Plan, Rated, Scale
from acquire.store.work_rows import KeyOpeningRow, RatingRow
from acquire.trial.people import plain_name

SHOWN = "shown"


@dataclass(frozen=True, slots=True)
class Rateable:
    """One thing to be rated: a zone at a stage, or a product; the other two names are empty."""

    scale: str
    stage: str = ""
    zone: str = ""
    treatment: str = ""


def thing_of(row: RatingRow) -> Rateable:
    """What a rating is about. Of a zone what is on it goes by the plan."""
    if row.zone:
        return Rateable(row.scale, row.stage, row.zone)
    return Rateable(row.scale, treatment=row.treatment)


def things(plan: Plan, stage: str | None) -> tuple[Rateable, ...]:
    """All that can be rated at a stage, zone by zone; the products where `stage` is None."""
    if stage is None:
        return tuple(
            Rateable(scale.id, treatment=t.id)
            for t in plan.treatments
            if not t.is_control
            for scale in plan.scales
            if scale.rated is Rated.TREATMENT
        )
    return tuple(
        Rateable(scale.id, stage, zone.id)
        for zone in plan.zones
        for scale in scales_at(plan, stage)
    )


def scales_at(plan: Plan, stage: str) -> tuple[Scale, ...]:
    """The scales on which zones are rated at a stage."""
    return tuple(s for s in plan.scales if s.rated is Rated.ZONE and stage in s.stages)


def standing(rows: Iterable[RatingRow]) -> dict[tuple[str, Rateable], RatingRow]:
    """The rating that holds for each rater and thing."""
    return {(row.rater, thing_of(row)): row for row in rows}


def raters(rows: Iterable[RatingRow]) -> tuple[str, ...]:
    """Who has rated, in the order in which they began."""
    return tuple(dict.fromkeys(row.rater for row in rows))


def same_rater(rows: Iterable[RatingRow], name: str) -> str:
    """The name as this rater has written it before: ``ada`` is Ada, and no second rater."""
    wanted = plain_name(name)
    return next(
        (row.rater for row in rows if plain_name(row.rater) == wanted), " ".join(name.split())
    )


def left_to(
    rater: str, wanted: Sequence[Rateable], rows: Iterable[RatingRow]
) -> tuple[Rateable, ...]:
    """What a rater has not rated yet, in the order of `wanted`."""
    done = {thing for who, thing in standing(rows) if plain_name(who) == plain_name(rater)}
    return tuple(thing for thing in wanted if thing not in done)


def is_blind(plan: Plan, openings: Iterable[KeyOpeningRow], rater: str) -> bool:
    """Whether a rater does not know which product each code is, as far as is recorded."""
    if not plan.is_blind:
        return False
    return not any(o.how != SHOWN or plain_name(o.who) == plain_name(rater) for o in openings)


def not_blind_words(plan: Plan, openings: Iterable[KeyOpeningRow], rater: str) -> str:
    """What a rater is told whose ratings are marked as not blind; empty for all others."""
    if not plan.is_blind or is_blind(plan, openings, rater):
        return ""
    return "marked as not blind: which product each code is was told before"
