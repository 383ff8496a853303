"""Units: from the signs of a case file to the module that every reading passes."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from acquire.model import MEASURED
from acquire.units import canonical, convert, normalise, units_of
from acquire.verify.calcs.answer import Answer
from acquire.verify.task import ASKED

_SIGNS = {
    "GU": "gloss_unit",
    "N": "newton",
    "mN": "millinewton",
    "kN": "kilonewton",
    "gf": "gram_force",
    "kgf": "kilogram_force",
    "lbf": "pound_force",
    "ozf": "ounce_force",
    "%": "percent",
    "1": "one",
    "g": "gram",
    "kg": "kilogram",
    "lb": "pound",
    "oz": "ounce",
    "nm": "nanometre",
    "um": "micrometre",
    "mm": "millimetre",
    "cm": "centimetre",
    "m": "metre",
    "in": "inch",
    "mm/s": "millimetre_per_second",
    "mm/min": "millimetre_per_minute",
    "in/min": "inch_per_minute",
    "s": "second",
    "degC": "degree_celsius",
    "degF": "degree_fahrenheit",
    "K": "kelvin",
}


def conversion(i: Mapping[str, Any]) -> Answer:
    """The value in each unit that is asked for; a speed that is asked for in mm is in mm/min."""
    source = _unit(i["unit"])
    value = Decimal(str(i["value"]))
    return {key: float(_in(value, source, _wanted(key, i["unit"]))) for key in i[ASKED]}


def _in(value: Decimal, source: str, wanted: str) -> Decimal:
    for quantity in MEASURED:
        if wanted == canonical(quantity) and source in units_of(quantity):
            # The call by which a reading comes into the unit in which it is kept.
            return normalise(value, source, quantity)[0]
    return convert(value, source, wanted)


def _wanted(key: str, sign: str) -> str:
    return _unit(f"{key}/min" if sign.endswith("/min") and "/" not in key else key)


def _unit(sign: str) -> str:
    """The unit of a sign or of a name as it stands in `acquire.units`. Raises `NotFound`."""
    return _SIGNS.get(sign, sign)


CALCS = {"units.convert": conversion}
