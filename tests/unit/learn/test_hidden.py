"""Bits that hide beside numbers, counts and states: each is noise until a press has shown it."""

from __future__ import annotations

import struct
import tomllib
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.numbers.number import NumberAt
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

GLOSS = About(Quantity.GLOSS, channel="60", settled=9)
REGISTRY = Registry()
SHOWN = ("91.4", "45.2", "12.0")
SMALL = ("9.1", "4.5", "12.0")


def taught(*presses: tuple[str, str], about: About = GLOSS) -> Finding:
    """Learned from bytes in hex and what was shown with them."""
    made = [Press(bytes.fromhex(data), Decimal(shown)) for data, shown in presses]
    found = learn(made, about, REGISTRY)
    assert found.outcome is Outcome.SURE or found.is_meagre, found.believed
    return found


def given(found: Finding, *data: str) -> list[list[str]]:
    read = readings(found.family, found.profile, [bytes.fromhex(one) for one in data], REGISTRY)
    return [[str(reading.value) for reading in here] for here in read]


@pytest.mark.parametrize("order", ["big", "little"])
def test_the_upper_byte_of_the_number_is_not_taken_for_that_of_a_count(order: str) -> None:
    """Nine point one, four point five and twelve leave the upper byte of the number 0."""

    def sent(count: int, number: int) -> str:
        whole = struct.pack(">H" if order == "big" else "<H", number)
        pair = bytes([count]) + whole if order == "big" else whole + bytes([count])
        return (b"\xa5" + pair + b"\x0d").hex()

    presses = [(sent(n, int(Decimal(v) * 10)), v) for n, v in zip((33, 34, 35), SMALL, strict=True)]
    found = taught(*presses)
    count = tomllib.loads(found.profile)["message"][0]["count"]
    assert count == {"offset": 1 if order == "big" else 3, "type": "uint8"}
    assert given(found, sent(36, 622), sent(37, 45)) == [[], ["4.5"]]


def test_what_a_number_needs_is_counted_in_its_bytes() -> None:
    number = NumberAt(2, 4, "uint32", "big", power=1)
    assert number.needed(Decimal("25.5")) == {5}
    assert number.needed(Decimal("25.6")) == {4, 5}
    assert NumberAt(2, 3, "int24", "little").needed(Decimal(65535)) == {2, 3}
    assert NumberAt(2, 3, "bcd").needed(Decimal(99)) == {4}
    assert NumberAt(2, 4, "float32").needed(Decimal(1)) == {2, 3, 4, 5}


@pytest.mark.parametrize("flag", [0x10, 0x20, 0x40, 0x80])
def test_a_bit_that_a_second_count_never_had_is_noise(flag: int) -> None:
    found = taught(("A521039208 0D", "91.4"), ("A52201C409 0D", "45.2"), ("A52300780A 0D", "12.0"))
    assert given(found, "A52401C40B0D", f"A52501C4{0x0C | flag:02X}0D") == [["45.2"], []]
    assert any("byte 4 counts, too" in words and "15" in words for words in found.unseen)


@pytest.mark.parametrize(("flag", "shown"), [(0x4000, []), (0x8000, []), (0x2000, ["93.99"])])
def test_a_bit_above_those_that_the_numbers_needed_is_noise(flag: int, shown: list[str]) -> None:
    """The largest, 9140 hundredths, has 14 bits; the 14th is one of the number's own."""
    found = taught(("7E23B40D", "91.40"), ("7E11AD0D", "45.25"), ("7E04B70D", "12.07"))
    assert given(found, "7E04B70D", f"7E{1207 | flag:04X}0D") == [["12.07"], shown]
    assert found.tell_above == Decimal("163.83")
    assert any("--most" in words for words in found.unseen)
    said = About(Quantity.GLOSS, channel="60", most=Decimal(300))
    far = taught(("7E23B40D", "91.40"), ("7E11AD0D", "45.25"), ("7E04B70D", "12.07"), about=said)
    assert given(far, "7E46500D") == [["180.00"]]


@pytest.mark.parametrize(
    ("number", "shown", "most"),
    [
        (NumberAt(0, 2, "uint16", power=1), "91.4", "102.3"),
        (NumberAt(0, 2, "int16", power=1), "-102.4", "204.7"),
        (NumberAt(0, 2, "bcd", power=1), "45.2", "79.9"),
        (NumberAt(0, 2, "bcd", power=1), "120.0", "199.9"),
        (NumberAt(0, 2, "bcd", power=1), "9.1", "9.9"),
    ],
)
def test_the_largest_number_of_the_bits_that_were_needed(
    number: NumberAt, shown: str, most: str
) -> None:
    assert number.proven([Decimal(shown), Decimal("1.0")]) == Decimal(most)


def test_a_byte_of_few_values_has_to_have_one_of_them() -> None:
    found = taught(("A50103920D", "91.4"), ("A50201C40D", "45.2"), ("A50100780D", "12.0"))
    assert tomllib.loads(found.profile)["message"][0]["one_of"] == [
        {"offset": 1, "values": ["01", "02"]}
    ]
    assert found.is_state_open
    frames = [f"A5{status:02X}01C40D" for status in range(5)]
    assert given(found, *frames) == [[], ["45.2"], ["45.2"], [], []]
    assert any("byte 1" in words and "other values" in words for words in found.unseen)


def test_a_byte_that_varies_widely_may_have_any_value() -> None:
    found = taught(("A51703920D", "91.4"), ("A5E201C40D", "45.2"), ("A59B00780D", "12.0"))
    assert "one_of" not in tomllib.loads(found.profile)["message"][0]
    assert given(found, "A54601C40D") == [["45.2"]]


def test_a_count_that_starts_again_beside_a_flag_ends_the_check() -> None:
    """A count of four bits, and a flag in the fifth: 15 is followed by 16."""
    found = taught(*((f"A5{n:02X}{int(Decimal(v) * 10):04X}0D", v)
                     for n, v in zip((11, 12, 13), SHOWN, strict=True)))  # fmt: skip
    assert tomllib.loads(found.profile)["press"]["proven_count"] == 15


@pytest.mark.parametrize("form", [">H", "<H", ">I", "<f"])
def test_of_a_number_that_stands_twice_both_have_to_say_the_same(form: str) -> None:
    def sent(one: str, other: str) -> str:
        values = [float(v) if form == "<f" else int(Decimal(v) * 10) for v in (one, other)]
        return (b"\xa5" + b"".join(struct.pack(form, v) for v in values) + b"\x0d").hex()

    found = taught(*((sent(v, v), v) for v in (*SHOWN, "78.3")))
    assert any("repeat the number" in words for words in found.believed)
    assert given(found, sent("33.3", "33.3"), sent("33.3", "33.4"), sent("0.0", "33.3")) == [
        ["33.3"], [], [],
    ]  # fmt: skip
