"""Washes as they were counted: how many each zone has, checkpoints reached, what a count may be.

A wash is a row, and so is a correction; a count is their sum. Every zone has its own, since zones
may be washed together or one by one. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from acquire.model import Plan
from acquire.store.work_rows import WashRow

TYPED = "typed"
KEY = "key"
STROKES_PER_WASH = "strokes_per_wash"
"""The key of a recipe that says it."""


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """A stage and the count of washes that it comes after."""

    stage: str
    washes: int


def checkpoints(plan: Plan) -> tuple[Checkpoint, ...]:
    """Where a plan wants to look after washing, the first one first."""
    return tuple(Checkpoint(stage, count) for stage, count in plan.washes if count > 0)


def next_checkpoint(plan: Plan, count: int) -> Checkpoint | None:
    """The first checkpoint beyond a count; None where the plan has no more."""
    return next((c for c in checkpoints(plan) if c.washes > count), None)


def zones_of(row: WashRow) -> tuple[str, ...]:
    """The zones that were washed together."""
    return tuple(row.zones.split(","))


def counts_of(plan: Plan, rows: Iterable[WashRow]) -> dict[str, int]:
    """How many washes each zone of a plan has had, corrections taken in, in the plan's order."""
    found = {zone.id: 0 for zone in plan.zones}
    for row in rows:
        for zone in zones_of(row):
            if zone in found:
                found[zone] += row.washes
    return found


def floors(plan: Plan, looked_at: Iterable[tuple[str, str]]) -> dict[str, Checkpoint]:
    """Below which checkpoint the count of a zone cannot be put any more.

    `looked_at` are (zone, stage) pairs with a reading or a rating: they were made after so many
    washes, whatever is counted later.
    """
    known = {c.stage: c for c in checkpoints(plan)}
    found: dict[str, Checkpoint] = {}
    for zone, stage in looked_at:
        here = known.get(stage)
        if here is not None and (zone not in found or here.washes > found[zone].washes):
            found[zone] = here
    return found


@dataclass(frozen=True, slots=True)
class Reached:
    """A checkpoint that zones came to by a wash, or went past (`is_past`)."""

    at: Checkpoint
    zones: tuple[str, ...]
    is_past: bool = False


def reached(
    plan: Plan, before: Mapping[str, int], after: Mapping[str, int], zones: Sequence[str]
) -> tuple[Reached, ...]:
    """The checkpoints that a wash of `zones` led to, or over."""
    found = []
    for point in checkpoints(plan):
        to = tuple(z for z in zones if before[z] < point.washes == after[z])
        over = tuple(z for z in zones if before[z] < point.washes < after[z])
        found += [Reached(point, to)] if to else []
        found += [Reached(point, over, is_past=True)] if over else []
    return tuple(found)


def shared(counts: Mapping[str, int]) -> list[tuple[int, tuple[str, ...]]]:
    """Zones by their count, the lowest count first."""
    found: dict[int, list[str]] = {}
    for zone, count in counts.items():
        found.setdefault(count, []).append(zone)
    return [(count, tuple(zones)) for count, zones in sorted(found.items())]


def strokes_per_wash(plan: Plan) -> int:
    """How many strokes of a counter are one wash, by the plan's recipe; one where it is silent."""
    return int(dict(plan.recipe).get(STROKES_PER_WASH, "1"))
