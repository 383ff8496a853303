"""How many zones and readings a plan is proposed, by what this bench has shown. Main thread."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, NamedTuple

from acquire.cli.scatters import CLEAR, Scatter, Scatters, scatters_of
from acquire.model import Design
from acquire.trial import dealing

if TYPE_CHECKING:
    from acquire.analysis.planzones import Proposal
    from acquire.model import Bench, InstrumentSpec, Panel
    from acquire.model.sled import SledSpec
    from acquire.trial.answers import Grid, Measured


class Proposed(NamedTuple):
    """Zones a product and readings a zone for one measure, and in lines where that is from."""

    zones: int
    readings: int
    lines: tuple[str, ...]


DEFAULT = 3, 5
"""Zones and readings where no instrument of the bench measures it. Our choice."""
MOST_BY_DEFAULT = 4
"""Zones a product that the default scatter may ask for: it is the largest a check lets pass, and
nobody should treat dozens of zones before a study was made. Our choice."""


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


def paired_by(
    design: str | None, grid: Grid | None, panels: Sequence[Panel], treatments: int
) -> bool:
    """Whether results will take differences within blocks; without a grid by what is proposed."""
    from acquire.analysis.blocks import ENOUGH_BLOCKS  # noqa: PLC0415 - slow

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
    said = f"{measure.id}: {why}, so {_counted(count, readings)} by habit, and by no figure"
    return Proposed(count, readings, (said,))


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
    from acquire.analysis.planzones import MOST_ZONES, proposal  # noqa: PLC0415 - slow
    from acquire.units import canonical  # noqa: PLC0415

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
    found = proposal(
        result.sd,
        result.zones_taken,
        None if wanted is None else float(wanted),
        products,
        zones,
        scatter.nu,
        MOST_ZONES if scatter.nu is not None else MOST_BY_DEFAULT,
        is_paired=is_paired,
    )
    return Proposed(
        found.zones,
        found.readings,
        tuple(_lines(measure, spec, scatter, found, wanted, products, own_sled)),
    )


def _lines(
    measure: Measured,
    spec: InstrumentSpec,
    scatter: Scatter,
    found: Proposal,
    wanted: Decimal | None,
    products: int,
    sled: SledSpec | None,
) -> list[str]:
    from acquire.analysis.figures import rounded  # noqa: PLC0415 - slow

    sign = sign_of(measure, sled)
    seen = (
        "" if found.seen is None
        else f"shows a net change of {rounded(found.seen, found.seen)}{sign} in 8 of 10 trials"
        f"{f', {products} products compared at once' if products > 1 else ''}"
    )  # fmt: skip
    lines = [f"{measure.id} with {spec.id}: {scatter.said}"]
    if found.zones > 1:
        lines.append(f"  {scatter.zones_said}")
    if measure.quantity.value == "transmittance":
        lines.append(f"  figures are for a blank that lets {100 * CLEAR:g} % through")
    if found.is_enough is False and scatter.nu is None:
        lines.append(f"  by the default no sensible plan shows {wanted}{sign}: make a study first")
    elif found.is_enough is False:
        lines.append(f"  no sensible number of zones and readings shows {wanted}{sign}")
    lines.append(f"  proposed: {_counted(found.zones, found.readings)}; {seen or 'shows nothing'}")
    return lines


def sign_of(measure: Measured, sled: SledSpec | None) -> str:
    """What follows a figure of the results: a space and the unit, or nothing for a coefficient."""
    from acquire.analysis.figures import suffix  # noqa: PLC0415 - slow
    from acquire.units import canonical  # noqa: PLC0415

    if measure.quantity.value == "transmittance":
        return " % of the blank's light"
    if measure.quantity.value == "force" and sled is not None:
        return ""
    return suffix(canonical(measure.quantity))


def _counted(zones: int, readings: int) -> str:
    of_zones = "one zone" if zones == 1 else f"{zones} zones"
    return f"{of_zones} a product, {readings} readings of each at each stage"
