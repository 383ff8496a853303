"""Asking for a run: begin, resume, move among its targets, finish. Runs on the desk's thread."""

from __future__ import annotations

from collections.abc import Sequence

from acquire.errors import NotFound, Refused
from acquire.model import Instant, Measure, Plan, Quantity, Target, channel_labels
from acquire.pipeline.asking import (
    Answer,
    measure_of,
    no_run,
    open_run,
    require_ready,
    sit_down,
    standing_of,
)
from acquire.pipeline.course import Course
from acquire.pipeline.desk import Desk
from acquire.pipeline.moving import course_again, move_row
from acquire.pipeline.plan_growth import additions
from acquire.pipeline.plan_keeping import kept_plan, require_key
from acquire.pipeline.standing import Standing
from acquire.pipeline.target_list import target_list
from acquire.pipeline.under_way import RunUnderWay
from acquire.settings import parse_plan
from acquire.store import rows as r
from acquire.store.rows import Row
from acquire.trial.gone import given_up


class RunActs:
    """Runs as a person asks for them. Without a valid pass none begins."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def begin(
        self,
        plan: Plan,
        measure: str | None,
        stage: str,
        instrument: str,
        at: Instant,
        source: str = "",
    ) -> Answer:
        """Begin a run over the open targets of a measure at a stage, if the gate is open.

        A version of the plan that the store does not have is stored with it. `source` is the file
        it was read from, to be named to whoever is to begin another run of it.
        """
        desk = self._desk
        chosen = measure_of(plan, measure or self._fitting(plan, instrument))
        if stage not in chosen.stages:
            raise NotFound(
                f"measure {chosen.id} of trial {plan.id} has no stage {stage!r}",
                wanted=", ".join(chosen.stages),
                next_step="name one of these stages",
            )
        if desk.run is not None:
            raise Refused(
                "a run is open",
                reason="run open",
                got=f"run {desk.run.id} ({desk.run.plan.id}, {desk.run.stage})",
                next_step="coatbench run --resume goes on with it, coatbench run --finish ends it",
            )
        if desk.interrupted is not None:
            raise Refused(
                "an interrupted run waits",
                reason="run interrupted",
                got=f"run {desk.interrupted.id} ({desk.interrupted.trial.trial}, "
                f"{desk.interrupted.stage})",
                next_step=f"coatbench check {desk.interrupted.instrument}, then coatbench run "
                "--resume goes on with it; coatbench run --finish ends it",
            )
        require_key(desk, plan)
        standing = standing_of(self._desk, instrument)
        channels = self._admit(standing, plan, chosen, stage, at)
        before = desk.shelf.trial(plan.id)
        rows, trial = kept_plan(desk, plan, before, at)
        changes: list[str] = []
        if before is not None and before.digest != plan.digest:
            changes = additions(parse_plan(before.text, f"trial {plan.id} as stored"), plan)
        course = self._desk.chart(plan, chosen, stage, channels)
        if not course.slots_left:
            raise self._nothing_left(standing, plan, chosen, stage, course, changes)
        more, opened = sit_down(self._desk, at)
        rows += more
        assert desk.sitting_id is not None
        run_id = desk.ids.take(r.RunRow)
        rows.append(
            r.RunRow(
                run_id,
                at.utc_ns,
                trial.id,
                chosen.id,
                stage,
                instrument,
                standing.serial,
                desk.sitting_id,
            )
        )
        desk.run = RunUnderWay(run_id, trial, plan, chosen, stage, instrument, course)
        desk.sources[plan.id] = source
        return Answer(
            {
                "run_id": run_id,
                "slots_left": course.slots_left,
                "plan_changes": changes,
                "bare_open": self._bare_open(plan, chosen, stage),
                **opened,
            },
            rows,
        )

    def _bare_open(self, plan: Plan, measure: Measure, stage: str) -> list[str]:
        """Zones with open places of the bare stage when a later one begins.

        Once a product is on a zone, nobody can read that zone bare any more.
        """
        bare = plan.stages[0]
        if stage == bare or bare not in measure.stages:
            return []
        course = self._desk.chart(plan, measure, bare, measure.channels)
        left = {t.zone for channel in measure.channels for t in course.open_targets(channel)}
        return [zone.id for zone in plan.zones if zone.id in left]

    def _fitting(self, plan: Plan, instrument: str) -> str | None:
        """The one measure of a plan that an instrument takes; None if it takes none or several."""
        spec = standing_of(self._desk, instrument).spec
        fitting = [
            m.id
            for m in plan.measures
            if m.quantity is spec.kind and set(m.channels) & set(spec.policy.channels)
        ]
        return fitting[0] if len(fitting) == 1 else None

    def _nothing_left(
        self,
        standing: Standing,
        plan: Plan,
        measure: Measure,
        stage: str,
        course: Course,
        changes: list[str],
    ) -> Refused:
        """Nothing to measure: all is taken, or what is left this instrument does not measure."""
        name, policy = standing.spec.id, standing.spec.policy
        got = [f"{course.slots_total} of {course.slots_total} readings"]
        if changes:
            got.append(f"the plan has changed: {'; '.join(changes)}")
        others = tuple(g for g in measure.channels if g not in course.channels)
        left = self._desk.chart(plan, measure, stage, others).slots_left
        next_step = (
            "void a reading to take it again (coatbench void), or let the file plan more "
            "(replicates, zones, a stage)"
        )
        away = {z for z, at in given_up(self._desk.shelf.worked.given_up(plan.id)) if at == stage}
        if away:
            got.append(f"{stage} was given up of {', '.join(sorted(away))}")
            next_step = (
                f"coatbench trial give-up {plan.id} {stage} --take-back --why TEXT, if it is wanted"
            )
        if left:
            channels = channel_labels(others)
            got.append(
                f"{left} readings at {channels} are open, which the check policy {policy.id} of "
                f"{name} does not cover"
            )
            next_step = (
                f"take an instrument whose check policy covers {channels} (--with INSTRUMENT), or "
                f"give {name} such a policy in bench.toml"
            )
        return Refused(
            f"nothing is left for {name} to measure at stage {stage}",
            reason="nothing left",
            got="; ".join(got),
            next_step=next_step,
        )

    def targets(self, trial: str | None, measure: str | None, stage: str | None) -> Answer:
        """The places of the open or the interrupted run, or of a stage of a trial."""
        return Answer(target_list(self._desk, trial, measure, stage), [])

    def resume(self, at: Instant) -> Answer:
        """Go on with the interrupted run, under a fresh check."""
        desk = self._desk
        found = desk.interrupted
        if found is None:
            raise Refused(
                "no run was interrupted",
                reason="nothing to resume",
                next_step="begin one: coatbench run FILE STAGE",
            )
        plan = parse_plan(found.trial.text, f"trial {found.trial.trial} as stored")
        chosen = measure_of(plan, found.measure)
        standing = standing_of(self._desk, found.instrument)
        channels = self._admit(standing, plan, chosen, found.stage, at)
        again = course_again(desk.shelf, found, plan, chosen, channels)
        course = again.course
        rows, opened = sit_down(self._desk, at)
        if again.is_other:
            rows.append(move_row(desk.ids, found.id, course, "resume", None, at))
        desk.run = RunUnderWay(
            found.id,
            found.trial,
            plan,
            chosen,
            found.stage,
            found.instrument,
            course,
            again.last_filled,
        )
        desk.interrupted = None
        return Answer({"run_id": found.id, "slots_left": course.slots_left, **opened}, rows)

    def skip(self, at: Instant) -> Answer:
        """Leave the next target for later; `moved` is False where no other is open."""
        run = open_run(self._desk)
        left = run.course.next
        moved = run.course.skip()
        return Answer({**_next(run), "moved": moved}, self._moved("skip", run, left, at))

    def back(self, at: Instant) -> Answer:
        """Go to the open target before the present one; `moved` is False where none is."""
        run = open_run(self._desk)
        left = run.course.next
        moved = run.course.back()
        return Answer({**_next(run), "moved": moved}, self._moved("back", run, left, at))

    def go_to(self, zone: str, replicate: int | None, at: Instant) -> Answer:
        """Make an open target of a zone the next one."""
        run = open_run(self._desk)
        left = run.course.next
        if run.course.go_to(zone, replicate) is None:
            raise NotFound(
                f"zone {zone} has no open target{'' if replicate is None else f' {replicate}'}",
                wanted=", ".join(z.id for z in run.plan.zones),
                next_step="name a zone with readings left, or void one to take it again",
            )
        return Answer(_next(run), self._moved("go to", run, left, at))

    def _moved(self, how: str, run: RunUnderWay, left: Target | None, at: Instant) -> list[Row]:
        """The row of a move of the hand; none where it stayed at its place."""
        went = run.course.next
        if left is None or went is None or went == left:
            return []
        return [move_row(self._desk.ids, run.id, run.course, how, left, at)]

    def finish(self, why: str, at: Instant) -> Answer:
        """End the open or the interrupted run; its open targets stay open for another run."""
        desk = self._desk
        if desk.run is not None:
            run_id, left = desk.run.id, desk.run.course.slots_left
            desk.run = None
        elif desk.interrupted is not None:
            found = desk.interrupted
            plan = parse_plan(found.trial.text, f"trial {found.trial.trial} as stored")
            measure = measure_of(plan, found.measure)
            run_id = found.id
            left = self._desk.chart(plan, measure, found.stage, measure.channels).slots_left
            desk.interrupted = None
        else:
            raise no_run()
        row = r.RunEndRow(desk.ids.take(r.RunEndRow), at.utc_ns, run_id, left, why or "finished")
        return Answer({"run_id": run_id, "slots_left": left}, [row])

    def _admit(
        self, standing: Standing, plan: Plan, measure: Measure, stage: str, at: Instant
    ) -> tuple[str, ...]:
        """The channels an instrument may measure now for a measure; what is `Refused` is kept."""
        try:
            return self._admitted(standing, measure, plan.unchecked, at)
        except Refused as refused:
            name = standing.spec.id
            what = f"a run of {plan.id} ({measure.id}, {stage}) with {name}"
            self._desk.refusals.keep(name, what, refused, at)
            raise

    def _admitted(
        self, standing: Standing, measure: Measure, unchecked: bool, at: Instant
    ) -> tuple[str, ...]:
        name = standing.spec.id
        require_ready(standing, "run")
        policy = standing.spec.policy
        channels = tuple(g for g in measure.channels if g in policy.channels)
        if standing.spec.kind is not measure.quantity or not channels:
            raise Refused(
                f"{name} does not measure what {measure.id} wants",
                reason="other quantity",
                got=_quantity_at(standing.spec.kind, policy.channels),
                wanted=_quantity_at(measure.quantity, measure.channels),
                next_step="name another instrument: coatbench run ... --with INSTRUMENT",
            )
        verdict = self._desk.keeper.ask_gate(standing, frozenset(channels), at)
        if not verdict.is_open and not unchecked:
            raise Refused(
                f"{name} cannot start a run",
                reason=verdict.reason,
                got=verdict.message,
                wanted="a valid check",
                next_step=verdict.next_step,
            )
        if not unchecked:
            _require_range(standing, measure)
        return channels


def _next(run: RunUnderWay) -> dict[str, object]:
    target = run.course.next
    return {"next": None if target is None else target._asdict()}


def _require_range(standing: Standing, measure: Measure) -> None:
    """What a plan expects must lie in the range that the check covers."""
    name, passed, expected = standing.spec.id, standing.passed, measure.span
    if passed is None or passed.span is None or expected is None:
        return
    low, high = passed.span
    if low <= expected[0] and expected[1] <= high:
        return
    raise Refused(
        f"{name} cannot start a run",
        reason="range",
        got=f"a check that covers {low} to {high} {measure.unit}",
        wanted=f"{expected[0]} to {expected[1]} {measure.unit}, as measure {measure.id} expects",
        next_step=f"give {name} a policy with pieces and a range for it, or name another "
        "instrument with --with",
    )


def _quantity_at(quantity: Quantity, channels: Sequence[str]) -> str:
    """``gloss at 20°``; ``force``, which has no channels to be told apart."""
    return f"{quantity} at {labels}" if (labels := channel_labels(channels)) else f"{quantity}"
