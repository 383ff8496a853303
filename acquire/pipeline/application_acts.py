"""Putting products on, and taking back what was told wrongly of it. Runs on the desk's thread."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from acquire.errors import NotFound, Refused
from acquire.model import Instant, Plan, iso_utc
from acquire.pipeline.asking import Answer
from acquire.pipeline.at_work import plan_at_work, take_care, zones_named
from acquire.pipeline.desk import Desk
from acquire.store.rows import Row
from acquire.store.work_rows import ApplicationRow, ApplicationVoidRow
from acquire.visible import says_something

AHEAD_NS = 60 * 1_000_000_000
"""A clock that differs a little from that of the bench must not refuse what is done now."""


class ApplicationActs:
    """Applications as a person tells them. A later one of the same zone is a new coat."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def apply(
        self,
        trial: str,
        zones: Sequence[str],
        treatment: str,
        amount: str,
        haze_minutes: Decimal | None,
        applied_utc_ns: int | None,
        text: str,
        at: Instant,
    ) -> Answer:
        """Write down what was put on; no zones are all those with the `treatment`.

        Raises `Refused` for the control, for zones with another treatment than was named, and for
        what is to be done in the future.
        """
        desk = self._desk
        plan = plan_at_work(desk, trial)
        chosen = _treated(plan, zones, treatment)
        when_ns = at.utc_ns if applied_utc_ns is None else applied_utc_ns
        if when_ns > at.utc_ns + AHEAD_NS:
            raise _refused(
                plan,
                "not done yet",
                iso_utc(when_ns),
                f"a time up to now, {iso_utc(at.utc_ns)}",
                "give the time at which it was put on, or leave --at out for now",
            )
        rows, told = take_care(desk, at)
        coats = {z: 1 for z in chosen}
        for before in desk.shelf.worked.applications(trial):
            if before.zone in coats:
                coats[before.zone] += 1
        haze = None if haze_minutes is None else f"{haze_minutes.normalize():f}"
        more: list[Row] = [
            ApplicationRow(
                desk.ids.take(ApplicationRow), at.utc_ns, desk.sitting_id, trial, zone, when_ns,
                amount, haze, text,
            )
            for zone in chosen
        ]  # fmt: skip
        return Answer(
            {
                "trial": trial,
                "zones": list(chosen),
                "coats": coats,
                "applied": iso_utc(when_ns),
                "applied_utc_ns": when_ns,
                "treatments": {z: plan.treatment_of(z).id for z in chosen},
                **told,
            },
            [*rows, *more],
        )

    def take_back(
        self, trial: str, applications: Sequence[int], reason: str, at: Instant
    ) -> Answer:
        """Applications, by their ids, were told wrongly; what was written down stays.

        Raises `NotFound` and `Refused`.
        """
        desk = self._desk
        plan = plan_at_work(desk, trial)
        if not says_something(reason):
            raise _refused(
                plan, "no reason", "no reason", "why it is taken back, since the report says it",
                "say it: --reason TEXT",
            )  # fmt: skip
        standing = {row.id: row for row in desk.shelf.worked.applications(trial)}
        strange = [number for number in applications if number not in standing]
        if strange or not applications:
            raise NotFound(
                f"no application {strange[0]} of {trial} stands" if strange else "none is named",
                got=", ".join(map(str, strange)) or "no number of an application",
                wanted=", ".join(map(str, standing)) or "an application; none is recorded",
                next_step=f"coatbench apply {trial} ZONE --take-back takes the last of a zone",
            )
        rows: list[Row] = [
            ApplicationVoidRow(desk.ids.take(ApplicationVoidRow), at.utc_ns, trial, number, reason)
            for number in dict.fromkeys(applications)
        ]
        zones = [standing[number].zone for number in dict.fromkeys(applications)]
        return Answer({"trial": trial, "zones": zones}, rows)


def _treated(plan: Plan, zones: Sequence[str], treatment: str) -> tuple[str, ...]:
    """The zones that are meant. Raises `NotFound` and `Refused`."""
    if treatment:
        known = [t.id for t in plan.treatments]
        if treatment not in known:
            raise NotFound(
                f"trial {plan.id} has no treatment {treatment!r}",
                got=repr(treatment),
                wanted=", ".join(known),
                next_step="name one of these",
            )
    elif not zones:
        raise _refused(
            plan, "no zone", "neither zones nor a treatment", "the zones that it was put on",
            f"coatbench apply {plan.id} ZONE..., or --treatment T for all zones of T",
        )  # fmt: skip
    chosen = [
        zone
        for zone in zones_named(plan, zones)
        if zones or plan.treatment_of(zone).id == treatment
    ]
    for zone in chosen:
        on_it = plan.treatment_of(zone)
        if on_it.is_control:
            raise _refused(
                plan, "the control", f"zone {zone}, which stays untreated ({on_it.id})",
                "zones with a treatment", "look at the layout: coatbench trial show " + plan.id,
            )  # fmt: skip
        if treatment and on_it.id != treatment:
            raise _refused(
                plan, "another treatment", f"{treatment} on zone {zone}",
                f"{on_it.id}, which the plan has there",
                "look at the layout: coatbench trial show " + plan.id,
            )  # fmt: skip
    return tuple(chosen)


def _refused(plan: Plan, reason: str, got: str, wanted: str, next_step: str) -> Refused:
    return Refused(
        f"nothing is recorded of applications of {plan.id}",
        reason=reason,
        got=got,
        wanted=wanted,
        next_step=next_step,
    )
