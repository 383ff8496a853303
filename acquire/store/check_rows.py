"""Rows beside those of a check: how straight a meter reads, the climate of the room, and what a
check comes to without a certificate that was withdrawn."""

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


class ReassessmentRow(NamedTuple):
    """A check judged anew by the certificates that stand in the place of withdrawn ones.

    The latest one of a check holds. `used_json` is what it was made of, as with a judgement;
    `after_move` is the last row of ``move`` before it, `after_check` the last check that had begun.
    """

    id: int
    at_utc_ns: int
    check_id: int
    outcome: str
    message: str
    used_json: str
    after_move: int
    after_check: int


class ReassessedPieceRow(NamedTuple):
    """What is other of a piece than in the judgement of then; mean, spread and limits stay."""

    id: int
    reassessment_id: int
    check_id: int
    piece: str
    channel: str
    outcome: str
    certified: str
    deviation: str
    expanded_uncertainty: str
    certificate_id: int | None
    message: str
