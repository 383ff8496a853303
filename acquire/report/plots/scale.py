"""The value axis of a drawing: its ends, its ticks and how they are written. Pure; any thread."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Scale:
    """From `low` to `high` in the unit of the values, with `ticks` between them."""

    low: float
    high: float
    ticks: tuple[float, ...]
    labels: tuple[str, ...]

    def holds(self, value: float) -> bool:
        return self.low <= value <= self.high


def scale_over(values: Iterable[float], least_width: float = 0.0, wanted: int = 5) -> Scale:
    """A scale that holds all `values`, at least `least_width` wide, with some room at the ends.

    About `wanted` ticks at 1, 2 or 5 times a power of ten.
    """
    known = [v for v in values if math.isfinite(v)]
    low, high = (min(known), max(known)) if known else (0.0, 1.0)
    # Never a scale without width, whatever the size of the values.
    width = max(high - low, least_width, 1e-6 * max(abs(low), abs(high)), 1e-12)
    middle = (low + high) / 2
    low, high = middle - width * 0.54, middle + width * 0.54
    step = _step((high - low) / wanted)
    first, last = math.ceil(low / step), math.floor(high / step)
    ticks = tuple(k * step for k in range(first, last + 1))
    return Scale(low, high, ticks, _labels(ticks, step))


def _step(rough: float) -> float:
    """The first 1, 2 or 5 times a power of ten that is not much below `rough`."""
    power = 10.0 ** math.floor(math.log10(rough))
    return next(k * power for k in (1, 2, 5, 10) if k * power >= 0.75 * rough)


def _labels(ticks: Sequence[float], step: float) -> tuple[str, ...]:
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    largest = max((abs(t) for t in ticks), default=0.0)
    if places > 9 or largest >= 1e7:
        return tuple(f"{t:.4g}".replace("-", "−") for t in ticks)
    return tuple(f"{t + 0.0:.{places}f}".replace("-", "−") for t in ticks)
