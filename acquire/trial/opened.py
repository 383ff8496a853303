"""What is open at a stage of a trial: places and ratings, and those whose surface is gone. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from acquire.trial.gone import Gone, given_up, gone_at
from acquire.trial.people import NAME
from acquire.trial.ratings import Rateable, left_to, raters, thing_of, things
from acquire.trial.work import Work

SUSPECT = "suspect"


@dataclass(frozen=True, slots=True)
class Opened:
    """What is open at a stage.

    `left` has by measure how many places can still be read, and how many of these became suspect;
    `lost` those whose surface is `gone`, and `ratings_lost` is how many things there nobody has
    rated. Zones of which the stage was given up are in neither.
    """

    left: Mapping[str, tuple[int, int]]
    lost: Mapping[str, tuple[int, int]]
    gone: tuple[Gone, ...]
    ratings: tuple[Rateable, ...]
    ratings_lost: int


def open_at(work: Work, stage: str) -> Opened:
    plan = work.plan
    places, wanted = _open_places(work, stage), things(plan, stage)
    rated = [r for r in work.ratings if r.stage == stage]
    if not places and not any(left_to(rater, wanted, rated) for rater in raters(rated) or (NAME,)):
        return Opened({}, {}, (), wanted, 0)
    away = {own for own, at in given_up(work.given_up) if at == stage}
    is_later = _has_later(work, stage)
    gone = gone_at(
        plan, stage, work.washes, work.applications, work.looked_at() if is_later else ()
    )
    lost_zones = {z for g in gone for z in g.zones} - away
    left, lost = dict(places), {}
    short: set[str] = set()
    if away or lost_zones:
        for measure, (number, suspect) in places.items():
            chosen = plan.measure(measure)
            assert chosen is not None
            each, filled = chosen.replicates * len(chosen.channels), work.filled(measure, stage)
            missing = {z.id: max(0, each - filled.get(z.id, 0)) for z in plan.zones}
            kept = sum(n for z, n in missing.items() if z not in away and z not in lost_zones)
            over = sum(n for z, n in missing.items() if z in lost_zones)
            short |= {z for z, n in missing.items() if n and z in lost_zones}
            left[measure] = (kept, min(suspect, kept))
            lost[measure] = (over, min(suspect, over) if suspect == number else 0)
    ratings = tuple(t for t in wanted if t.zone not in away and t.zone not in lost_zones)
    # Whoever rates beside the first one need not have rated all: nothing can be missing by that.
    has = {thing_of(row) for row in rated}
    unrated = [t for t in wanted if t.zone in lost_zones and t not in has]
    short |= {t.zone for t in unrated}
    return Opened(
        {m: n for m, n in left.items() if n[0]},
        {m: n for m, n in lost.items() if n[0]},
        tuple(Gone(own, g.why) for g in gone if (own := tuple(z for z in g.zones if z in short))),
        ratings,
        len(unrated),
    )


def _has_later(work: Work, stage: str) -> bool:
    """Whether anything was looked at behind a stage."""
    later = work.plan.stages[work.plan.stages.index(stage) + 1 :]
    return any(t.stage in later for t in work.taken) or any(r.stage in later for r in work.ratings)


def _open_places(work: Work, stage: str) -> dict[str, tuple[int, int]]:
    """By measure with open places: how many, and how many of them became suspect."""
    found = {}
    for measure in work.plan.measures:
        if stage not in measure.stages:
            continue
        total = len(work.plan.zones) * measure.replicates * len(measure.channels)
        mine = [t for t in work.taken if (t.measure, t.stage) == (measure.id, stage)]
        held = sum(t.places for t in mine if t.state != SUSPECT)
        suspect = sum(t.places for t in mine if t.state == SUSPECT)
        if held < total:
            found[measure.id] = (total - held, min(suspect, total - held))
    return found
