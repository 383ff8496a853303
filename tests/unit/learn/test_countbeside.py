"""A count of presses in a line beside that of the number, and numbers there that a person names."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
LIGHT = About(Quantity.TRANSMITTANCE, unit="percent", channel="380-780", settled=9)
SHOWN = ("40.4", "77.1", "12.9", "50.3", "61.2", "33.8")


def taught(form: str, presses: int = 3, moves: str = "") -> Finding:
    made = [
        Press(form.format(n=n, v=v).encode(), Decimal(v)) for n, v in enumerate(SHOWN[:presses], 1)
    ]
    return learn(made, replace(LIGHT, moves=frozenset(moves.split())), REGISTRY)


def read(found: Finding, *presses: str) -> list[list[str]]:
    assert found.outcome is Outcome.SURE, found.believed
    sent = [press.encode() for press in presses]
    heard = readings(found.family, found.profile, sent, REGISTRY)
    return [[str(reading.value) for reading in here] for here in heard]


@pytest.mark.parametrize(
    ("form", "presses"),
    [
        ("#{n:03d}\n  {v} %\n", 3), ("#{n:02d}\n  {v} %\n", 4), ("{v} %\r\nNo. {n:4d}\r\n", 4),
        ("{n:04d}\r\n{v} %\r\nEND {n:04d}\r\n", 3), ("{n:03d} {v} %\r\nNr {n:03d}\r\n", 3),
    ],
)  # fmt: skip
def test_the_count_of_another_line_is_that_of_the_press_and_reads_on(
    form: str, presses: int
) -> None:
    found = taught(form, presses)
    assert "(?P<count>" in found.profile
    assert any("used as their count" in words for words in found.believed)
    assert not any("a line in which this is otherwise" in words for words in found.unseen)
    for count in (9, 10, 74, 99):
        assert read(found, form.format(n=count, v="29.9")) == [["29.9"]]


def test_a_press_without_that_line_or_with_two_counts_that_differ_is_noise() -> None:
    found = taught("{n:04d}\r\n{v} %\r\nEND {n:04d}\r\n")
    assert read(found, "29.9 %\r\nEND 0007\r\n", "0007\r\n29.9 %\r\nEND 0008\r\n") == [[], []]


def test_a_young_count_of_two_digits_is_used_and_told_as_open_until_a_press_more() -> None:
    open_ = taught("#{n:02d}\n{v} %\n")
    assert open_.is_state_open
    assert any("counts presses" in words for words in open_.unseen)
    assert not taught("#{n:02d}\n{v} %\n", 4).is_state_open


def test_three_numbers_in_a_row_that_nothing_fills_up_may_be_a_temperature_beside() -> None:
    found = taught("TEMPERATURE 2{n}\n{v} %\n")
    assert "(?P<count>" not in found.profile


def test_a_number_of_another_line_that_stood_still_moves_once_a_person_says_so() -> None:
    form = "TEMP 21C\r\n{v} %\r\n"
    still = taught(form)
    assert still.still == ("21C",)
    assert read(still, "TEMP 24C\r\n29.9 %\r\n") == [[]]
    assert read(taught(form, moves="21C"), "TEMP 24C\r\n29.9 %\r\n") == [["29.9"]]


def test_of_two_lines_with_the_same_number_nobody_could_say_which_one_moves() -> None:
    found = taught("TEMP 21C\r\n21C {v} %\r\n", moves="21C")
    assert found.outcome is Outcome.NONE
    assert not taught("TEMP 21C\r\n21C {v} %\r\n").still
