"""IEEE 488.2 blocks: their length, and the numbers in them."""

from __future__ import annotations

import struct
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.wire.definite import Block, NumberForm, NumberOrder, Numbers, block_at


def test_a_block_says_its_length() -> None:
    # By hand from the description of the form in 8.7.9 (from memory): # 1 3 and three bytes.
    assert block_at(b"#13abc\n", 0) == Block(3, 6)
    assert block_at(b"7,#0003", 2) == "a block without a length (#0)"
    assert block_at(b"7,#204abcd\n", 2) == Block(6, 10)
    assert block_at(b"#10", 0) == Block(3, 3)


@pytest.mark.parametrize(
    ("message", "why"),
    [
        (b"13abc", "no # where"),
        (b"", "no # where"),
        (b"#", "no digit"),
        (b"#x3abc", "no digit"),
        (b"#2", "length is no number of 2"),
        (b"#2 3abc", "length is no number of 2"),
        (b"#2+3abc", "length is no number of 2"),
        (b"#14abc", "of which 3 came"),
        (b"#9999999999", "more than 1048576"),
    ],
)
def test_what_is_no_block_is_told_why(message: bytes, why: str) -> None:
    told = block_at(message, 0)
    assert isinstance(told, str)
    assert why in told


@given(st.binary(max_size=12), st.integers(0, 14))
def test_any_bytes_are_a_block_within_them_or_a_reason(message: bytes, place: int) -> None:
    found = block_at(message, place)
    assert isinstance(found, str) or place < found.start <= found.end <= len(message)


@given(st.binary(max_size=300))
def test_a_block_that_was_written_is_read(data: bytes) -> None:
    length = str(len(data)).encode()
    message = b"7,#" + str(len(length)).encode() + length + data + b"\n"
    found = block_at(message, 2)
    assert isinstance(found, Block)
    assert message[found.start : found.end] == data


def test_numbers_of_each_form_and_order_by_hand() -> None:
    # 50 = 1.5625 x 2^5: exponent 132 = 84h, fraction 9/16; 5000 = 1388h; -2 = FFFEh.
    cases = [
        (NumberForm.BINARY32, "42480000", 50.0),
        (NumberForm.BINARY64, "4049000000000000", 50.0),
        (NumberForm.INT16, "1388", 5000),
        (NumberForm.INT16, "fffe", -2),
        (NumberForm.INT32, "00001388", 5000),
    ]
    for form, digits, value in cases:
        big = bytes.fromhex(digits)
        assert Numbers(form, NumberOrder.BIG).of(big) == (value,)
        assert Numbers(form, NumberOrder.LITTLE).of(big[::-1]) == (value,)


def test_bytes_that_are_no_whole_numbers_are_told() -> None:
    told = Numbers(NumberForm.BINARY32, NumberOrder.BIG).of(b"12345")
    assert told == "5 bytes, no whole count of numbers of 4 bytes"


@given(st.lists(st.floats(width=32, allow_nan=False), max_size=20))
def test_turned_bytes_are_the_same_numbers(values: list[float]) -> None:
    big = struct.pack(f">{len(values)}f", *values)
    numbers = Numbers(NumberForm.BINARY32, NumberOrder.BIG)
    assert numbers.little(big) == struct.pack(f"<{len(values)}f", *values)


def test_turning_keeps_the_bits_of_what_is_no_number() -> None:
    signalling = bytes.fromhex("7fa00001")
    assert Numbers(NumberForm.BINARY32, NumberOrder.BIG).little(signalling).hex() == "0100a07f"


@pytest.mark.parametrize("form", [NumberForm.INT16, NumberForm.INT32])
@pytest.mark.parametrize("order", list(NumberOrder))
@pytest.mark.parametrize("scale", ["1", "0.01", "0.1", "2.5", "7", "0.000000000003", "1234567.89"])
def test_scaled_integers_are_the_nearest_numbers_to_the_exact_quotients(
    form: NumberForm, order: NumberOrder, scale: str
) -> None:
    bits = 16 if form is NumberForm.INT16 else 32
    whole = [0, 1, -1, 3, 9_999, -12_345, (1 << bits - 1) - 1, -(1 << bits - 1)]
    code = {16: "h", 32: "i"}[bits]
    sign = "<" if order is NumberOrder.LITTLE else ">"
    data = struct.pack(f"{sign}{len(whole)}{code}", *whole)
    above, below = Decimal(scale).as_integer_ratio()
    found = struct.unpack(f"<{len(whole)}d", Numbers(form, order).scaled(data, above, below))
    # A fraction becomes the float nearest to it (Python, fractions: exact, rounded once).
    assert list(found) == [float(Fraction(n * above, below)) for n in whole]


def test_whole_numbers_are_summed_exactly_beyond_what_they_hold_themselves() -> None:
    most = [2**31 - 1] * 4096
    data = struct.pack(">4097i", *most, -(2**31))
    numbers = Numbers(NumberForm.INT32, NumberOrder.BIG)
    assert numbers.summed(data) == sum(most) - 2**31
    assert numbers.ends(data) == (-(2**31), 2**31 - 1)
