"""The opening and closing check around readings, and which readings they hold.

Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from acquire.analysis.sample import Sample


@dataclass(frozen=True, slots=True)
class Bracket:
    """One opening check and, once it was made, its closing check.

    All figures are in the measure's unit and of the reference piece nearest to the readings (for
    gloss the high tile): `drift` is closing minus opening reading of the piece, `tile_u` the
    standard uncertainty of its certificate, `opening_deviation` the opening reading minus the
    certified value. None means not known (yet). `geometry` is empty where the figures hold for
    all geometries. `is_broken` is set where the meter was re-adjusted before the next check, so
    that none can close these readings. Raises ValueError where the closing lies before the opening.
    """

    stage: str
    opening_at_s: float
    closing_at_s: float | None
    drift: float | None
    tile_u: float
    geometry: str = ""
    opening_deviation: float | None = None
    is_broken: bool = False

    def __post_init__(self) -> None:
        if self.closing_at_s is not None and self.closing_at_s < self.opening_at_s:
            raise ValueError(
                f"the closing check at {self.closing_at_s} s lies before the opening check at "
                f"{self.opening_at_s} s"
            )

    def holds(self, sample: Sample) -> bool:
        """Whether the reading was taken between these checks, at this stage and geometry."""
        return (
            sample.stage == self.stage
            and self.geometry in ("", sample.geometry)
            and self.opening_at_s <= sample.at_s
            and (self.closing_at_s is None or sample.at_s <= self.closing_at_s)
        )

    def position(self, at_s: float) -> float:
        """Where a moment lies: 0 at the opening, 1 at the closing; 0 without a closing."""
        if self.closing_at_s is None or self.closing_at_s == self.opening_at_s:
            return 0.0
        return (at_s - self.opening_at_s) / (self.closing_at_s - self.opening_at_s)


def bracket_of(sample: Sample, brackets: Iterable[Bracket]) -> Bracket | None:
    """The bracket that holds the reading; of several the one opened last. None without one."""
    return max((b for b in brackets if b.holds(sample)), key=lambda b: b.opening_at_s, default=None)
