"""Numbers out of a report: by the device's own descriptor, or by a place of the profile.

A report is given as it was sent and as one number, least significant byte first. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

from acquire.driverkit.floating import shortest32
from acquire.wire.hid_field import Field, usage_shown
from drivers.hid.entries import NumberType, Place, ValueTable

Number = Callable[[bytes, int], "int | Decimal | None"]
"""The number in a report; None where there is none."""
Scaling = Callable[["int | Decimal"], Decimal]

_WIDTHS = {
    NumberType.UINT8: (1, False),
    NumberType.INT8: (1, True),
    NumberType.UINT16: (2, False),
    NumberType.INT16: (2, True),
    NumberType.UINT32: (4, False),
    NumberType.INT32: (4, True),
    NumberType.FLOAT32: (4, True),
}
HIGHEST_EXPONENT = 12
"""Of ten, either way: no instrument resolves or reaches more."""
_NEWTON = 0xE111
"""The dyne: mass 1, length 1, time -2 in SI with centimetre and gram (HID 1.11, 6.2.2.7)."""
_DYNE_POWER = -5


def at_place(place: Place) -> Number:
    """The number at a byte of the report."""
    assert place.byte is not None
    width, is_signed = _WIDTHS[place.type]
    start, order, bit = place.byte, place.order, place.bit
    end = start + width
    if place.type is NumberType.FLOAT32:

        def real(report: bytes, _: int) -> Decimal | None:
            data = report[start:end] if order == "big" else report[start:end][::-1]
            return shortest32(data) if len(data) == width else None

        return real

    def whole(report: bytes, _: int) -> int | None:
        data = report[start:end]
        if len(data) < width:
            return None
        number = int.from_bytes(data, order, signed=is_signed)
        return number if bit is None else number >> bit & 1

    def byte(report: bytes, _: int) -> int | None:
        if len(report) < end:
            return None
        return report[start] if bit is None else report[start] >> bit & 1

    return byte if width == 1 and not is_signed else whole


def of_field(field: Field) -> Number:
    """The number of a field, inside its logical extents alone."""
    return lambda _, whole: field.value(whole)


def raw_of_field(field: Field) -> Number:
    """The number of a field, whatever it is."""
    return lambda _, whole: field.raw(whole)


def scaled(value: ValueTable, field: Field | None) -> tuple[str, Scaling] | str:
    """Unit and scaling of a value, or in plain words why the device does not tell them."""
    if value.unit is not None:
        factor = value.scale or Decimal(1)
        if factor == 1:
            return value.unit, Decimal
        return value.unit, lambda number: number * factor
    assert field is not None
    name = usage_shown(field.usage)
    if field.unit != _NEWTON:
        return f"{name} has the unit {field.unit:X}h, which is no newton; write unit and scale"
    power = field.exponent + _DYNE_POWER
    if abs(power) > HIGHEST_EXPONENT:
        return f"{name} has the unit exponent {field.exponent}, beyond all measure"
    low, high = field.physical
    if (low, high) == (field.least, field.most):
        return "newton", lambda number: Decimal(number).scaleb(power)
    if field.least == field.most or low >= high:
        return f"{name} has the physical extents {low} to {high}, which are none"
    least, span, wide = field.least, field.most - field.least, high - low
    step = Decimal(wide) / span
    if step * span == wide:
        # As many decimals as a step has, whatever the value.
        return "newton", lambda number: ((number - least) * step + low).scaleb(power)
    if step.adjusted() < -HIGHEST_EXPONENT:
        return f"{name} has steps of {step:.3e}, beyond all measure"
    finest = Decimal(1).scaleb(step.adjusted() - 3)

    def physical(number: int | Decimal) -> Decimal:
        return (Decimal((number - least) * wide) / span + low).quantize(finest).scaleb(power)

    return "newton", physical
