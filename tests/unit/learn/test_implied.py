"""A text meter that leaves its decimal point out: 914 where its display shows 91.4."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
FORCE = About(Quantity.FORCE, unit="newton")


def taught(about: About, *pairs: tuple[str, str]) -> Finding:
    return learn([Press(sent.encode(), Decimal(shown)) for sent, shown in pairs], about, REGISTRY)


def read(found: Finding, *data: str) -> list[str]:
    assert found.outcome is Outcome.SURE, found.believed
    given = readings(found.family, found.profile, [one.encode() for one in data], REGISTRY)
    return [" ".join(str(reading.value) for reading in here) for here in given]


def test_numbers_of_any_length_are_read_with_the_point_of_the_display() -> None:
    found = taught(FORCE, ("50 N\r\n", "5.0"), ("100 N\r\n", "10.0"), ("73 N\r\n", "7.3"))
    assert found.family == "line"
    assert any("the decimal point is not sent: 50 is 5.0" in words for words in found.believed)
    assert read(found, "98 N\r\n", "5 N\r\n", "9.8 N\r\n", "098 N\r\n") == ["9.8", "0.5", "", ""]


def test_one_below_zero_is_read_with_it_once_a_person_says_that_the_display_goes_there() -> None:
    pairs = (("50 N\r\n", "5.0"), ("100 N\r\n", "10.0"), ("73 N\r\n", "7.3"))
    assert read(taught(FORCE, *pairs), "-12 N\r\n") == [""]
    said = replace(FORCE, least=Decimal(-50))
    assert read(taught(said, *pairs), "-12 N\r\n") == ["-1.2"]


def test_a_number_that_zeros_filled_up_is_read_only_so() -> None:
    sent = [("R;0914;60\n", "91.4"), ("R;0452;60\n", "45.2"), ("R;0120;60\n", "12.0")]
    found = taught(About(Quantity.GLOSS, channel="60", most=Decimal(120)), *sent)
    assert read(found, "R;0007;60\n", "R;1001;60\n", "R;914;60\n", "R; 914;60\n") == [
        "0.7", "100.1", "", "",
    ]  # fmt: skip


MILLI = (("914 mN\n", "0.914"), ("1203 mN\n", "1.203"), ("73 mN\n", "0.073"))


def test_a_number_that_is_as_much_in_another_unit_is_asked_about() -> None:
    found = taught(About(Quantity.FORCE), *MILLI)
    assert (found.outcome, found.missing, found.likely) == (Outcome.UNSAID, "unit", "mN")


def test_the_unit_of_the_display_tells_whether_a_point_was_left_out() -> None:
    found = taught(About(Quantity.FORCE, unit="newton"), *MILLI)
    assert read(found, "1500 mN\n") == ["1500"], "sent in millinewton, and no point is left out"
    found = taught(About(Quantity.FORCE, unit="millinewton"), *MILLI)
    assert found.against is not None
    assert "--unit mN=millinewton" in found.next_step
    found = taught(About(Quantity.FORCE, unit="millinewton", word="mN"), *MILLI)
    assert read(found, "1500 mN\n") == ["1.500"]


@pytest.mark.parametrize("text", ["9.14 N", "9,14 N", "0.914 N", "914E-1 N", "9.14E+01 N"])
def test_a_number_that_says_itself_what_it_is_has_left_no_point_out(text: str) -> None:
    """Its digits are those of 91.4, at every press."""
    others = [text.replace("14", two).replace("9", one) for one, two in (("4", "52"), ("1", "27"))]
    sent = zip((text, *others), ("91.4", "45.2", "12.7"), strict=True)
    found = taught(FORCE, *((f"{one}\n", shown) for one, shown in sent))
    assert found.outcome is not Outcome.SURE or "implied" not in found.profile


def test_numbers_of_one_digit_are_as_much_by_chance() -> None:
    ones = [("n 3\n", "0.3"), ("n 5\n", "0.5"), ("n 1\n", "0.1")]
    found = taught(FORCE, *ones)
    assert found.outcome is Outcome.MORE
    assert "larger number" in found.believed[0]
    found = taught(FORCE, *ones, ("n 11\n", "1.1"))
    assert read(found, "n 12\n") == ["1.2"]


def test_a_point_is_left_out_of_numbers_below_zero_that_had_as_many_digits_each() -> None:
    found = taught(
        FORCE, ("5 N\n", "0.5"), ("-100 N\n", "-10.0"), ("6 N\n", "0.6"), ("-101 N\n", "-10.1")
    )
    assert read(found, "7 N\n", "-8 N\n", "-112 N\n", "+31 N\n") == ["0.7", "-0.8", "-11.2", "3.1"]


@st.composite
def meters(draw: st.DrawFn) -> tuple[str, int, bool]:
    """How it writes a number: a form for the text of it, its decimals, and whether below zero."""
    fill = draw(st.sampled_from(["{:d}", "{:06d}", "{:7d}", "{:+06d}", "{:+d}"]))
    front = draw(st.sampled_from(["", "F=", "R,", "Peak ", "> ", "#"]))
    back = draw(st.sampled_from(["", " N", "N", ",N", " N *", ";OK"]))
    end = draw(st.sampled_from(["\r\n", "\r", "\n"]))
    return f"{front}{fill}{back}{end}", draw(st.integers(1, 2)), draw(st.booleans())


@settings(max_examples=25)
@given(meters(), st.lists(st.integers(1, 9999), min_size=8, max_size=8, unique=True))
def test_whatever_python_writes_without_a_point_is_read_back_with_it(
    meter: tuple[str, int, bool], numbers: list[int]
) -> None:
    """Learned from four presses; another one is what it was or noise, never another number."""
    form, decimals, is_signed = meter
    signed = [-n if is_signed and place % 2 else n for place, n in enumerate(numbers)]
    pairs = [(form.format(n), f"{Decimal(n).scaleb(-decimals):f}") for n in signed]
    found = taught(FORCE, *pairs[:4])
    if found.outcome is Outcome.SURE:
        told = read(found, *(sent for sent, _ in pairs))
        assert told[:4] == [shown for _, shown in pairs[:4]]
        assert all(one in ("", shown) for one, (_, shown) in zip(told, pairs, strict=True))
    else:
        assert max(map(abs, signed[:4])) < 10, found.believed


def test_whole_numbers_of_several_units_are_read_and_none_with_a_point() -> None:
    sent = [("44 N\n", "44"), ("20 kgf\n", "20"), ("10 N\n", "10")]
    found = taught(About(Quantity.FORCE), *sent)
    assert found.outcome is not Outcome.NONE, found.believed
    found = taught(About(Quantity.FORCE), *sent, ("31 kgf\n", "31"))
    assert read(found, "12 kgf\n", "9 N\n", "1.2 N\n", "12 lbf\n") == ["12", "9", "", ""]
