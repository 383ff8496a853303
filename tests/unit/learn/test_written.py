"""How a meter writes its numbers is learned with them: what is written otherwise is noise."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
FORCE = About(Quantity.FORCE, unit="newton")


def taught(form: str, *pairs: tuple[str, str], about: About = FORCE) -> Finding:
    """Learned from presses that sent the first of each pair and showed the second."""
    made = [Press(form.format(sent).encode(), Decimal(shown)) for sent, shown in pairs]
    return learn(made, about, REGISTRY)


def read(found: Finding, *data: str) -> list[list[str]]:
    assert found.outcome is Outcome.SURE, found.believed
    sent: Sequence[bytes] = [one.encode() for one in data]
    given = readings(found.family, found.profile, sent, REGISTRY)
    return [[str(reading.value) for reading in here] for here in given]


ZEROS = (("00314", "31.4"), ("00052", "5.2"), ("00478", "47.8"))


@pytest.mark.parametrize("form", ["{}\r\n", "\x02{}\x03", "G {}\r\n"])
@pytest.mark.parametrize("other", ["050.0", "05.00", " 0314", "+0314", "  314", "0.314"])
def test_digits_without_their_point_are_read_only_as_they_were_written(
    form: str, other: str
) -> None:
    found = taught(form, *ZEROS)
    assert read(found, form.format("00123"), form.format(other)) == [["12.3"], []]


def test_digits_that_spaces_fill_up_or_that_bear_a_sign_are_read_so() -> None:
    found = taught("{}\r\n", ("  314", "31.4"), ("   52", "5.2"), ("  478", "47.8"))
    # A sign is read right before the digits, as it is of numbers that have their point.
    assert read(found, "  123\r\n", "   98\r\n", "  1.2\r\n", " +123\r\n", "  098\r\n") == [
        ["12.3"], ["9.8"], [], ["12.3"], [],
    ]  # fmt: skip
    found = taught("{}\r\n", ("+0314", "31.4"), ("-0052", "-5.2"), ("+0478", "47.8"))
    assert read(found, "+0123\r\n", "-0123\r\n", "00123\r\n", "+12.3\r\n") == [
        ["12.3"], ["-12.3"], [], [],
    ]  # fmt: skip


@pytest.mark.parametrize("end", ["\r\n", "\r", "\n"])
def test_an_empty_line_close_to_a_press_makes_it_noise_where_no_press_had_one(end: str) -> None:
    found = taught(f"{{}}N{end}", ("31.4", "31.4"), ("15.2", "15.2"), ("47.8", "47.8"))
    assert read(found, f"12.3N{end}", f"12.4N{end}{end}", f"{end}12.5N{end}", end) == [
        ["12.3"], [], [], [],
    ]  # fmt: skip


def test_a_meter_that_sends_empty_lines_itself_is_read_with_them() -> None:
    found = taught("\r\n{}N\r\n", ("31.4", "31.4"), ("15.2", "15.2"), ("47.8", "47.8"))
    assert read(found, "\r\n12.3N\r\n") == [["12.3"]]


PADDED = (("   31.4", "31.4"), ("    5.2", "5.2"), ("  147.8", "147.8"))


def test_a_number_that_spaces_or_zeros_fill_up_to_a_width_has_it_always() -> None:
    found = taught("{} N\r\n", *PADDED)
    assert read(found, "  112.3 N\r\n", " 12.3 N\r\n", "112.3 N\r\n", "   112.3 N\r\n") == [
        ["112.3"], [], [], [],
    ]  # fmt: skip
    found = taught("{} N\r\n", ("031.4", "31.4"), ("005.2", "5.2"), ("147.8", "147.8"))
    assert read(found, "112.3 N\r\n", "01.4 N\r\n", "0031.4 N\r\n") == [["112.3"], [], []]
    assert any("5 characters" in words for words in found.unseen)


def test_a_number_that_is_filled_up_behind_it_makes_lines_of_one_length() -> None:
    found = taught("{} N\r\n", ("31.4  ", "31.4"), ("5.2   ", "5.2"), ("147.8 ", "147.8"))
    assert read(found, "12.3   N\r\n", "2.3   N\r\n", "12.3  N\r\n") == [["12.3"], [], []]
    assert any("8 characters" in words for words in found.unseen)


def test_the_width_is_that_of_the_number_where_something_beside_it_may_become_longer() -> None:
    pairs = [(f"{n} {text}", shown) for n, (text, shown) in enumerate(PADDED, 7)]
    found = taught("{} N\r\n", *pairs)
    assert read(found, "10   112.3 N\r\n") == [["112.3"]]
    assert read(found, "10  12.3 N\r\n") == [[]]


def test_numbers_without_anything_that_fills_them_up_are_of_any_width() -> None:
    found = taught("{} N\r\n", ("31.4", "31.4"), ("15.2", "15.2"), ("47.8", "47.8"))
    assert read(found, "112.3 N\r\n", "2.3 N\r\n") == [["112.3"], ["2.3"]]
    assert not any("characters" in words for words in found.unseen)
    found = taught("{} N\r\n", ("031.4", "31.4"), ("-005.2", "-5.2"), ("147.8", "147.8"))
    assert read(found, "-112.3 N\r\n", "112.3 N\r\n") == [["-112.3"], ["112.3"]]


def test_two_spaces_that_stand_before_every_number_fill_it_up() -> None:
    pairs = (("   31.4", "31.4"), ("   15.2", "15.2"), ("   47.8", "47.8"))
    found = taught("{}\r\n", *pairs)
    assert read(found, "  112.3\r\n", "    2.3\r\n", "  12.3\r\n", "12.3\r\n") == [
        ["112.3"], ["2.3"], [], [],
    ]  # fmt: skip
    # One may part it from what stands before it.
    found = taught("G {}\r\n", ("31.4", "31.4"), ("15.2", "15.2"), ("47.8", "47.8"))
    assert read(found, "G 112.3\r\n", "G 2.3\r\n") == [["112.3"], ["2.3"]]
