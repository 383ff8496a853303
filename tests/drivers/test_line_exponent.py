"""Numbers with a power of ten in text lines: NR3 of IEEE 488.2, 8.7.4."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.driverkit import Heard
from acquire.errors import SettingsError
from acquire.model import Flag
from drivers.line.codec import Codec
from drivers.line.family import load


def one(line: bytes, **value: Any) -> Heard | str:
    """What a line that is all value means with these entries of the table `value`."""
    table = {
        "kind": "force",
        "line": {"baud_rate": 9600},
        "text": {"terminator": "\n"},
        "message": [{"means": "reading", "pattern": "(?P<value>.*)"}],
        "value": {"over": ["OL"]} | value,
        "unit": {"default": "newton"},
    }
    heard = Codec(load(table, "test")).decode(line)
    return heard if isinstance(heard, str) else heard[0]


def value_of(line: bytes, **value: Any) -> Decimal:
    heard = one(line, exponent=True, **value)
    assert isinstance(heard, Heard), heard
    assert heard.text == line.decode().strip()
    assert heard.value is not None
    return heard.value


@pytest.mark.parametrize(
    ("line", "value"),
    [
        (b"+9.140E+01", "91.40"),
        (b" -3.1E-01", "-0.31"),
        (b"0.000E+00", "0.000"),
        (b"1.02e2", "102"),
        (b"1.0E+03", "1000"),
        (b"12.5E+000", "12.5"),
        (b"+9.14000000000000E+01", "91.4000000000000"),
        (b"-1.7976931348623157E-030", "-0.0000000000000000000000000000017976931348623157"),
    ],
)
def test_a_power_of_ten_is_read_where_the_profile_says_that_there_is_one(
    line: bytes, value: str
) -> None:
    assert f"{value_of(line):f}" == value, "with its digits, and none that it has not"
    assert isinstance(one(line), str), "not where the profile does not say so"


def test_the_decimal_sign_of_such_numbers_is_that_of_the_profile() -> None:
    assert value_of(b"9,14E+01", decimal=",") == Decimal("91.4")
    assert isinstance(one(b"9.14E+01", exponent=True, decimal=","), str)


@pytest.mark.parametrize(
    "line",
    [b"91.4", b"9.140", b"9.140E", b"9.140E+", b"9E+01", b"E+01", b".9E+01", b"9.E+01", b"9.1E01E1",
     b"9.1E1.0", b"9.1 E+01", b"9.1E +01", b"9.1E+0001", b"NAN", b"INF", b"0x9.1E+01", b"9_1.0E+01",
     b"9.1D+01", b"--9.1E+01", b"9.1\xb210E+01", b"+9.14000000000000000E+001"],
)  # fmt: skip
def test_what_lost_its_power_of_ten_or_is_written_otherwise_is_noise(line: bytes) -> None:
    assert isinstance(one(line, exponent=True), str)


@pytest.mark.parametrize("line", [b"1.0E+31", b"1.0E+999", b"-1.0E-31", b"1.0E-999"])
def test_a_number_beyond_all_measure_is_noise_with_that_reason(line: bytes) -> None:
    assert "beyond all measure" in str(one(line, exponent=True))


@pytest.mark.parametrize("power", ["E+00", "e-28", "E-99", "E+99", "E-999", "E+37"])
@pytest.mark.parametrize("sign", ["", "+", "-"])
def test_zero_is_zero_at_every_power(power: str, sign: str) -> None:
    """IEEE 488.2, 8.7.4 (from memory): a number is its digits times ten to its power."""
    value = value_of(f"{sign}0.000{power}".encode())
    assert value == 0
    assert f"{value:f}".lstrip("-") == "0.000"


@pytest.mark.parametrize("number", ["9.90E+37", "9.91E+37"])
def test_what_stands_for_no_value_does_so_only_to_the_last_digit(number: str) -> None:
    for other in (number.replace("9.9", "9.8"), number.replace("37", "36"), f"{number[:-1]}8"):
        assert "beyond all measure" in str(one(other.encode(), exponent=True))


def test_infinities_are_out_of_range_and_no_number_is_no_value() -> None:
    # SCPI-1999 volume 1, 7.2.1, from memory: 9.9E37, -9.9E37 and 9.91E37.
    for line, flag in (
        (b"+9.9E+37", Flag.OVER_RANGE), (b"-9.90E+37", Flag.UNDER_RANGE), (b"OL", Flag.OVER_RANGE),
    ):  # fmt: skip
        heard = one(line, exponent=True)
        assert isinstance(heard, Heard)
        assert heard.value is None
        assert heard.flags == {flag}
    assert "has no value" in str(one(b"+9.91E+37", exponent=True))


def test_limits_hold_for_such_numbers_as_they_are_shown_without_a_power() -> None:
    assert "more than the display can show" in str(one(b"2.1E+02", exponent=True, most=199.9))
    assert "less than the display can show" in str(one(b"-2.1E+02", exponent=True, least=-5))
    assert value_of(b"1.999E+02", least=-5, most=199.9) == Decimal("199.9")


def test_such_numbers_have_no_decimals_of_the_display() -> None:
    """Of 9.14E-01 three digits stand behind the point, on a display of one decimal, too."""
    with pytest.raises(SettingsError, match="most_decimals"):
        one(b"9.14E+01", exponent=True, most_decimals=1)


def test_numbers_with_a_power_of_ten_have_no_sign_between_thousands() -> None:
    with pytest.raises(SettingsError, match="thousands"):
        one(b"1.0E+03", exponent=True, thousands=",")


@given(
    st.integers(-99_999_999, 99_999_999), st.integers(0, 9), st.integers(0, 7),
    st.sampled_from(["E", "e"]),
)  # fmt: skip
def test_whatever_python_writes_with_a_power_of_ten_is_read_back(
    number: int, power: int, decimals: int, letter: str
) -> None:
    # Python's own formatting of a float is the independent writer.
    text = format(number / 10**power, f"+.{max(1, decimals)}{letter}")
    assert float(value_of(text.encode())) == float(text)
