"""The corrected value of single readings, for whoever writes them out row by row.

Of a trial whose plan wants no drift correction nothing is loaded. The thread of the caller.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, NamedTuple

from acquire.model import DriftCorrection, Plan
from acquire.report.record.record import Standing

if TYPE_CHECKING:
    from acquire.analysis.correction import Correction
    from acquire.report.record.loading import Loader

_PLACES = Decimal("0.000001")
"""Far finer than any display, so that nothing is rounded that means anything."""


class CorrectedValue(NamedTuple):
    """`how` the latest plan wants the reading corrected, the value, and why there is none."""

    how: DriftCorrection
    value: Decimal | None
    why_not: str


class CorrectedReadings:
    """Asked for reading after reading; loads each trial once, at its first reading."""

    def __init__(self, load: Loader) -> None:
        self._load = load
        self._trials: dict[str, dict[int, CorrectedValue]] = {}

    def of(self, latest: Plan, measure: str, reading_id: int) -> CorrectedValue:
        """What is known of a reading of a run; `latest` is the latest plan of its trial."""
        planned = latest.measure(measure)
        if planned is None or planned.drift_correction is DriftCorrection.NONE:
            return CorrectedValue(DriftCorrection.NONE, None, "")
        if latest.id not in self._trials:
            self._trials[latest.id] = self._loaded(latest.id)
        found = self._trials[latest.id].get(reading_id)
        # What came in after the trial was loaded has no closing check yet.
        return found or CorrectedValue(
            planned.drift_correction, None, "came in while this was written"
        )

    def _loaded(self, trial: str) -> dict[int, CorrectedValue]:
        from acquire.report.evidence.evidence import corrections_of  # noqa: PLC0415 - slow

        record = self._load(trial)
        return {
            r.id: _value(correction, r.id, r.stage, r.standing)
            for (measure, channel), correction in corrections_of(record).items()
            for r in record.readings
            if (r.measure, r.channel) == (measure, channel)
        }


def _value(
    correction: Correction, reading_id: int, stage: str, standing: Standing
) -> CorrectedValue:
    known = correction.readings.get(reading_id)
    if known is not None:
        value = Decimal(repr(known.value)).quantize(_PLACES)
        return CorrectedValue(correction.how, value, "")
    if standing is not Standing.COUNTS:
        return CorrectedValue(correction.how, None, f"left out: {standing}")
    return CorrectedValue(correction.how, None, correction.why_not.get(stage, ""))
