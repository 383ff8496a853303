"""One reading as the analysis sees it: a number with its place, moment and row.

Only readings that count come in: voids, suspects and loose readings are left out by the caller,
who reports them. Pure; any thread.
"""

from __future__ import annotations

from dataclasses import dataclass

from acquire.analysis.samples.summary import LARGEST, MEASURED, checked, measured


@dataclass(frozen=True, slots=True)
class Sample:
    """`value` in the measure's unit, `at_s` in seconds on the clock of the brackets.

    `reading_id` is the row of the reading in the store, by which a figure is traced to its bytes.
    `stretch` tells readings under no check apart: only those of one stretch share an offset of the
    meter. `pull` is what one unit of the meter's error at its reference piece does to the value:
    1, and of a value corrected by the meter's gain the value over what the piece read. `shown` is
    what the meter read, in the unit of its checks, where that is not the value itself.
    Raises ValueError where the value is not finite: an over-range reading has no value.
    """

    zone: str
    treatment: str
    stage: str
    replicate: int
    channel: str
    value: float
    at_s: float
    reading_id: int
    stretch: str = ""
    pull: float = 1.0
    shown: float | None = None

    def __post_init__(self) -> None:
        # The calls are for their messages: a trial has thousands of readings.
        if not (abs(self.value) <= MEASURED and abs(self.at_s) <= LARGEST):
            measured(self.value)
            checked(self.at_s)
