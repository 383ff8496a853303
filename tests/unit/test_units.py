"""Units: the closed table, exact figures against published ones, and pint left asleep."""

from __future__ import annotations

import subprocess
import sys
from decimal import Context, Decimal
from itertools import product

import pint
import pytest

from acquire.errors import Misuse, NotFound
from acquire.model import MEASURED, Quantity
from acquire.units import _UNITS, canonical, convert, normalise, symbol, units_of
from tests.patience import PATIENCE_S

# Sources: g_n = 9.80665 m/s2 (3rd CGPM, 1901) and 1 lb = 0.45359237 kg (international yard and
# pound agreement, 1959), both exact; NIST SP 811, Appendix B.8, prints kgf 9.80665, lbf 4.448222
# and ozf 0.2780139 N; 1 in = 25.4 mm exactly.
PUBLISHED = [
    ("1", "kilogram_force", "newton", "9.80665"),
    ("1", "pound_force", "newton", "4.4482216152605"),
    ("1", "ounce_force", "newton", "0.27801385095378125"),
    ("1", "gram_force", "newton", "0.00980665"),
    ("1", "pound", "kilogram", "0.45359237"),
    ("62.5", "gram_force", "newton", "0.612915625"),
    ("6", "inch", "millimetre", "152.4"),
    ("35", "inch_per_minute", "millimetre_per_minute", "889.0"),
    # 0 degrees Celsius is 273.15 K and 32 degrees Fahrenheit (NIST SP 811, B.8).
    ("0", "degree_celsius", "kelvin", "273.15"),
    ("32", "degree_fahrenheit", "degree_celsius", "0"),
]

# Cases of the same exact factors, recomputed to nine decimals.
RECOMPUTED = [
    ("3.2", "ounce_force", "0.889644323"),
    ("0.45", "pound_force", "2.001699727"),
    ("12.0", "ounce_force", "3.336166211"),
]


@pytest.mark.parametrize(("value", "source", "target", "expected"), PUBLISHED)
def test_published_factors_come_out_digit_for_digit(
    value: str, source: str, target: str, expected: str
) -> None:
    assert abs(convert(Decimal(value), source, target) - Decimal(expected)) < Decimal("1e-20")


@pytest.mark.parametrize(("value", "unit", "expected"), RECOMPUTED)
def test_forces_in_ounces_and_pounds_come_out_to_the_ninth_decimal(
    value: str, unit: str, expected: str
) -> None:
    newton, kept = normalise(Decimal(value), unit, Quantity.FORCE)
    assert kept == "newton"
    assert abs(newton - Decimal(expected)) < Decimal("1e-8")


def test_the_printed_factors_of_nist_sp_811_are_ours_rounded() -> None:
    printed = {"pound_force": "4.448222", "ounce_force": "0.2780139", "kilogram_force": "9.80665"}
    for unit, figure in printed.items():
        ours = convert(Decimal(1), unit, "newton")
        assert ours.quantize(Decimal(figure)) == Decimal(figure)


def test_a_value_in_the_unit_it_is_kept_in_is_handed_back_as_it_is() -> None:
    for quantity in Quantity:
        value = Decimal("91.40")
        same, unit = normalise(value, canonical(quantity), quantity)
        assert same is value
        assert unit == canonical(quantity)


def test_normalising_is_exact_for_more_digits_than_the_usual_context_keeps() -> None:
    value = Decimal("1234567890.1234567890123456")
    newton, _ = normalise(value, "pound_force", Quantity.FORCE)
    # Integers know no rounding: 16 and 13 decimals make 29.
    product = 12345678901234567890123456 * 44482216152605
    assert newton == Decimal(product).scaleb(-29, Context(prec=60))


def test_a_ratio_becomes_percent_with_plain_digits() -> None:
    assert [str(v) for v in normalise(Decimal("0.85"), "one", Quantity.TRANSMITTANCE)] == [
        "85.00",
        "percent",
    ]


