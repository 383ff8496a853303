"""Numbers with a power of ten (NR3 of IEEE 488.2, 8.7.4) are learned, and none is read wrong."""

from __future__ import annotations

import random
import tomllib
from collections.abc import Callable
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.lines.span import span_of
from acquire.model import Quantity
from tests.unit.learn.test_thousands import bench_of, read

FORMS = [
    "{}", "{:>14}", "F {} N", "{},N,0", "PEAK:{};OK", "{:>12} N", "+1.000E+00,{}", "{},2.150E+01",
]  # fmt: skip
LESSONS = [
    ["91.4", "45.2", "12.0"],
    ["1.25", "37.50", "102.00"],
    ["-3.1", "24.8", "140.2", "9.9"],
]


def taught(send: Callable[[Decimal], str], shown: list[str]) -> Finding:
    presses = [Press(f"{send(Decimal(text))}\r\n".encode(), Decimal(text)) for text in shown]
    return learn(presses, About(Quantity.FORCE, "newton"), Registry())


def in_powers(value: Decimal, decimals: int = 4, sign: str = "+") -> str:
    """Python's own writer of powers of ten."""
    return format(float(value), f"{sign}.{decimals}E")


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("sign", ["+", "-"])
@pytest.mark.parametrize("decimals", [4, 6])
def test_they_are_learned_and_fresh_presses_are_read_right(
    form: str, sign: str, decimals: int
) -> None:
    def send(value: Decimal) -> str:
        return form.format(in_powers(value, decimals, sign))

    dice = random.Random(f"{form}{sign}{decimals}")
    for lesson in LESSONS:
        found = taught(send, lesson)
        assert found.outcome is Outcome.SURE, (found.believed, send(Decimal(lesson[0])))
        assert tomllib.loads(found.profile)["value"]["exponent"] is True
        right, bench = 0, bench_of(found.profile)
        for _ in range(100):
            value = Decimal(dice.randrange(0, 9 * 10 ** dice.randrange(1, 4))).scaleb(-1)
            given = bench.press(f"{send(value)}\r\n".encode())
            assert given in ([value], []), (value, send(value), found.profile)
            right += given == [value]
        assert right >= (98 if "{:>" not in form else 90), found.profile


def test_a_number_that_is_finer_than_the_display_is_read_with_all_its_digits() -> None:
    sent = {
        "91.4": "+9.1387E+01",
        "45.2": "+4.5249E+01",
        "12.0": "+1.1962E+01",
        "8.8": "+8.7941E+00",
    }
    found = taught(lambda value: sent[str(value)], list(sent))
    assert found.outcome is Outcome.SURE
    assert read(found.profile, "+6.4251E+00") == [Decimal("6.4251")]
    assert read(found.profile, "-1.5000E-02") == [Decimal("-0.015000")]


def test_what_lost_a_sign_or_a_digit_is_noise_to_the_profile() -> None:
    found = taught(in_powers, LESSONS[0])
    assert read(found.profile, "+9.1400E+01") == [Decimal("91.400")]
    whole = "+9.1400E+01"
    for place in range(len(whole)):
        assert read(found.profile, whole[:place] + whole[place + 1 :]) == [], place


def test_a_power_that_was_always_zero_is_none_until_a_press_has_shown_another() -> None:
    found = taught(in_powers, ["9.14", "4.52", "1.20"])
    assert found.outcome is Outcome.SURE
    assert any("another power of ten" in one for one in found.unseen)
    assert read(found.profile, "+3.0000E+00") == [Decimal("3.0000")]
    assert read(found.profile, "+3.0000E+01") == []


@pytest.mark.parametrize(
    "send",
    [
        # What looks like a power is an error code, a part of a name, or belongs to another number.
        lambda value: f"{value}E01",
        lambda value: f"{value / 10:f}E+02",
        lambda value: f"7{in_powers(value, sign='-')}",
        lambda value: f"12E3,{int(value * 7)}.0E+01",
    ],
)
def test_what_does_not_give_the_number_is_not_learned(send: Callable[[Decimal], str]) -> None:
    found = taught(send, LESSONS[0])
    assert found.outcome is not Outcome.SURE


