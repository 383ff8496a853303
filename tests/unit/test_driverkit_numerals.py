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
from drivers.line.codec import Codec as LineCodec
from drivers.line.family import load as load_line
from drivers.usbtmc.codec import Codec as UsbtmcCodec
from drivers.usbtmc.family import load as load_usbtmc
from tests.captures import profile


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


@pytest.mark.parametrize(
    ("sent", "value"),
    [
        ("1.0E+02", "100"), ("8.804E1", "88.04"), ("0.00E-35", "0.00"), ("0E+99", "0"),
        ("+8.8040000000000003E+001", "88.040000000000003"), ("9.91E37", None),
    ],
)  # fmt: skip
def test_a_device_on_a_bus_and_one_on_a_line_mean_the_same_by_it(
    sent: str, value: str | None
) -> None:
    asked = profile("usbtmc-bands")
    answer = asked["answer"][0]
    answer["pattern"] = answer["pattern"].replace("{1,12}", "{1,30}")
    bus = UsbtmcCodec(load_usbtmc(asked, "bus"))
    told = bus.result(f"1,{sent},1.0,{sent}\n".encode())
    assert not isinstance(told, str)
    of_bus = [str(heard.value) for heard in told.heard]
    assert of_bus == (["1.0"] if value is None else [value, "1.0", value])
    table = profile("force-powers")
    table["message"] = [{"means": "reading", "pattern": "(?P<value>.*)"}]
    table["unit"], table["press"] = {"default": "newton"}, {}
    del table["identify"]
    heard = LineCodec(load_line(table, "line")).decode(sent.encode())
    if "." not in sent or value is None:
        # Of a line every number has a point.
        assert isinstance(heard, str)
    else:
        assert [str(one.value) for one in heard if not isinstance(one, str)] == [value]
