"""Numbers in bytes, against worked examples, the standard library and NumPy."""

from __future__ import annotations

import struct
from decimal import Context, Decimal
from typing import Literal

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from acquire.driverkit.floating import gives32, shortest32, shortest64
from drivers.frame.number import Sign, Type, Written, number, scaled, swapped

Order = Literal["big", "little"]

HALF_OF_THE_SMALLEST = str(Context(prec=120).power(2, -150))


def read(
    type_: Type, hexadecimal: str, order: Order = "big", sign: Sign = Sign.NONE
) -> Decimal | str:
    return number(type_, order, sign)(bytes.fromhex(hexadecimal))


@pytest.mark.parametrize(
    ("type_", "hexadecimal", "big", "little"),
    [
        (Type.UINT8, "FE", 254, 254),
        (Type.INT8, "FE", -2, -2),
        (Type.UINT16, "0392", 914, 0x9203),
        (Type.INT16, "FFFD", -3, -513),
        (Type.UINT24, "01E240", 123456, 0x40E201),
        (Type.INT24, "FE1DC0", -123456, -4186626),
        (Type.UINT32, "FFFFFFFE", 4294967294, 0xFEFFFFFF),
        (Type.INT32, "80000000", -2147483648, 128),
    ],
)
def test_whole_numbers_of_either_order(
    type_: Type, hexadecimal: str, big: int, little: int
) -> None:
    # By hand: 3 x 256 + 146; 2 to the 16th less 3; 1 x 65536 + 226 x 256 + 64; and so on.
    assert read(type_, hexadecimal) == big
    assert read(type_, hexadecimal, "little") == little


@pytest.mark.parametrize(
    ("type_", "hexadecimal", "value"),
    [(Type.UINT8, "8C", -12), (Type.UINT16, "014D", 333), (Type.UINT16, "8021", -33),
     (Type.UINT16, "FFFF", -32767), (Type.UINT16, "8000", 0), (Type.UINT24, "8186A0", -100000)],
)  # fmt: skip
def test_a_size_below_its_sign_by_hand(type_: Type, hexadecimal: str, value: int) -> None:
    # 1 x 256 + 77; the top bit off, 0 x 256 + 33; all the 15 other bits; 65536 + 134 x 256 + 160.
    found = read(type_, hexadecimal, sign=Sign.TOP_BIT)
    assert (found, str(found)) == (value, str(value))
    turned = bytes.fromhex(hexadecimal)[::-1].hex()
    assert read(type_, turned, "little", Sign.TOP_BIT) == value


def test_two_words_in_the_other_order_are_one_number() -> None:
    # 91.4 in binary32 is 42B6CCCDh (WIRE.md): IEEE 754-2019, 3.4, checked by the struct module.
    assert struct.pack(">f", 91.4).hex().upper() == "42B6CCCD"
    orders: tuple[tuple[Order, str], ...] = (("big", "CCCD42B6"), ("little", "B642CDCC"))
    for order, sent in orders:
        plain = number(Type.FLOAT32, order, Sign.NONE)
        assert str(swapped(plain)(bytes.fromhex(sent))) == "91.4"


@pytest.mark.parametrize(
    ("hexadecimal", "big", "little"), [("00090104", 914, 4190), ("0902", 92, 29)]
)
def test_unpacked_decimals_have_a_digit_a_byte(hexadecimal: str, big: int, little: int) -> None:
    assert read(Type.UNPACKED, hexadecimal) == big
    assert read(Type.UNPACKED, hexadecimal, "little") == little
    for none in ("0A", "10", "FF"):
        assert "above 9" in str(read(Type.UNPACKED, hexadecimal[:-2] + none))


@settings(deadline=None, derandomize=True)
@given(st.binary(min_size=4, max_size=4))
def test_whole_numbers_are_those_of_struct(data: bytes) -> None:
    # The standard library's struct is the other way of reading them.
    for type_, big, little in (
        (Type.UINT16, ">H", "<H"), (Type.INT16, ">h", "<h"),
        (Type.UINT32, ">I", "<I"), (Type.INT32, ">i", "<i"),
    ):  # fmt: skip
        part = data[: struct.calcsize(big)]
        assert number(type_, "big", Sign.NONE)(part) == struct.unpack(big, part)[0]
        assert number(type_, "little", Sign.NONE)(part) == struct.unpack(little, part)[0]


