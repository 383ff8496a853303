"""The page's section on points: one part for each scorecard that was applied. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from acquire.analysis.places.standing import percent
from acquire.analysis.scoring.scored import TrialScore
from acquire.report.evidence.evidence import Evidence
from acquire.report.points.scorelines import name_of, points_text, span_text, total_text
from acquire.report.points.scores import trial_score
from acquire.report.record.record import TrialRecord
from acquire.report.washing.washlife import WashAnswer
from acquire.report.words.tabled import NONE


class ScoreRow(NamedTuple):
    """One product, in finished texts."""

    name: str
    total: str
    interval: str
    place: str
    first: str
    unshifted: str
    missing: str


class ItemRow(NamedTuple):
    """One item of one product."""

    item: str
    name: str
    points: str
    interval: str
    found: str


class ScorePart(NamedTuple):
    """One scorecard: `has_shift` where chances are given without the meter's known shifts, too."""

    title: str
    rows: tuple[ScoreRow, ...]
    items: tuple[ItemRow, ...]
    notes: tuple[str, ...]
    conditions: tuple[tuple[str, str], ...]
    text: str
    has_shift: bool


def score_parts(
    record: TrialRecord, evidence: Sequence[tuple[Evidence, WashAnswer | None]]
) -> list[ScorePart]:
    """The points by every scorecard of the record, reckoned from what the page shows."""
    return [_part(trial_score(record, card, evidence), card.text) for card in record.scorecards]


def _part(score: TrialScore, text: str) -> ScorePart:
    titles = dict(score.items)
    return ScorePart(
        f"{score.scorecard}, version {score.version}",
        tuple(
            ScoreRow(
                name_of(p),
                total_text(score, p),
                span_text(score.decimals, p),
                p.place or NONE,
                NONE if p.first is None else percent(p.first),
                NONE if p.first_unshifted is None else percent(p.first_unshifted),
                ", ".join(titles.get(i, i) for i in p.missing) or NONE,
            )
            for p in score.products
        ),
        tuple(
            ItemRow(
                title,
                name_of(p),
                points_text(score, p.items[number]),
                span_text(score.decimals, p.items[number]),
                ", ".join(filter(None, (p.items[number].found, p.items[number].why))) or NONE,
            )
            for number, (_, title) in enumerate(score.items)
            for p in score.products
        ),
        score.notes,
        tuple((c.what, c.value) for c in score.conditions),
        text,
        any(p.first_unshifted is not None for p in score.products),
    )
