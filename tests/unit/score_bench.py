"""Trials that are scored, for the tests of points: readings and a scorecard in a few words."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from acquire.analysis.durability.washresult import wash_result
from acquire.analysis.results import Bracket, MeasureResult, measure_results
from acquire.analysis.scoring.changes import Found
from acquire.analysis.scoring.keeping import Given
from acquire.analysis.scoring.score import score
from acquire.analysis.scoring.scored import ItemScore, ProductScore, TrialScore
from acquire.model import EndOfLife, Plan, Quantity, Scale
from acquire.model.scorecard import (
    Base,
    Change,
    Item,
    Judged,
    Lasting,
    Measured,
    Scorecard,
    Way,
    When,
)
from tests.unit.analysis.bench import Readings, plan_of, quiet, samples_of

GLOSS = Measured(Quantity.GLOSS, "60")
APPLIED = When(("applied",))
DRAWS = 4000


def change(
    item: str = "gloss",
    points: str = "2",
    *,
    base: Base = Base.BOTH,
    when: When = APPLIED,
    floor: str | None = None,
    ceiling: str | None = None,
    shown: bool = False,
    way: Way = Way.UP,
    weight: str = "1",
) -> Item:
    """An item about gloss at 60 degrees."""
    earns = Change(GLOSS, when, base, way, Decimal(points), "gloss_unit", shown)
    return _item(item, earns, floor, ceiling, weight)


def lasting(
    points: str = "1", *, scale: str = "", floor: str | None = None, ceiling: str | None = None
) -> Item:
    """An item about washes survived, by gloss at 60 degrees or by a scale."""
    return _item("life", Lasting(None if scale else GLOSS, scale, Decimal(points)), floor, ceiling)


def judged(*points: str, scale: str = "water", when: When = APPLIED) -> Item:
    """An item about ratings."""
    return _item("rated", Judged(scale, when, tuple(map(Decimal, points))), None, None)


def _item(
    name: str,
    earns: Change | Lasting | Judged,
    floor: str | None,
    ceiling: str | None,
    weight: str = "1",
) -> Item:
    low, high = (None if x is None else Decimal(x) for x in (floor, ceiling))
    return Item(name, name.capitalize(), earns, low, high, Decimal(weight))


def card(*items: Item, decimals: int = 1) -> Scorecard:
    """A scorecard of these items."""
    text = repr(items)
    return Scorecard(
        "yard", 1, "Yard", decimals, items, text, hashlib.sha256(text.encode()).hexdigest()
    )


def found_of(
    readings: Readings,
    *,
    washes: Sequence[tuple[str, int]] = (),
    end: EndOfLife | None = None,
    scales: Sequence[Scale] = (),
    resolution: float = 0.0,
    brackets: Sequence[Bracket] | None = None,
    margin: str | None = None,
) -> tuple[Plan, Found, MeasureResult]:
    """A plan and its results; zones are named after their treatments."""
    stages = list(dict.fromkeys(stage for _, stage in readings))
    zones = list(dict.fromkeys(zone for zone, _ in readings))
    plan, measure = plan_of(zones, stages, margin=margin)
    measure = replace(measure, end_of_life=end)
    plan = replace(plan, measures=(measure,), washes=tuple(washes), scales=tuple(scales))
    around = brackets or [quiet(stage, 1000.0 * i) for i, stage in enumerate(stages)]
    (result,) = measure_results(plan, measure, samples_of(readings), around, resolution)
    wash = wash_result(plan, measure, result) if washes else None
    return plan, Found(measure, "60", "", "Gloss at 60°", lambda _: result, wash), result


def scored(
    readings: Readings,
    *items: Item,
    ratings: Sequence[Given] = (),
    draws: int = DRAWS,
    decimals: int = 1,
    washes: Sequence[tuple[str, int]] = (),
    end: EndOfLife | None = None,
    scales: Sequence[Scale] = (),
    resolution: float = 0.0,
    brackets: Sequence[Bracket] | None = None,
    margin: str | None = None,
) -> TrialScore:
    """The points of a trial."""
    plan, found, _ = found_of(
        readings, washes=washes, end=end, scales=scales, resolution=resolution, brackets=brackets,
        margin=margin,
    )  # fmt: skip
    return score(plan, [found], ratings, card(*items, decimals=decimals), (), draws)


def product(score: TrialScore, treatment: str) -> ProductScore:
    return next(p for p in score.products if p.treatment == treatment)


def line(score: TrialScore, treatment: str, item: str) -> ItemScore:
    return next(i for i in product(score, treatment).items if i.item == item)
