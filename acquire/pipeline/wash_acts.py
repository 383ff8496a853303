"""Counting washes, and putting a count right. Runs on the desk's thread."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from acquire.errors import Refused
from acquire.model import Instant, Plan
from acquire.pipeline.asking import Answer
from acquire.pipeline.at_work import plan_at_work, take_care, zones_named
from acquire.pipeline.desk import Desk
from acquire.store.work_rows import WashRow
from acquire.trial.readiness import looks
from acquire.trial.washes import TYPED, counts_of, floors, next_checkpoint, reached
from acquire.visible import says_something

MOST_WASHES = 1_000_000
"""As many as a plan may ask for."""


class WashActs:
    """Washes as a person counts them. None is ever taken away: a correction is a row, too."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def prepare(self, trial: str, zones: Sequence[str], at: Instant) -> Answer:
        """Before washing: which zones, and the cautions of a sitting that begins with it."""
        washed = zones_named(plan_at_work(self._desk, trial), zones)
        rows, told = take_care(self._desk, at)
        return Answer({"zones": list(washed), **told}, rows)

    def count(
        self, trial: str, zones: Sequence[str], washes: int, counted_by: str, at: Instant
    ) -> Answer:
        """Zones were washed together so many times more; no zones are all of the plan."""
        plan = plan_at_work(self._desk, trial)
        washed = zones_named(plan, zones)
        counts = self._counts(plan)
        _require_few(plan, counts, washed, washes)
        rows, told = take_care(self._desk, at)
        more, reply = self._counted(plan, counts, washed, washes, counted_by, "", at)
        return Answer({**reply, **told}, [*rows, more])

    def correct(
        self, trial: str, zones: Sequence[str], washes: int, reason: str, at: Instant
    ) -> Answer:
        """Raise or lower counts, with the reason.

        A count cannot fall below zero, nor below that of a stage at which the zone was looked at:
        what was read there was read after so many washes.
        """
        plan = plan_at_work(self._desk, trial)
        washed = zones_named(plan, zones)
        if washes == 0 or not says_something(reason):
            raise Refused(
                f"the washes of {trial} are not corrected",
                reason="no reason" if washes else "nothing to correct",
                got="no reason" if washes else "a correction by 0",
                wanted="by how many, and why",
                next_step='coatbench wash TRIAL --correct -1 --reason "pressed twice"',
            )
        counts = self._counts(plan)
        self._require_room(plan, counts, washed, washes)
        _require_few(plan, counts, washed, washes)
        row, reply = self._counted(plan, counts, washed, washes, TYPED, reason, at)
        return Answer(reply, [row])

    def by_counter(
        self,
        trial: str,
        zones: Sequence[str],
        washes: int,
        counter: str,
        reading_id: int,
        at: Instant,
    ) -> WashRow:
        """Washes that a counter has counted, by the reading that made the last one whole."""
        plan = plan_at_work(self._desk, trial)
        washed, counts = zones_named(plan, zones), self._counts(plan)
        _require_few(plan, counts, washed, washes)
        row, _ = self._counted(plan, counts, washed, washes, counter, "", at)
        return row._replace(reading_id=reading_id)

    def _counts(self, plan: Plan) -> dict[str, int]:
        return counts_of(plan, self._desk.shelf.worked.washes(plan.id))

    def _require_room(
        self, plan: Plan, counts: Mapping[str, int], zones: Sequence[str], washes: int
    ) -> None:
        looked_at = self._desk.shelf.worked.looked_at(plan.id) if washes < 0 else []
        lowest = floors(plan, looked_at)
        for zone in zones:
            after = counts[zone] + washes
            floor = lowest.get(zone)
            least = floor.washes if floor is not None else 0
            if after >= least or washes > 0:
                continue
            why = f": it was looked at then ({floor.stage})" if floor is not None else ""
            raise Refused(
                f"the washes of {plan.id} are not corrected",
                reason="below what was looked at" if floor is not None else "below zero",
                got=f"{after} washes of {zone}, which has {counts[zone]}",
                wanted=f"{least} or more{why}",
                next_step="correct it by less, or name the zones that are meant: --zones A1,A2",
            )

    def _counted(
        self,
        plan: Plan,
        before: Mapping[str, int],
        zones: Sequence[str],
        washes: int,
        counted_by: str,
        reason: str,
        at: Instant,
    ) -> tuple[WashRow, dict[str, object]]:
        desk = self._desk
        after = {z: n + washes if z in zones else n for z, n in before.items()}
        came_to = reached(plan, before, after, zones)
        looked_at = set(desk.shelf.worked.looked_at(plan.id)) if came_to else set()
        ahead = next_checkpoint(plan, min(after[zone] for zone in zones))
        row = WashRow(
            desk.ids.take(WashRow), at.utc_ns, desk.sitting_id, plan.id, ",".join(zones), washes,
            counted_by, None, reason,
        )  # fmt: skip
        return row, {
            "wash_id": row.id,
            "trial": plan.id,
            "zones": list(zones),
            "washes": washes,
            "counts": after,
            "reached": [
                {
                    "stage": one.at.stage,
                    "washes": one.at.washes,
                    "zones": list(one.zones),
                    "is_past": one.is_past,
                    "looks": looks(plan, one.at.stage),
                    "unread": [z for z in one.zones if (z, one.at.stage) not in looked_at],
                }
                for one in came_to
            ],
            "next": None if ahead is None else {"stage": ahead.stage, "washes": ahead.washes},
        }


def _require_few(plan: Plan, counts: Mapping[str, int], zones: Sequence[str], washes: int) -> None:
    highest = max(counts[zone] for zone in zones) + washes
    if highest > MOST_WASHES:
        raise Refused(
            f"the washes of {plan.id} are not counted",
            reason="too many",
            got=f"{highest} washes of one zone",
            wanted=f"{MOST_WASHES} at most",
            next_step="look at the number and count again",
        )
