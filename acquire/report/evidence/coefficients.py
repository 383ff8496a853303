"""The coefficients of friction of single readings, for whoever writes them out row by row.

Of a trial whose plan has no sled nothing is loaded. The thread of the caller.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from acquire.model import Plan

if TYPE_CHECKING:
    from acquire.report.record.loading import Loader


class Coefficients(NamedTuple):
    """What a reading comes to by the latest plan; `why_not` says why there is none."""

    static: float | None = None
    kinetic: float | None = None
    why_not: str = ""


NONE = Coefficients()


class CoefficientsOfReadings:
    """Asked for reading after reading; loads each trial once, at its first reading."""

    def __init__(self, load: Loader) -> None:
        self._load = load
        self._trials: dict[str, dict[int, Coefficients]] = {}

    def of(self, latest: Plan, measure: str, reading_id: int) -> Coefficients:
        """What is known of a reading of a run; `latest` is the latest plan of its trial."""
        planned = latest.measure(measure)
        if planned is None or planned.sled is None:
            return NONE
        if latest.id not in self._trials:
            self._trials[latest.id] = self._loaded(latest.id)
        found = self._trials[latest.id].get(reading_id)
        # What came in after the trial was loaded is in no result yet.
        return found or Coefficients(why_not="came in while this was written")

    def _loaded(self, trial: str) -> dict[int, Coefficients]:
        from acquire.analysis.meter.friction import FrictionKind  # noqa: PLC0415 - slow
        from acquire.report.evidence.evidence import evidence_of  # noqa: PLC0415
        from acquire.report.evidence.pullrows import of_measure  # noqa: PLC0415

        found: dict[int, Coefficients] = {}
        for own in of_measure(evidence_of(self._load(trial))).values():
            facts = {e.friction.friction.kind: e.friction for e in own if e.friction is not None}
            static, kinetic = facts[FrictionKind.STATIC], facts.get(FrictionKind.KINETIC)
            for r in own[0].readings:
                pull = None if static.pulls is None else static.pulls.found.get(r.id)
                found[r.id] = Coefficients(
                    static.figures.get(r.id),
                    None if kinetic is None else kinetic.figures.get(r.id),
                    static.lacking.get(r.id, "" if pull is None else pull.lacking),
                )
        return found
