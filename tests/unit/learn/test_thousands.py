"""Numbers with a sign between their thousands are learned where a press has shown it, and right."""

from __future__ import annotations

import random
import tomllib
from collections.abc import Callable
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.model import Quantity
from tests.learning.trap import Bench

WAYS = [(",", "."), ("'", "."), (" ", ","), (" ", "."), (".", ",")]
FORMS = ["{} gf", "{:>12} gf", "ST,GS,{:>12} gf", "F={} gf#", "N {} gf"]
LESSONS = [
    ["1234.5", "987.6", "12345.0"],
    ["98.1", "7654.3", "401.9", "2222.2"],
    ["-1234.5", "45.1", "3210.9"],
]


def written(value: Decimal, thousands: str, point: str) -> str:
    return f"{value:,}".replace(",", "\0").replace(".", point).replace("\0", thousands)


def taught(send: Callable[[Decimal], str], shown: list[str]) -> Finding:
    presses = [Press(f"{send(Decimal(text))}\r\n".encode(), Decimal(text)) for text in shown]
    return learn(presses, About(Quantity.FORCE, "gram_force"), Registry())


def bench_of(profile: str) -> Bench:
    """The driver of this profile, for one press after the other."""
    return Bench(Registry().family("line").driver(tomllib.loads(profile), "learned"))


def read(profile: str, line: str) -> list[Decimal | None]:
    """What a new driver makes of one line, which is given time to be a press."""
    return bench_of(profile).press(f"{line}\r\n".encode())


@pytest.mark.parametrize(("thousands", "point"), WAYS)
@pytest.mark.parametrize("form", FORMS)
def test_they_are_learned_and_no_fresh_press_is_read_wrong(
    thousands: str, point: str, form: str
) -> None:
    def send(value: Decimal) -> str:
        return form.format(written(value, thousands, point))

    dice = random.Random(f"{thousands}{point}{form}")
    for lesson in LESSONS:
        found = taught(send, lesson)
        if form == "N {} gf" and min(map(Decimal, lesson)) < 0:
            continue  # its sign may be any of several then
        assert found.outcome is Outcome.SURE, (found.believed, send(Decimal(lesson[0])))
        assert tomllib.loads(found.profile)["value"]["thousands"] == thousands
        right, bench = 0, bench_of(found.profile)
        for _ in range(100):
            value = Decimal(dice.randrange(0, 10 ** dice.randrange(2, 6))).scaleb(-1)
            given = bench.press(f"{send(value)}\r\n".encode())
            assert given in ([value], [])
            right += given == [value]
        assert right >= 90


@pytest.mark.parametrize(
    "line", ["1234.5 gf", "1,23.4 gf", "1,2345.0 gf", "12,34.5 gf", "1,234,5 gf", ",234.5 gf"]
)
def test_what_is_parted_otherwise_is_noise_to_the_profile(line: str) -> None:
    found = taught(lambda value: f"{written(value, ',', '.')} gf", LESSONS[0])
    assert read(found.profile, "1,234.5 gf") == [Decimal("1234.5")]
    assert read(found.profile, line) == []


def test_a_sign_that_parts_fields_as_well_is_not_taken_for_one_between_thousands() -> None:
    found = taught(lambda value: f"P,1,{written(value, ',', '.')},gf", LESSONS[0])
    assert found.outcome is not Outcome.SURE


def test_no_number_of_a_thousand_was_shown_so_none_is_read() -> None:
    found = taught(lambda value: f"{written(value, ',', '.')} gf", ["12.5", "987.6", "401.9"])
    assert found.outcome is Outcome.SURE
    assert read(found.profile, "1,234.5 gf") == []


def test_a_digit_beside_the_number_is_no_thousand_of_it() -> None:
    found = taught(lambda value: f"1 {value:05.1f} gf", ["234.5", "402.0", "377.7"])
    assert found.outcome is Outcome.SURE
    assert read(found.profile, "1 234.5 gf") == [Decimal("234.5")]


@pytest.mark.parametrize("thousands", [",", "'", " ", "."])
def test_numbers_without_decimals_have_them_too(thousands: str) -> None:
    def send(value: Decimal) -> str:
        return f"ST;{written(value, thousands, '?'):>9};gf"

    found = taught(send, ["10555", "763", "6240"])
    assert found.outcome is Outcome.SURE, found.believed
    for text in ("12345", "1000", "99", "0"):
        assert read(found.profile, send(Decimal(text))) == [Decimal(text)]
    assert read(found.profile, "ST;    12345;gf") == []


@pytest.mark.parametrize("sign", [".", ","])
def test_one_point_before_three_digits_may_be_that_of_a_larger_unit_until_less_is_shown(
    sign: str,
) -> None:
    def kilo(value: Decimal) -> str:
        return f"F {value / 1000:.3f}".replace(".", sign)

    found = taught(kilo, ["1250", "2480", "3910"])
    assert found.outcome is Outcome.MORE
    assert found.tell_below == Decimal(1000)
    # It is no sign between thousands: that would stand in no number below.
    assert taught(kilo, ["1250", "480", "3910"]).outcome is not Outcome.SURE
    # A comma may part fields of a line besides, and then 0 is one of its own.
    if sign == ".":
        assert taught(kilo, ["914", "480", "391"]).outcome is not Outcome.SURE
