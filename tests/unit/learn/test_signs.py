"""Signs of numbers that stand apart from the digits are found, and letters not by chance."""

from __future__ import annotations

from decimal import Decimal
from functools import reduce
from operator import xor

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
FORCE = About(Quantity.FORCE, unit="newton", least=Decimal(-50), most=Decimal(50))
SHOWN = ("8.38", "-44.36", "0.15", "-1.20", "21.07")


def line(form: tuple[str, str], shown: str, behind: str = " N") -> bytes:
    digits = shown.removeprefix("-")
    text = form[shown[0] == "-"].format(w=f"{digits:>7}", v=digits)
    return f"{text}{behind}\r\n".encode()


def taught(form: tuple[str, str], presses: int = 5, behind: str = " N") -> Finding:
    sent = [Press(line(form, v, behind), Decimal(v)) for v in SHOWN[:presses]]
    return learn(sent, FORCE, REGISTRY)


def read(found: Finding, data: bytes) -> list[str]:
    assert found.outcome is Outcome.SURE, found.believed
    (here,) = readings(found.family, found.profile, [data], REGISTRY)
    return [str(reading.value) for reading in here]


FORMS = [
    ("{w}", "-{w}"),
    ("+{w}", "-{w}"),
    ("+ {v}", "- {v}"),
    ("{w}", "{w}-"),
    ("{v} ", "{v}-"),
    ("{v}+", "{v}-"),
    ("{v}", "({v})"),
    (" {v} ", "({v})"),
    ("{v}", "\u2212{v}"),
    ("+{w}", "\u2212{w}"),
]
LETTERS = [
    ("P{w}", "N{w}"),
    ("R{v}", "L{v}"),
    ("L {v}", "R {v}"),
    ("{v} T", "{v} C"),
    ("{w}C", "{w}T"),
    ("{v}", "{v} CR"),
    ("{v} DR", "{v} CR"),
]


@pytest.mark.parametrize("behind", [" N", ";N;0", ""])
@pytest.mark.parametrize("form", FORMS)
def test_a_sign_apart_behind_or_in_brackets_is_read(form: tuple[str, str], behind: str) -> None:
    found = taught(form, 3, behind)
    for shown in ("-33.31", "33.31", "-0.07", "12.00"):
        assert read(found, line(form, shown, behind)) == [shown]


def test_spaces_before_a_number_that_its_sign_takes_or_leaves_are_both_read() -> None:
    for takes in (True, False):
        lines = [
            f"{'-' if v[0] == '-' else ' ' * takes}{v.removeprefix('-'):>6} N\r\n" for v in SHOWN
        ]
        presses = [Press(t.encode(), Decimal(v)) for t, v in zip(lines, SHOWN, strict=True)]
        found = learn(presses[:3], FORCE, REGISTRY)
        assert read(found, b"- 12.34 N\r\n") == ["-12.34"]
        assert read(found, b" " * takes + b"  9.81 N\r\n") == ["9.81"]


@pytest.mark.parametrize("form", LETTERS)
def test_letters_are_a_sign_once_both_sides_were_shown_twice(form: tuple[str, str]) -> None:
    early = taught(form, 3)
    assert early.outcome is Outcome.MORE
    assert early.tell_below == 0
    found = taught(form)
    for shown in ("-33.31", "33.31", "-10.07"):
        assert read(found, line(form, shown)) == [shown]


@pytest.mark.parametrize("form", [("{v}", "({v})"), ("{v}", "{v}-"), ("P{v}", "N{v}")])
def test_half_a_sign_or_another_one_is_noise(form: tuple[str, str]) -> None:
    found = taught(form)
    for spoiled in (b"(33.31 N\r\n", b"33.31) N\r\n", b"33.31-- N\r\n", b"X33.31 N\r\n"):
        assert read(found, spoiled) == []


def test_a_letter_that_does_not_go_with_the_sign_is_none() -> None:
    sent = [
        Press(f"{side}{v.removeprefix('-')} N\r\n".encode(), Decimal(v))
        for side, v in zip("LLRRL", SHOWN, strict=True)
    ]
    assert learn(sent, FORCE, REGISTRY).outcome is not Outcome.SURE


BEHIND_A_COUNT = ["{n:5d}{w}{m} N", "{n:5d} {w}{s} N", "{n:4d} {m:1}{w} N", "{n:03d} {b} N"]


@pytest.mark.parametrize("form", BEHIND_A_COUNT)
def test_a_sign_apart_is_read_behind_a_count(form: str) -> None:
    def sent(number: int, shown: str) -> bytes:
        digits, is_minus = shown.removeprefix("-"), shown[0] == "-"
        text = form.format(
            n=number, w=f"{digits:>8}", m="-" if is_minus else "", s="-" if is_minus else " ",
            b=f"({digits})" if is_minus else digits,
        )  # fmt: skip
        return f"{text}\r\n".encode()

    presses = [Press(sent(n, shown), Decimal(shown)) for n, shown in enumerate(SHOWN[1:4], 2)]
    found = learn(presses, FORCE, REGISTRY)
    for number, shown in enumerate(("-33.31", "33.31", "-10.07"), 9):
        assert read(found, sent(number, shown)) == [shown]
    # Digits of the count that touch the number are nobody's.
    assert read(found, sent(9, "33.31").replace(b" ", b"")) == []


