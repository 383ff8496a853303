"""Values that profiles of all families have: commands, times, units, angles, bands. Pure."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field

from acquire.model import HUMIDITY, MEASURED, TEMPERATURE, Quantity
from acquire.schema import Number, either
from acquire.wire import CHECKSUMS

UNITS = {
    Quantity.GLOSS: ("gloss_unit",),
    Quantity.FORCE: (
        "newton",
        "millinewton",
        "kilonewton",
        "gram_force",
        "kilogram_force",
        "pound_force",
        "ounce_force",
    ),
    Quantity.TRANSMITTANCE: ("percent", "one"),
    Quantity.STROKES: ("stroke",),
    Quantity.CLIMATE: ("degree_celsius", "degree_fahrenheit", "kelvin", "percent"),
}
"""Unit names of `acquire.units` by quantity. A driver may not import it, a test compares them."""

CHANNEL_KEYS = {
    Quantity.GLOSS: "geometry",
    Quantity.TRANSMITTANCE: "band",
    Quantity.CLIMATE: "part",
}
"""What a channel is called in the profile of each quantity; force has none."""

CHANNEL_WORDS = {
    "geometry": "20, 60 or 85",
    "band": 'limits in nm such as "315-400"',
    "part": '"temperature" or "humidity"',
}
"""What a channel may be, for the person who writes the profile."""

STATES = (Quantity.STROKES, Quantity.CLIMATE)
"""What stands at any moment and is no result of a press: asked again, it is as it is now."""

OWN_UNITS = {Quantity.CLIMATE: {HUMIDITY: "percent"}}
"""Channels whose unit is never another one, whatever unit the rest of a message is in."""

ANGLES = (20, 60, 85)
"""Degrees from the normal (ISO 2813)."""

LONGEST_COMMAND = 64


def _bytes_of(value: str) -> str:
    if not 1 <= len(value) <= LONGEST_COMMAND or any(ord(c) > 255 for c in value):
        raise ValueError(f'1 to {LONGEST_COMMAND} characters, each one byte, such as "?\\r"')
    return value


def _algorithm(value: str) -> str:
    if value not in CHECKSUMS:
        raise ValueError(either(CHECKSUMS))
    return value


def _stop_bits(value: Decimal) -> Decimal:
    if value not in (Decimal(1), Decimal("1.5"), Decimal(2)):
        raise ValueError("1, 1.5 or 2")
    return value


def _angle(value: object) -> str:
    if isinstance(value, bool) or value not in ANGLES:
        raise ValueError("20, 60 or 85 (degrees)")
    return str(value)


def _part(value: str) -> str:
    if value not in (TEMPERATURE, HUMIDITY):
        raise ValueError(CHANNEL_WORDS["part"])
    return value


def _meter_kind(value: object) -> object:
    if value not in MEASURED:
        raise ValueError(_MEASURED)
    return value


_MEASURED = either(kind.value for kind in MEASURED)

MeterKind = Annotated[
    Quantity, Field(strict=False, description=_MEASURED), BeforeValidator(_meter_kind)
]
"""The kinds of meters, for families that know no counter and no climate probe."""

Command = Annotated[str, AfterValidator(_bytes_of)]
Seconds = Annotated[Number, Field(gt=0, le=3600)]
SecondsOrNone = Annotated[Number, Field(ge=0, le=3600)]
Angle = Annotated[str, BeforeValidator(_angle)]
Part = Annotated[str, AfterValidator(_part)]
Algorithm = Annotated[str, AfterValidator(_algorithm)]
StopBits = Annotated[Number, AfterValidator(_stop_bits)]
