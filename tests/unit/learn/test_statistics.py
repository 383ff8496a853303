"""Lines of one form at one press: the number of the display is that of its line, by its order."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
ROWS = (("80.56", "82.78", "0.71"), ("30.32", "43.59", "2.83"), ("7.33", "40.08", "0.24"))
"""A value, the mean so far and the scatter."""
FORMS = [
    "{} GU\r\n{} GU\r\n{} GU\r\n",
    "+{}\r\n+{}\r\n+{}\r\n",
    "Sample\r\n{:>8}\r\n{:>8}\r\n{:>8}\r\n---\r\n",
    "V {} GU\r\nV {} GU\r\nV {} GU\r\n",
]


def taught(form: str, which: int, rows: Sequence[Sequence[str]] = ROWS) -> Finding:
    made = [Press(form.format(*row).encode(), Decimal(row[which])) for row in rows]
    return learn(made, About(Quantity.GLOSS, channel="60"), REGISTRY)


def read(found: Finding, data: bytes) -> list[str]:
    (here,) = readings(found.family, found.profile, [data], REGISTRY)
    return [str(reading.value) for reading in here]


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("which", [0, 1, 2])
def test_the_line_of_the_display_is_read_and_those_built_alike_are_not(
    form: str, which: int
) -> None:
    found = taught(form, which)
    assert found.outcome is Outcome.SURE, found.believed
    row = ("55.10", "48.71", "3.02")
    assert read(found, form.format(*row).encode()) == [row[which]]


@pytest.mark.parametrize("form", FORMS)
def test_a_press_that_lacks_a_line_or_has_one_more_is_noise(form: str) -> None:
    found = taught(form, 0)
    whole = form.format("55.10", "48.71", "3.02").encode()
    lines = whole.splitlines(keepends=True)
    for place in range(len(lines)):
        assert read(found, b"".join(lines[:place] + lines[place + 1 :])) == []
        assert read(found, b"".join([*lines[: place + 1], *lines[place:]])) == []


def test_the_mean_of_the_first_press_is_its_value_and_the_next_ones_tell_which_line_it_is() -> None:
    rows = (("80.56", "80.56", "0.00"), *ROWS[1:])
    for which in (0, 1):
        found = taught(FORMS[0], which, rows)
        assert found.outcome is Outcome.SURE, found.believed
        row = ("55.10", "48.71", "3.02")
        assert read(found, FORMS[0].format(*row).encode()) == [row[which]]


def test_the_same_line_twice_is_one_value_still() -> None:
    found = taught("{0} GU\r\n{0} GU\r\n{2} GU\r\n", 0)
    assert found.outcome is Outcome.SURE, found.believed
    assert read(found, b"55.10 GU\r\n55.10 GU\r\n3.02 GU\r\n") == ["55.10"]
    assert read(found, b"55.10 GU\r\n55.11 GU\r\n3.02 GU\r\n") == []
