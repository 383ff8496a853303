"""What the usages of weighing devices mean (HID Usage Tables 1.5, chapter 33, page 8Dh).

The numbers are those of the chapter. The international pound is 0.45359237 kg exactly, and the
ounce its sixteenth part (from memory). Pure; any thread.
"""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from acquire.wire.hid_field import usage
from drivers.hid.entries import FlagMeans

PAGE = 0x8D
WEIGHT = usage(PAGE, 0x40)
SCALING = usage(PAGE, 0x41)
UNITS = (usage(PAGE, 0x51), usage(PAGE, 0x5C))
"""The choices of usage 50h, weight unit."""
CALIBRATIONS = usage(PAGE, 0x60)
"""How often it was calibrated."""


class ForceUnit(NamedTuple):
    """The force with which a mass of a unit pulls: `times` so many of `unit`; `grams` of mass."""

    unit: str
    times: Decimal
    grams: Decimal


FORCE_UNITS: dict[int, ForceUnit] = {
    usage(PAGE, 0x51): ForceUnit("gram_force", Decimal("0.001"), Decimal("0.001")),
    usage(PAGE, 0x52): ForceUnit("gram_force", Decimal(1), Decimal(1)),
    usage(PAGE, 0x53): ForceUnit("kilogram_force", Decimal(1), Decimal(1000)),
    usage(PAGE, 0x58): ForceUnit("kilogram_force", Decimal(1000), Decimal(1_000_000)),
    usage(PAGE, 0x5B): ForceUnit("ounce_force", Decimal(1), Decimal("28.349523125")),
    usage(PAGE, 0x5C): ForceUnit("pound_force", Decimal(1), Decimal("453.59237")),
}
"""Milligram, gram, kilogram, metric ton, ounce, pound. Carats, taels, grains, pennyweights, tons of
other countries and troy ounces are units of no gauge, and some of them have several sizes: they
are refused by name."""

UNIT_NAMES = {
    0x54: "carats",
    0x55: "taels",
    0x56: "grains",
    0x57: "pennyweights",
    0x59: "avoirdupois tons",
    0x5A: "troy ounces",
}

STATUS: tuple[tuple[int, FlagMeans, str], ...] = (
    (usage(PAGE, 0x71), FlagMeans.TROUBLE, "it reports a fault"),
    (usage(PAGE, 0x72), FlagMeans.ZERO, ""),
    (usage(PAGE, 0x73), FlagMeans.MOVING, ""),
    (usage(PAGE, 0x74), FlagMeans.STABLE, ""),
    (usage(PAGE, 0x75), FlagMeans.UNDER, ""),
    (usage(PAGE, 0x76), FlagMeans.OVER, ""),
    (usage(PAGE, 0x77), FlagMeans.TROUBLE, "it has to be calibrated before it weighs again"),
    (usage(PAGE, 0x78), FlagMeans.TROUBLE, "it has to be set to zero before it weighs again"),
)
"""The choices of usage 70h, scale status, one of which holds at a time."""

LOWEST_POWER, HIGHEST_POWER = -12, 12
"""Powers of ten that a scaling may be: no instrument resolves or reaches more."""


def power_of(scaling: int) -> int | None:
    """The power of ten that a scaling means; None for one beyond all measure.

    A device that declares its byte from 0 to 255 means FFh as -1 all the same: a signed exponent
    (common practice, no source).
    """
    power = scaling - 256 if 128 <= scaling <= 255 else scaling
    return power if LOWEST_POWER <= power <= HIGHEST_POWER else None
