"""The places of a run as plain data: what is next, open, skipped, and filled by which reading.

Runs on the desk's thread; changes nothing.
"""

from __future__ import annotations

from acquire.errors import NotFound, Refused
from acquire.model import Measure, Plan, Slot
from acquire.pipeline.asking import measure_of
from acquire.pipeline.course import Course
from acquire.pipeline.desk import Desk
from acquire.pipeline.moving import course_again
from acquire.settings import parse_plan
from acquire.trial.blinding import opened_plan


def target_list(
    desk: Desk, trial: str | None, measure: str | None, stage: str | None
) -> dict[str, object]:
    """The places of the run that is open or interrupted, or of a stage of a trial.

    What was skipped is told of that run only: for another one every open place is just open.
    """
    run = desk.run
    if run is not None and all(
        asked in (None, own)
        for asked, own in ((trial, run.plan.id), (measure, run.measure.id), (stage, run.stage))
    ):
        shown = opened_plan(desk.shelf.worked, run.plan)
        return _told(shown, run.measure, run.stage, run.course, run.id)
    if trial is None and desk.interrupted is not None:
        found = desk.interrupted
        trial, measure, stage = found.trial.trial, found.measure, found.stage
    if trial is None:
        raise no_run_to_list(desk)
    stored = desk.shelf.trial(trial)
    if stored is None:
        raise no_trial(desk, trial)
    plan = parse_plan(stored.text, f"trial {trial} as stored")
    chosen = measure_of(plan, measure)
    if stage not in chosen.stages:
        raise NotFound(
            f"measure {chosen.id} of trial {trial} has no stage {stage!r}"
            if stage
            else f"trial {trial} has several stages",
            wanted=", ".join(chosen.stages),
            next_step="name one of these stages",
        )
    shown = opened_plan(desk.shelf.worked, plan)
    broken = desk.interrupted
    if broken is None or (trial, chosen.id, stage) != (
        broken.trial.trial,
        broken.measure,
        broken.stage,
    ):
        course = desk.chart(plan, chosen, stage, chosen.channels)
        told = _told(shown, chosen, stage, course, None)
    else:
        course = course_again(desk.shelf, broken, plan, chosen, chosen.channels).course
        told = _told(shown, chosen, stage, course, None)
        told["interrupted"] = {"run_id": broken.id, "instrument": broken.instrument}
    return told


def no_trial(desk: Desk, trial: str) -> NotFound:
    """A trial that has no run, with those that have."""
    known = ", ".join(desk.shelf.trials())
    return NotFound(
        f"no trial {trial!r} has a run here",
        got=repr(trial),
        wanted=known or "a trial that has a run; none has yet",
        next_step="name one of these" if known else "begin one: coatbench run FILE STAGE",
    )


def no_run_to_list(desk: Desk) -> Refused:
    latest = desk.shelf.last_run()
    example = "{} {} --measure {}".format(*latest) if latest else "TRIAL STAGE"
    return Refused(
        "no run is open",
        reason="no run",
        next_step=f"name a trial and a stage: coatbench targets {example}",
    )


def _told(
    plan: Plan, measure: Measure, stage: str, course: Course, run_id: int | None
) -> dict[str, object]:
    upcoming = course.next if run_id is not None else None
    skipped = set(course.skipped)
    places: list[dict[str, object]] = []
    for target in course.targets:
        wanted = course.wanted(target)
        if not wanted:
            state = "filled"
        elif target == upcoming:
            state = "next"
        else:
            state = "skipped" if target in skipped else "open"
        fillings = {g: course.filling(Slot(target, g)) for g in course.channels}
        places.append(
            {
                "zone": target.zone,
                "treatment": plan.treatment_of(target.zone).name,
                "replicate": target.replicate,
                "state": state,
                "wanted": list(wanted),
                "readings": [
                    {"reading_id": f.reading_id, "channel": g, "value": f.value}
                    for g, f in fillings.items()
                    if f is not None
                ],
            }
        )
    return {
        "run_id": run_id,
        "trial": plan.id,
        "measure": measure.id,
        "unit": measure.unit,
        "stage": stage,
        "slots_left": course.slots_left,
        "slots_total": course.slots_total,
        "targets": places,
    }
