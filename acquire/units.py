"""The one place where units mean something: names, symbols, exact conversion in Decimal.

Names come from the closed table below and from nowhere else: a device's or a file's text is looked
up in it and never handed to pint's parser, which reads ``Nm`` as a unit of yarn. This is the only
importer of pint, and it imports pint on the first conversion that needs a factor: values in the
unit in which they are kept (nearly all) never do. Any thread.
"""

from __future__ import annotations

import difflib
from decimal import Context, Decimal
from functools import cache
from threading import Lock
from typing import TYPE_CHECKING, NamedTuple

from acquire.errors import Misuse, NotFound
from acquire.model import Quantity

if TYPE_CHECKING:
    from pint import UnitRegistry


class _Unit(NamedTuple):
    kind: str
    symbol: str
    pint_name: str


# Of one kind are the units that can be converted into each other here. Gloss units are a kind of
# their own and no percent: 100 GU is what polished black glass of n = 1.567 sends back, which is
# about 4.9 % of the light at 20 degrees (Fresnel).
_UNITS = {
    "gloss_unit": _Unit("gloss", "GU", "gloss_unit"),
    "newton": _Unit("force", "N", "newton"),
    "millinewton": _Unit("force", "mN", "millinewton"),
    "kilonewton": _Unit("force", "kN", "kilonewton"),
    "gram_force": _Unit("force", "gf", "gram_force"),
    "kilogram_force": _Unit("force", "kgf", "kilogram_force"),
    "pound_force": _Unit("force", "lbf", "pound_force"),
    "ounce_force": _Unit("force", "ozf", "force_ounce"),
    "percent": _Unit("ratio", "%", "percent"),
    "one": _Unit("ratio", "", "dimensionless"),
    "count": _Unit("counts", "counts", "count"),
    "gram": _Unit("mass", "g", "gram"),
    "kilogram": _Unit("mass", "kg", "kilogram"),
    "pound": _Unit("mass", "lb", "pound"),
    "ounce": _Unit("mass", "oz", "ounce"),
    "nanometre": _Unit("length", "nm", "nanometer"),
    "micrometre": _Unit("length", "µm", "micrometer"),
    "millimetre": _Unit("length", "mm", "millimeter"),
    "centimetre": _Unit("length", "cm", "centimeter"),
    "metre": _Unit("length", "m", "meter"),
    "inch": _Unit("length", "in", "inch"),
    "millimetre_per_second": _Unit("speed", "mm/s", "millimeter/second"),
    "millimetre_per_minute": _Unit("speed", "mm/min", "millimeter/minute"),
    "inch_per_minute": _Unit("speed", "in/min", "inch/minute"),
    "second": _Unit("time", "s", "second"),
    "stroke": _Unit("count", "", "dimensionless"),
    "degree_celsius": _Unit("temperature", "°C", "degree_Celsius"),
    "degree_fahrenheit": _Unit("temperature", "°F", "degree_Fahrenheit"),
    "kelvin": _Unit("temperature", "K", "kelvin"),
    "metre_per_second_squared": _Unit("acceleration", "m/s²", "meter/second**2"),
}

# What those are made of, exactly as defined: the SI brochure (9th edition, 2.3.1 and tables 3, 4
# and 7), g_n (3rd CGPM, 1901), the international yard and pound (1959: 1 lb = 0.45359237 kg, 1 in
# = 25.4 mm), Fahrenheit by NIST SP 811, B.8. To read pint's own list of all units takes longer than
# most commands run.
_DEFINITIONS = """
kilo- = 1e3
centi- = 1e-2
milli- = 1e-3
micro- = 1e-6
nano- = 1e-9
meter = [length]
second = [time]
gram = [mass]
kelvin = [temperature]; offset: 0
gloss_unit = [gloss]
count = []
percent = 0.01
minute = 60 * second
inch = 2.54 * centimeter
pound = 453.59237 * gram
ounce = pound / 16
newton = kilogram * meter / second ** 2
gravity = 9.80665 * meter / second ** 2
gram_force = gravity * gram
kilogram_force = gravity * kilogram
pound_force = gravity * pound
force_ounce = gravity * ounce
degree_Celsius = kelvin; offset: 273.15
degree_Fahrenheit = 5 / 9 * kelvin; offset: 459.67 * 5 / 9
"""

_CANONICAL = {
    Quantity.GLOSS: "gloss_unit",
    Quantity.FORCE: "newton",
    Quantity.TRANSMITTANCE: "percent",
    Quantity.STROKES: "stroke",
    Quantity.CLIMATE: "degree_celsius",
}

_EXACT = Context(prec=60)
"""Exact for a value of up to 40 digits times any factor above, whatever the thread's context."""

_ENDLESS_DIGITS = 26
"""A factor with so many digits has no end (pint reckons with 28); the longest above has 17."""

# unit -> (quantity, factor to the canonical unit or None for 1, canonical unit). Read without a
# lock on the path of every reading; filled under none either: two threads put in the same entry.
_Entry = tuple[Quantity, Decimal | None, str]
_entries: dict[str, _Entry] = {
    unit: (quantity, None, unit) for quantity, unit in _CANONICAL.items()
}

_MOST_DECIMALS = 6

_building = Lock()


