"""What a person said of the display and what is kept of it: limits told are those that are read."""

from __future__ import annotations

import struct
import tomllib
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest

from acquire.cli.saidofmeter import Given
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Line, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity
from tests.unit.learn.test_person import Bench, lesson

REGISTRY = Registry()
BOTH_WAYS = "9.7 4.8 5.0 -9.0"


def packed(shown: Decimal, size: int, order: str) -> bytes:
    """A mark, the sign as a character, tenths in packed decimals, a sum of all bytes."""
    digits = bytes.fromhex(f"{int(abs(shown) * 10):0{2 * size}d}")
    body = b"\x68" + (b"-" if shown < 0 else b"+") + digits[:: 1 if order == "big" else -1]
    return body + bytes([sum(body) & 0xFF])


def taught(shown: str, size: int, order: str, most: str | None) -> Finding:
    numbers = list(map(Decimal, shown.split()))
    limit = None if most is None else Decimal(most)
    about = About(Quantity.FORCE, unit="newton", most=limit)
    return learn([Press(packed(v, size, order), v) for v in numbers], about, REGISTRY)


@pytest.mark.parametrize("most", [None, "20"])
@pytest.mark.parametrize("order", ["big", "little"])
def test_where_a_byte_of_zeros_may_be_the_numbers_own_a_larger_number_is_asked_for(
    order: str, most: str | None
) -> None:
    found = taught(BOTH_WAYS, 2, order, most)
    assert found.outcome is Outcome.MORE
    assert found.tell_above == 10
    found = taught(f"{BOTH_WAYS} 12.3", 2, order, most or "20")
    assert found.outcome is Outcome.SURE
    wanted = list(map(Decimal, ("-18.7", "19.9", "-0.4", "10.0")))
    here = readings("frame", found.profile, [packed(v, 2, order) for v in wanted], REGISTRY)
    assert [[reading.value for reading in one] for one in here] == [[v] for v in wanted]


def limits_of(found: Finding) -> tuple[float, float]:
    assert found.outcome is Outcome.SURE
    table = tomllib.loads(found.profile)["message"][0]["value"][0]
    return table["least"], table["most"]


def test_of_a_number_with_less_room_than_was_said_the_limits_are_told_that_are_kept() -> None:
    found = taught(f"{BOTH_WAYS} 2.2", 1, "big", "20")
    assert limits_of(found) == (-9.8, 9.8)
    assert any("from -9.8 to 9.8" in words for words in found.believed)
    (told,) = (words for words in found.unseen if "20 was said" in words)
    assert told.startswith("a number above 9.8, though 20 was said: its bytes have no room beyond")
    assert told.endswith("if the display shows 9.9 and no more, say --most 9.9")
    assert found.tell_above == Decimal("9.9")


def nibbled(shown: Decimal) -> bytes:
    """A mark, hundredths in three packed decimals and a nibble for the sign."""
    sign = "D" if shown < 0 else "C"
    return b"\xa5" + bytes.fromhex(f"{int(abs(shown) * 100):03d}{sign}") + b"\x0d"


def whole(shown: Decimal) -> bytes:
    """A mark and hundredths in two's complement."""
    return b"\xa5" + int(shown * 100).to_bytes(2, "big", signed=True) + b"\x0d"


@pytest.mark.parametrize(
    ("form", "shown", "least", "most"),
    [
        (nibbled, "9.12 4.52 1.20 -2.20", "-9.99", "9.99"),
        (whole, "299.12 4.52 1.20 -2.20", "-327.68", "327.67"),
    ],
)
def test_a_display_said_to_go_as_far_as_its_bytes_shows_the_last_number_of_them(
    form: Callable[[Decimal], bytes], shown: str, least: str, most: str
) -> None:
    numbers = list(map(Decimal, shown.split()))
    presses = [Press(form(value), value) for value in numbers]
    about = About(Quantity.FORCE, unit="newton", most=Decimal(most))
    found = learn(presses, about, REGISTRY)
    # Nobody has said it of the other side, where it may say that a number is beyond.
    assert limits_of(found) == (float(Decimal("0.01") - Decimal(most)), float(most))
    assert not any("above" in words for words in found.unseen)
    found = learn(presses, replace(about, least=Decimal(least)), REGISTRY)
    assert limits_of(found) == (float(least), float(most))
    ends = [form(Decimal(least)), form(Decimal(most))]
    read = readings("frame", found.profile, ends, REGISTRY)
    assert [[reading.value for reading in one] for one in read] == [
        [Decimal(least)],
        [Decimal(most)],
    ]
    found = learn(presses, replace(about, least=Decimal(-400)), REGISTRY)
    assert any(f"say --least {least}" in words for words in found.unseen)


@pytest.mark.parametrize("least", ["-20", "-5"])
@pytest.mark.parametrize("form", [nibbled, whole])
def test_below_zero_of_bits_only_a_press_teaches_and_no_option_is_offered_that_does_not(
    form: Callable[[Decimal], bytes], least: str
) -> None:
    presses = [Press(form(v), v) for v in map(Decimal, ("9.12", "4.52", "1.20", "3.31"))]
    about = About(Quantity.FORCE, unit="newton", most=Decimal("9.97"))
    for said in (None, Decimal(least)):
        found = learn(presses, replace(about, least=said), REGISTRY)
        assert limits_of(found)[0] == 0
        (told,) = (words for words in found.unseen if "below zero" in words)
        assert "only a press shows" in told
        assert "--least -20" not in told
    found = learn(presses, replace(about, least=Decimal(0)), REGISTRY)
    assert not any("below zero" in words for words in found.unseen)
    shown = Press(form(Decimal("-2.20")), Decimal("-2.20"))
    assert limits_of(learn([*presses, shown], about, REGISTRY))[0] == -9.97


def test_of_floating_point_it_is_enough_to_say_how_far_down_the_display_goes() -> None:
    shown = list(map(Decimal, ("9.12", "4.52", "1.20", "3.31")))
    presses = [Press(b"\xa5" + struct.pack(">f", float(v)) + b"\x0d", v) for v in shown]
    about = About(Quantity.FORCE, unit="newton", most=Decimal("9.97"))
    found = learn(presses, about, REGISTRY)
    assert any("below zero" in words and "--least -20" in words for words in found.unseen)
    found = learn(presses, replace(about, least=Decimal(-20)), REGISTRY)
    assert not any("below zero" in words for words in found.unseen)
    minus = b"\xa5" + struct.pack(">f", -12.5) + b"\x0d"
    (read,) = readings("frame", found.profile, [minus], REGISTRY)
    assert [reading.value for reading in read] == [Decimal("-12.5")]


def test_where_another_unit_is_sent_the_limit_is_asked_and_kept_in_that_of_the_display() -> None:
    shown = ("9.140", "4.523", "12.001")
    presses = [f"ST,GS,{int(Decimal(value) * 1000):+08d} mN\r\n".encode() for value in shown]
    bench = Bench(presses, [*shown, "", "12", "50", ""], Line(9600))
    given = Given(Quantity.FORCE, unit="newton", line=Line(9600))
    found, about = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    asked = [one for one in bench.asked if "the largest number it can show" in one]
    assert asked[0].startswith("Numbers from 100 on would be noise")
    assert all("What is the largest number it can show, in N?" in one for one in asked)
    assert "got 12, and 12.001 came of a press" in bench.told
    assert about.most == 50
    assert "\nmost = 50000\n" in found.profile
