"""What a plan could show on this bench, by the scatter that `acquire.cli.scatters` finds."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from acquire.cli.scatters import CLEAR, Scatter, Scatters, scatters_of

if TYPE_CHECKING:
    from acquire.model import Bench, InstrumentSpec, Measure, Plan


def planning_lines(plan: Plan, bench: Bench) -> list[str]:
    """A line for each measure, instrument and channel that fit; empty where none does."""
    from acquire.analysis.blocks import is_paired  # noqa: PLC0415 - slow

    if plan.study is not None:
        return []
    treatments = max(1, sum(not t.is_control for t in plan.treatments))
    zones, paired = fewest_zones(plan), is_paired(plan)
    with scatters_of(bench) as scatters:
        lines = [
            line
            for measure in plan.measures
            for spec in bench.instruments
            if spec.kind is measure.quantity
            for channel in measure.channels
            if channel in spec.policy.channels
            for line in _lines(measure, spec, channel, scatters, treatments, zones, paired=paired)
        ]
        return ["", *scatters.trouble, *lines] if lines else []


def fewest_zones(plan: Plan) -> int:
    """Of the treatment that has the fewest: by these a difference is judged."""
    on = [zone.treatment for zone in plan.zones]
    return min((on.count(t.id) for t in plan.treatments), default=1)


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
    from acquire.analysis.figures import rounded, suffix  # noqa: PLC0415 - slow
    from acquire.analysis.planning import pair_seen, readings_for  # noqa: PLC0415
    from acquire.analysis.planzones import zones_seen  # noqa: PLC0415
    from acquire.model import Quantity, at_channel  # noqa: PLC0415

    scatter = scatters.of(spec, channel, measure.unit)
    sign = suffix(measure.unit)
    yield f"planning {measure.id} with {spec.id}{at_channel(channel)}: {scatter.said}"
    if measure.quantity is Quantity.TRANSMITTANCE:
        # A film near its blank: relative uncertainties are those of the blank's light.
        sign += " of the blank's light"
        yield f"  figures are for a blank that lets {100 * CLEAR:g} % through, and films near it"
    if measure.sled is not None:
        sign = suffix(measure.result_unit)
        yield f"  figures are coefficients of friction, on a sled of {measure.sled.as_weighed}"
    if zones > 1:
        yield f"  {scatter.zones_said}"
    if zones > 1 and paired:
        yield "  differences are taken within blocks; what sets blocks apart comes off besides"
    scatter = scatter.for_results(measure.quantity, measure.sled)
    seen = zones_seen(
        scatter.sd, scatter.zones_taken, measure.replicates, zones, treatments, scatter.nu,
        is_paired=paired,
    )  # fmt: skip
    count = "1 reading" if measure.replicates == 1 else f"{measure.replicates} readings"
    each = "of each zone and stage" if zones == 1 else f"of each of {zones} zones a product"
    if seen is None:
        yield f"  {count} {each} shows nothing without a study"
    else:
        yield (
            f"  {count} {each} show a net change of {rounded(seen, seen)}{sign} "
            f"in 8 of 10 trials ({_at_once(treatments)}, without drift)"
        )
        if treatments > 1 and zones == 1:
            apart = pair_seen(scatter.sd, measure.replicates, scatter.nu, treatments) or 0.0
            yield (
                f"  two treatments have to lie {rounded(apart, apart)}{sign} apart to be told from "
                f"each other as often, with all pairs of {treatments} held against each other"
            )
    if measure.margin is not None and zones == 1:
        margin = float(measure.margin)
        need = readings_for(scatter.sd, margin, treatments)
        yield (
            f"  to show one as large as the margin of {margin:g}{sign}: "
            f"{'no number up to 1000 is enough' if need is None else f'{need} readings'}"
        )
    elif measure.margin is not None:
        yield _with_more_zones(measure, scatter, treatments, sign, paired=paired)


def _with_more_zones(
    measure: Measure, scatter: Scatter, treatments: int, sign: str, *, paired: bool
) -> str:
    from acquire.analysis.planzones import MOST_READINGS, MOST_ZONES, proposal  # noqa: PLC0415

    assert measure.margin is not None
    margin = float(measure.margin)
    found = proposal(scatter.sd, scatter.zones_taken, margin, treatments, is_paired=paired)
    what = f"  to show one as large as the margin of {margin:g}{sign}: "
    if not found.is_enough:
        return f"{what}{MOST_ZONES} zones a product with {MOST_READINGS} readings are not enough"
    return f"{what}{found.zones} zones a product with {found.readings} readings of each"


_COUNTS = (
    "",
    "one product",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
)


def _at_once(treatments: int) -> str:
    """``with six treatments compared at once``."""
    if treatments == 1:
        return "one product and its control"
    said = _COUNTS[treatments] if treatments < len(_COUNTS) else str(treatments)
    return f"with {said} treatments compared at once"
