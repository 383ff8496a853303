"""Numbers are tried out as the driver of frames reads them, and are written as they are read."""

from __future__ import annotations

import struct
from decimal import Decimal

from hypothesis import example, given
from hypothesis import strategies as st

from acquire.learn.numbers.number import NumberAt, shortest
from drivers.frame.number import Sign, Type, number

FORMS = [
    *(
        NumberAt(0, n, f"{s}int{8 * n}", o)
        for n in (1, 2, 3, 4)
        for s in ("", "u")
        for o in ("big", "little")
    ),
    *(
        NumberAt(0, n, f"uint{8 * n}", o, "top-bit")
        for n in (1, 2, 3, 4)
        for o in ("big", "little")
    ),
    *(NumberAt(0, n, f"float{8 * n}", o) for n in (4, 8) for o in ("big", "little")),
    *(
        NumberAt(0, n, "bcd", o, s)
        for n in range(1, 6)
        for s in ("none", "last-nibble", "top-bit")
        for o in ("big", "little")
    ),
    *(NumberAt(0, n, "unpacked", o) for n in range(2, 8) for o in ("big", "little")),
    NumberAt(0, 7, "digits"),
]  # fmt: skip

bytes_of_any = st.binary(min_size=8, max_size=8)
near_digits = st.text("0123456789 +-.", min_size=8, max_size=8).map(str.encode)
near_packed = st.text("0123456789CDF", min_size=16, max_size=16).map(bytes.fromhex)


near_unpacked = st.binary(min_size=8, max_size=8).map(lambda d: bytes(b % 11 for b in d))


@given(st.sampled_from(FORMS), st.one_of(bytes_of_any, near_digits, near_packed, near_unpacked))
def test_a_number_is_what_the_driver_reads(form: NumberAt, data: bytes) -> None:
    told = number(Type(form.type), form.order, Sign(form.sign))(data[: form.size])
    assert form.read(data) == (None if isinstance(told, str) else told)


@given(st.sampled_from(FORMS), st.integers(-999_999, 999_999), st.integers(0, 3), bytes_of_any)
def test_what_is_written_is_read_again(form: NumberAt, steps: int, power: int, base: bytes) -> None:
    placed = NumberAt(form.offset, form.size, form.type, form.order, form.sign, power)
    value = Decimal(steps).scaleb(-power)
    frame = placed.write(value, b"0000000" + base[7:])
    # A number that is none of the field's is not written at all. binary32 has few digits.
    if frame is not None and not (form.type == "float32" and len(str(abs(steps))) > 6):
        assert placed.read(frame) == value
        assert frame[form.size :] == (b"0000000" + base[7:])[form.size :]


@example(3.4025001647762064e38)
@given(st.floats(width=32, allow_nan=False, allow_infinity=False))
def test_the_shortest_decimal_has_the_same_bits(value: float) -> None:
    bits = struct.pack(">f", value)
    found = shortest(bits)
    assert found is not None
    assert struct.pack(">f", float(found)) == bits
