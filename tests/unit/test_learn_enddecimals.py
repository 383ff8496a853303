"""Decimals of a number at the end of a line, such as a scatter, and what tells them from a sum."""

from __future__ import annotations

from decimal import Decimal

import pytest

from acquire.cli.lessonwords import telling
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.proved import readings
from acquire.learn.unexplained import STRANGE_COUNTED, STRANGE_END
from acquire.model import Quantity

REGISTRY = Registry()
SHOWN = ("91.4", "45.2", "12.0", "12.0", "33.3", "91.4", "60.1")
ENDS = (33, 27, 41, 38, 5, 46, 19)
FORMS = [
    "{v};0.{e:02}",
    "{n:03};{v};0.{e:02}",
    "{n:03}\t{v}\t0.{e:02}",
    "{n:03},{v},0.{e:02}",
    "{n:03} {v:>6} 0.{e:02}",
    "12:00:{n:02} {v} GU 0.{e:02}",
    "{n:03};{v};{t};0.{e:02}",
]


def taught(form: str, count: int) -> Finding:
    made = [
        Press(f"{form.format(n=n, v=v, e=e, t=20 + n * 13 % 29)}\r\n".encode(), Decimal(v))
        for n, (v, e) in enumerate(zip(SHOWN[:count], ENDS, strict=False), 1)
    ]
    return learn(made, About(Quantity.GLOSS, channel="60", settled=9), REGISTRY)


@pytest.mark.parametrize("form", FORMS)
def test_a_press_on_the_same_thing_tells_the_decimals_of_a_scatter_as_the_advice_says(
    form: str,
) -> None:
    open_ = taught(form, 3)
    assert open_.outcome is Outcome.MORE
    assert open_.believed == (STRANGE_END.why,)
    assert telling(open_)[-1] == "wanted: a press on the same thing as one before"
    found = taught(form, 4)
    assert found.outcome is Outcome.SURE, found.believed
    line = form.format(n=5, v="55.1", e=77, t=71)
    (here,) = readings("line", found.profile, [f"{line}\r\n".encode()], REGISTRY)
    assert [str(reading.value) for reading in here] == ["55.1"]


@pytest.mark.parametrize("form", ["{n:03};{v};{e:02}", "{n:03};{v};.{e:02}", "{n:03};{v}*{e:02}"])
def test_digits_that_are_no_decimals_are_asked_about_and_a_count_lets_no_press_tell(
    form: str,
) -> None:
    for count in range(3, len(SHOWN) + 1):
        found = taught(form.replace("{e:02}", "{e:03}"), count)
        assert found.outcome is not Outcome.SURE
        if found.believed == (STRANGE_COUNTED.why,):
            assert "by hand" in telling(found)[-1]
            assert found.next_step == STRANGE_COUNTED.next_step


def test_a_count_before_digits_that_zeros_fill_up_is_named() -> None:
    assert taught("{n:03};{v};{e:03}", 5).believed == (STRANGE_COUNTED.why,)
    assert taught("{v};{e:03}", 3).believed == (STRANGE_END.why,)


def test_a_status_before_a_point_that_the_number_does_not_have_leaves_a_sum_possible() -> None:
    made = [
        Press(f"{n:03};{v};0.{e:02}\r\n".encode(), Decimal(v))
        for n, v, e in ((1, "91", 33), (2, "45", 27), (3, "12", 41), (4, "12", 38))
    ]
    found = learn(made, About(Quantity.GLOSS, channel="60", settled=9), REGISTRY)
    assert found.outcome is Outcome.MORE
    assert found.believed == (STRANGE_COUNTED.why,)
