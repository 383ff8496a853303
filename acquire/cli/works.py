"""What the store knows of the work on its trials; what all of them share is asked for once.

Reads, and lasts as long as one answer: whoever asks again later makes another one. Main thread.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import cached_property
from typing import TYPE_CHECKING

from acquire.cli.meters import fitting
from acquire.model import Quantity
from acquire.store.progress import LeftOpen, Progress
from acquire.store.worked import ToldStroke, Worked
from acquire.trial.uncounted import Uncounted, uncounted
from acquire.trial.work import Work

if TYPE_CHECKING:
    from acquire.model import Bench, Plan
    from acquire.store.reader import StoreReader


class Works:
    """The work on each trial, by which it is told what is due."""

    def __init__(self, store: StoreReader, bench: Bench | None) -> None:
        self._progress, self._worked = Progress(store.rows), Worked(store.rows)
        self._bench = bench

    @cached_property
    def left_open(self) -> Sequence[LeftOpen]:
        """Runs of any trial without an end."""
        return self._progress.left_open()

    def of(self, plan: Plan) -> Work:
        """What is known of one trial."""
        progress, worked = self._progress, self._worked
        return Work(
            plan,
            progress.taken(plan.id),
            worked.washes(plan.id),
            worked.applications(plan.id),
            worked.ratings(plan.id),
            self.left_open,
            self._meters(plan),
            not plan.is_blind or worked.is_unsealed(plan.key_digest),
            worked.given_up(plan.id),
            lambda: worked.looked_at(plan.id),
            lambda measure, stage: progress.filled(plan.id, measure, stage),
            lambda: self._failed,
            lambda stage: worked.last_read(plan.id, stage),
            self._uncounted,
        )

    @cached_property
    def _failed(self) -> Collection[str]:
        return self._progress.failed_last()

    @cached_property
    def _told(self) -> dict[str, list[ToldStroke]]:
        """What each counter of the bench told of late."""
        counters = () if self._bench is None else self._bench.probes
        return {
            c.id: self._worked.strokes(c.id, c.serial)
            for c in counters
            if c.kind is Quantity.STROKES
        }

    @cached_property
    def _last_wash_utc_ns(self) -> int:
        return self._worked.last_wash_utc_ns()

    def _uncounted(self, since_utc_ns: int) -> list[Uncounted]:
        """What the counters of the bench told since then, and since the last wash of any trial."""
        if not self._told:
            return []
        since = max(since_utc_ns, self._last_wash_utc_ns)
        found = [uncounted(counter, told, since) for counter, told in self._told.items()]
        return [one for one in found if one is not None]

    def _meters(self, plan: Plan) -> dict[str, str]:
        """The one instrument of the bench that takes each measure."""
        found = {measure.id: fitting(self._bench, measure) for measure in plan.measures}
        return {measure: ids[0] for measure, ids in found.items() if len(ids) == 1}
