"""Asking for a reading to be taken out or given its place. Runs on the desk's thread."""

from __future__ import annotations

from decimal import Decimal

from acquire.errors import NotFound, Refused
from acquire.model import (
    OUT_OF_RANGE,
    Instant,
    Measure,
    Plan,
    Quantity,
    Slot,
    Target,
    at_channel,
    channel_labels,
)
from acquire.pipeline.asking import Answer, measure_of
from acquire.pipeline.check_void import void_in_check
from acquire.pipeline.course import Course, Filling, spelled
from acquire.pipeline.desk import Desk
from acquire.pipeline.moving import move_row
from acquire.pipeline.target_list import no_trial
from acquire.pipeline.under_way import RunUnderWay
from acquire.settings import parse_plan
from acquire.store import rows as r
from acquire.store.found import MadeSuspect, StoredReading
from acquire.store.rows import Row
from acquire.units import canonical
from acquire.visible import says_something


class ReadingActs:
    """Voids and assignments. Neither changes the reading, both are later rows."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def void(self, reading_id: int, reason: str, at: Instant) -> Answer:
        """Take a press out of the results, or out of the check under way.

        A meter that slipped slipped for every channel of that press, so all its readings go. Of
        loose ones only what lay out of the meter's range can be taken out, since its zone counts
        as one-sided by it.
        """
        desk = self._desk
        reason = reason.strip()
        if not says_something(reason):
            raise Refused(
                f"reading {reading_id} is not voided",
                reason="no reason",
                got="a text in which nothing is to be seen" if reason else "no reason",
                wanted="the reason in words",
                next_step="say why: coatbench void NUMBER --reason 'meter slipped'",
            )
        found = desk.shelf.reading(reading_id)
        if found is None:
            raise NotFound(
                f"there is no reading {reading_id}", next_step="coatbench readings lists them"
            )
        if found.void_reason is not None:
            raise Refused(
                f"reading {reading_id} is void already",
                reason="void already",
                got=found.void_reason,
                next_step="nothing is left to do",
            )
        if found.role == "loose" and not OUT_OF_RANGE.intersection(found.flags.split(",")):
            raise Refused(
                f"reading {reading_id} is in no result",
                reason="not in a run",
                got="a loose reading",
                wanted="a reading of a run or of the check under way, or one out of the range",
                next_step="nothing is left to do: a loose reading counts for nothing",
            )
        told = {
            "value": found.value,
            "flags": found.flags,
            "channel": found.channel,
            "unit": canonical(Quantity(found.quantity)),
            "zone": found.zone,
            "stage": found.stage,
            "replicate": found.replicate,
        }
        if found.role == "check":
            answer = void_in_check(desk, found, reason, at)
            return Answer({**told, **answer.reply}, answer.rows)
        pressed = desk.shelf.same_press(reading_id) if found.role == "run" else []
        # They count for nothing, but say of their zone that some readings lie out of range.
        beyond = desk.shelf.out_of_range_at(reading_id)
        readings = sorted(one.id for one in (*pressed, *beyond))
        rows: list[Row] = [
            r.VoidRow(desk.ids.take(r.VoidRow), at.utc_ns, number, reason) for number in readings
        ]
        if pressed:
            rows += self._reopen(pressed, at)
            self._end_press(pressed[-1])
        return Answer({"reading_id": reading_id, "readings": readings, **told}, rows)

    def _end_press(self, reading: StoredReading) -> None:
        """What a slipped press has still to send counts no more than what it sent."""
        standing = self._desk.standings.get(reading.instrument)
        if standing is not None:
            standing.press.void(reading.id)

    def _reopen(self, pressed: list[StoredReading], at: Instant) -> list[Row]:
        """Open the place of a voided press in the open run, if it is one of its places.

        Whoever voids what was taken last still stands there, so that place comes first.
        """
        run = self._desk.run
        if run is None:
            return []
        left, is_last = run.course.next, any(one.id == run.last_filled for one in pressed)
        if is_last:
            run.last_filled = None
        reopened = [
            run.course.reopen(_slot(one), one.id, first=is_last)
            for one in pressed
            if _is_of(run, one.trial, one.measure, one.stage)
        ]
        ids = self._desk.ids
        return [move_row(ids, run.id, run.course, "void", left, at)] if any(reopened) else []

    def assign(
        self,
        reading_id: int,
        trial: str,
        measure: str | None,
        zone: str,
        stage: str,
        replicate: int,
        reason: str,
        at: Instant,
    ) -> Answer:
        """Give a loose reading its place, under the pass that covered the moment it arrived."""
        desk = self._desk
        found = desk.shelf.reading(reading_id)
        stored = desk.shelf.trial(trial)
        if found is None:
            raise NotFound(
                f"there is no reading {reading_id}",
                next_step="coatbench readings --loose lists those that can be assigned",
            )
        if stored is None:
            raise no_trial(desk, trial)
        plan = parse_plan(stored.text, f"trial {trial} as stored")
        chosen = measure_of(plan, measure or _fitting(plan, found))
        slot = Slot(Target(zone, stage, replicate), found.channel)
        is_said = says_something(reason)
        if found.role != "loose" or found.flags or found.value is None or not is_said:
            raise Refused(
                f"reading {reading_id} cannot be assigned",
                reason="not assignable",
                got=f"a {found.role} reading"
                + (f" flagged {found.flags}" if found.flags else "")
                + ("" if is_said else " without a reason"),
                wanted="a loose, unflagged reading and a reason",
                next_step="take the reading again in a run",
            )
        run_id = desk.shelf.latest_run(trial, chosen.id, stage)
        course = self._desk.chart(plan, chosen, stage, chosen.channels)
        if run_id is None or found.quantity != chosen.quantity or not course.is_open(slot):
            raise self._unfit(found, plan, chosen, slot, course, has_run=run_id is not None)
        if desk.shelf.passes.came_in_a_check(found.instrument, reading_id, found.at_utc_ns):
            raise Refused(
                f"reading {reading_id} may not count",
                reason="in a check",
                got="a press while the meter was being checked: it stood on a reference piece",
                wanted="a reading of the surface",
                next_step="take the reading again, outside the check",
            )
        verdict = desk.keeper.ask_gate_of_the_past(
            found.instrument,
            found.serial,
            found.channel,
            Instant(found.at_utc_ns, 0),
            reading_id,
            None if found.value is None else Decimal(found.value),
        )
        if not verdict.is_open and not plan.unchecked:
            raise Refused(
                f"reading {reading_id} may not count",
                reason=verdict.reason,
                got=verdict.message,
                wanted="a valid check at the moment the reading arrived",
                next_step="take the reading again under a valid check",
            )
        # Both are known now: the reading would fill its place and count for nothing.
        by = desk.shelf.passes.suspect_by(verdict.check_id) if verdict.check_id else MadeSuspect()
        if any(by):
            if by.anew:
                why = (
                    f"check {by.anew[0]} does not pass without a certificate that was withdrawn, "
                    "so all that rests on it is suspect"
                )
            elif by.checks:
                why = (
                    f"check {by.checks[0]} found {found.instrument} outside a limit, so all that "
                    "was read between them is suspect"
                )
            else:
                why = (
                    f"{found.instrument} was re-adjusted after it with no check as found, so all "
                    "that was read under it is suspect"
                )
            raise Refused(
                f"reading {reading_id} may not count",
                reason="suspect",
                got=f"a reading under check {verdict.check_id}; {why}",
                wanted="a reading that nothing has made suspect since",
                next_step="take the reading again under a valid check",
            )
        row = r.AssignmentRow(
            desk.ids.take(r.AssignmentRow),
            at.utc_ns,
            reading_id,
            run_id,
            zone,
            stage,
            replicate,
            verdict.check_id,
            0 if verdict.is_open else 1,
            reason.strip(),
        )
        if verdict.check_id is not None:
            desk.keeper.assigned(verdict.check_id, reading_id)
        # A run of other channels has no place for it, and goes on as it was.
        is_of_run = desk.run is not None and _is_of(desk.run, trial, chosen.id, stage)
        rows: list[Row] = [row]
        if desk.run is not None and is_of_run and desk.run.course.is_open(slot):
            course, left = desk.run.course, desk.run.course.next
            course.fill_at(slot, Filling(reading_id, float(found.value)))
            rows.append(move_row(desk.ids, desk.run.id, course, "assign", left, at))
        return Answer({"reading_id": reading_id, "zone": zone, "check_id": verdict.check_id}, rows)

    def _unfit(
        self,
        reading: StoredReading,
        plan: Plan,
        measure: Measure,
        slot: Slot,
        course: Course,
        *,
        has_run: bool,
    ) -> Refused:
        """Why a reading has no place there, and where it would have one."""
        zone, stage, replicate = slot.target
        kind = f"{reading.quantity}{at_channel(reading.channel)}"
        named = f"measure {measure.id}"
        if stage not in measure.stages or not has_run:
            runs = self._desk.shelf.stages_run(plan.id)
            begun = [s for s in measure.stages if (measure.id, s) in runs]
            got = f"stage {stage}, which has no run"
            wanted = f"a stage of {named} that has a run: {', '.join(begun) or 'none has yet'}"
            next_step = f"begin a run of {stage} first, or name one of these"
            if stage not in measure.stages:
                got = f"stage {stage}, which {named} does not have"
                next_step = "name one of these"
        elif reading.quantity != measure.quantity or reading.channel not in measure.channels:
            got = kind
            wanted = f"{measure.quantity} at {channel_labels(measure.channels)}"
            next_step = "name another measure with --measure"
        else:
            if all(z.id != zone for z in plan.zones):
                got = f"the plan has no zone {zone}"
            elif slot.target not in course.targets:
                got = f"zone {zone} has {measure.replicates} replicates, and no {replicate}"
            else:
                got = (
                    f"{zone}, {stage}, replicate {replicate} is filled{at_channel(reading.channel)}"
                )
            order = [z.id for z in plan.zones]
            left = course.open_targets(reading.channel)
            places = spelled(sorted(left, key=lambda t: (order.index(t.zone), t.replicate)))
            wanted = f"an open place of {named} at {stage}: {places}"
            next_step = "name one of them with --zone and --replicate"
        return Refused(
            f"reading {reading.id} does not fit there",
            reason="no open place",
            got=got,
            wanted=wanted,
            next_step=next_step,
        )


def _slot(reading: StoredReading) -> Slot:
    # A reading of a run has its place: the table's own CHECK says so.
    assert reading.zone is not None
    assert reading.stage is not None
    assert reading.replicate is not None
    return Slot(Target(reading.zone, reading.stage, reading.replicate), reading.channel)


def _fitting(plan: Plan, reading: StoredReading) -> str | None:
    """The one measure that a reading can be of; None if it can be of none or several."""
    fitting = [
        m.id
        for m in plan.measures
        if m.quantity == reading.quantity and reading.channel in m.channels
    ]
    return fitting[0] if len(fitting) == 1 else None


def _is_of(run: RunUnderWay, trial: str | None, measure: str | None, stage: str | None) -> bool:
    return (run.plan.id, run.measure.id, run.stage) == (trial, measure, stage)
