"""What so many zones and readings show, and how many a wanted difference needs. Pure; any thread.

Whoever plans a trial and whoever looks through its file are told the same by this.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import TYPE_CHECKING

from acquire.cli.scatters import Scatter
from acquire.model import Measure, Quantity
from acquire.trial.answers import Measured

if TYPE_CHECKING:
    from acquire.analysis.plans.planzones import Proposal
    from acquire.model.sled import SledSpec

MOST_BY_DEFAULT = 4
"""Zones a product that the default scatter may ask for: it is the largest a check lets pass, and
nobody should treat dozens of zones before a study was made. Our choice."""


def needed(
    scatter: Scatter,
    wanted: float | None,
    products: int,
    zones: int | None = None,
    *,
    is_paired: bool,
) -> Proposal:
    """Zones a product and readings a zone; `scatter` is in the unit of the results.

    With `zones` given only the readings are looked for. `is_paired` where differences are taken
    within blocks.
    """
    from acquire.analysis.plans.planzones import MOST_ZONES, proposal  # noqa: PLC0415 - slow

    most = MOST_ZONES if scatter.nu is not None else MOST_BY_DEFAULT
    return proposal(
        scatter.sd, scatter.zones_taken, wanted, products, zones, scatter.nu_lent, most,
        is_paired=is_paired,
    )  # fmt: skip


def seen_words(
    scatter: Scatter, zones: int, readings: int, products: int, sign: str, *, is_paired: bool
) -> str:
    """``5 readings of each of 3 zones a product show a net change of 1.2 GU in 8 of 10 trials``."""
    from acquire.analysis.figures import rounded  # noqa: PLC0415 - slow
    from acquire.analysis.plans.planzones import zones_seen  # noqa: PLC0415

    seen = zones_seen(
        scatter.sd, scatter.zones_taken, readings, zones, products, scatter.nu_lent,
        is_paired=is_paired,
    )  # fmt: skip
    if seen is None:
        return f"{counted(zones, readings)} shows nothing without a study"
    alone = "; of those zones alone, not of the products elsewhere" if zones == 1 else ""
    return (
        f"{counted(zones, readings)} show a net change of {rounded(seen, seen)}{sign} in 8 of 10 "
        f"trials ({_at_once(products)}, without drift{alone})"
    )


def falls_short(
    scatter: Scatter,
    wanted: float | None,
    zones: int,
    readings: int,
    products: int,
    *,
    is_paired: bool,
) -> bool:
    """Whether so many zones and readings do not show the difference that is wanted."""
    from acquire.analysis.plans.planzones import zones_seen  # noqa: PLC0415 - slow

    if wanted is None:
        return False
    seen = zones_seen(
        scatter.sd, scatter.zones_taken, readings, zones, products, scatter.nu_lent,
        is_paired=is_paired,
    )  # fmt: skip
    return seen is None or seen > wanted


def lacking_words(
    found: Proposal,
    scatter: Scatter,
    wanted: Decimal,
    sign: str,
    products: int,
    zones: int | None = None,
    *,
    is_paired: bool,
) -> str:
    """That what was wanted is not to be had; empty where it is, or nothing was wanted.

    With `zones` given only readings of so many were looked through, and what others would do is
    said beside it.
    """
    if found.is_enough is not False:
        return ""
    if zones is None:
        if scatter.nu is None:
            return f"by the default no sensible plan shows {wanted}{sign}: make a study first"
        return f"no sensible number of zones and readings shows {wanted}{sign}"
    of = "the one zone" if zones == 1 else f"{zones} zones"
    said = f"no sensible number of readings of {of} a product shows {wanted}{sign}"
    other = needed(scatter, float(wanted), products, is_paired=is_paired)
    if other.is_enough:
        said += f"; {counted(other.zones, other.readings)} would"
    return said if scatter.nu is not None else f"by the default {said}: make a study first"


def grounds(
    scatter: Scatter, measure: Measured | Measure, zones: int, *, is_paired: bool
) -> Iterator[str]:
    """What the figures of a measure are taken by besides the scatter of its readings."""
    from acquire.cli.scatters import CLEAR  # noqa: PLC0415

    if zones > 1:
        yield scatter.zones_said
        if is_paired:
            yield "differences are taken within blocks; what sets blocks apart comes off besides"
    if measure.quantity is Quantity.TRANSMITTANCE:
        # A film near its blank: relative uncertainties are those of the blank's light.
        yield f"figures are for a blank that lets {100 * CLEAR:g} % through, and films near it"


def sign_of(measure: Measured | Measure, sled: SledSpec | None) -> str:
    """What follows a figure of the results: a space and the unit, or nothing for a coefficient."""
    from acquire.analysis.figures import suffix  # noqa: PLC0415 - slow
    from acquire.units import canonical  # noqa: PLC0415

    if measure.quantity is Quantity.TRANSMITTANCE:
        return " % of the blank's light"
    if measure.quantity is Quantity.FORCE and sled is not None:
        return ""
    return suffix(canonical(measure.quantity))


def scale_of(measure: Measured | Measure, sled: SledSpec | None) -> str:
    """In what a difference of the results is: ``in GU``, ``as a coefficient of friction``."""
    sign = sign_of(measure, sled)
    return f"in{sign}" if sign else "as a coefficient of friction"


def counted(zones: int, readings: int) -> str:
    """``5 readings of each of 3 zones a product``."""
    count = "1 reading" if readings == 1 else f"{readings} readings"
    return f"{count} of {'the one zone' if zones == 1 else f'each of {zones} zones'} a product"


_COUNTS = (
    "", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
)  # fmt: skip


def _at_once(products: int) -> str:
    """``with six treatments compared at once``."""
    if products == 1:
        return "one product and its control"
    said = _COUNTS[products] if products < len(_COUNTS) else str(products)
    return f"with {said} treatments compared at once"
