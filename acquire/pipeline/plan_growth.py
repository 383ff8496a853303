"""What a later version of a plan adds, in words for the person at the bench. Pure.

What it may not change is in `acquire.pipeline.plan_change`.
"""

from __future__ import annotations

from collections.abc import Iterator

from acquire.model import Measure, Plan, channel_label


def additions(old: Plan, new: Plan) -> list[str]:
    """Each thing that the new version has and the old one had not, or has otherwise."""
    return [
        *_new("zone", [z.id for z in old.zones], [z.id for z in new.zones]),
        *_new("treatment", [t.id for t in old.treatments], [t.id for t in new.treatments]),
        *_new("stage", old.stages, new.stages),
        *_new("scale", [s.id for s in old.scales], [s.id for s in new.scales]),
        *_counted(old, new),
        *_handled(old, new),
        *_of_measures(old, new),
    ]


def _new(
    what: str, before: list[str] | tuple[str, ...], now: list[str] | tuple[str, ...]
) -> Iterator[str]:
    more = [name for name in now if name not in before]
    if more:
        yield f"{what}{'s' if len(more) > 1 else ''} {', '.join(more)} added"


def _counted(old: Plan, new: Plan) -> Iterator[str]:
    before = dict(old.washes)
    for stage, count in new.washes:
        if stage not in before:
            yield f"stage {stage} now comes after {count} washes"
        elif before[stage] != count:
            yield f"stage {stage} now comes after {count} washes, not {before[stage]}"


def _handled(old: Plan, new: Plan) -> Iterator[str]:
    before = dict(old.cure_hours)
    for stage, hours in new.cure_hours:
        if before.get(stage) != hours:
            yield f"stage {stage} now waits {hours} hours after the application"
    if new.recipe != old.recipe:
        yield "how a wash is done is now written otherwise"


def _of_measures(old: Plan, new: Plan) -> Iterator[str]:
    for now in new.measures:
        before = old.measure(now.id)
        if before is None:
            yield f"measure {now.id} added"
        else:
            yield from _of_measure(before, now)


def _of_measure(before: Measure, now: Measure) -> Iterator[str]:
    name = f"measure {now.id}"
    more = [channel_label(c) for c in now.channels if c not in before.channels]
    if more:
        yield f"{name} now wants {', '.join(more)} too"
    if now.replicates != before.replicates:
        yield f"{name} now wants {now.replicates} replicates of each zone, not {before.replicates}"
    stages = [stage for stage in now.stages if stage not in before.stages]
    if stages:
        yield f"{name} is now taken at {', '.join(stages)} too"
    if (now.order, now.seed) != (before.order, before.seed):
        yield f"{name} now goes {now.order.value}, in another order of zones"
    if now.end_of_life != before.end_of_life:
        yield f"{name} now has {'another' if before.end_of_life else 'an'} end of life"
    if now.sled != before.sled:
        what = (
            "no sled any more" if now.sled is None else "another sled" if before.sled else "a sled"
        )
        yield f"{name} now has {what}, by which its results are worked out anew"
    if now.stray_light != before.stray_light:
        yield f"{name} now has other stray light, by which its results are worked out anew"
    if now.lamps != before.lamps:
        yield f"{name} now tells its spectra as other band meters would"
    if now.drift_correction is not before.drift_correction:
        yield (
            f"{name} now has drift_correction = {now.drift_correction.value}, not "
            f"{before.drift_correction.value}"
        )
