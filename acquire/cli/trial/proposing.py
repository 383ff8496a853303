"""How many zones and readings a plan is proposed, by what this bench has shown. Main thread."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, NamedTuple

from acquire.cli.foretold import (
    counted,
    falls_short,
    grounds,
    lacking_words,
    needed,
    seen_words,
    sign_of,
)
from acquire.cli.scatters import Scatters, scatters_of
from acquire.model import Design
from acquire.trial import dealing
from acquire.trial.answers import SLICKNESS

if TYPE_CHECKING:
    from acquire.model import Bench, Panel
    from acquire.model.sled import SledSpec
    from acquire.trial.answers import Grid, Measured


class Proposed(NamedTuple):
    """Zones a product and readings a zone for one measure, and in lines where that is from.

    `instead` says what another number of readings of these zones would show, where that is known.
    """

    zones: int
    readings: int
    lines: tuple[str, ...]
    instead: Callable[[int], str]


DEFAULT = 3, 5
"""Zones and readings where no instrument of the bench measures it. Our choice."""


def proposals(
    bench: Bench | None,
    measures: Sequence[Measured],
    wanted: Mapping[str, Decimal],
    sled: SledSpec | None,
    products: int,
    zones: int | None = None,
    *,
    is_paired: bool = False,
) -> dict[str, Proposed]:
    """For each measure by id; with `zones` given only the readings are proposed.

    `is_paired` where differences will be taken within blocks.
    """
    if bench is None:
        return {m.id: _unknown(m, zones, "no bench file is at hand") for m in measures}
    with scatters_of(bench) as scatters:
        return {
            m.id: _proposed(
                bench, m, wanted.get(m.id), sled, products, zones, scatters, is_paired=is_paired
            )
            for m in measures
        }


def usual_measures(bench: Bench | None) -> str:
    """The measures that the instruments of the bench can take, with spaces between."""
    found: list[str] = []
    for spec in bench.instruments if bench is not None else ():
        names = {
            "gloss": [f"gloss-{'-'.join(spec.policy.channels)}"],
            "force": [SLICKNESS],
            "transmittance": [f"transmission-{c}" for c in spec.policy.channels],
        }.get(spec.kind.value, [])
        found += [n for n in names if n not in found]
    return " ".join(found) or "gloss-20"


def paired_by(
    design: str | None, grid: Grid | None, panels: Sequence[Panel], treatments: int
) -> bool:
    """Whether results will take differences within blocks; without a grid by what is proposed."""
    from acquire.analysis.specimens.blocks import ENOUGH_BLOCKS  # noqa: PLC0415 - slow

    if design not in (None, Design.COMPLETE_BLOCKS.value):
        return False
    if grid is None:
        return True
    whole = dealing.Grid(tuple(p.id for p in panels), grid.rows, grid.columns)
    if design is None and dealing.design_for(whole, treatments) is not Design.COMPLETE_BLOCKS:
        return False
    found = dealing.blocks_of(whole, treatments)
    return found is not None and (
        found.number >= ENOUGH_BLOCKS or whole.zones == found.number * treatments
    )


def _unknown(measure: Measured, zones: int | None, why: str) -> Proposed:
    count, readings = zones or DEFAULT[0], DEFAULT[1]
    said = f"{measure.id}: {why}, so {counted(count, readings)} by habit, and by no figure"

    return Proposed(count, readings, (said,), lambda _: "")


def _proposed(
    bench: Bench,
    measure: Measured,
    wanted: Decimal | None,
    sled: SledSpec | None,
    products: int,
    zones: int | None,
    scatters: Scatters,
    *,
    is_paired: bool,
) -> Proposed:
    from acquire.units import canonical  # noqa: PLC0415 - slow

    unit = canonical(measure.quantity)
    own_sled = sled if measure.quantity.value == "force" else None
    fitting = [
        (spec, scatters.of(spec, channel, unit))
        for spec in bench.instruments
        if spec.kind is measure.quantity
        for channel in measure.channels
        if channel in spec.policy.channels
    ]
    if not fitting:
        return _unknown(measure, zones, "no instrument of the bench measures it")
    # The one that scatters most of those that are known: whichever is at hand on the day will do,
    # and a default stands for no meter where another one has shown its own.
    known = [one for one in fitting if one[1].nu is not None] or fitting
    spec, scatter = max(known, key=lambda one: one[1].sd)
    result = scatter.for_results(measure.quantity, own_sled)
    least = None if wanted is None else float(wanted)
    found = needed(result, least, products, zones, is_paired=is_paired)
    sign = sign_of(measure, own_sled)
    lacking = (
        ""
        if wanted is None
        else lacking_words(found, result, wanted, sign, products, zones, is_paired=is_paired)
    )
    seen = seen_words(result, found.zones, found.readings, products, sign, is_paired=is_paired)
    lines = (
        f"{measure.id} with {spec.id}: {scatter.said}",
        *(f"  {said}" for said in grounds(scatter, measure, found.zones, is_paired=is_paired)),
        *((f"  {lacking}",) if lacking else ()),
        f"  proposed: {seen}",
    )

    def instead(chosen: int) -> str:
        said = seen_words(result, found.zones, chosen, products, sign, is_paired=is_paired)
        short = falls_short(result, least, found.zones, chosen, products, is_paired=is_paired)
        return f"{said}; wanted was {wanted}{sign}" if short else said

    return Proposed(found.zones, found.readings, lines, instead)
