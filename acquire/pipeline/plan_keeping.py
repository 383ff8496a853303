"""Writing a plan down: as it was first used, or as it has grown. Runs on the desk's thread."""

from __future__ import annotations

from acquire.errors import Refused
from acquire.model import Instant, Plan
from acquire.pipeline.desk import Desk
from acquire.pipeline.plan_change import contradictions
from acquire.settings import parse_plan
from acquire.store import rows as r
from acquire.store.found import StoredTrial
from acquire.store.rows import Row


def kept_plan(
    desk: Desk, plan: Plan, before: StoredTrial | None, at: Instant
) -> tuple[list[Row], StoredTrial]:
    """The stored version of a plan, with the rows of a new version where it is one.

    `before` is the latest version in the store. Raises `Refused` where the plan contradicts what
    was measured by that.
    """
    if before is not None and before.digest == plan.digest:
        return [], before
    if before is not None:
        _refuse_contradiction(desk, plan, before)
    row = r.TrialRow(
        desk.ids.take(r.TrialRow),
        at.utc_ns,
        plan.id,
        plan.title,
        int(plan.unchecked),
        plan.text,
        plan.digest,
    )
    zones = [
        r.TrialZoneRow(
            desk.ids.take(r.TrialZoneRow),
            row.id,
            zone.id,
            zone.treatment,
            plan.treatment_of(zone.id).name,
            int(plan.treatment_of(zone.id).is_control),
        )
        for zone in plan.zones
    ]
    return [row, *zones], StoredTrial(row.id, plan.id, plan.unchecked, plan.text, plan.digest)


def require_key(desk: Desk, plan: Plan) -> None:
    """A blind plan is read only where its key is, or nobody could ever tell what was read.

    Raises `Refused`.
    """
    if plan.is_blind and desk.shelf.worked.key(plan.key_digest) is None:
        raise Refused(
            f"the blind trial {plan.id} cannot be read here",
            reason="no key",
            got="no key with the digest of the plan in this store",
            wanted="the store that it was planned for, which has the sealed key",
            next_step="name the bench it was planned on with --bench, or plan it anew: "
            "coatbench trial new --blind",
        )


def _refuse_contradiction(desk: Desk, plan: Plan, before: StoredTrial) -> None:
    """A changed plan may add; it may not move what already has readings."""
    old = parse_plan(before.text, f"trial {plan.id} as stored")
    shelf = desk.shelf
    faults = contradictions(old, plan, shelf.stages_run(plan.id), shelf.zones_filled(plan.id))
    if faults:
        raise Refused(
            f"the file of trial {plan.id} contradicts its own readings",
            reason="plan changed",
            got="; ".join(faults),
            wanted="a plan that only adds",
            next_step="undo the change, or give the new plan another trial id",
        )
