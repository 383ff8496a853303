"""What a plan could show on this bench, by the scatter that `acquire.cli.scatters` finds."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import TYPE_CHECKING

from acquire.cli.foretold import counted, grounds, lacking_words, needed, seen_words, sign_of
from acquire.cli.scatters import Scatters, scatters_of

if TYPE_CHECKING:
    from acquire.model import Bench, InstrumentSpec, Measure, Plan


def planning_lines(plan: Plan, bench: Bench) -> list[str]:
    """A line for each measure, instrument and channel that fit; empty where none does."""
    from acquire.analysis.specimens.blocks import is_paired  # noqa: PLC0415 - slow

    if plan.study is not None:
        return []
    treatments = max(1, sum(not t.is_control for t in plan.treatments))
    zones, paired = fewest_zones(plan), is_paired(plan)
    with scatters_of(bench) as scatters:
        lines = [
            line
            for measure in plan.measures
            if _is_judged(measure, plan)
            for spec in bench.instruments
            if spec.kind is measure.quantity
            for channel in measure.channels
            if channel in spec.policy.channels
            for line in _lines(measure, spec, channel, scatters, treatments, zones, paired=paired)
        ]
        from acquire.analysis.rules.lonezones import is_told_by_others  # noqa: PLC0415 - slow

        if lines and is_told_by_others(zone_counts(plan)):
            lines.append(_TOLD_BY_OTHERS)
        lines += [_not_judged(one, plan) for one in plan.measures if not _is_judged(one, plan)]
        return ["", *scatters.trouble, *lines] if lines else []


_TOLD_BY_OTHERS = (
    "treatments with several zones tell how zones differ, for those with one zone as well: where "
    "that is more than readings scatter, less is shown than by the figures above"
)


def zone_counts(plan: Plan) -> list[int]:
    """How many zones each treatment has."""
    on = [zone.treatment for zone in plan.zones]
    return [on.count(t.id) for t in plan.treatments]


def fewest_zones(plan: Plan) -> int:
    """Of the treatment that has the fewest: by these a difference is judged."""
    return min(zone_counts(plan), default=1)


def _is_judged(measure: Measure, plan: Plan) -> bool:
    """Whether it is read at the bare stage and at one besides, so that there is a change."""
    return plan.stages[0] in measure.stages and len(measure.stages) > 1


def _not_judged(measure: Measure, plan: Plan) -> str:
    stages = f"stage{'s' if len(measure.stages) > 1 else ''} {', '.join(measure.stages)}"
    return (
        f"planning {measure.id}: read at the {stages} alone, so that it shows no change against "
        f"{plan.stages[0]} and no treatment is judged by it"
    )


def _lines(
    measure: Measure,
    spec: InstrumentSpec,
    channel: str,
    scatters: Scatters,
    treatments: int,
    zones: int,
    *,
    paired: bool,
) -> Iterator[str]:
    from acquire.analysis.figures import rounded  # noqa: PLC0415 - slow
    from acquire.analysis.plans.planning import pair_seen  # noqa: PLC0415
    from acquire.model import at_channel  # noqa: PLC0415

    scatter = scatters.of(spec, channel, measure.unit)
    sign = sign_of(measure, measure.sled)
    yield f"planning {measure.id} with {spec.id}{at_channel(channel)}: {scatter.said}"
    if measure.sled is not None:
        yield f"  figures are coefficients of friction, on a sled of {measure.sled.as_weighed}"
    yield from (f"  {said}" for said in grounds(scatter, measure, zones, is_paired=paired))
    scatter = scatter.for_results(measure.quantity, measure.sled)
    readings = measure.replicates
    seen = seen_words(scatter, zones, readings, treatments, sign, is_paired=paired)
    yield f"  {seen}"
    apart = pair_seen(scatter.sd, readings, scatter.nu_lent, treatments) if treatments > 1 else None
    if zones == 1 and apart is not None:
        yield (
            f"  two treatments have to lie {rounded(apart, apart)}{sign} apart to be told from "
            f"each other as often, with all pairs of {treatments} held against each other"
        )
    if measure.margin is None:
        return
    # Of a plan with one zone a product, its readings; of one with several, what it might have had.
    only = 1 if zones == 1 else None
    found = needed(scatter, float(measure.margin), treatments, only, is_paired=paired)
    what = f"to show one as large as the margin of {measure.margin.normalize():f}{sign}"
    wanted = Decimal(f"{measure.margin.normalize():f}")
    lacking = lacking_words(found, scatter, wanted, sign, treatments, only, is_paired=paired)
    yield f"  {what}: {lacking or counted(found.zones, found.readings)}"
