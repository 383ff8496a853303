"""What a room in which a bench stands can be like; a file and an entry are held to the same."""

from __future__ import annotations

from decimal import Decimal

COLDEST_C, HOTTEST_C = Decimal(-10), Decimal(50)
"""From an unheated shed in winter to a hall in the sun: beyond that no meter is meant to be used
and what was typed is a slip, or degrees Fahrenheit (common practice, no source)."""

DRIEST_PERCENT, DAMPEST_PERCENT = Decimal(0), Decimal(100)
"""Of relative humidity."""
