"""The step of the display behind the readings of a measure.

Of a meter whose readings are typed its profile says the step, and no entry between two steps was
taken. Of any other what was sent says it: the smallest decimal place of the texts of an instrument,
in the unit that they were sent in. The check policy says what its writer took it for, perhaps in
another unit or of another display; beside texts it stands where the readings keep to it, or where
they do not tell. Where a count of tenths is sent, its value tells. So does that of a field of
bytes, if it has no more digits than a display: packed digits do, a fraction in base two does not.
Pure; any thread.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from typing import NamedTuple

from acquire.model import Measure
from acquire.report.record.checkrecord import CheckRecord
from acquire.report.record.record import ReadingRecord, TrialRecord
from acquire.units import as_entered, convert, symbol

MOST_DIGITS = 6
"""Digits of its own that a display shows; what is sent beyond them a computer made."""
_BYTES = re.compile(r"[0-9A-F]{2}(?: [0-9A-F]{2})+")
_ON_GRID = Decimal("1e-6")


class _Told(NamedTuple):
    """A number as it was sent, and the unit it was sent in."""

    value: Decimal
    unit: str
    has_power: bool = False


class _Step(NamedTuple):
    """A step in the unit of the measure, and where it is known from."""

    size: Decimal
    source: str


def display_step(
    record: TrialRecord, measure: Measure, readings: Sequence[ReadingRecord]
) -> tuple[Decimal, str]:
    """The step of the display in the measure's unit, and where it is known from.

    Of several instruments it is the largest. What a check policy says otherwise is named beside.
    """
    instruments: dict[str, list[ReadingRecord]] = {}
    for reading in readings:
        instruments.setdefault(reading.instrument, []).append(reading)
    found = [s for own in instruments.values() if (s := _of(record, measure, own)) is not None]
    return max(found) if found else _Step(Decimal(0), "not known")


def last_digit(reading: ReadingRecord, unit: str) -> Decimal | None:
    """What one unit of the last digit as sent is worth; None for a text that does not tell."""
    value = _number(reading.sent_text)
    if value is None or _is_powered_zero(reading.sent_text, value):
        return None
    return convert(Decimal(1).scaleb(_exponent(value)), reading.sent_unit, unit)


def _of(record: TrialRecord, measure: Measure, readings: Sequence[ReadingRecord]) -> _Step | None:
    """The step of one instrument; None where neither profile, texts nor a policy tell it."""
    told = _told(readings)
    entered = _entered(record, measure, readings)
    ids = {r.check_id for r in readings} - {None}
    checks = [c for c in record.checks if c.id in ids and c.resolution > 0]
    policy = max(
        checks, key=lambda c: (convert(c.resolution, c.unit, measure.unit), c.policy), default=None
    )
    sent = entered or _sent(measure, told)
    if policy is None:
        return sent
    stated = convert(policy.resolution, policy.unit, measure.unit)
    if entered is not None and entered.size == stated:
        return entered
    if sent is None or (entered is None and stated >= sent.size and _keep_to(policy, told)):
        return _Step(stated, f"as the check policy {policy.policy} states it")
    return _Step(
        sent.size,
        f"{sent.source}; the check policy {policy.policy} states "
        f"{f'{as_entered(policy.resolution)} {symbol(policy.unit)}'.rstrip()} instead",
    )


def _entered(
    record: TrialRecord, measure: Measure, readings: Sequence[ReadingRecord]
) -> _Step | None:
    """The step that every entry was held against; None where one was not typed, or not held.

    Of several profiles, one after another, the largest.
    """
    if not all(r.is_typed and r.connection_id in record.entry_steps for r in readings):
        return None
    steps = [record.entry_steps[i] for i in sorted({r.connection_id for r in readings})]
    return max(
        _Step(convert(s.size, s.unit, measure.unit), f"as the profile {s.profile} states it")
        for s in steps
    )


def _told(readings: Sequence[ReadingRecord]) -> list[_Told]:
    """Each number that was sent, once: a display has few beside the readings of a trial."""
    texts = {(r.sent_text, r.sent_unit, r.value if r.sent_unit == r.unit else None): None
             for r in readings}  # fmt: skip
    return [
        _Told(_meant(number, value), unit, _has_power(text))
        for text, unit, value in texts
        if (number := _number(text)) is not None and not _is_powered_zero(text, number)
    ] or _of_bytes(readings)


def _meant(number: Decimal, value: Decimal | None) -> Decimal:
    """The number that was sent, or what it stands for: of a count of tenths, 797 is 79.7."""
    return number if value is None or value == number else value


def _of_bytes(readings: Sequence[ReadingRecord]) -> list[_Told]:
    """What fields of bytes stand for; nothing where one of them has more digits than a display.

    Nor where a value was sent in another unit, since its digits are not those that were sent.
    """
    values: dict[Decimal, None] = {}
    for r in readings:
        if r.value is None or r.sent_unit != r.unit or not _BYTES.fullmatch(r.sent_text):
            return []
        if len(r.value.as_tuple().digits) > MOST_DIGITS:
            return []
        values[r.value] = None
    return [_Told(value, readings[0].unit) for value in values]


def _sent(measure: Measure, told: Sequence[_Told]) -> _Step | None:
    """The smallest place of all texts of an instrument, since some drop zeros at their end.

    Of those with a power of ten the largest: their last digit is worth more the larger they are.
    """
    places: list[Decimal] = []
    shown: list[Decimal] = []
    has_power = any(one.has_power for one in told)
    for value, unit, _ in told:
        last = Decimal(1).scaleb(_exponent(value))
        places.append(convert(last, unit, measure.unit))
        if value:
            most = Decimal(1).scaleb(value.adjusted() - MOST_DIGITS + 1)
            shown.append(convert(most, unit, measure.unit))
    if not places:
        return None
    if shown and min(places) < max(shown):
        return _Step(
            max(shown),
            f"taken as the digit {MOST_DIGITS} of what was sent, which has more than a display",
        )
    if has_power:
        return _Step(max(places), "taken from the last digit of the largest number that was sent")
    return _Step(min(places), "taken from the last digit that was sent")


def _keep_to(policy: CheckRecord, told: Sequence[_Told]) -> bool:
    """Whether all readings, as they were sent, are whole steps of the policy."""
    for value, unit, _ in told:
        steps = value / convert(policy.resolution, policy.unit, unit)
        if abs(steps - round(steps)) > _ON_GRID:
            return False
    return True


def _has_power(text: str) -> bool:
    return "E" in text.upper()


def _is_powered_zero(text: str, value: Decimal) -> bool:
    """Whether it is a zero with a power of ten: any power, so that its last digit tells nothing."""
    return not value and _has_power(text)


def _number(text: str) -> Decimal | None:
    try:
        value = Decimal(text.strip())
    except InvalidOperation:
        return None
    return value if value.is_finite() else None


def _exponent(value: Decimal) -> int:
    exponent = value.as_tuple().exponent
    assert isinstance(exponent, int)  # of a finite value
    return exponent