def test_another_number_with_a_power_that_moves_is_not_taken_for_the_one_shown() -> None:
    dice = random.Random(7)

    def send(value: Decimal) -> str:
        return f"{in_powers(value)},{in_powers(Decimal(dice.randrange(200, 300)).scaleb(-1))},N"

    found = taught(send, ["91.4", "45.2", "12.0", "33.3", "8.1"])
    assert found.outcome is Outcome.SURE
    assert read(found.profile, "+7.7000E+01,+2.4400E+01,N") == [Decimal("77.000")]


def test_a_power_that_a_person_calls_a_number_that_moves_is_one_all_the_same() -> None:
    shown = ["-4.7", "3.8", "0.0"]
    presses = [Press(f"{Decimal(text):.4f}E+00,R\r\n".encode(), Decimal(text)) for text in shown]
    about = About(Quantity.FORCE, "newton", moves=frozenset({"00"}))
    found = learn(presses, about, Registry())
    assert not found.profile or read(found.profile, "-1.5000E+01,R") in ([], [Decimal("-15.000")])


@pytest.mark.parametrize("form", ["{0},{1}", "{1},{0}"])
def test_a_plain_number_beside_it_that_was_the_same_is_asked_about(form: str) -> None:
    found = taught(lambda value: form.format(value, in_powers(value)), LESSONS[0])
    assert found.outcome is Outcome.MORE


def coarse(value: Decimal) -> str:
    """Three digits of a display that shows a tenth."""
    return in_powers(value, 2)


def test_where_the_digits_sent_do_not_reach_the_display_a_press_is_noise_and_that_is_told() -> None:
    found = taught(coarse, LESSONS[0])
    assert found.outcome is Outcome.SURE
    assert any("a number of 100 or more, either way" in one for one in found.unseen)
    assert read(found.profile, coarse(Decimal("99.9"))) == [Decimal("99.9")]
    assert read(found.profile, coarse(Decimal("-99.9"))) == [Decimal("-99.9")]
    for shown in ("102.3", "-102.3", "102.0", "914.0"):
        assert read(found.profile, coarse(Decimal(shown))) == [], shown


def test_what_a_person_says_of_the_display_makes_no_digits_that_are_not_sent() -> None:
    presses = [Press(f"{coarse(Decimal(t))}\r\n".encode(), Decimal(t)) for t in LESSONS[0]]
    about = About(Quantity.FORCE, "newton", most=Decimal("199.9"))
    found = learn(presses, about, Registry())
    assert read(found.profile, "+1.02E+02") == []
    assert any("of 100 or more" in one for one in found.unseen)


def test_a_display_within_its_digits_is_told_nothing_of_them() -> None:
    found = taught(in_powers, LESSONS[0])
    assert not any("so few digits" in one for one in found.unseen)
    assert any("more or fewer digits in one of its parts" in one for one in found.unseen)


def test_a_press_that_was_sent_with_fewer_digits_than_shown_is_named() -> None:
    found = taught(coarse, [*LESSONS[0], "102.3"])
    assert found.outcome is Outcome.NONE
    assert "102.3 was shown and +1.02E+02 sent" in found.believed[0]
    assert "leave out such presses" in found.next_step


@pytest.mark.parametrize("shown", ["102.0", "102"])
def test_one_press_that_may_lack_a_digit_or_not_is_asked_about(shown: str) -> None:
    found = taught(coarse, [*LESSONS[0], shown])
    assert found.outcome is Outcome.MORE
    assert f"{shown} was shown and +1.02E+02 sent" in found.believed[0]


def test_a_display_with_fewer_decimals_there_is_read_as_far_as_presses_have_shown() -> None:
    found = taught(coarse, [*LESSONS[0], "102", "131"])
    assert found.outcome is Outcome.SURE
    assert read(found.profile, "+9.87E+02") == [Decimal("987")]
    assert read(found.profile, "+1.02E+03") == []


