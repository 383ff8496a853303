"""What the acts of a trial's work share: the plan they go by, its zones, the cautions.

Runs on the desk's thread.
"""

from __future__ import annotations

from collections.abc import Sequence

from acquire.cautions import cautions
from acquire.errors import NotFound, Refused
from acquire.model import Instant, Plan
from acquire.pipeline.asking import sit_down
from acquire.pipeline.desk import Desk
from acquire.pipeline.target_list import no_trial
from acquire.settings import parse_plan
from acquire.store.rows import Row

_SITTING_NS = 16 * 3600 * 1_000_000_000
"""No sitting goes on for longer; see `acquire.pipeline.opening`."""


def plan_at_work(desk: Desk, trial: str) -> Plan:
    """The plan of an open trial. Raises `NotFound` and `Refused`."""
    stored = desk.shelf.trial(trial)
    if stored is None:
        raise no_trial(desk, trial)
    plan = parse_plan(stored.text, f"trial {trial} as stored")
    if plan.study is not None:
        raise NotFound(
            f"{trial} is a study of an instrument",
            got="a study, in which nothing is applied, washed or rated",
            wanted="a trial of products",
            next_step="coatbench study --list lists studies, coatbench next trials",
        )
    if desk.shelf.worked.is_closed(trial):
        raise Refused(
            f"trial {trial} is closed",
            reason="closed",
            got="work on a closed trial",
            wanted="an open one",
            next_step=f"open it again: coatbench trial reopen {trial}",
        )
    return plan


def zones_named(plan: Plan, zones: Sequence[str]) -> tuple[str, ...]:
    """The zones that were named, each once, in the plan's order; all where none was.

    Raises `NotFound`.
    """
    known = [zone.id for zone in plan.zones]
    strange = [zone for zone in zones if zone not in known]
    if strange:
        raise NotFound(
            f"trial {plan.id} has no zone {strange[0]!r}",
            got=", ".join(map(repr, strange)),
            wanted=", ".join(known),
            next_step="name zones of the plan",
        )
    return tuple(zone for zone in known if not zones or zone in zones)


def take_care(desk: Desk, at: Instant) -> tuple[list[Row], dict[str, object]]:
    """The cautions, once a sitting; opens one where the bench is served.

    A daemon without instruments opens none: the sitting would go on when the bench is served, and
    the cautions about its instruments would never be shown. There they come once in 16 hours.
    """
    if desk.sitting_id is not None or desk.bench.connected:
        return sit_down(desk, at)
    latest_ns = desk.shelf.worked.latest_work_utc_ns()
    if latest_ns is not None and 0 <= at.utc_ns - latest_ns < _SITTING_NS:
        return [], {}
    return [], {"cautions": list(cautions(set()))}
