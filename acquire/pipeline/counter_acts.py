"""Counting washes by the strokes of a counter beside the wash. Runs on the desk's thread.

From when a person says so until they say otherwise, or the daemon stops, each stroke of a counter
is one of the washes of the zones that were named. Each wash is a row with the reading that made it
whole; what of a counter does not fit is an incident in words, with what the count did.
"""

from __future__ import annotations

from collections.abc import Sequence

from acquire.errors import CoatbenchError, NotFound, Refused
from acquire.model import Incident, IncidentKind, Instant, Quantity
from acquire.pipeline.asking import Answer
from acquire.pipeline.at_work import plan_at_work, take_care, zones_named
from acquire.pipeline.desk import Desk
from acquire.pipeline.probes import Counting, ProbeStanding
from acquire.pipeline.wash_acts import WashActs
from acquire.store.rows import ReadingRow, Row
from acquire.trial.strokes import Stroked
from acquire.trial.washes import strokes_per_wash


class CounterActs:
    """What a person says to a counter, and what its strokes come to."""

    def __init__(self, desk: Desk, washes: WashActs) -> None:
        self._desk = desk
        self._washes = washes
        desk.probes.on_strokes = self._stroked

    def begin(self, trial: str, zones: Sequence[str], counter: str, at: Instant) -> Answer:
        """From now on the strokes of a counter are washes of these zones, all where none is named.

        Said again for the same trial it goes on, with the zones that are named now.
        """
        standing = self._counter(counter)
        plan = plan_at_work(self._desk, trial)
        washed = zones_named(plan, zones)
        self._require_there(standing)
        before = standing.counting
        if before is not None and before.trial != plan.id:
            raise Refused(
                f"{counter} does not count washes of {plan.id}",
                reason="counts another trial",
                got=f"a counter that counts washes of {before.trial}",
                wanted="one that counts nothing",
                next_step=f"coatbench wash {before.trial} --counter {counter} --stop",
            )
        rows, told = take_care(self._desk, at)
        over = 0 if before is None else before.over
        standing.counting = Counting(plan.id, washed, strokes_per_wash(plan), over)
        return Answer(
            {
                "zones": list(washed),
                "counter": counter,
                "strokes_per_wash": standing.counting.strokes_per_wash,
                "over": over,
                "total": standing.strokes.total,
                **told,
            },
            rows,
        )

    def end(self, counter: str, _: Instant) -> Answer:
        """The strokes of a counter are no washes any more."""
        standing = self._counter(counter)
        counting, standing.counting = standing.counting, None
        return Answer(
            {
                "counter": counter,
                "trial": None if counting is None else counting.trial,
                "over": 0 if counting is None else counting.over,
                "strokes_per_wash": 1 if counting is None else counting.strokes_per_wash,
            },
            [],
        )

    def _stroked(
        self, standing: ProbeStanding, told: Stroked, row: ReadingRow, at: Instant
    ) -> list[Row]:
        counting, name = standing.counting, standing.spec.id
        if counting is None:
            return []
        rows: list[Row] = []
        troubles, standing.untold = (standing.untold, told.trouble), ""
        for trouble in filter(None, troubles):
            step = f"coatbench wash {counting.trial} --count N, if those were washes"
            rows.append(self._trouble(name, at, f"{trouble}. Next: {step}"))
        counting.over += told.strokes
        washes, over = divmod(counting.over, counting.strokes_per_wash)
        if not washes:
            return rows
        try:
            row_of_washes = self._washes.by_counter(
                counting.trial, counting.zones, washes, name, row.id, at
            )
        except CoatbenchError as error:
            standing.counting = None
            why = " ".join(str(error).split())
            return [*rows, self._trouble(name, at, f"a stroke is not counted: {why}")]
        counting.over = over
        return [*rows, row_of_washes]

    def _trouble(self, name: str, at: Instant, text: str) -> Row:
        told = Incident(name, IncidentKind.COUNTER, at, f"{name}: {text}")
        return self._desk.probes.incident(told)

    def _counter(self, name: str) -> ProbeStanding:
        counters = {
            one: standing
            for one, standing in self._desk.probes.standings.items()
            if standing.spec.kind is Quantity.STROKES
        }
        if name not in counters:
            raise NotFound(
                f"the bench has no counter {name!r}",
                got=", ".join(counters) or "no instrument of the kind counter in bench.toml",
                wanted="a counter of the bench",
                next_step="name one of them, or count by key: coatbench wash TRIAL",
            )
        return counters[name]

    def _require_there(self, standing: ProbeStanding) -> None:
        name = standing.spec.id
        if not standing.connected:
            raise Refused(
                f"{name} counts no washes",
                reason="not connected",
                got=standing.message,
                wanted=f"{name} connected",
                next_step=f"plug {name} in; or count by key: coatbench wash TRIAL",
            )
        if not standing.is_expected_device:
            raise Refused(
                f"{name} counts no washes",
                reason="other serial number",
                got=f"serial {standing.serial}",
                wanted=f"serial {standing.spec.serial}",
                next_step=f"plug in {standing.spec.serial}, or change the serial in bench.toml",
            )
