"""Rows beside those of a check: how straight a meter reads, and the climate of the room."""

from __future__ import annotations

from typing import NamedTuple


class LinearityRow(NamedTuple):
    """How far a piece lay off the straight line through two others, at one channel of a check."""

    id: int
    check_id: int
    piece: str
    channel: str
    zero: str
    high: str
    outcome: str
    departure: str
    expanded_uncertainty: str
    limit_: str
    unit: str
    message: str


class ClimateRow(NamedTuple):
    """Temperature (degrees Celsius) and relative humidity of the room, as `source` gave them.

    Where that is an instrument, the readings name those that they were made of.
    """

    id: int
    at_utc_ns: int
    sitting_id: int | None
    temperature_c: str
    humidity_percent: str | None
    source: str
    temperature_reading_id: int | None = None
    humidity_reading_id: int | None = None
