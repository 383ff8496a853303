"""Numbers out of registers, against IEEE 754 as Python's struct has it and worked by hand."""

from __future__ import annotations

import random
import struct
from decimal import Decimal

import pytest

from drivers.modbus.words import Form, Kind, number, scaled, spoken


@pytest.mark.parametrize(
    ("kind", "data", "value"),
    [
        (Kind.INT16, "03 92", "914"),
        (Kind.INT16, "FF FE", "-2"),
        (Kind.UINT16, "FF FE", "65534"),
        (Kind.INT32, "FF FF FF FF", "-1"),
        (Kind.UINT32, "00 01 00 00", "65536"),
        (Kind.INT64, "80 00 00 00 00 00 00 00", "-9223372036854775808"),
        (Kind.UINT64, "FF FF FF FF FF FF FF FF", "18446744073709551615"),
        (Kind.BCD16, "91 42", "9142"),
        (Kind.BCD32, "00 12 34 56", "123456"),
        # 91.4 is 1.428125 * 2^6: exponent 133, mantissa 0x36CCCD.
        (Kind.FLOAT32, "42 B6 CC CD", "91.4"),
        (Kind.FLOAT32, "C0 49 0F DB", "-3.1415927"),
        (Kind.FLOAT32, "42 C8 00 00", "100"),
        (Kind.FLOAT32, "80 00 00 00", "0"),
        (Kind.FLOAT64, "40 56 D9 99 99 99 99 9A", "91.4"),
    ],
)
def test_a_number_is_what_its_bits_say(kind: Kind, data: str, value: str) -> None:
    found = number(Form(kind).bits(bytes.fromhex(data)), kind)
    assert isinstance(found, Decimal)
    assert (found, spoken(found)) == (Decimal(value), value)


@pytest.mark.parametrize(
    ("words", "octets", "data"),
    [
        (True, True, "42 B6 CC CD"),
        (False, True, "CC CD 42 B6"),
        (True, False, "B6 42 CD CC"),
        (False, False, "CD CC B6 42"),
    ],
)
def test_registers_and_their_bytes_come_in_either_order(
    words: bool, octets: bool, data: str
) -> None:
    form = Form(Kind.FLOAT32, words, octets)
    assert number(form.bits(bytes.fromhex(data)), Kind.FLOAT32) == Decimal("91.4")


@pytest.mark.parametrize(
    ("kind", "data", "why"),
    [
        (Kind.FLOAT32, "7F C0 00 00", "the float is not a number"),
        (Kind.FLOAT32, "7F 80 00 00", "the float is infinite"),
        (Kind.FLOAT64, "FF F0 00 00 00 00 00 00", "the float is infinite"),
        (Kind.BCD16, "9A 42", "0x9a42 is no BCD"),
    ],
)
def test_what_is_no_number_says_so(kind: Kind, data: str, why: str) -> None:
    assert number(Form(kind).bits(bytes.fromhex(data)), kind) == why


@pytest.mark.parametrize(("kind", "form"), [(Kind.FLOAT32, ">f"), (Kind.FLOAT64, ">d")])
def test_every_float_is_told_apart_from_every_other(kind: Kind, form: str) -> None:
    randomness = random.Random(1)
    width = struct.calcsize(form)
    for _ in range(3000):
        data = randomness.randbytes(width)
        found = number(int.from_bytes(data, "big"), kind)
        if isinstance(found, Decimal) and found:
            assert struct.pack(form, float(found)) == data


def test_a_scale_is_exact() -> None:
    assert scaled(Decimal(914), Decimal("0.1")) == Decimal("91.4")
    assert str(scaled(Decimal(2**64 - 1), Decimal("0.000000000001"))) == "18446744.073709551615"


@pytest.mark.parametrize("value", ["1E+31", "1E-45"])
def test_a_value_beyond_all_measure_is_none(value: str) -> None:
    assert "beyond all measure" in str(scaled(Decimal(value), Decimal(1)))
