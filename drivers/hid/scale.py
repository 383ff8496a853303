"""A weight by the usages of weighing devices: number, power of ten and unit of one report.

Pure; never raises on content.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import NamedTuple

from acquire.wire.hid_field import Field
from drivers.hid import weighing
from drivers.hid.sight import Shown


class ScalePart(NamedTuple):
    """The fields of a weight; without a field for the power of ten it is 0.

    `units` are fields of their own, one a unit, or an array that selects one.
    """

    weight: Field
    scaling: Field | None
    units: tuple[Field, ...]

    @classmethod
    def found(cls, fields: Iterable[Field], report: int | None) -> list[tuple[int, ScalePart]]:
        """Every report with a weight and its unit, the first weight of each."""
        parts: dict[int, ScalePart] = {}
        fields = [one for one in fields if report in (None, one.report)]
        for field in fields:
            if field.is_array or field.usage != weighing.WEIGHT or field.report in parts:
                continue
            beside = [one for one in fields if one.report == field.report]
            scaling = [o for o in beside if not o.is_array and o.usage == weighing.SCALING]
            low, high = weighing.UNITS
            units = [one for one in beside if any(low <= u <= high for u, _ in one.usages)]
            if units:
                parts[field.report] = cls(field, scaling[0] if scaling else None, tuple(units))
        return list(parts.items())

    def shown(self, report: bytes, whole: int) -> Shown | str:  # noqa: ARG002 - the bits do
        """The weight as the force with which it pulls."""
        unit = self._unit(whole)
        if isinstance(unit, str):
            return unit
        power: int | None = 0
        if self.scaling is not None:
            raw = self.scaling.raw(whole)
            power = weighing.power_of(raw)
            if power is None:
                return f"the power of ten {raw}, beyond all measure"
        number = self.weight.value(whole)
        if number is None:
            return Shown(None, unit.unit, "", Decimal(0))
        weight = Decimal(number).scaleb(power or 0)
        value = weight if unit.times == 1 else weight * unit.times
        return Shown(value, unit.unit, "", abs(weight * unit.grams))

    def _unit(self, whole: int) -> weighing.ForceUnit | str:
        chosen = [
            field.selected(field.raw(whole)) if field.is_array else field.usage
            for field in self.units
            if field.is_array or field.value(whole)
        ]
        if len(chosen) != 1 or not chosen[0]:
            return "no unit of weight, or several"
        unit = weighing.FORCE_UNITS.get(chosen[0])
        if unit is None:
            name = weighing.UNIT_NAMES.get(chosen[0] & 0xFFFF, "a unit that is none")
            return f"a weight in {name}, which no force is told in: set the device to grams"
        return unit
