"""Trials of films for the tests: slides read bare and coated, or against a box of blanks.

Invented data only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.results import MeasureResult, measure_results
from acquire.model import Quantity
from acquire.model.plan import StrayLight
from tests.unit.analysis.bench import Readings, plan_of, quiet, samples_of

BAND = "315-400"
NAME = "UVA 315-400 nm, as the meter weights it"


def films_of(
    readings: Readings,
    *,
    brackets: Sequence[Bracket] | None = None,
    resolution: float = 0.0,
    margin: str | None = None,
    higher_is_better: bool = False,
    channel: str = BAND,
    bands: dict[str, str] | None = None,
    stray: StrayLight | None = None,
    in_blocks: bool = False,
) -> MeasureResult:
    """The result of a transmittance; without a stage "bare" the control's zones are blanks.

    `in_blocks` where zones with the same last digit lie in one block.
    """
    read = list(dict.fromkeys(stage for _, stage in readings))
    stages = read if "bare" in read else ["bare", *read]
    plan, measure = plan_of(
        list(dict.fromkeys(zone for zone, _ in readings)),
        stages,
        channels=(channel,),
        margin=margin,
        higher_is_better=higher_is_better,
    )
    if in_blocks:
        zones = tuple([replace(zone, block=int(zone.id[-1])) for zone in plan.zones])
        plan = replace(plan, zones=zones)
    measure = replace(
        measure,
        quantity=Quantity.TRANSMITTANCE,
        unit="percent",
        stages=tuple(read),
        stray_light=stray,
    )
    if brackets is None:
        brackets = [replace(quiet(stage, 1000.0 * i), tile_u=0.0) for i, stage in enumerate(read)]
    (result,) = measure_results(
        plan, measure, samples_of(readings, channel), brackets, resolution, bands=bands or {}
    )
    return result