@pytest.mark.parametrize(
    ("hexadecimal", "order", "sign", "value"),
    [
        ("0001 2345", "big", Sign.NONE, 12345),
        ("4523 0100", "little", Sign.NONE, 12345),
        ("0001 234C", "big", Sign.LAST_NIBBLE, 1234),
        ("0001 234F", "big", Sign.LAST_NIBBLE, 1234),
        ("0001 234D", "big", Sign.LAST_NIBBLE, -1234),
        ("4D23 0100", "little", Sign.LAST_NIBBLE, -1234),
        ("8001 2345", "big", Sign.TOP_BIT, -12345),
        ("7001 2345", "big", Sign.TOP_BIT, 70012345),
        ("4523 0180", "little", Sign.TOP_BIT, -12345),
        ("0D", "big", Sign.LAST_NIBBLE, 0),
        ("80", "big", Sign.TOP_BIT, 0),
    ],
)
def test_packed_decimals_by_hand(hexadecimal: str, order: Order, sign: Sign, value: int) -> None:
    found = read(Type.BCD, hexadecimal, order, sign)
    assert found == value
    assert str(found) == str(value)


@pytest.mark.parametrize(
    ("hexadecimal", "sign"),
    [("1A", Sign.NONE), ("A1", Sign.NONE), ("FF", Sign.NONE), ("A1C0", Sign.LAST_NIBBLE),
     ("120A", Sign.LAST_NIBBLE), ("1209", Sign.LAST_NIBBLE), ("AC", Sign.LAST_NIBBLE),
     ("0B", Sign.TOP_BIT)],
)  # fmt: skip
def test_a_nibble_above_nine_is_no_digit(hexadecimal: str, sign: Sign) -> None:
    found = read(Type.BCD, hexadecimal, sign=sign)
    assert isinstance(found, str)
    assert "nibble" in found


@pytest.mark.parametrize(
    ("text", "value"),
    [("91.4", "91.4"), ("  91.4", "91.4"), ("-0.30", "-0.30"), ("+007", "7"), ("- 12", "-12")],
)
def test_ascii_digits_keep_their_decimals(text: str, value: str) -> None:
    assert str(number(Type.DIGITS, "big", Sign.NONE)(text.encode())) == value


@pytest.mark.parametrize(
    "text",
    ["", "  ", "-", "1e5", "9l.4", "1,5", "1.", ".5", "1.2.3", "91.4 ", "NaN", "1_0", "\xb2"],
)
def test_what_is_no_plain_number_is_refused(text: str) -> None:
    assert isinstance(number(Type.DIGITS, "big", Sign.NONE)(text.encode("latin-1")), str)


@pytest.mark.parametrize(
    ("text", "value"), [("91,4", "91.4"), (" -0,30", "-0.30"), ("+007,0", "7.0")]
)
def test_digits_with_a_comma_are_read_where_the_profile_says_so(text: str, value: str) -> None:
    comma = number(Type.DIGITS, "big", Sign.NONE, Written(point=","))
    assert str(comma(text.encode())) == value


@pytest.mark.parametrize("text", ["91.4", "914", "91,", ",4", "9,1,4", "1,234.5", "91,4 "])
def test_a_comma_stands_alone_and_between_digits(text: str) -> None:
    comma = number(Type.DIGITS, "big", Sign.NONE, Written(point=","))
    assert isinstance(comma(text.encode()), str)
    held = number(Type.DIGITS, "big", Sign.NONE, Written(decimals=2, point=","))
    assert isinstance(held(b"91,4"), str)
    assert held(b"91,40") == Decimal("91.40")


def test_the_worked_float_of_the_page() -> None:
    # drivers/frame/WIRE.md: (1 + 0x36CCCD / 0x800000) x 64, by hand.
    assert read(Type.FLOAT32, "42B6CCCD") == Decimal("91.4")
    assert read(Type.FLOAT32, "CDCCB642", "little") == Decimal("91.4")
    assert read(Type.FLOAT64, "4056D9999999999A") == Decimal("91.4")


