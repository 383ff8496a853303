"""One line of the benchmark table."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Result:
    """A figure of ours beside the baseline's, and the goal.

    `goal` bounds the ratio where `by_ratio` is set, and `ours` itself otherwise; `at_most` says
    on which side. `baseline` is None for a figure that has only an absolute goal.
    """

    name: str
    unit: str
    ours: float
    baseline: float | None
    goal: float
    at_most: bool
    by_ratio: bool

    @property
    def ratio(self) -> float | None:
        return None if not self.baseline else self.ours / self.baseline

    @property
    def met(self) -> bool:
        figure = self.ratio if self.by_ratio else self.ours
        assert figure is not None
        return figure <= self.goal if self.at_most else figure >= self.goal

    def as_item(self) -> dict[str, object]:
        return {
            "name": self.name,
            "unit": self.unit,
            "ours": self.ours,
            "baseline": self.baseline,
            "ratio": self.ratio,
            "goal": f"{'at most' if self.at_most else 'at least'} {self.goal:g}"
            + (" times" if self.by_ratio else f" {self.unit}"),
            "met": self.met,
        }
