"""Decimals of a number at the end of a line, such as a scatter, and what tells them from a sum."""

from __future__ import annotations

from decimal import Decimal

import pytest

from acquire.cli.lessonwords import telling
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.beside.unexplained import STRANGE_COUNTED, STRANGE_END, Ending, unexplained
from acquire.learn.profile.proved import readings
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
def test_decimals_at_the_end_that_no_known_sum_fits_are_a_number_of_their_own(form: str) -> None:
    for count in (3, 4):
        found = taught(form, count)
        assert found.outcome is Outcome.SURE, found.believed
        assert any("nothing checks it" in one for one in found.believed)
        line = form.format(n=5, v="55.1", e=77, t=71)
        (here,) = readings("line", found.profile, [f"{line}\r\n".encode()], REGISTRY)
        assert [str(reading.value) for reading in here] == ["55.1"]


@pytest.mark.parametrize("covered", ["{v};0.", "{v};0", "{v};", "{v}"])
def test_decimals_that_a_known_sum_fits_are_asked_about_until_one_does_not(covered: str) -> None:
    shown = [Decimal(v) for v in ("91.4", "45.2", "12.0", "33.3")]
    sums = [f"{sum(covered.format(v=v).encode()) % 100:02}" for v in shown]
    rests = tuple(f"{v};0." for v in shown)
    assert unexplained(Ending(tuple(sums), rests, "", are_decimals=True), shown) == STRANGE_END
    other = (*sums[:3], "17")
    assert unexplained(Ending(other, rests, "", are_decimals=True), shown) is None


def test_the_name_of_a_checksum_before_decimals_has_them_asked_about() -> None:
    assert taught("{v} CRC 0.{e:02}", 3).believed == (STRANGE_END.why,)
    assert taught("{v} CRC 0.{e:02}", 4).outcome is Outcome.SURE


def test_a_friction_behind_the_force_of_each_pull_is_learned_of_three_pulls() -> None:
    pulls = (("36.77", "0.12"), ("4.73", "0.59"), ("3.91", "0.42"))
    made = [Press(f"{v:>6} N  COF {mu}\r\n".encode(), Decimal(v)) for v, mu in pulls]
    found = learn(made, About(Quantity.FORCE, settled=9), REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    assert any("'0.12' and '0.59'" in one for one in found.believed)
    (here,) = readings("line", found.profile, [b" 18.01 N  COF 0.37\r\n"], REGISTRY)
    assert [str(reading.value) for reading in here] == ["18.01"]


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


def whole(form: str, count: int) -> Finding:
    shown = ("91", "45", "12", "12", "33", "60")
    made = [
        Press(f"{form.format(n=n, v=v, e=e)}\r\n".encode(), Decimal(v))
        for n, (v, e) in enumerate(zip(shown[:count], ENDS, strict=False), 1)
    ]
    return learn(made, About(Quantity.GLOSS, channel="60", settled=9), REGISTRY)


@pytest.mark.parametrize(
    "form", ["{n:03};{v};0.{e:02}", "{n:03};{v};0,{e:02}", "{n:03} {v} 0.{e:02}"]
)
def test_so_it_is_beside_a_whole_number_where_another_sign_parts_the_fields(form: str) -> None:
    assert whole(form, 3).outcome is Outcome.SURE


@pytest.mark.parametrize("form", ["{n:03},{v},0,{e:02}", "{n:03} {v} 0,{e:02}"])
def test_a_comma_may_part_a_status_and_a_sum_as_it_parts_other_fields(form: str) -> None:
    for count in (3, 4, 5, 6):
        found = whole(form, count)
        assert found.outcome is not Outcome.SURE
        assert found.believed != (STRANGE_END.why,)


@pytest.mark.parametrize(
    "form", ["{v} SD={e:02}", "{v};AVG = {e:02}", "{v} MIN 0.{e:02}", "{v}\tMIN\t{e}"]
)
def test_the_name_of_a_mean_or_a_scatter_says_that_the_digits_behind_it_are_no_sum(
    form: str,
) -> None:
    assert taught(form, 3).outcome is Outcome.SURE


def test_once_a_press_on_the_same_thing_had_all_else_otherwise_it_says_that_none_tells() -> None:
    rows = (("22", 55, 65), ("19", 23, 73), ("11", 22, 57), ("11", 37, 58))
    made = [Press(f"{int(v):04};{b:04};{e:04}\r\n".encode(), Decimal(v)) for v, b, e in rows]
    about = About(Quantity.TRANSMITTANCE, unit="percent", channel="315-400", settled=9)
    assert learn(made[:3], about, REGISTRY).believed == (STRANGE_END.why,)
    assert learn(made, about, REGISTRY).believed == (STRANGE_COUNTED.why,)
