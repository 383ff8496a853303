"""What speaks against looking at a stage now: washes that differ, cure times that are not over.

It is told and blocks nothing: these are matters of the plan, and whoever is at the bench may know
better. The gate knows nothing of them. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo

from acquire.model import Plan, from_utc_ns
from acquire.store.work_rows import ApplicationRow, WashRow
from acquire.trial.applications import cure_of
from acquire.trial.washes import counts_of, shared

_MOST_NAMES = 12


def doubts(
    plan: Plan,
    stage: str,
    washes: Sequence[WashRow],
    applications: Sequence[ApplicationRow],
    now_utc_ns: int,
    zone: tzinfo | None = None,
) -> list[str]:
    """A sentence for each doubt, with the next step; times are of `zone`."""
    if plan.study is not None:
        return []
    return [
        *_washes(plan, stage, washes),
        *_cure(plan, stage, applications, now_utc_ns, zone),
    ]


def _washes(plan: Plan, stage: str, rows: Sequence[WashRow]) -> list[str]:
    wanted = dict(plan.washes).get(stage)
    if wanted is None:
        return []
    counts = counts_of(plan, rows)
    others = {zone: n for zone, n in counts.items() if n != wanted}
    if not others:
        return []
    if not rows:
        return [
            f"no wash of {plan.id} is counted, and {stage} comes after {wanted}. Next: if they "
            f"were washed, coatbench wash {plan.id} --count {wanted}"
        ]
    parts = [f"{washed(n)} of {names(zones)}" for n, zones in shared(others)]
    few = any(n < wanted for n in others.values())
    step = (
        f"wash on (coatbench wash {plan.id})"
        if few
        else f"put a wrong count right (coatbench wash {plan.id} --correct -1 --reason ...)"
    )
    return [f"{stage} comes after {washed(wanted)}, and {' and '.join(parts)} are counted. "
            f"Next: {step}"]  # fmt: skip


def _cure(
    plan: Plan,
    stage: str,
    rows: Sequence[ApplicationRow],
    now_utc_ns: int,
    zone: tzinfo | None,
) -> list[str]:
    cure = cure_of(plan, stage, rows, now_utc_ns)
    if cure is None:
        return []
    hours = dict(plan.cure_hours)[stage]
    said = []
    if cure.ready_utc_ns is not None:
        said.append(
            f"{stage} wants {hours.normalize():f} hours after the application, and "
            f"{names(cure.waiting)} "
            f"{'waits' if len(cure.waiting) == 1 else 'wait'} until "
            f"{when(cure.ready_utc_ns, now_utc_ns, zone)}. Next: come back then (coatbench next)"
        )
    if cure.bare:
        said.append(
            f"nothing is recorded to be on {names(cure.bare)}, and {stage} wants "
            f"{hours.normalize():f} hours after the application. Next: coatbench apply {plan.id} "
            f"{cure.bare[0]} --at TIME"
        )
    return said


def names(zones: Sequence[str]) -> str:
    """The zones, the first dozen by name."""
    more = len(zones) - _MOST_NAMES
    return ", ".join(zones[:_MOST_NAMES]) + (f" and {more} more" if more > 0 else "")


def washed(count: int) -> str:
    """``1 wash``, ``5 washes``."""
    return f"{count} wash" if count == 1 else f"{count} washes"


def when(utc_ns: int, now_utc_ns: int, zone: tzinfo | None) -> str:
    """``14:30``, of another day ``Thu 27 Nov 14:30``."""
    at, now = (from_utc_ns(ns).astimezone(zone) for ns in (utc_ns, now_utc_ns))
    return f"{at:%H:%M}" if at.date() == now.date() else f"{at:%a %d %b %H:%M}"
