"""The page's section on ratings: tables by scale and stage, and lives by what was seen. Pure."""

from __future__ import annotations

from typing import NamedTuple

from acquire.report.answers.ratings import ScaleRatings, agreement_words, ratings_of
from acquire.report.record.record import TrialRecord
from acquire.report.washing.waterlives import WaterLives, life_lines, water_lives

NONE = "–"


class RatingRow(NamedTuple):
    """One treatment, in words."""

    name: str
    middle: str
    spread: str
    zones: str
    ratings: str
    apart: str


class RatingTable(NamedTuple):
    """One scale at one stage; `steps` are written out once a scale."""

    title: str
    steps: tuple[str, ...]
    rows: tuple[RatingRow, ...]
    sentences: tuple[str, ...]


class LifeRow(NamedTuple):
    """One zone: the step at each look, and its life."""

    zone: str
    name: str
    looks: tuple[str, ...]
    life: str


class LifeTable(NamedTuple):
    """The lives by one scale."""

    title: str
    sentences: tuple[str, ...]
    counts: tuple[str, ...]
    rows: tuple[LifeRow, ...]


class RatingsPart(NamedTuple):
    """All that the page says of ratings; empty where nobody rated."""

    tables: tuple[RatingTable, ...]
    lives: tuple[LifeTable, ...]


def ratings_part(record: TrialRecord) -> RatingsPart:
    """Tables and sentences."""
    told: set[str] = set()
    tables = []
    for found in ratings_of(record):
        steps = ()if found.scale.id in told else tuple(
            found.scale.words(n) for n in range(1, len(found.scale.steps) + 1)
        )  # fmt: skip
        told.add(found.scale.id)
        tables.append(_table(found, steps))
    return RatingsPart(tuple(tables), tuple(_lives(f) for f in water_lives(record)))


def _table(found: ScaleRatings, steps: tuple[str, ...]) -> RatingTable:
    rows = tuple(
        RatingRow(
            r.name,
            found.scale.words(r.median),
            str(r.least) if r.least == r.most else f"{r.least} to {r.most}",
            str(r.things) if found.stage else NONE,
            str(r.ratings),
            NONE if r.apart is None else str(r.apart),
        )
        for r in found.rows
    )
    said = (*found.differences, agreement_words(found.agreement), *found.remarks)
    return RatingTable(found.title, steps, rows, said)


def _lives(found: WaterLives) -> LifeTable:
    rows = []
    for zone in found.zones:
        at = dict(zone.looks)
        looks = tuple(str(at[c]) if c in at else NONE for c in found.counts)
        rows.append(LifeRow(zone.zone, zone.name, looks, zone.words))
    counts = tuple(f"{c} washes" if c else "before washing" for c in found.counts)
    return LifeTable(found.scale.name, tuple(life_lines(found)), counts, tuple(rows))
