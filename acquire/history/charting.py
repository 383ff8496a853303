"""How histories are charted: the numbers a bench may set, with sensible ones to begin with.

Any thread.
"""

from __future__ import annotations

from dataclasses import dataclass

from acquire.history.constants import DISPLAY
from acquire.history.individuals import LEAST_BASELINE
from acquire.history.runs import IN_USE, RuleSet


@dataclass(frozen=True, slots=True)
class Charting:
    """`resolution` is the step of the display in the unit of the history, 0 if not known.

    `baseline` 20: ISO 7870-2 asks for 20 to 25 to set limits (from memory). `ewma_weight`,
    `ewma_width`, `cusum_k`, `cusum_h` as in their charts. The trend takes the last `trend_days` of
    the segment. Dates are given no later than `horizon_days` from now and no further ahead than
    `horizon_spans` times the time the line was seen over (rules of this project). `early_days` and
    `early_checks` are how long before a block to warn; `recent` is for how many checks a pattern
    that is no longer completed still counts as standing. `gap_days` is the time without a check
    that is told.
    """

    resolution: float = 0.0
    baseline: int = 20
    rules: RuleSet = IN_USE
    ewma_weight: float = 0.2
    ewma_width: float = 3.0
    cusum_k: float = 0.5
    cusum_h: float = 5.0
    confidence: float = 0.95
    is_weighted: bool = False
    trend_days: float = 365.0
    horizon_days: float = 730.0
    horizon_spans: float = 3.0
    early_days: float = 14.0
    early_checks: int = 10
    recent: int = 3
    gap_days: float = 90.0

    def __post_init__(self) -> None:
        faults = [
            f"{name}: got {value}, wanted {wanted}"
            for name, value, wanted, good in (
                ("resolution", self.resolution, "at least 0", self.resolution >= 0),
                (
                    "baseline",
                    self.baseline,
                    f"at least {LEAST_BASELINE}",
                    self.baseline >= LEAST_BASELINE,
                ),
                ("ewma_weight", self.ewma_weight, "above 0, at most 1", 0 < self.ewma_weight <= 1),
                ("ewma_width", self.ewma_width, "above 0", self.ewma_width > 0),
                ("cusum_k", self.cusum_k, "at least 0", self.cusum_k >= 0),
                ("cusum_h", self.cusum_h, "above 0", self.cusum_h > 0),
                ("confidence", self.confidence, "between 0 and 1", 0 < self.confidence < 1),
                ("trend_days", self.trend_days, "above 0", self.trend_days > 0),
                ("horizon_days", self.horizon_days, "above 0", self.horizon_days > 0),
                ("horizon_spans", self.horizon_spans, "above 0", self.horizon_spans > 0),
                ("early_days", self.early_days, "at least 0", self.early_days >= 0),
                ("early_checks", self.early_checks, "at least 0", self.early_checks >= 0),
                ("recent", self.recent, "at least 1", self.recent >= 1),
                ("gap_days", self.gap_days, "above 0", self.gap_days > 0),
            )
            if not good
        ]
        if faults:
            raise ValueError("settings of a chart: " + "; ".join(faults))

    @property
    def floor(self) -> float:
        """The least scatter a chart of this display can have."""
        return self.resolution * DISPLAY
