"""A geometry that a line beside that of the number names is held against what is said otherwise."""

from __future__ import annotations

from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.model import Quantity

SHOWN = ("91.4", "45.2", "12.0", "70.8")
REGISTRY = Registry()
FORMS = ["ANGLE {a}\r\nV {v}", "V {v} GU\r\nGEO={a}", "{a}\xb0\r\n{v}\r\nOK"]


def taught(form: str, angle: str, channel: str | None) -> Finding:
    pressed = [
        Press(f"{form.format(a=angle, v=value)}\r\n".encode("latin-1"), Decimal(value))
        for value in SHOWN
    ]
    return learn(pressed, About(Quantity.GLOSS, channel=channel), REGISTRY)


@pytest.mark.parametrize("form", FORMS)
def test_another_one_than_was_said_is_refused(form: str) -> None:
    found = taught(form, "85", "60")
    assert (found.outcome, found.profile) == (Outcome.NONE, "")
    assert found.against is not None
    assert found.against.said == "the geometry is 60 (--geometry 60)"
    assert found.against.sent == "another line of every press names 85 degrees"
    assert taught(form, "60", "60").outcome is Outcome.SURE


@pytest.mark.parametrize("form", FORMS)
def test_where_nobody_said_one_it_is_proposed(form: str) -> None:
    found = taught(form, "85", None)
    assert (found.missing, found.likely) == ("geometry", "85")


def test_two_lines_that_name_different_ones_contradict_one_another() -> None:
    for channel in (None, "60"):
        found = taught("ANGLE {a}\r\nGEO 60 {v}", "85", channel)
        assert found.outcome is Outcome.NONE
        assert found.against is not None
        assert found.against.said == "the line of the number names 60 degrees"


@pytest.mark.parametrize("form", ["BAT {a}\r\nV {v}", "{a} %\r\n{v} GU", "TEMP {a} C\r\n{v} GU"])
def test_a_number_that_nothing_names_as_a_geometry_says_none(form: str) -> None:
    assert taught(form, "85", "60").outcome is Outcome.SURE
