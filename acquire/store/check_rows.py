"""Rows of checks: their beginning, judgement, pieces and the end of what they opened; how straight
a meter reads, the climate of the room, and what a check comes to without a certificate that was
withdrawn."""

from __future__ import annotations

from typing import NamedTuple


class CheckBeginRow(NamedTuple):
    """A check began. `policy_json` holds the whole policy it follows.

    `after_reading` as in `CheckJudgementRow`; None for checks of stores before it was kept.
    """

    id: int
    at_utc_ns: int
    instrument: str
    serial: str
    quantity: str
    channels: str
    sitting_id: int
    policy: str
    policy_json: str
    after_reading: int | None = None


class CheckJudgementRow(NamedTuple):
    """A check was judged. `expires_utc_ns` is set for a pass alone.

    `after_reading` is the last reading recorded before: what a clock says can be changed, the order
    in which rows were recorded cannot. `used_json` is what it was judged from beside the policy
    (`acquire.pipeline.used`). A pass covers values from `least_real` to `most_real` and so many
    `presses`, all where they are None.
    """

    id: int
    at_utc_ns: int
    check_id: int
    outcome: str
    message: str
    next_step: str
    expires_utc_ns: int | None
    after_reading: int = 0
    used_json: str | None = None
    least_real: float | None = None
    most_real: float | None = None
    presses: int | None = None


class PieceJudgementRow(NamedTuple):
    """One piece at one channel within a judged check, with the certificate it was held against."""

    id: int
    check_id: int
    piece: str
    channel: str
    outcome: str
    readings: int
    mean: str
    spread: str
    certified: str
    deviation: str
    expanded_uncertainty: str
    limit_: str
    spread_limit: str
    unit: str
    certificate_id: int | None
    message: str


class PassEndRow(NamedTuple):
    """The moment a pass ended, and why. `after_reading` as in `CheckJudgementRow`."""

    id: int
    at_utc_ns: int
    check_id: int
    reason: str
    message: str
    after_reading: int = 0


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


class ReassessedLineRow(NamedTuple):
    """How far a piece lies off the straight line now; its limit stays."""

    id: int
    reassessment_id: int
    check_id: int
    piece: str
    channel: str
    outcome: str
    departure: str
    expanded_uncertainty: str
    message: str
