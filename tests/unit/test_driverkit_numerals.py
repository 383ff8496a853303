"""A number with a power of ten means the same to every family.

IEEE 488.2, 8.7.4, and SCPI-1999, volume 1, 7.2.1 (from memory).
"""

from __future__ import annotations

import struct
import sys
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.driverkit.numerals import LONGEST, Odd, meant
from acquire.model import Flag


@pytest.mark.parametrize(
    ("number", "value"),
    [
        ("1.0E+03", "1000"), ("9.140E+01", "91.40"), ("100", "100"), (".5e1", "5"), ("5.", "5"),
        ("0.000E-28", "0.000"), ("0.000E+99", "0.000"), ("-0.0e-31", "-0.0"), ("0", "0"),
        ("9.999E+30", "9999000000000000000000000000000"), ("1E-30", "1E-30"),
    ],
)  # fmt: skip
def test_a_number_reads_in_digits_alone(number: str, value: str) -> None:
    assert str(meant(number)) == value


def test_what_stands_for_no_value_is_none() -> None:
    assert meant("+9.9E37") is meant("9.90E+37") is Flag.OVER_RANGE
    assert meant("-9.9E+37") is Flag.UNDER_RANGE
    assert meant("9.91E+37") is Odd.NO_VALUE
    for number in ("-9.91E+37", "9.89E+37", "1E+31", "-1E-31", "1E+999", "1E-999"):
        assert meant(number) is Odd.BEYOND, number


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_no_computer_writes_a_longer_number_than_is_taken(value: float) -> None:
    """17 digits tell any two binary64 apart (IEEE 754-2019, 5.12.2): Python's own writer."""
    text = format(value, "+.16E")
    assert len(text) <= LONGEST
    assert struct.pack(">d", float(text)) == struct.pack(">d", value)


def test_the_longest_of_them_is_as_long_as_a_number_may_be() -> None:
    assert len(format(-sys.float_info.min, "+.16E")) == LONGEST


@given(st.decimals(-(10**9), 10**9, places=6), st.integers(-28, 24))
def test_a_value_is_that_of_the_digits_and_the_power(digits: Decimal, power: int) -> None:
    told = meant(f"{digits:f}E{power:+03d}")
    assert told is Odd.BEYOND or told == digits.scaleb(power)
