"""How a meter fills up a number of fewer digits is learned: with spaces, nothing, or zeros."""

from __future__ import annotations

from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
GLOSS = About(Quantity.GLOSS, channel="60")
SHOWN = ("104", "76", "9")
ALIKE = ("98", "76", "45")


def taught(form: str, shown: tuple[str, ...]) -> Finding:
    lines = [f"{form.format(int(value))} GU\r\n".encode() for value in shown]
    found = learn(
        [Press(t, Decimal(v)) for t, v in zip(lines, shown, strict=True)], GLOSS, REGISTRY
    )
    assert found.outcome is Outcome.SURE, found.believed
    return found


def read(found: Finding, text: str) -> list[str]:
    (here,) = readings(found.family, found.profile, [f"{text} GU\r\n".encode()], REGISTRY)
    return [str(reading.value) for reading in here]


@pytest.mark.parametrize(
    ("form", "shown"), [("{:7d}", SHOWN), ("{:7d}", ALIKE), ("V={:d}", SHOWN), ("V={:7d}", SHOWN)]
)
def test_zeros_where_spaces_or_nothing_stood_are_no_number(
    form: str, shown: tuple[str, ...]
) -> None:
    found = taught(form, shown)
    assert "leading_zeros = false" in found.profile
    for value in (0, 5, 33, 120):
        assert read(found, form.format(value)) == [str(value)]
    for code in (0, 5, 33):
        assert read(found, form.replace("7d", "07d").replace(":d", ":03d").format(code)) == []


@pytest.mark.parametrize(("form", "shown"), [("{:03d}", SHOWN), ("V={:d}", ALIKE)])
def test_zeros_are_read_where_they_were_seen_or_how_it_fills_up_nobody_knows(
    form: str, shown: tuple[str, ...]
) -> None:
    found = taught(form, shown)
    assert "leading_zeros" not in found.profile
    assert read(found, form.replace(":d", ":02d").format(7))
