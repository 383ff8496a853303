"""Giving up a stage: nobody can or will read it any more, with the reason. The desk's thread."""

from __future__ import annotations

from collections.abc import Sequence

from acquire.errors import NotFound, Refused
from acquire.model import Instant, Plan
from acquire.pipeline.asking import Answer
from acquire.pipeline.at_work import plan_at_work, zones_named
from acquire.pipeline.desk import Desk
from acquire.store.work_rows import GivingUpRow
from acquire.trial.gone import given_up
from acquire.trial.ratings import things
from acquire.visible import says_something


class GivingUpActs:
    """A stage of zones is wanted no more, or is again. What was read there stays."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def give_up(
        self, trial: str, stage: str, zones: Sequence[str], why: str, at: Instant
    ) -> Answer:
        """Set down that what is open of a stage will not be taken; no zones are all of them."""
        desk = self._desk
        plan = self._plan(trial, stage, why)
        run = desk.run
        broken = desk.interrupted
        if broken is not None and (broken.trial.trial, broken.stage) == (trial, stage):
            raise _refused(trial, stage, "run open", f"run {broken.id} interrupted at {stage}",
                           "none", "finish it: coatbench run --finish")  # fmt: skip
        if run is not None and (run.plan.id, run.stage) == (trial, stage):
            raise _refused(trial, stage, "run open", f"run {run.id} open at {stage}", "none",
                           "finish it: coatbench run --finish")  # fmt: skip
        away = self._away(trial, stage)
        named, still = zones_named(plan, zones), self._open(plan, stage)
        chosen = tuple(z for z in named if z in still and z not in away)
        if not chosen:
            got = "zones of which it was given up already" if set(named) & away else (
                "zones at which every reading and rating is taken"
            )  # fmt: skip
            raise _refused(trial, stage, "nothing open", got, "a zone with something left to take",
                           f"coatbench trial show {trial}")  # fmt: skip
        return self._kept(trial, stage, chosen, why, at, is_given_up=True)

    def take_back(
        self, trial: str, stage: str, zones: Sequence[str], why: str, at: Instant
    ) -> Answer:
        """The stage is wanted again of zones of which it was given up; no zones are all of them."""
        plan = self._plan(trial, stage, why)
        away = self._away(trial, stage)
        chosen = tuple(z for z in zones_named(plan, zones) if z in away)
        if not chosen:
            raise _refused(trial, stage, "as it is", "zones of which it was not given up",
                           ", ".join(sorted(away)) or "a stage that was given up",
                           f"coatbench trial show {trial}")  # fmt: skip
        return self._kept(trial, stage, chosen, why, at, is_given_up=False)

    def _kept(
        self, trial: str, stage: str, zones: Sequence[str], why: str, at: Instant, *,
        is_given_up: bool,
    ) -> Answer:  # fmt: skip
        row = GivingUpRow(
            self._desk.ids.take(GivingUpRow), at.utc_ns, trial, stage, ",".join(zones),
            int(is_given_up), why,
        )  # fmt: skip
        reply: dict[str, object] = {"trial": trial, "stage": stage, "zones": list(zones)}
        return Answer(reply, [row])

    def _plan(self, trial: str, stage: str, why: str) -> Plan:
        plan = plan_at_work(self._desk, trial)
        if stage not in plan.stages:
            raise NotFound(
                f"trial {trial} has no stage {stage!r}",
                got=repr(stage),
                wanted=", ".join(plan.stages),
                next_step="name one of these stages",
            )
        if not says_something(why):
            raise _refused(trial, stage, "no reason", "no reason", "why, since the report says it",
                           "say it: --why TEXT")  # fmt: skip
        return plan

    def _away(self, trial: str, stage: str) -> set[str]:
        rows = self._desk.shelf.worked.given_up(trial)
        return {zone for zone, at in given_up(rows) if at == stage}

    def _open(self, plan: Plan, stage: str) -> set[str]:
        """Zones at which something is left to be read or rated."""
        rated = {
            (r.scale, r.zone) for r in self._desk.shelf.worked.ratings(plan.id) if r.stage == stage
        }
        found = {t.zone for t in things(plan, stage) if (t.scale, t.zone) not in rated}
        for measure in plan.measures:
            if stage in measure.stages:
                course = self._desk.chart(plan, measure, stage, measure.channels)
                found |= {t.zone for g in measure.channels for t in course.open_targets(g)}
        return found


def _refused(trial: str, stage: str, reason: str, got: str, wanted: str, next_step: str) -> Refused:
    return Refused(
        f"nothing is set down of {stage} of {trial}",
        reason=reason,
        got=got,
        wanted=wanted,
        next_step=next_step,
    )
