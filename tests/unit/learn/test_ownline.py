"""A peak is the number of its display at some presses, and the display itself at all of them."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
FORMS = [
    "F {} N\r\nMAX {} N\r\n",
    "F = {} N\r\nMAX = {} N\r\n",
    "F {:>6}\r\nMAX {:>6}\r\n",
    "F,{},N\r\nMAX,{},N\r\n",
    "MAX {1} N\r\nF {0} N\r\n",
]
PEAKS = (("2.1", "2.1"), ("9.3", "9.3"), ("1.6", "9.3"))
"""The display and the largest so far: at the first press it always is the same."""


def taught(form: str, rows: Sequence[Sequence[str]] = PEAKS, which: int = 0) -> Finding:
    made = [Press(form.format(*row).encode(), Decimal(row[which])) for row in rows]
    return learn(made, About(Quantity.FORCE, unit="newton", most=Decimal(50)), REGISTRY)


def read(found: Finding, data: str) -> list[str]:
    assert found.outcome is Outcome.SURE, found.believed
    (here,) = readings(found.family, found.profile, [data.encode()], REGISTRY)
    return [str(reading.value) for reading in here]


@pytest.mark.parametrize("form", FORMS)
def test_the_line_that_has_the_display_at_every_press_is_that_of_the_number(form: str) -> None:
    found = taught(form)
    assert read(found, form.format("5.5", "9.3")) == ["5.5"]
    assert any("'F" in one and "display stands" in one for one in found.believed), found.believed


@pytest.mark.parametrize("form", FORMS)
def test_a_display_that_holds_its_peak_is_read_from_the_line_of_the_peak(form: str) -> None:
    found = taught(form, (*PEAKS, ("12.5", "12.5")), which=1)
    assert read(found, form.format("5.5", "12.5")) == ["12.5"]


@pytest.mark.parametrize("form", FORMS)
def test_a_line_with_the_word_of_the_other_one_in_its_place_is_noise(form: str) -> None:
    found = taught(form)
    assert read(found, form.replace("F", "MAX").format("8.0", "9.3")) == []
    assert read(found, form.replace("MAX", "F").format("8.0", "9.3")) == []


@pytest.mark.parametrize("form", FORMS)
def test_of_two_lines_with_the_display_at_every_press_none_is_chosen(form: str) -> None:
    same = (("2.1", "2.1"), ("9.3", "9.3"), ("12.5", "12.5"))
    found = taught(form, same)
    assert found.outcome is Outcome.MORE
    assert len(found.left) == 2
    assert read(taught(form, (*same, ("1.6", "12.5"))), form.format("5.5", "12.5")) == ["5.5"]


def test_a_sign_apart_from_its_digits_goes_with_the_line_of_the_display() -> None:
    form = "F {} N\r\nMAX {} N\r\n"
    rows = (("+ 2.1", "+ 2.1"), ("+ 9.3", "+ 9.3"), ("- 1.6", "+ 9.3"), ("+ 4.4", "+ 9.3"))
    made = [Press(form.format(*row).encode(), Decimal(row[0].replace(" ", ""))) for row in rows]
    found = learn(made, About(Quantity.FORCE, unit="newton", most=Decimal(50)), REGISTRY)
    assert read(found, form.format("- 5.5", "+ 9.3")) == ["-5.5"]
    assert read(found, "MAX - 5.5 N\r\nMAX + 9.3 N\r\n") == []
