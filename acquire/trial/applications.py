"""When products were put on, and from when on a zone may be measured. Pure; any thread."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from acquire.model import Plan
from acquire.store.work_rows import ApplicationRow

_HOUR_NS = 3600 * 1_000_000_000


def latest_coats(rows: Iterable[ApplicationRow]) -> dict[str, ApplicationRow]:
    """The last coat of each zone: the one that was put on last, not the one typed last."""
    found: dict[str, ApplicationRow] = {}
    for row in rows:
        if row.zone not in found or row.applied_utc_ns >= found[row.zone].applied_utc_ns:
            found[row.zone] = row
    return found


@dataclass(frozen=True, slots=True)
class Cure:
    """How the treated zones of a plan stand before a stage with a cure time.

    `ready_utc_ns` is when the last of the `waiting` zones may be measured; None where none waits.
    `bare` are zones on which nothing was put yet, as far as is recorded.
    """

    waiting: tuple[str, ...]
    bare: tuple[str, ...]
    ready_utc_ns: int | None


def cure_of(plan: Plan, stage: str, rows: Iterable[ApplicationRow], now_utc_ns: int) -> Cure | None:
    """Whether zones have cured long enough for a stage; None where the plan has no time for it."""
    hours = dict(plan.cure_hours).get(stage)
    if hours is None:
        return None
    coats = latest_coats(rows)
    treated = [z.id for z in plan.zones if not plan.treatment_of(z.id).is_control]
    ready = {z: coats[z].applied_utc_ns + int(hours * _HOUR_NS) for z in treated if z in coats}
    waiting = tuple(z for z, at in ready.items() if at > now_utc_ns)
    return Cure(
        waiting,
        tuple(z for z in treated if z not in coats),
        max((ready[z] for z in waiting), default=None),
    )
