"""Values that several settings files have: quantity, geometry, ids that must be unique. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated

from pydantic import BeforeValidator, Field

from acquire.errors import Fault
from acquire.model import Quantity
from acquire.schema import Schema, show, sound

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


Kind = Annotated[Quantity, Field(strict=False)]
"""A quantity by its name in the file."""

Angle = Annotated[str, BeforeValidator(_angle), Field(description=_ONE_ANGLE)]
"""One gloss geometry, written as a number and kept as text."""

Angles = Annotated[tuple[str, ...], BeforeValidator(_angles), Field(description=_ANGLES)]
"""One gloss geometry or several, in the order of the file."""


def geometry_faults(quantity: Quantity, geometry: object, path: str) -> Iterator[Fault]:
    """Gloss means nothing without its geometry; the other quantities have none."""
    if quantity is Quantity.GLOSS and geometry is None:
        yield Fault(path, "nothing", _ANGLES)
    elif quantity is not Quantity.GLOSS and geometry is not None:
        shown = ", ".join(geometry) if isinstance(geometry, tuple) else show(geometry)
        yield Fault(path, shown, f"no geometry, which only gloss has (here: {quantity.value})")


def repeated_ids(entries: Sequence[Schema], key: str) -> Iterator[Fault]:
    """A fault for each entry of ``[[key]]`` whose id an earlier entry has."""
    first: dict[str, int] = {}
    for index, entry in sound(entries, "id"):
        own = str(entry.__dict__["id"])
        if own in first:
            wanted = f"an id of its own: {key}[{first[own]}] has this one"
            yield Fault(f"{key}[{index}].id", show(own), wanted)
        first.setdefault(own, index)