@pytest.mark.parametrize(
    "hexadecimal", ["7F800000", "FF800000", "7FC00000", "FFFFFFFF", "7F800001"]
)
def test_infinity_and_no_number_are_refused_with_a_reason(hexadecimal: str) -> None:
    # IEEE 754-2019, 3.4: an exponent of all ones.
    found = read(Type.FLOAT32, hexadecimal)
    assert isinstance(found, str)
    assert "NaN or infinite" in found
    assert isinstance(read(Type.FLOAT64, "7FF0000000000000"), str)
    assert isinstance(read(Type.FLOAT64, "7FF8000000000000"), str)


BITS32 = st.one_of(
    st.integers(0, 2**32 - 1),
    # Powers of two, where floats stand closer below than above.
    st.integers(0, 511).map(lambda exponent: exponent << 23),
    st.integers(-20000, 20000).map(
        lambda tenths: int.from_bytes(struct.pack(">f", tenths / 10), "big")
    ),
)


@settings(deadline=None, derandomize=True, max_examples=200)
@given(BITS32)
@example(0x00000001)
@example(0x00800000)
@example(0x7F7FFFFF)
@example(0x80000000)
def test_the_decimal_of_a_binary32_is_as_short_as_that_of_numpy(bits: int) -> None:
    data = bits.to_bytes(4, "big")
    value = np.frombuffer(data, ">f4")[0]
    found = shortest32(data)
    if not np.isfinite(value):
        assert found is None
        return
    # NumPy's shortest text (Dragon4, "unique") is made by another algorithm.
    other = Decimal(np.format_float_scientific(value, unique=True, trim="-"))
    assert found is not None
    assert np.float32(str(found)).tobytes() == value.astype(np.float32).tobytes()
    assert len(found.normalize().as_tuple().digits) == len(other.normalize().as_tuple().digits)


def test_every_power_of_two_has_the_shortest_decimal() -> None:
    for exponent in range(1, 255):
        data = (exponent << 23).to_bytes(4, "big")
        found = shortest32(data)
        other = np.format_float_scientific(np.frombuffer(data, ">f4")[0], unique=True, trim="-")
        assert found is not None
        assert len(found.normalize().as_tuple().digits) <= len(
            Decimal(other).normalize().as_tuple().digits
        )


@pytest.mark.parametrize(
    ("text", "bits"),
    [
        # 1 + 2 to the -24 is half-way between 1 and the next binary32, 1 + 2 to the -23.
        ("1.000000059604644775390625", "3F800000"),
        ("1.00000005960464477539062499999", "3F800000"),
        ("1.00000005960464477539062500001", "3F800001"),
        # Half of the smallest binary32, 2 to the -150, and a little more.
        (HALF_OF_THE_SMALLEST, "00000000"),
        ("7.006492321624085354618647917e-46", "00000001"),
    ],
)  # fmt: skip
def test_a_decimal_is_rounded_once_and_not_twice(text: str, bits: str) -> None:
    # IEEE 754-2019, 4.3.1: to nearest, ties to even; the figures by hand.
    assert gives32(text, bytes.fromhex(bits))
    other = "3F800001" if bits == "3F800000" else "3F800000"
    assert not gives32(text, bytes.fromhex(other))


@settings(deadline=None, derandomize=True)
@given(st.floats(allow_nan=False, allow_infinity=False))
def test_the_decimal_of_a_binary64_gives_it_back(value: float) -> None:
    found = shortest64(struct.pack(">d", value))
    assert found is not None
    assert struct.pack(">d", float(found)) == struct.pack(">d", value)
    assert len(found.normalize().as_tuple().digits) <= 17


@pytest.mark.parametrize(
    ("value", "scale", "power", "text"),
    [
        ("914", "0.1", 0, "91.4"),
        ("910", "0.1", 0, "91.0"),
        ("0", "0.01", 0, "0.00"),
        ("1234", "1", -2, "12.34"),
        ("12", "1", 3, "12000"),
        ("5", "0.5", 0, "2.5"),
        ("99999999999999", "0.000000000001", 0, "99.999999999999"),
    ],
)
def test_scale_and_power_are_exact_and_keep_the_decimals_of_the_display(
    value: str, scale: str, power: int, text: str
) -> None:
    assert str(scaled(Decimal(value), Decimal(scale), power)) == text


@pytest.mark.parametrize("value", ["1e16", "1e-25", "1e300", "-1e-300"])
def test_a_value_beyond_all_measure_is_refused(value: str) -> None:
    found = scaled(Decimal(value), Decimal(1), 0)
    assert isinstance(found, str)
    assert "beyond all measure" in found
