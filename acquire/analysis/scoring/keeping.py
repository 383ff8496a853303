"""Points for lives and for ratings. Pure; any thread."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.durability.life import Life
from acquire.analysis.durability.washresult import TreatmentLife
from acquire.analysis.durability.waterclass import life_by_class
from acquire.analysis.scoring.changes import Found, conditions_of, fitting, named, stage_of
from acquire.analysis.scoring.judged import rated
from acquire.analysis.scoring.line import Line, no_points
from acquire.analysis.scoring.lives import (
    NOTHING_TO_LOSE,
    Survived,
    survived,
)
from acquire.analysis.scoring.rule import bounded, earned
from acquire.analysis.scoring.scored import Condition
from acquire.model import Plan, Rated, Scale, Treatment
from acquire.model.scorecard import Item, Judged, Lasting

Floats = NDArray[np.float64]
Lines = dict[str, Line]


class Given(NamedTuple):
    """A rating that stands. `zone` and `stage` are empty where a product was rated."""

    scale: str
    stage: str
    zone: str
    treatment: str
    rater: str
    step: int


def life_scores(
    plan: Plan,
    treated: Sequence[Treatment],
    found: Sequence[Found],
    ratings: Sequence[Given],
    item: Item,
    draws: int,
) -> tuple[Lines, list[Condition]]:
    """Points for washes survived, by treatment."""
    assert isinstance(item.earns, Lasting)
    if item.earns.scale:
        lives, kept = _by_scale(plan, treated, ratings, item)
        return {t: _life_line(item, one, draws) for t, one in lives.items()}, kept
    lives, kept = _by_measure(treated, found, item)
    return {
        t: replace(_life_line(item, one, draws), is_late=_is_late(plan, found, item, t))
        for t, one in lives.items()
    }, kept


def _fitting(found: Sequence[Found], item: Item) -> list[Found]:
    """The measures that the item may mean and that say when a treatment is gone."""
    assert isinstance(item.earns, Lasting)
    assert item.earns.measured is not None
    return [f for f in fitting(found, item.earns.measured) if f.measure.end_of_life is not None]


def _is_late(plan: Plan, found: Sequence[Found], item: Item, treatment: str) -> bool:
    """Whether a look at a life was taken when the surface of its stage was gone."""
    fit = _fitting(found, item)
    return len(fit) == 1 and any(
        fit[0].is_late(stage, treatment) for stage, count in plan.washes if count
    )


def _by_measure(
    treated: Sequence[Treatment], found: Sequence[Found], item: Item
) -> tuple[dict[str, Survived | str], list[Condition]]:
    assert isinstance(item.earns, Lasting)
    wanted = item.earns.measured
    assert wanted is not None
    fit = _fitting(found, item)
    if len(fit) != 1:
        why = (
            f"the trial has no measure of {named(wanted)} that says when a treatment is gone"
            if not fit
            else f"several measures of {named(wanted)} say when a treatment is gone "
            f"({', '.join(f.measure.id for f in fit)}), and the scorecard does not say which"
        )
        return {t.id: why for t in treated}, []
    one = fit[0]
    end = one.measure.end_of_life
    assert end is not None
    told = next(
        f"{k} {v} of {named(wanted)}"
        for k, v in (("lost", end.lost), ("below", end.below), ("above", end.above))
        if v is not None
    )
    kept = [*conditions_of(one, item.id), Condition(f"end of life for {item.id}", told)]
    by_id = {} if one.washes is None else {t.treatment: t for t in one.washes.treatments}
    lives = {
        t.id: _of_zones(by_id[t.id]) if t.id in by_id else "nothing was read after washing yet"
        for t in treated
    }
    looked = () if one.washes is None else one.washes.looked
    return lives, [*kept, _looks(item, (look.washes for look in looked))]


def _looks(item: Item, counts: Iterable[int]) -> Condition:
    """The counts at which a look was taken: what the plan has besides tells nothing of a life."""
    told = ", ".join(str(count) for count in sorted(counts))
    return Condition(f"looked at for {item.id} after", f"{told or 'no'} washes")


def _of_zones(treatment: TreatmentLife) -> Survived | str:
    if treatment.zones and all(z.has_no_gain for z in treatment.zones):
        return NOTHING_TO_LOSE
    lives = [z.life for z in treatment.zones if z.life is not None]
    without = [f"zone {z.zone}: {z.lacking}" for z in treatment.zones if z.life is None]
    if not lives:
        return "; ".join(dict.fromkeys(z.lacking for z in treatment.zones)) or "it has no zone"
    return survived(lives, without)


def _by_scale(
    plan: Plan, treated: Sequence[Treatment], ratings: Sequence[Given], item: Item
) -> tuple[dict[str, Survived | str], list[Condition]]:
    assert isinstance(item.earns, Lasting)
    scale = plan.scale(item.earns.scale)
    why = (
        f"the trial has no scale {item.earns.scale}"
        if scale is None
        else ""
        if scale.gone_below is not None
        else f"the scale {scale.id} does not say below which step a treatment is gone"
    )
    if scale is None or why:
        return {t.id: why for t in treated}, []
    counts = _counts(plan, scale)
    rated_at = {r.stage for r in ratings if r.scale == scale.id}
    looked = {count for stage, count in counts.items() if count and stage in rated_at}
    kept = [_scale_condition(scale), _looks(item, looked)]
    return {t.id: _rated_life(plan, t.id, scale, ratings) for t in treated}, kept


def _rated_life(
    plan: Plan, treatment: str, scale: Scale, ratings: Sequence[Given]
) -> Survived | str:
    assert scale.gone_below is not None
    counts = _counts(plan, scale)
    least = scale.steps[scale.gone_below - 1]
    lives: list[Life] = []
    without: list[str] = []
    for zone in [z.id for z in plan.zones if z.treatment == treatment]:
        looks = [
            (float(counts[r.stage]), scale.steps[r.step - 1])
            for r in ratings
            if (r.scale, r.zone) == (scale.id, zone) and r.stage in counts
            if 1 <= r.step <= len(scale.steps)
        ]
        seen = life_by_class(looks, scale.steps, least)
        if seen.life is None:
            without.append(f"zone {zone}: {seen.lacking}")
        else:
            lives.append(seen.life)
    if not lives:
        return "; ".join(without) or "it has no zone"
    return survived(lives, without)


def _counts(plan: Plan, scale: Scale) -> dict[str, int]:
    """The count of each stage of a scale; the last one before all washing has none."""
    counts = dict(plan.washes)
    found = {s: counts[s] for s in scale.stages if counts.get(s)}
    first = min((plan.stages.index(s) for s in found), default=0)
    before = [s for s in scale.stages if s not in found and 0 < plan.stages.index(s) < first]
    return {**({before[-1]: 0} if before else {}), **found}


def _scale_condition(scale: Scale) -> Condition:
    steps = " / ".join(f"{n} {words}" for n, words in enumerate(scale.steps, 1))
    gone = f"; gone below step {scale.gone_below}" if scale.gone_below is not None else ""
    return Condition(f"scale {scale.id}", f"{steps}{gone}")


def _life_line(item: Item, life: Survived | str, draws: int) -> Line:
    if isinstance(life, str):
        return no_points(item.id, life)
    assert isinstance(item.earns, Lasting)
    each = float(item.earns.points)
    points = float(earned(item, each, np.array([life.least]))[0])
    most = float(earned(item, each, np.array([life.most]))[0])
    flat = np.full(draws, points)
    zones = f", the middle one of {life.zones} zones" if life.zones > 1 else ""
    notes = tuple(f"Not among the lives for {item.id}: {text}." for text in life.left_out)
    return Line(
        item.id, f"{life.words}{zones}", points, flat, flat, most - points,
        # Above the ceiling there is nothing left to be "at least".
        life.is_at_least and most != points, notes=notes,
    )  # fmt: skip


def rating_scores(
    plan: Plan, treated: Sequence[Treatment], ratings: Sequence[Given], item: Item, draws: int
) -> tuple[Lines, list[Condition]]:
    """Points for what was judged, by treatment."""
    assert isinstance(item.earns, Judged)
    judged = item.earns
    scale = plan.scale(judged.scale)
    why, stage = "", ""
    if scale is None:
        why = f"the trial has no scale {judged.scale}"
    elif len(scale.steps) != len(judged.points):
        why = (
            f"the scale {scale.id} has {len(scale.steps)} steps, and the scorecard points for "
            f"{len(judged.points)}"
        )
    elif scale.rated is Rated.ZONE:
        stage = stage_of(judged.when, plan, scale.stages) or ""
        why = "" if stage else f"the trial has no stage {judged.when} with the scale {scale.id}"
    if scale is None or why:
        return {t.id: no_points(item.id, why) for t in treated}, []
    mine = [
        r
        for r in ratings
        if (r.scale, r.stage) == (scale.id, stage) and 1 <= r.step <= len(scale.steps)
    ]
    if scale.rated is Rated.TREATMENT:
        products = {t.id: [_steps(r for r in mine if r.treatment == t.id)] for t in treated}
    else:
        products = {
            t.id: [
                _steps(r for r in mine if r.zone == z.id) for z in plan.zones if z.treatment == t.id
            ]
            for t in treated
        }
    told = rated(products, [float(p) for p in judged.points], item.id, draws)
    lines = {}
    for t in treated:
        one = told.get(t.id)
        if one is None:
            lines[t.id] = no_points(item.id, "nobody has rated it")
            continue
        value = float(bounded(item, np.array([one.points]))[0])
        drawn = bounded(item, one.draws)
        notes = (
            (f"{item.title}: one rater, so how raters differ is not in the interval.",)
            if one.raters == 1
            else ()
        )
        lines[t.id] = Line(item.id, one.words, value, drawn, drawn, notes=notes)
    return lines, [_scale_condition(scale)]


def _steps(rows: Iterable[Given]) -> dict[str, int]:
    return {r.rater: r.step for r in rows}
