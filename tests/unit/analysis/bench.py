"""Trials for the analysis tests: a plan and readings in a few words. Invented data only."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass
from decimal import Decimal

from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.results import Bracket, MeasureResult, Sample, measure_results
from acquire.model import Measure, Order, Plan, Quantity, Treatment, Zone

BARE = (90.0, 90.1, 90.2)
UP = (92.0, 92.1, 92.2)
DOWN = (88.0, 88.1, 88.2)

Readings = Mapping[tuple[str, str], Sequence[float]]
"""Readings by zone and stage. A zone is named after its treatment: "control", "wax", "wax2"."""


def plan_of(
    zones: Sequence[str],
    stages: Sequence[str] = ("bare", "applied"),
    *,
    channels: tuple[str, ...] = ("60",),
    margin: str | None = None,
    higher_is_better: bool = True,
    replicates: int = 3,
    order: Order = Order.INTERLEAVED,
) -> tuple[Plan, Measure]:
    """A plan whose treatments are the zones' names without their digits."""
    ids = list(dict.fromkeys(z.rstrip("0123456789") for z in zones))
    treatments = tuple(Treatment(i, i.capitalize(), is_control=i == "control") for i in ids)
    measure = Measure(
        id="gloss",
        quantity=Quantity.GLOSS,
        channels=channels,
        unit="gloss_unit",
        stages=tuple(stages),
        replicates=replicates,
        order=order,
        seed=1,
        higher_is_better=higher_is_better,
        margin=Decimal(margin) if margin is not None else None,
    )
    plan = Plan(
        id="yard",
        title="Protectants on gelcoat",
        panel="dark gelcoat",
        treatments=treatments,
        zones=tuple(Zone(z, z.rstrip("0123456789")) for z in zones),
        stages=tuple(stages),
        measures=(measure,),
        unchecked=False,
        text="",
        digest="",
    )
    return plan, measure


def samples_of(readings: Readings, channel: str = "60") -> list[Sample]:
    """Stages follow one another by 1000 s; within a stage replicate by replicate, 10 s each."""
    stages = list(dict.fromkeys(stage for _, stage in readings))
    zones = list(dict.fromkeys(zone for zone, _ in readings))
    made = []
    for (zone, stage), values in readings.items():
        for replicate, value in enumerate(values):
            at_s = 1000.0 * stages.index(stage) + 10 * (replicate * len(zones) + zones.index(zone))
            made.append(
                Sample(
                    zone=zone,
                    treatment=zone.rstrip("0123456789"),
                    stage=stage,
                    replicate=replicate + 1,
                    channel=channel,
                    value=value,
                    at_s=at_s,
                    reading_id=len(made) + 1,
                )
            )
    return made


def result_of(
    readings: Readings,
    *,
    brackets: Sequence[Bracket] | None = None,
    resolution: float = 0.1,
    margin: str | None = None,
    higher_is_better: bool = True,
    replicates: int = 3,
) -> MeasureResult:
    """The result at 60 degrees; without `brackets` one quiet bracket around each stage."""
    stages = list(dict.fromkeys(stage for _, stage in readings))
    plan, measure = plan_of(
        list(dict.fromkeys(zone for zone, _ in readings)),
        stages,
        margin=margin,
        higher_is_better=higher_is_better,
        replicates=replicates,
    )
    if brackets is None:
        brackets = [quiet(stage, 1000.0 * i) for i, stage in enumerate(stages)]
    (result,) = measure_results(plan, measure, samples_of(readings), brackets, resolution)
    return result


def quiet(stage: str, opening_at_s: float) -> Bracket:
    """A bracket of 900 s in which nothing drifted."""
    return Bracket(
        stage, opening_at_s, opening_at_s + 900, drift=0.0, tile_u=0.2, opening_deviation=0.0
    )


def trial(**applied: tuple[float, ...]) -> Readings:
    """Every zone bare alike, and as given when applied; the control unchanged."""
    zones = {"control": BARE, **applied}
    return {(z, "bare"): BARE for z in zones} | {(z, "applied"): v for z, v in zones.items()}


def judged(result: MeasureResult, treatment: str, stage: str = "applied") -> Comparison:
    found = result.comparison(treatment, stage)
    assert isinstance(found, Comparison)
    return found


def refused(result: MeasureResult, treatment: str, stage: str = "applied") -> Refusal:
    found = result.comparison(treatment, stage)
    assert isinstance(found, Refusal)
    return found


def floats_in(thing: object) -> Iterator[float]:
    """Every float anywhere in a tree of facts."""
    if isinstance(thing, float):
        yield thing
    elif is_dataclass(thing) and not isinstance(thing, type):
        for field in fields(thing):
            yield from floats_in(getattr(thing, field.name))
    elif isinstance(thing, Mapping):
        for value in thing.values():
            yield from floats_in(value)
    elif isinstance(thing, tuple | list):
        for value in thing:
            yield from floats_in(value)


def texts_in(thing: object) -> Iterator[str]:
    """Every text anywhere in a tree of facts."""
    if isinstance(thing, str):
        yield thing
    elif is_dataclass(thing) and not isinstance(thing, type):
        for field in fields(thing):
            yield from texts_in(getattr(thing, field.name))
    elif isinstance(thing, tuple | list):
        for value in thing:
            yield from texts_in(value)


def has_nan(thing: object) -> bool:
    return any(math.isnan(value) for value in floats_in(thing))