@pytest.mark.parametrize(
    ("texts", "shown", "lost_from"),
    [
        # One digit before the point: the last one is worth more with every power.
        (["9.140E+01", "4.5E+00"], ["91.4", "4.5"], "1000"),
        (["9.14E+01", "4.50E+00"], ["91.4", "4.5"], "100"),
        # None before it.
        (["0.914E+02", "0.450E+01"], ["91.4", "4.5"], "100"),
        # Powers of a thousand: three digits more, or as many in all.
        (["91.40E+00", "4.50E+00", "1.23E+03"], ["91.4", "4.5", "1230"], "1000"),
        (["91.40E+00", "4.500E+00", "120.4E+00", "1.204E+03"], ["91.4", "4.5", "120.4", "1204"],
         "1000"),
        # No power but zero was sent, and none is taken.
        (["91.4E+00", "4.5E+00"], ["91.4", "4.5"], None),
        (["0.00E+00"], ["0.0"], None),
        # As many digits in all, of which one at least stands behind the point.
        (["28.5E-03", "-953.0E-03", "-4.72E+00", "6.86E+00"], ["0.03", "-0.95", "-4.72", "6.86"],
         "10"),
        # Whether a third digit before the point leaves two behind it no press has shown.
        (["91.40E+00", "45.20E+00", "12.00E-03"], ["91.40", "45.20", "0.01"], "100"),
        # As many digits in all, and no power but zero.
        (["31.52E+00", "308.1E+00"], ["31.52", "308.10"], "100"),
        # A zero with another power shows that powers differ.
        (["638.97E+00", "4.11E+00", "15.00E-03"], ["639.0", "4.1", "0.0"], "1000"),
        # No digit of the display is sent, whatever the size.
        (["200.46E+00", "879.62E+00"], ["200.460", "879.620"], "1E-30"),
    ],
)  # fmt: skip
def test_from_where_on_the_last_digit_is_lost(
    texts: list[str], shown: list[str], lost_from: str | None
) -> None:
    found = span_of(texts, list(map(Decimal, shown)))
    assert found.lost_from == (None if lost_from is None else Decimal(lost_from))


def test_a_number_of_a_computer_with_all_its_digits_is_learned() -> None:
    found = taught(lambda value: in_powers(value, 14), LESSONS[0])
    assert found.outcome is Outcome.SURE
    assert read(found.profile, "+1.02300000000000E+02") == [Decimal("102.3")]


@pytest.mark.parametrize("zero", ["+0.0000E+00", "+0.0000E-28", "+0.0000E+99"])
def test_a_press_on_nothing_is_a_zero_of_any_power(zero: str) -> None:
    found = taught(lambda value: in_powers(value) if value else zero, [*LESSONS[0], "0.0"])
    assert found.outcome is Outcome.SURE
    assert read(found.profile, zero) == [Decimal(0)]
    assert read(found.profile, "+4.5200E+01") == [Decimal("45.200")]


@pytest.mark.parametrize(("decimals", "outcome"), [(2, Outcome.MORE), (5, Outcome.SURE)])
def test_of_several_units_none_is_learned_whose_digits_may_be_lost(
    decimals: int, outcome: Outcome
) -> None:
    """One unit has no limits for the other, so that none stand in the profile."""
    presses = [
        Press(f"{in_powers(Decimal(text), decimals)} {unit}\r\n".encode(), Decimal(text))
        for text, unit in [("91.4", "N"), ("45.2", "gf"), ("12.0", "N"), ("33.3", "gf")]
    ]
    found = learn(presses, About(Quantity.FORCE), Registry())
    assert found.outcome is outcome
    said = "one unit" in found.next_step, any("read all the same" in one for one in found.unseen)
    assert said == (outcome is Outcome.MORE, outcome is Outcome.SURE)