def test_there_and_back_again_gives_the_value_again() -> None:
    value = Decimal("0.613")
    for quantity in (*MEASURED, Quantity.STROKES):
        for unit in units_of(quantity):
            there = convert(value, canonical(quantity), unit)
            back = convert(there, unit, canonical(quantity))
            assert abs(back - value) < Decimal("1e-50")


def test_the_rooms_climate_is_kept_in_degrees_celsius_and_percent() -> None:
    def of(value: str, unit: str) -> list[str]:
        return [str(one) for one in normalise(Decimal(value), unit, Quantity.CLIMATE)]

    assert of("21.4", "degree_celsius") == ["21.4", "degree_celsius"]
    assert of("70.5", "degree_fahrenheit") == ["21.39", "degree_celsius"]
    assert of("48.2", "percent") == ["48.2", "percent"]
    with pytest.raises(Misuse, match="a unit of climate"):
        of("1", "newton")


@pytest.mark.parametrize(
    "text", ["Nm", "GU", "%", "newton*meter", "N", "", "gloss unit", "1e9 * m"]
)
def test_the_text_of_a_device_is_no_unit_name(text: str) -> None:
    with pytest.raises(NotFound, match="unknown unit"):
        normalise(Decimal(1), text, Quantity.FORCE)


def test_an_unknown_unit_is_told_with_the_nearest_name() -> None:
    with pytest.raises(NotFound) as caught:
        normalise(Decimal(1), "gloss_units", Quantity.GLOSS)
    assert str(caught.value) == (
        "unknown unit: got 'gloss_units', wanted gloss_unit. "
        "Next: correct the unit in the driver, the profile or the file that names it"
    )


@pytest.mark.parametrize(
    ("unit", "quantity"),
    [
        ("gram", Quantity.FORCE),
        ("percent", Quantity.GLOSS),
        ("gloss_unit", Quantity.TRANSMITTANCE),
        ("newton", Quantity.GLOSS),
    ],
)
def test_a_unit_of_another_quantity_is_refused_every_time(unit: str, quantity: Quantity) -> None:
    for _ in range(2):
        with pytest.raises(Misuse, match="unit of another kind") as caught:
            normalise(Decimal(1), unit, quantity)
        assert canonical(quantity) in caught.value.wanted


def test_gloss_units_and_percent_are_not_converted_into_each_other() -> None:
    with pytest.raises(Misuse):
        convert(Decimal(100), "gloss_unit", "percent")


def test_symbols_are_those_of_the_trade() -> None:
    wanted = {"gloss_unit": "GU", "newton": "N", "percent": "%", "gram_force": "gf", "one": ""}
    assert {unit: symbol(unit) for unit in wanted} == wanted


def test_every_unit_is_what_pints_own_list_of_units_has() -> None:
    theirs = pint.UnitRegistry(non_int_type=Decimal)
    theirs.define("gloss_unit = [gloss]")
    pairs = [(a, b) for a, b in product(_UNITS, repeat=2) if _UNITS[a].kind == _UNITS[b].kind]
    assert len(pairs) > 100
    for source, target in pairs:
        there = theirs.Quantity(Decimal("77.3"), _UNITS[source].pint_name)
        expected = Decimal(there.m_as(_UNITS[target].pint_name))
        # pint reckons with 28 digits; ours keeps all of a factor that has an end.
        assert abs(convert(Decimal("77.3"), source, target) / expected - 1) < Decimal("1e-25")


def test_pint_sleeps_until_a_factor_is_needed() -> None:
    program = (
        "import sys; from decimal import Decimal; from acquire.model import Quantity\n"
        "from acquire.units import normalise, symbol, units_of\n"
        "normalise(Decimal(1), 'gloss_unit', Quantity.GLOSS); symbol('newton')\n"
        "units_of(Quantity.FORCE); print('pint' in sys.modules)\n"
        "normalise(Decimal(1), 'pound_force', Quantity.FORCE); print('pint' in sys.modules)\n"
    )
    out = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        timeout=PATIENCE_S,
    )  # fmt: skip
    assert out.stdout.split() == ["False", "True"]
