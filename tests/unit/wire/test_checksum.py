"""Checksums against their published check values, and against a second, slower way."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.wire import CHECKSUMS
from acquire.wire.checksum import CRCS, Crc, table_of

NINE = b"123456789"


@pytest.mark.parametrize("name", CHECKSUMS)
def test_each_algorithm_gives_its_published_check_value(name: str) -> None:
    checksum = CHECKSUMS[name]
    assert checksum.of(NINE) == checksum.check


def test_the_check_value_of_modbus_is_that_of_the_catalogue() -> None:
    # Greg Cook, Catalogue of parametrised CRC algorithms, CRC-16/MODBUS.
    assert CHECKSUMS["crc16-modbus"].of(NINE) == 0x4B37


def test_the_longitudinal_check_of_the_worked_lines_is_as_written_on_the_page() -> None:
    # drivers/line/WIRE.md, worked lines, by hand with an XOR table.
    assert CHECKSUMS["xor8"].of(b"B,SH-0417,1.4") == 0x5D
    assert CHECKSUMS["xor8"].of(b"R,0004,20,----,GU") == 0x46
    assert CHECKSUMS["xor8"].of(b"") == 0


def by_long_division(crc: Crc, data: bytes) -> int:
    """The definition, one bit of the message at a time, always in the unreflected form."""
    top = 1 << (crc.width_bits - 1)
    register = crc.start
    for byte in data:
        bits = f"{byte:08b}"
        for bit in reversed(bits) if crc.reflected else bits:
            carry = bool(register & top) ^ (bit == "1")
            register = (register << 1) & ((1 << crc.width_bits) - 1)
            if carry:
                register ^= crc.polynomial
    if crc.reflected:
        register = int(f"{register:0{crc.width_bits}b}"[::-1], 2)
    return register ^ crc.final_xor


@settings(deadline=None, derandomize=True)
@given(st.sampled_from(sorted(CRCS)), st.binary(max_size=80))
def test_the_table_driven_crc_is_the_long_division(name: str, data: bytes) -> None:
    assert CHECKSUMS[name].of(data) == by_long_division(CRCS[name], data)


@settings(deadline=None, derandomize=True)
@given(st.sampled_from(sorted(CHECKSUMS)), st.binary(min_size=1, max_size=80), st.data())
def test_one_flipped_bit_never_goes_unseen(name: str, data: bytes, draw: st.DataObject) -> None:
    at = draw.draw(st.integers(0, len(data) * 8 - 1))
    flipped = bytearray(data)
    flipped[at // 8] ^= 1 << at % 8
    assert CHECKSUMS[name].of(bytes(flipped)) != CHECKSUMS[name].of(data)


def test_the_table_of_a_crc_is_made_once() -> None:
    for crc in CRCS.values():
        assert table_of(crc) is table_of(crc)
