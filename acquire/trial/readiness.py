"""What speaks against looking at a stage now: washes, surfaces that are gone, cure times.

It is told and blocks nothing: these are matters of the plan, and whoever is at the bench may know
better. The gate knows nothing of them. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import tzinfo

from acquire.model import Plan, from_utc_ns
from acquire.store.work_rows import ApplicationRow, GivingUpRow, WashRow
from acquire.trial.applications import cure_of, latest_coats
from acquire.trial.gone import Place, given_up, gone_at, washes_before
from acquire.trial.ratings import scales_at
from acquire.trial.washes import counts_of, floors, shared

_MOST_NAMES = 12


@dataclass(frozen=True, slots=True)
class AtHand:
    """What was done and looked at so far: by it the doubts of a stage are found.

    `done` are zones of which every reading of that stage is taken: nothing of them is still to be.
    """

    washes: Sequence[WashRow] = ()
    applications: Sequence[ApplicationRow] = ()
    looked_at: Sequence[Place] = ()
    given_up: Sequence[GivingUpRow] = ()
    done: Collection[str] = ()


def doubts(
    plan: Plan, stage: str, at_hand: AtHand, now_utc_ns: int, zone: tzinfo | None = None
) -> list[str]:
    """A sentence for each doubt, with the next step; times are of `zone`."""
    if plan.study is not None or stage not in plan.stages:
        return []
    if all(zone.id in at_hand.done for zone in plan.zones):
        return []
    away = {own for own, at in given_up(at_hand.given_up) if at == stage} | set(at_hand.done)
    return [
        *_washes(plan, stage, at_hand, away),
        *_gone(plan, stage, at_hand, away),
        *_cure(plan, stage, at_hand.applications, now_utc_ns, zone),
        *_nothing_on(plan, stage, at_hand),
    ]


def give_up(plan: Plan, stage: str, zones: Sequence[str]) -> str:
    """The command that sets down for good that a stage of zones is wanted no more."""
    some = "" if len(zones) == len(plan.zones) else f" --zones {','.join(zones)}"
    return f"coatbench trial give-up {plan.id} {stage}{some} --why TEXT"


def looks(plan: Plan, stage: str) -> list[str]:
    """The commands that look at a stage, one a measure: with its ratings where it has any."""
    measures = [m.id for m in plan.measures if stage in m.stages]
    is_rated = bool(scales_at(plan, stage))
    if not measures:
        return [f"coatbench rate {plan.id} {stage} --by NAME"] if is_rated else []
    return [
        f"coatbench checkpoint {plan.id} {stage}{some} --by NAME"
        if is_rated
        else f"coatbench run {plan.id} {stage}{some}"
        for m in measures
        for some in (f" --measure {m}" if len(measures) > 1 else "",)
    ]


def may_correct(plan: Plan, stage: str, zones: Sequence[str], looked_at: Sequence[Place]) -> bool:
    """Whether the counts of zones may still be put down to that of a stage."""
    wanted = washes_before(plan, stage) or 0
    lowest = floors(plan, looked_at)
    return not any(z in lowest and lowest[z].washes > wanted for z in zones)


def given_up_words(
    stage: str, rows: Sequence[GivingUpRow], zone: tzinfo | None = None
) -> list[str]:
    """Of which zones a stage was given up, when and why: a run of it leaves them out."""
    found: dict[GivingUpRow, list[str]] = {}
    for (own, at), row in given_up(rows).items():
        if at == stage:
            found.setdefault(row, []).append(own)
    return [
        f"{stage} of {names(zones)} was given up on "
        f"{from_utc_ns(row.at_utc_ns).astimezone(zone):%Y-%m-%d}: {row.why}"
        for row, zones in found.items()
    ]


def _washes(plan: Plan, stage: str, at_hand: AtHand, away: Collection[str]) -> list[str]:
    wanted, rows = washes_before(plan, stage), at_hand.washes
    if wanted is None:
        return []
    counts = counts_of(plan, rows)
    others = {zone: n for zone, n in counts.items() if n != wanted and zone not in away}
    if not others:
        return []
    if not rows:
        return [
            f"no wash of {plan.id} is counted, and {stage} comes after {wanted}. Next: if they "
            f"were washed, coatbench wash {plan.id} --count {wanted}"
        ]
    parts = [f"{washed(n)} of {names(zones)}" for n, zones in shared(others)]
    after = f"after {washed(wanted)}" if wanted else "before any wash"
    said = f"{stage} comes {after}, and {' and '.join(parts)} are counted"
    over = [zone for zone, n in others.items() if n > wanted]
    if len(over) < len(others):
        return [f"{said}. Next: wash on (coatbench wash {plan.id})"]
    late = f"set down that it is too late: {give_up(plan, stage, over)}"
    if may_correct(plan, stage, over, at_hand.looked_at):
        step = f"put a wrong count right (coatbench wash {plan.id} --correct -1 --reason TEXT)"
        return [f"{said}. Next: {step}, or {late}"]
    return [f"{said}: what is read now is no {stage} any more. Next: {late}"]


def _gone(plan: Plan, stage: str, at_hand: AtHand, away: Collection[str]) -> list[str]:
    """Surfaces that are gone by more than the counts say, which `_washes` tells of."""
    over = set(away) | {
        zone
        for zone, n in counts_of(plan, at_hand.washes).items()
        if (wanted := washes_before(plan, stage)) is not None and n > wanted
    }
    found = gone_at(plan, stage, (), at_hand.applications, at_hand.looked_at)
    said = []
    for gone in found:
        zones = tuple(z for z in gone.zones if z not in over)
        if zones:
            said.append(
                f"{stage} of {names(zones)} is gone: {gone.why}. What is read there now is another "
                f"surface. Next: set that down: {give_up(plan, stage, zones)}"
            )
    return said


def _nothing_on(plan: Plan, stage: str, at_hand: AtHand) -> list[str]:
    if stage == plan.stages[0] or stage in dict(plan.cure_hours):
        return []
    return nothing_on(plan, [z.id for z in plan.zones], at_hand.applications, at_hand.looked_at)


def nothing_on(
    plan: Plan,
    zones: Sequence[str],
    applications: Sequence[ApplicationRow],
    looked_at: Sequence[Place],
) -> list[str]:
    """Products of which nobody wrote down that they are on; said until a zone was read with it."""
    coats = latest_coats(applications)
    read = {zone for zone, at in looked_at if at != plan.stages[0]}
    bare = [
        zone
        for zone in zones
        if not plan.treatment_of(zone).is_control and zone not in coats and zone not in read
    ]
    if not bare:
        return []
    return [
        f"nothing is recorded to be on {names(bare)}. Next: coatbench apply {plan.id} "
        f"{' '.join(bare[:_MOST_NAMES])} --at TIME, if the products are on"
    ]


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
