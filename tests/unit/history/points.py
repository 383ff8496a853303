"""Histories for tests: figures as checks of a gloss tile would give them, a day apart."""

from __future__ import annotations

from collections.abc import Sequence

from acquire.history.point import Point
from acquire.history.series import NS_A_DAY

START_NS = 1_767_261_600 * 10**9
"""2026-01-01 10:00 UTC."""

QUIET = (0.0, 0.1, -0.1, 0.0, 0.1, 0.0, -0.1, 0.1, 0.0, -0.1)
"""Ten checks of a meter that stands still, in steps of its display."""


def day_ns(day: float) -> int:
    return START_NS + round(day * NS_A_DAY)


def points(deviations: Sequence[float], days: Sequence[float] | None = None) -> list[Point]:
    """A point a day, or at `days`, under one certificate of 93.2 GU, U = 0.4 GU (k = 2)."""
    return [
        Point(day_ns(day), deviation, 0.03, check, "c1", "gloss_unit", False, 93.2, 0.2)
        for check, (day, deviation) in enumerate(
            zip(days or range(len(deviations)), deviations, strict=True)
        )
    ]
