"""What counts as a pull in a trace: the limits of the segmentation, all of them settings.

The figures are our own choice where no source stands beside them, found on generated traces
(`tests/pulls`), and scale with the weight of the sled, so that a light and a heavy one are judged
alike.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

LOWEST_RATE_HZ = 10.0
HIGHEST_RATE_HZ = 10_000.0


@dataclass(frozen=True, slots=True)
class Window:
    """Where the kinetic mean is taken, in millimetres behind the start of motion.

    ASTM D2534 leaves out the first 13 mm and takes 152 mm; ISO 8295 leaves out 6 mm and takes
    60 mm (from memory). The speed turns millimetres into samples: the start of motion is the
    breakaway peak.
    """

    skip_mm: float
    length_mm: float
    speed_mm_per_s: float

    def __post_init__(self) -> None:
        if not (self.skip_mm >= 0 and 0 < self.length_mm < math.inf):
            raise ValueError(
                f"a window from 0 mm on with a length is wanted, got {self.skip_mm:g} mm and "
                f"{self.length_mm:g} mm"
            )
        if not 0 < self.speed_mm_per_s < math.inf:
            raise ValueError(f"a speed above 0 mm/s is wanted, got {self.speed_mm_per_s:g}")

    @property
    def end_s(self) -> float:
        """Where it ends, in seconds behind the start of motion."""
        return (self.skip_mm + self.length_mm) / self.speed_mm_per_s


@dataclass(frozen=True, slots=True)
class Rules:
    """Forces in newton, times in seconds.

    `least_n` is the smallest peak that is a pull, `drift_n_per_s` the fastest that the gauge's
    zero can wander, `slack_n` how far from the zero a slack line may read, `range_n` the end of
    the gauge's range, None where it is not known. A pull slides for `least_slide_s` at least; the
    force settles for `settle_s` behind the breakaway, where no `window` says otherwise; two pulls
    have `quiet_s` of slack line between them, or `held_s` of a line that is held still.
    `least_drop` is what the breakaway peak must exceed the kinetic mean by, as a share of it: a
    force that only rises and stays may be a sled that is held and not pulled.
    """

    least_n: float
    drift_n_per_s: float
    slack_n: float
    range_n: float | None = None
    least_slide_s: float = 0.3
    settle_s: float = 0.1
    quiet_s: float = 0.15
    held_s: float = 0.5
    least_drop: float = 0.02
    window: Window | None = None

    def __post_init__(self) -> None:
        for name in ("least_n", "drift_n_per_s", "slack_n", "least_slide_s", "quiet_s", "held_s"):
            value = getattr(self, name)
            if not 0 < value < math.inf:
                raise ValueError(f"{name} above 0 is wanted, got {value:g}")
        if not (0 <= self.settle_s < math.inf and 0 <= self.least_drop < 1):
            raise ValueError(
                "settle_s from 0 on and least_drop from 0 to below 1 are wanted, got "
                f"{self.settle_s:g} and {self.least_drop:g}"
            )
        if self.range_n is not None and not self.least_n < self.range_n < math.inf:
            raise ValueError(f"range_n above {self.least_n:g} N is wanted, got {self.range_n:g}")

    @classmethod
    def for_weight(
        cls, weight_n: float, *, range_n: float | None = None, window: Window | None = None
    ) -> Rules:
        """The rules for a sled of this weight: a coefficient of 0.02 is the smallest pull.

        Handbooks have 0.04 for the slipperiest pair in use (PTFE on steel).
        """
        if not 0 < weight_n < math.inf:
            raise ValueError(f"a weight above 0 N is wanted, got {weight_n:g}")
        return cls(
            least_n=0.02 * weight_n,
            drift_n_per_s=0.0005 * weight_n,
            slack_n=0.003 * weight_n,
            range_n=range_n,
            window=window,
        )
