"""What a room in which a bench stands can be like, and how it is told: in one word, always."""

from __future__ import annotations

from decimal import Decimal

COLDEST_C, HOTTEST_C = Decimal(-10), Decimal(50)
"""From an unheated shed in winter to a hall in the sun: beyond that no meter is meant to be used
and what was typed is a slip, or degrees Fahrenheit (common practice, no source)."""

DRIEST_PERCENT, DAMPEST_PERCENT = Decimal(0), Decimal(100)
"""Of relative humidity."""


def room_words(temperature_c: object, humidity_percent: object | None) -> str:
    """``21.4 °C, 48 % humidity``, as it was told; the humidity is None where nobody told it.

    A probe's two are readings of their own, each with its unit and bytes. Of the room they are one
    word, wherever it is told.
    """
    damp = "" if humidity_percent is None else f", {humidity_percent} % humidity"
    return f"{temperature_c} °C{damp}"
