"""What a person said of the display and what is kept of it: limits told are those that are read."""

from __future__ import annotations

import tomllib
from decimal import Decimal

import pytest

from acquire.cli.saidofmeter import Given
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Line, Outcome, Press, learn
from acquire.learn.proved import readings
from acquire.model import Quantity
from tests.unit.test_learn_person import Bench, lesson

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


@pytest.mark.parametrize("most", ["20", "9.9"])
def test_of_a_number_with_less_room_than_was_said_the_limits_are_told_that_are_kept(
    most: str,
) -> None:
    found = taught(f"{BOTH_WAYS} 2.2", 1, "big", most)
    assert found.outcome is Outcome.SURE
    limits = tomllib.loads(found.profile)["message"][0]["value"][0]
    assert (limits["least"], limits["most"]) == (-9.8, 9.8)
    assert any("from -9.8 to 9.8" in words for words in found.believed)
    assert any("a number above 9.8: such presses are noise" in words for words in found.unseen)
    assert found.tell_above == Decimal("9.9")


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