def test_where_a_sign_is_not_learned_the_next_step_is_one_that_can_be_taken() -> None:
    lines = ["8.38 N", "44.36 N below", "0.15 N", "- 1.20 N here", "21.07 N"]
    presses = [Press(f"{t}\r\n".encode(), Decimal(v)) for t, v in zip(lines, SHOWN, strict=True)]
    found = learn(presses[2:], FORCE, REGISTRY)
    assert found.outcome is Outcome.NONE
    assert "leave out the presses below zero" in found.next_step


def test_a_sign_in_a_byte_of_its_own_beside_digits_without_a_point_is_read() -> None:
    def sent(number: int, shown: str) -> bytes:
        digits = round(abs(Decimal(shown)) * 1000)
        return f"@{digits:05d}3{'-' if shown[0] == '-' else '+'}{number:03d}\r\n".encode()

    shown = ("42.808", "-34.157", "19.560")
    found = learn(
        [Press(sent(n, v), Decimal(v)) for n, v in enumerate(shown, 482)], FORCE, REGISTRY
    )
    for value in ("-7.250", "33.310"):
        assert read(found, sent(490, value)) == [value]
    assert read(found, sent(490, "33.310").replace(b"@3", b"@-")) == []


@pytest.mark.parametrize("before", ["", "F", "F:", "1;", "FORCE "])
@pytest.mark.parametrize("last", ["3.05", "-103.05"])
def test_a_plus_that_stands_first_and_spaces_behind_it_are_learned(before: str, last: str) -> None:
    def sent(value: str) -> bytes:
        sign = "-" if value[0] == "-" else "+"
        return f"{before}{sign}{value.removeprefix('-'):>6} N\r\n".encode()

    presses = [Press(sent(value), Decimal(value)) for value in ("66.99", "111.26", last)]
    found = learn(presses, About(Quantity.FORCE, most=Decimal(500)), REGISTRY)
    for value in ("5.00", "499.99", "-5.00", "-450.25", "0.00"):
        assert read(found, sent(value)) == [value]
    said = "a number below zero: it is read if its sign stands in the place of '+'"
    assert any(one.startswith(said) for one in found.unseen) == (last == "3.05")


def test_a_power_or_a_number_before_a_sign_is_none_of_a_name() -> None:
    for form in ("F=2E{}", "17{}", "3 V{}"):
        presses = [
            Press(f"{form.format(f'+{value:>6}')}\r\n".encode(), Decimal(value))
            for value in ("66.99", "111.26", "3.05")
        ]
        about = About(Quantity.FORCE, unit="newton", most=Decimal(500))
        assert learn(presses, about, REGISTRY).outcome is not Outcome.SURE


SIGNED = ("17.03", "-12.56", "7.59", "-3.10")


@pytest.mark.parametrize("presses", [3, 4])
@pytest.mark.parametrize("behind", ["\r\n", "N\r\n", " N *\r\n"])
@pytest.mark.parametrize("fill", ["+07.2f", "+.2f"])
@pytest.mark.parametrize("front", ["01", "{:04d}", "A1", "T21.4"])
def test_digits_that_touch_a_sign_are_of_another_number(
    front: str, fill: str, behind: str, presses: int
) -> None:
    def sent(count: int, shown: str) -> bytes:
        return f"{front.format(count)}{float(shown):{fill}}{behind}".encode()

    made = [Press(sent(n, v), Decimal(v)) for n, v in enumerate(SIGNED[:presses], 1)]
    found = learn(made, FORCE, REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    assert [read(found, sent(9, v)) for v in ("-1.05", "20.50")] == [["-1.05"], ["20.50"]]
    bare = sent(9, "20.50").replace(b"+", b"")
    assert read(found, bare) == [], "without a sign nothing tells where the number begins"
    if "{" not in front:
        assert read(found, sent(9, "20.50").replace(b"1", b"2", 1)) == []


@pytest.mark.parametrize("checksum", [True, False])
@pytest.mark.parametrize("front", ["01", "{:04d}"])
def test_so_they_are_between_stx_and_etx(front: str, checksum: bool) -> None:
    def sent(count: int, shown: str) -> bytes:
        body = f"{front.format(count)}{float(shown):+07.2f}".encode() + b"\x03"
        return b"\x02" + body + bytes([reduce(xor, body)] if checksum else [])

    made = [Press(sent(n, v), Decimal(v)) for n, v in enumerate(SIGNED[:3], 1)]
    found = learn(made, FORCE, REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    (here,) = readings(found.family, found.profile, [sent(9, "-1.05")], REGISTRY)
    assert [str(reading.value) for reading in here] == ["-1.05"]
