"""Ratings as rows of results: treatments by scale and stage, agreement, lives by a scale. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from acquire.report.answers.ratings import ScaleRatings, ratings_of
from acquire.report.record.record import TrialRecord
from acquire.report.rows.washrows import LIFE
from acquire.report.washing.waterlives import WaterLives, water_lives
from acquire.report.words.columns import Column, Record

RATING, AGREEMENT = "rating", "agreement"

RATING_COLUMNS = (
    Column("scale", "of a rating, an agreement, or a life by what people saw: id of the scale",
           True),
    Column("raters", "how many people rated"),
    Column("ratings", "how many ratings the row is made of"),
    Column("median_step", "middle rating, a step of the scale counted from 1, the worst"),
    Column("least_step", "the lowest rating"),
    Column("most_step", "the highest rating"),
    Column("agreement", "of raters: weighted kappa of two, Krippendorff's alpha of several; low "
           "and high are its interval, rule names it"),
)  # fmt: skip


def rating_records(record: TrialRecord) -> Iterator[Record]:
    """Scale by scale and stage by stage, then the lives; what does not apply is left out."""
    for found in ratings_of(record):
        yield from _ratings(found)
    for lives in water_lives(record):
        yield from _lives(lives)


def _ratings(found: ScaleRatings) -> Iterator[Record]:
    known: Record = {"scale": found.scale.id, "stage": found.stage or None}
    for row in found.rows:
        yield known | {
            "result": RATING,
            "treatment": row.treatment,
            "treatment_name": row.name,
            "raters": len(found.raters),
            "ratings": row.ratings,
            "median_step": row.median,
            "least_step": row.least,
            "most_step": row.most,
        }
    own = found.agreement
    if own is None:
        return
    yield known | {
        "result": AGREEMENT,
        "raters": own.raters,
        "ratings": sum(row.ratings for row in found.rows),
        "agreement": None if own.value is None else _figure(own.value),
        "low": None if own.low is None else _figure(own.low),
        "high": None if own.high is None else _figure(own.high),
        "rule": own.measure,
        "reason": own.lacking or None,
    }


def _lives(found: WaterLives) -> Iterator[Record]:
    for zone in found.zones:
        row: Record = {
            "result": LIFE,
            "scale": found.scale.id,
            "treatment": zone.treatment,
            "treatment_name": zone.name,
            "zone": zone.zone,
        }
        if zone.life is None:
            yield row | {"decision": "no decision", "reason": zone.observed.lacking}
            continue
        yield row | {
            "decision": "at least" if zone.life.is_censored else "between",
            "life_low": zone.life.low,
            "life_high": None if zone.life.is_censored else zone.life.high,
            "reason": zone.observed.remark or None,
        }


def _figure(value: float) -> float:
    """Ten significant digits, as in the other rows."""
    return float(f"{value:.10g}")