def normalise(value: Decimal, unit: str, quantity: Quantity) -> tuple[Decimal, str]:
    """The value in the unit in which this quantity is kept, exact, and that unit's name.

    Raises `NotFound` for an unknown unit and `Misuse` for a unit of another quantity.
    """
    entry = _entries.get(unit)
    if entry is None or entry[0] is not quantity:
        if quantity is Quantity.CLIMATE:
            return _of_climate(value, unit)
        entry = _entry(unit, quantity)
    factor = entry[1]
    if factor is None:
        return value, unit
    return _EXACT.multiply(value, factor), entry[2]


def convert(value: Decimal, from_unit: str, to_unit: str) -> Decimal:
    """The value in another unit of the same kind; exact where the factor has an end in decimals.

    Raises `NotFound` for an unknown unit and `Misuse` for units of different kinds.
    """
    source, target = _unit(from_unit), _unit(to_unit)
    if source.kind != target.kind:
        raise _unfit(from_unit, f"a unit of {target.kind}", _of_kind(target.kind))
    if from_unit == to_unit:
        return value
    if source.kind == "temperature":
        # With an offset: no factor to be kept.
        registry = _registry()
        with _building:
            moved = registry.Quantity(value, source.pint_name).m_as(target.pint_name)
        return Decimal(moved)
    multiply, divide = _ratio(from_unit, to_unit)
    return _EXACT.divide(_EXACT.multiply(value, multiply), divide)


def canonical(quantity: Quantity) -> str:
    """The unit in which values of this quantity are kept, judged and printed."""
    return _CANONICAL[quantity]


def units_of(quantity: Quantity) -> tuple[str, ...]:
    """Every unit in which values of this quantity may come."""
    if quantity is Quantity.CLIMATE:
        return (*_of_kind("temperature"), "percent")
    return _of_kind(_UNITS[_CANONICAL[quantity]].kind)


def symbol(unit: str) -> str:
    """The sign to print behind a value; empty for the unit one. Raises `NotFound`."""
    return _unit(unit).symbol


def as_entered(value: Decimal) -> str:
    """A value without the digits that a conversion gave it: at most six decimals, no exponent."""
    exponent = value.as_tuple().exponent
    if not isinstance(exponent, int) or exponent >= -_MOST_DECIMALS:
        return f"{value:f}"
    return f"{round(value, _MOST_DECIMALS).normalize():f}"


def _of_climate(value: Decimal, unit: str) -> tuple[Decimal, str]:
    """Degrees Celsius, to a hundredth where they were converted; or percent of humidity."""
    if unit in ("degree_celsius", "percent"):
        return value, unit
    if _unit(unit).kind != "temperature":
        raise _unfit(unit, "a unit of climate", units_of(Quantity.CLIMATE))
    return round(convert(value, unit, "degree_celsius"), 2), "degree_celsius"


def _entry(unit: str, quantity: Quantity) -> _Entry:
    kept = _CANONICAL[quantity]
    if _unit(unit).kind != _UNITS[kept].kind:
        raise _unfit(unit, f"a unit of {quantity.value}", units_of(quantity))
    multiply, divide = _ratio(unit, kept)
    entry = (quantity, _EXACT.divide(multiply, divide), kept)
    _entries[unit] = entry
    return entry


def _unit(name: str) -> _Unit:
    found = _UNITS.get(name)
    if found is None:
        near = difflib.get_close_matches(name[:64], _UNITS, n=3)
        raise NotFound(
            "unknown unit",
            got=repr(name[:64]),
            wanted=" or ".join(near)
            if near
            else "a unit name such as gloss_unit, newton or percent",
            next_step="correct the unit in the driver, the profile or the file that names it",
        )
    return found


def _of_kind(kind: str) -> tuple[str, ...]:
    return tuple(name for name, unit in _UNITS.items() if unit.kind == kind)


def _unfit(unit: str, wanted: str, choices: tuple[str, ...]) -> Misuse:
    return Misuse(
        "unit of another kind",
        got=f"{unit} ({_UNITS[unit].kind})",
        wanted=f"{wanted}: {', '.join(choices)}",
        next_step="correct the unit in the driver, the profile or the file that names it",
    )


@cache
def _ratio(from_unit: str, to_unit: str) -> tuple[Decimal, Decimal]:
    """Multiply by the first and divide by the second: the one of them is 1.

    A factor that has no end in decimals (newton to pound-force) is the inverse of one that has,
    and dividing by that keeps all digits.
    """
    there = _factor(from_unit, to_unit)
    if len(there.as_tuple().digits) < _ENDLESS_DIGITS:
        return there, Decimal(1)
    return Decimal(1), _factor(to_unit, from_unit)


def _factor(from_unit: str, to_unit: str) -> Decimal:
    registry = _registry()
    with _building:
        quantity = registry.Quantity(Decimal(1), _UNITS[from_unit].pint_name)
        factor = Decimal(quantity.m_as(_UNITS[to_unit].pint_name)).normalize()
    # 100 and not 1E+2, which would print a product as 5E+1.
    return factor.quantize(Decimal(1)) if factor == factor.to_integral_value() else factor


@cache
def _built() -> UnitRegistry[Decimal]:
    # Some tenths of a second: not to be paid by a command that converts nothing.
    import pint  # noqa: PLC0415

    return pint.UnitRegistry(_DEFINITIONS.split("\n"), non_int_type=Decimal)


def _registry() -> UnitRegistry[Decimal]:
    with _building:
        return _built()
