"""Values that several settings files have: quantity, channel, ids that must be unique. Pure."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal
from typing import Annotated

from pydantic import BeforeValidator, Field

from acquire.errors import Fault
from acquire.model import MEASURED, Quantity
from acquire.model.room import COLDEST_C, DAMPEST_PERCENT, DRIEST_PERCENT, HOTTEST_C
from acquire.schema import Number, Schema, either, show, sound
from acquire.schema.band import band

GLOSS_ANGLES = (20, 60, 85)
"""Degrees from the normal (ISO 2813)."""

_ONE_ANGLE = "20, 60 or 85 (degrees)"
_ANGLES = "20, 60 or 85, or a list of them such as [20, 60]"


def _angle(value: object) -> str:
    if isinstance(value, bool) or not isinstance(value, int) or value not in GLOSS_ANGLES:
        raise ValueError(_ONE_ANGLE)
    return str(value)


def _angles(value: object) -> tuple[str, ...]:
    entries = value if isinstance(value, list) else [value]
    try:
        angles = tuple(_angle(entry) for entry in entries)
    except ValueError:
        raise ValueError(_ANGLES) from None
    if not angles or len(set(angles)) != len(angles):
        raise ValueError(f"{_ANGLES}, each once")
    return angles


_BANDS = 'limits in nm such as "315-400", or a list of them such as ["315-400", "940"]'


def _bands(value: object) -> tuple[str, ...]:
    entries = value if isinstance(value, list) else [value]
    try:
        bands = tuple(band(entry) for entry in entries)
    except ValueError:
        raise ValueError(_BANDS) from None
    if not bands or len(set(bands)) != len(bands):
        raise ValueError(f"{_BANDS}, each once")
    return bands


def path_text(value: str) -> str:
    """A text that can be the path of a file. Raises ValueError."""
    if not value.strip() or len(value) > 1000 or not value.isprintable():
        raise ValueError("the path of a file")
    return value


def _span(
    example: str, low: Decimal | None = None, high: Decimal | None = None, of: str = ""
) -> Callable[[object], object]:
    """A validator of two numbers, the lower one first, from `low` to `high` of what is meant."""
    words = f"two numbers, from and to, such as {example}, the lower one first"
    if low is not None:
        words += f", from {low} to {high} ({of})"

    def span(value: object) -> object:
        if not isinstance(value, list) or len(value) != 2 or not all(map(_is_number, value)):
            raise ValueError(words)
        least, most = value
        if (
            not least < most
            or (low is not None and least < low)
            or (high is not None and most > high)
        ):
            raise ValueError(words)
        return least, most

    return span


def _is_number(value: object) -> bool:
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        return False
    return isinstance(value, int) or math.isfinite(value)


Between = Annotated[tuple[Number, Number], BeforeValidator(_span("[0, 120]"))]
"""From the least to the largest value."""

RoomTemperatures = Annotated[
    tuple[Number, Number],
    BeforeValidator(_span("[18, 28]", COLDEST_C, HOTTEST_C, "degrees Celsius at a bench")),
]
"""From the coldest to the hottest that a room may be, in degrees Celsius."""

RoomHumidities = Annotated[
    tuple[Number, Number],
    BeforeValidator(
        _span("[20, 75]", DRIEST_PERCENT, DAMPEST_PERCENT, "percent of relative humidity")
    ),
]
"""From the driest to the dampest that a room may be, in percent of relative humidity."""

_MEASURED = either(kind.value for kind in MEASURED)


def _measured(value: object) -> object:
    if value not in MEASURED:
        raise ValueError(_MEASURED)
    return value


Kind = Annotated[Quantity, Field(strict=False, description=_MEASURED), BeforeValidator(_measured)]
"""A quantity that is measured on surfaces, by its name in the file."""

AnyKind = Annotated[Quantity, Field(strict=False)]
"""What an instrument gives, by its name in the file: a quantity, or strokes or the climate."""

Angle = Annotated[str, BeforeValidator(_angle), Field(description=_ONE_ANGLE)]
"""One gloss geometry, written as a number and kept as text."""

Angles = Annotated[tuple[str, ...], BeforeValidator(_angles), Field(description=_ANGLES)]
"""One gloss geometry or several, in the order of the file."""

Bands = Annotated[tuple[str, ...], BeforeValidator(_bands), Field(description=_BANDS)]
"""One band or several, in the order of the file."""


def channel_faults(
    quantity: Quantity, geometry: object, band: object, at: str = ""
) -> Iterator[Fault]:
    """Gloss means nothing without its geometry nor transmittance without its band; force has
    neither.
    """
    for key, value, owner, wanted in (
        ("geometry", geometry, Quantity.GLOSS, _ANGLES),
        ("band", band, Quantity.TRANSMITTANCE, _BANDS),
    ):
        if quantity is owner and value is None:
            yield Fault(at + key, "nothing", wanted)
        elif quantity is not owner and value is not None:
            shown = ", ".join(value) if isinstance(value, tuple) else show(value)
            only = f"no {key}, which only {owner.value} has (here: {quantity.value})"
            yield Fault(at + key, shown, only)


def repeated_ids(entries: Sequence[Schema], key: str) -> Iterator[Fault]:
    """A fault for each entry of ``[[key]]`` whose id an earlier entry has."""
    first: dict[str, int] = {}
    for index, entry in sound(entries, "id"):
        own = str(entry.__dict__["id"])
        if own in first:
            wanted = f"an id of its own: {key}[{first[own]}] has this one"
            yield Fault(f"{key}[{index}].id", show(own), wanted)
        first.setdefault(own, index)
