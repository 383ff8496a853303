"""A number that was said to move, and does at a further press: that bears the answer out."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from acquire.cli.saidofmeter import Given
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Line, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity
from tests.unit.learn.test_person import Bench, lesson

REGISTRY = Registry()
GLOSS = About(Quantity.GLOSS, channel="60")
SHOWN = ("56.3", "63.3", "60.9", "104.2")


def taught(form: str, beside: tuple[str, ...], moves: str) -> Finding:
    presses = [
        Press(form.format(v=v, b=b, n=99 + at).encode(), Decimal(v))
        for at, (v, b) in enumerate(zip(SHOWN, beside, strict=False))
    ]
    return learn(presses, replace(GLOSS, moves=frozenset(moves.split())), REGISTRY)


def read(found: Finding, *lines: str) -> list[str | None]:
    assert found.outcome is Outcome.SURE, found.believed
    sent = [line.encode() for line in lines]
    here = readings(found.family, found.profile, sent, REGISTRY)
    return [str(one[0].value) if one else None for one in here]


# As it stood, as it stands at the fourth press, and as it stands later.
MOVED = (
    ("T24.0", "T24.1", "T9.8"), ("24.0", "24.1", "9.8"), ("T24", "T25", "T9"),
    ("24C", "25C", "9C"), ("100%", "99%", "98%"), ("B100", "B99", "B98"),
)  # fmt: skip


@pytest.mark.parametrize(
    "form", ["No.{n}:{v}:GU:{b}:OK\r\n", "{b};{v} GU\r\n", "{b}:OK\r\n{v} GU\r\n"]
)
@pytest.mark.parametrize(("before", "then", "later"), MOVED)
def test_a_number_that_was_said_to_move_may_be_any_once_a_further_press_shows_another(
    form: str, before: str, then: str, later: str
) -> None:
    found = taught(form, (before,) * 3 + (then,), before)
    lines = [form.format(v="33.3", b=b, n=103) for b in (later, f"x{later}")]
    assert read(found, *lines) == ["33.3", None]
    assert f"{before} may be any number like it, as you said" in found.believed


def test_what_stands_still_at_no_press_is_still_no_number_that_moves() -> None:
    for beside in (("T24.0", "T24.1", "T24.1", "T24.2"), ("T24.0", "T24.0", "T24.0", "E24.0")):
        refused = taught("{v} GU:{b}:OK\r\n", beside, "T24.0")
        assert (refused.outcome, refused.profile) == (Outcome.NONE, "")


def test_of_two_that_moved_the_one_that_stood_still_so_far_was_meant() -> None:
    form = "{b};{v} GU\r\n"
    beside = ("24;24", "24;31", "24;27", "25;45")
    assert read(taught(form, beside, "24"), "19;31;33.3 GU\r\n") == ["33.3"]
    both = taught(form, ("24;24",) * 3 + ("25;26",), "24")
    assert both.outcome is Outcome.NONE


def test_an_hour_that_was_said_to_move_is_taken_once_a_further_press_shows_a_time() -> None:
    beside = ("12:30", "12:30", "12:31", "13:07")
    assert taught("{b};{v} GU\r\n", beside[:3], "").still == ("12",)
    assert read(taught("{b};{v} GU\r\n", beside, "12"), "14:22;33.3 GU\r\n") == ["33.3"]


def test_a_count_that_was_said_to_move_is_refused_since_it_is_used() -> None:
    refused = taught("{n};{v} GU\r\n", ("",) * 4, "99")
    assert "99 was said to move" in refused.believed[0]


def test_the_press_that_bears_out_an_answer_ends_the_lesson_with_a_profile() -> None:
    beside = ("T24.0", "T24.0", "T24.0", "T24.1")
    presses = [
        f"No.{99 + at}:{v}:GU:{b}:OK\r\n".encode()
        for at, (v, b) in enumerate(zip(SHOWN, beside, strict=True))
    ]
    bench = Bench(presses, [*SHOWN[:3], "60", "y", "y", SHOWN[3]], Line(9600))
    found, about = lesson(bench, Given(line=Line(9600))).of_port(bench.open, bench.clock, [], 60)
    assert about.moves == {"T24.0"}
    assert read(found, "No.103:33.3:GU:T19.7:OK\r\n") == ["33.3"]


def test_a_word_behind_spaces_is_the_same_when_fewer_of_them_fill_up_the_number() -> None:
    shown = ("16.1", "12.7", "69.2", "9.1")
    presses = [Press(f"60:/{v:<8}/'G.U.'\r\n".encode(), Decimal(v)) for v in shown]
    for heard in (presses[:3], presses):
        asked = learn(heard, GLOSS, REGISTRY)
        assert (asked.missing, asked.likely) == ("word", "G")
        told = replace(GLOSS, unit="gloss_unit", word="G")
        found = learn(heard, told, REGISTRY)
        assert found.outcome is Outcome.SURE, found.against


THREE = ("41.1 60: 91.4 85: 97.3", "11.4 60: 45.2 85: 66.1", "2.2 60: 12.0 85: 30.5")
MIDDLE = ("91.4", "45.2", "12.0")


def three(form: str, *moves: str) -> Finding:
    presses = [
        Press(f"{form.format(three)}\r\n".encode(), Decimal(v))
        for three, v in zip(THREE, MIDDLE, strict=True)
    ]
    return learn(presses, About(Quantity.GLOSS, moves=frozenset(moves)), REGISTRY)


def test_geometries_before_their_values_are_no_numbers_that_may_move() -> None:
    found = three("20: {} GU;T23")
    assert found.still == ("T23",)
    assert not any("--moves 20" in words for words in found.unseen)
    assert three("20: {} GU").still == ()


def test_a_geometry_that_is_said_to_move_is_refused_and_stays_a_geometry() -> None:
    refused = three("20: {} GU", "20")
    assert (
        "20 was said to move, and no number beside that of the display and its geometries"
        in (refused.believed[0])
    )
    # A temperature of the same number is the only one that can be meant.
    found = three("20: {} GU;T20", "20")
    assert "T20 may be any number like it, as you said" in found.believed
    here = readings(
        found.family, found.profile, [b"20: 41.1 60: 91.4 85: 97.3 GU;T19\r\n"], REGISTRY
    )
    assert [one.channel for one in here[0]] == ["20", "60", "85"]


# A number with decimals moves anyway, and what stands before its point is also a number that stood
# still elsewhere: that one was asked about.
TWICE = (
    ("${a};{b}C;{v}\r\n", ("23.4;23.4", "23.5;23.5", "23.5;23.5", "24.1;24.1"), "19.2;19.2"),
    ("{a};{v};{b}C\r\n", ("23.4;23.4", "23.5;23.5", "23.5;23.5", "24.1;23.9"), "19.2;19.2"),
    ("{v};{a};{b}C;OK\r\n", ("23;23.4", "23;23.5", "23;23.5", "25;24.1"), "19;19.2"),
    ("{v};{a};OK\r\nT={b}C\r\n", ("23;23.4", "23;23.5", "23;23.5", "25;24.1"), "19;19.2"),
    ("{b} C;OK\r\n{a};{v};OK\r\n", ("23;23.4", "23;23.5", "23;23.5", "25;24.1"), "19;19.2"),
)  # fmt: skip


@pytest.mark.parametrize(("form", "beside", "later"), TWICE)
@pytest.mark.parametrize("presses", [3, 4])
def test_the_number_before_the_point_of_one_that_moves_anyway_is_not_what_a_person_meant(
    form: str, beside: tuple[str, ...], later: str, presses: int
) -> None:
    def line(value: str, two: str) -> str:
        a, b = two.split(";")
        return form.format(v=value, a=a, b=b)

    heard = [
        Press(line(v, two).encode(), Decimal(v))
        for v, two in zip(SHOWN[:presses], beside, strict=False)
    ]
    asked = learn(heard[:3], GLOSS, REGISTRY)
    assert asked.still == ("23",), asked.believed
    found = learn(heard, replace(GLOSS, moves=frozenset(("23",))), REGISTRY)
    assert read(found, line("33.3", later)) == ["33.3"]
    # Without that word it stays as it was.
    assert read(asked, line("33.3", later)) == [None]


def test_a_number_that_moves_anyway_may_be_named_as_one_that_does() -> None:
    form, beside = "{v} GU;{b}C;OK\r\n", ("23.4", "23.5", "23.5")
    for moves in ("", "23"):
        assert read(taught(form, beside, moves), "33.3 GU;19.2C;OK\r\n") == ["33.3"]
