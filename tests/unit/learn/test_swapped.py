"""Floating point whose two words come in the other order: learned, and taken for nothing else."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity
from acquire.wire import CHECKSUMS

REGISTRY = Registry()
GLOSS = About(Quantity.GLOSS, channel="60", most=Decimal(150))
WAYS = {"CDAB": (2, 3, 0, 1), "BADC": (1, 0, 3, 2), "ABCD": (0, 1, 2, 3), "DCBA": (3, 2, 1, 0)}
Send = Callable[[float], bytes]


def binary32(value: float) -> float:
    (near,) = struct.unpack(">f", struct.pack(">f", value))
    assert isinstance(near, float)
    return near


def sent(way: str) -> Send:
    def send(value: float) -> bytes:
        data = struct.pack(">f", value)
        body = b"\x01\x03\x04" + bytes(data[place] for place in WAYS[way])
        return body + CHECKSUMS["crc16-modbus"].of(body).to_bytes(2, "little")

    return send


def taught(send: Send, values: list[float], decimals: int) -> Finding:
    presses = [Press(send(v), Decimal(f"{binary32(v):.{decimals}f}")) for v in values]
    return learn(presses, GLOSS, REGISTRY)


@pytest.mark.parametrize(("way", "word"), [("CDAB", "low"), ("BADC", "high"), ("ABCD", "")])
def test_three_presses_tell_the_order_of_the_words(way: str, word: str) -> None:
    found = taught(sent(way), [51.0, 29.0, 119.0], 1)
    assert found.outcome is Outcome.SURE, found.left
    assert (f'word_order = "{word}-first"' in found.profile) == bool(word)
    (here,) = readings(found.family, found.profile, [sent(way)(91.4)], REGISTRY)
    assert [str(reading.value) for reading in here] == ["91.4"]


@pytest.mark.parametrize("decimals", [0, 1, 2])
@pytest.mark.parametrize("way", WAYS)
def test_no_part_of_another_field_is_taken_for_the_low_word(way: str, decimals: int) -> None:
    """The high word alone tells so short a number: whatever stands behind it would do."""
    dice = random.Random(f"{way}{decimals}")
    for _ in range(12):
        values = [dice.uniform(1, 110) for _ in range(9)]
        found = taught(sent(way), values[:4], decimals)
        if found.outcome is not Outcome.SURE:
            continue
        given = readings(found.family, found.profile, [sent(way)(v) for v in values[4:]], REGISTRY)
        for value, here in zip(values[4:], given, strict=True):
            assert all(binary32(float(one.value or 0)) == binary32(value) for one in here)


@pytest.mark.parametrize("way", WAYS)
def test_where_the_number_stands_twice_its_seam_is_no_number(way: str) -> None:
    def twice(value: float) -> bytes:
        return b"\xa5" + 2 * sent(way)(value)[3:-2] + b"\x0d"

    found = taught(twice, [91.4, 45.2, 12.0, 78.3], 1)
    assert found.left == (found.left[0],)
    assert "copies = [{ offset = 5, of = 1, bytes = 4 }]" in found.profile


def beside_zeros(value: float) -> bytes:
    """Two bytes of zeros stand behind a number whose low word is of zeros up to 256."""
    return b"\xaa" + struct.pack("<f", value) + b"\x00\x00\x55"


def test_where_two_orders_send_the_same_for_all_that_the_display_shows_either_is_right() -> None:
    found = taught(beside_zeros, [59.0, 108.0, 146.0], 0)
    assert found.outcome is Outcome.SURE, found.left
    assert len(found.left) == 2
    for value in (0, 1, 77, 150):
        (here,) = readings(found.family, found.profile, [beside_zeros(float(value))], REGISTRY)
        assert [reading.value for reading in here] == [Decimal(value)]
    whole = bytearray(beside_zeros(77.0))
    for place in (1, 2, 5, 6):
        for byte in (0x01, 0x40, 0x80, 0xFF):
            other = bytes((*whole[:place], byte, *whole[place + 1 :]))
            assert readings(found.family, found.profile, [other], REGISTRY) == [[]], other.hex()


def test_where_they_part_within_the_display_a_number_beyond_that_is_asked_for() -> None:
    wide = About(Quantity.GLOSS, channel="60", least=Decimal(0), most=Decimal(999))
    values = ("59", "108", "154")
    presses = [Press(beside_zeros(float(v)), Decimal(v)) for v in values]
    found = learn(presses, wide, REGISTRY)
    assert (found.outcome, found.tell_above) == (Outcome.MORE, Decimal(257))
    for further in ("257", "0.5"):
        more = [*presses, Press(beside_zeros(float(further)), Decimal(further))]
        told = learn(more, wide, REGISTRY)
        assert (told.outcome is Outcome.SURE) == (further == "257"), told.believed
    fine = [Press(beside_zeros(float(v)), Decimal(v)) for v in ("12.3", "91.4", "45.2")]
    assert learn(fine, wide, REGISTRY).outcome is Outcome.SURE
