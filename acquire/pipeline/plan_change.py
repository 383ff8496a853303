"""What a changed plan may not change once a trial has runs. Pure.

A decision is made by the plan as it stood before the readings. A later version may add zones,
treatments, stages, replicates and measures; it may not move the control, rename a product, or
alter how a difference is judged, for each of these would rewrite what was already measured.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

from acquire.model import Measure, Plan


def contradictions(
    old: Plan, new: Plan, runs: Collection[tuple[str, str]], zones: Collection[str]
) -> list[str]:
    """Each contradiction in words; `runs` are (measure, stage) with runs, `zones` have readings."""
    faults: list[str] = []
    if new.unchecked != old.unchecked:
        faults.append("'unchecked' is declared from the plan on and cannot change")
    if new.study is not old.study:
        faults.append("whether a plan is a study is declared from the plan on and cannot change")
    if runs:
        if new.key_digest != old.key_digest:
            faults.append("the key that says which product is which was sealed before the readings")
        faults += [
            *_of_treatments(old, new),
            *_of_stages(old, new),
            *_of_measures(old, new, runs),
            *_of_zones(old, new, zones),
            *_of_washes(old, new, runs),
            *_of_scales(old, new),
        ]
    return faults


def _of_treatments(old: Plan, new: Plan) -> Iterator[str]:
    if new.control.id != old.control.id:
        yield f"the control was {old.control.id}, the file now says {new.control.id}"
    names = {t.id: t.name for t in new.treatments}
    used = {zone.treatment for zone in old.zones}
    for treatment in old.treatments:
        now = names.get(treatment.id)
        if treatment.id in used and now != treatment.name:
            yield f"treatment {treatment.id} was {treatment.name!r}, the file now says {now!r}"


def _of_stages(old: Plan, new: Plan) -> Iterator[str]:
    kept = tuple(stage for stage in new.stages if stage in old.stages)
    if kept != old.stages or new.stages[0] != old.stages[0]:
        yield f"the stages were {', '.join(old.stages)}, the file now says {', '.join(new.stages)}"


def _of_measures(old: Plan, new: Plan, runs: Collection[tuple[str, str]]) -> Iterator[str]:
    for measure in old.measures:
        stages = {stage for name, stage in runs if name == measure.id}
        if not stages:
            continue
        now = new.measure(measure.id)
        if now is None or not stages <= set(now.stages):
            yield f"measure {measure.id} has readings at {', '.join(sorted(stages))}"
        elif _judging(now) != _judging(measure) or not set(measure.channels) <= set(now.channels):
            yield (
                f"measure {measure.id} has readings: its quantity, unit, margin and direction "
                "stay, and its channels can only grow"
            )


def _of_washes(old: Plan, new: Plan, runs: Collection[tuple[str, str]]) -> Iterator[str]:
    """Counts of stages with readings stay; a criterion stays once a washed stage was read by it."""
    read = {stage for _, stage in runs}
    before, now = dict(old.washes), dict(new.washes)
    for stage, count in before.items():
        if stage in read and now.get(stage) != count:
            says = f"{now[stage]}" if stage in now else "nothing"
            yield (
                f"stage {stage} was read after {count} washes, the file now says {says}: a count "
                "of a stage with readings stays"
            )
    if new.recipe != old.recipe and any(before.get(stage, 0) > 0 for stage in read):
        yield "stages were read after washing: how a wash is done was settled before them and stays"
    for measure in old.measures:
        washed = [s for name, s in runs if name == measure.id and before.get(s, 0) > 0]
        changed = new.measure(measure.id)
        if washed and changed is not None and changed.end_of_life != measure.end_of_life:
            yield (
                f"measure {measure.id} has readings after washing: its end of life was settled "
                "before them and stays"
            )


def _of_scales(old: Plan, new: Plan) -> Iterator[str]:
    """What was rated means what its step said then."""
    for scale in old.scales:
        now = new.scale(scale.id)
        if now is None or (now.rated, now.steps, now.gone_below) != (
            scale.rated,
            scale.steps,
            scale.gone_below,
        ):
            yield (
                f"scale {scale.id} was settled before the readings: its steps and what it says of "
                "a life stay; write another one beside it"
            )


def _judging(measure: Measure) -> tuple[object, ...]:
    # A sled makes coefficients of forces, and a margin of so many newtons one of pure numbers.
    of_margin = measure.result_unit if measure.margin is not None else ""
    return measure.quantity, measure.unit, measure.margin, of_margin, measure.higher_is_better


def _of_zones(old: Plan, new: Plan, zones: Collection[str]) -> Iterator[str]:
    panels = {z.id: z.panel for z in new.zones}
    for zone in old.zones:
        if zone.id in zones and panels.get(zone.id, zone.panel) != zone.panel:
            yield f"zone {zone.id} has readings on panel {zone.panel}, the file now says otherwise"
    before = {z.id: z.treatment for z in old.zones}
    now = {z.id: z.treatment for z in new.zones}
    for name in zones:
        if now.get(name) != before.get(name):
            yield (
                f"zone {name} has readings under treatment {before.get(name)}, "
                f"the file now says {now.get(name, 'nothing')}"
            )
