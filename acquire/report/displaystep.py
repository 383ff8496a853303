"""The step of the display behind the readings of a measure. Pure; any thread."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal, InvalidOperation

from acquire.model import Measure
from acquire.report.record import ReadingRecord, TrialRecord
from acquire.units import convert


def display_step(
    record: TrialRecord, measure: Measure, readings: Sequence[ReadingRecord]
) -> tuple[Decimal, str]:
    """The step of the display in the measure's unit, and where it is known from."""
    ids = {r.check_id for r in readings} - {None}
    steps = {
        c.policy: convert(c.resolution, c.unit, measure.unit)
        for c in record.checks
        if c.id in ids and c.resolution > 0
    }
    if steps:
        policy, step = max(steps.items(), key=lambda item: (item[1], item[0]))
        return step, f"as the check policy {policy} states it"
    sent = [s for r in readings if (s := last_digit(r, measure.unit)) is not None]
    if sent:
        return min(sent), "taken from the last digit that was sent"
    return Decimal(0), "not known"


def last_digit(reading: ReadingRecord, unit: str) -> Decimal | None:
    """What one unit of the last digit as sent is worth; None for a text that is no number."""
    try:
        exponent = Decimal(reading.sent_text.strip()).as_tuple().exponent
    except InvalidOperation:
        return None
    if not isinstance(exponent, int):
        return None
    return convert(Decimal(1).scaleb(exponent), reading.sent_unit, unit)
