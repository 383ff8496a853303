"""Digits that stood still, also those that letters touch: they are named, and let free by word."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity
from tests.unit.learn.test_cli import shown, tape

REGISTRY = Registry()
GLOSS = About(Quantity.GLOSS, channel="60")
SHOWN = ("91.4", "45.2", "12.0")


def taught(*beside: str, about: About = GLOSS, form: str = "{v} GU {b}") -> Finding:
    rows = beside * len(SHOWN) if len(beside) == 1 else beside
    presses = [
        Press(f"{form.format(v=v, b=b)}\r\n".encode(), Decimal(v))
        for v, b in zip(SHOWN, rows, strict=True)
    ]
    return learn(presses, about, REGISTRY)


def read(found: Finding, *lines: str) -> list[str | None]:
    assert found.outcome is Outcome.SURE, found.believed
    sent = [f"{line}\r\n".encode() for line in lines]
    here = readings(found.family, found.profile, sent, REGISTRY)
    return [str(one[0].value) if one else None for one in here]


def told(found: Finding) -> str:
    assert found.outcome is Outcome.SURE, found.believed
    return " ".join(found.unseen)


# As they stand in the line, and as they stand there later.
GLUED = (
    ("23C", "24C"), ("B89", "B88"), ("t23C", "t24C"), ("x0005", "x0106"), ("60%", "59%"),
    ("T21.1", "T22.0"), ("T21", "T22"), ("T=21.1", "T=22.0"),
)  # fmt: skip


@pytest.mark.parametrize(("beside", "later"), GLUED)
@pytest.mark.parametrize("form", ["{v} GU {b}", "{b};{v} GU", "{v} GU;{b};OK"])
def test_digits_that_stood_still_are_named_and_move_once_a_person_says_so(
    beside: str, later: str, form: str
) -> None:
    found = taught(beside, form=form)
    line = form.format(v="33.3", b=later)
    assert read(found, line) == [None]
    (name,) = found.still
    assert repr(name) in told(found)
    assert f"say --moves {name}" in told(found)
    bare = "".join(sign for sign in beside if sign.isdecimal() or sign == ".")
    for moves in (name, bare):
        moved = taught(beside, form=form, about=replace(GLOSS, moves=frozenset((moves,))))
        assert read(moved, line) == ["33.3"]
        assert any("may be any number like it, as you said" in one for one in moved.believed)
        assert repr(name) not in told(moved)
        assert moved.still == ()


def test_decimals_with_a_unit_behind_are_plainly_a_measurement_with_letters_before_them_too() -> (
    None
):
    found = taught("T21.1C")
    assert read(found, "33.3 GU T22.0C", "33.3 GU T22.0F") == ["33.3", None]
    assert "the same at every press" not in told(found)


def test_what_touches_the_digits_stays_held_when_they_move() -> None:
    moved = taught("t23C", about=replace(GLOSS, moves=frozenset(("23",))))
    lines = ("33.3 GU t24F", "33.3 GU s24C", "33.3 GU tC", "33.3 GU t2.4C", "33.3 GU t24C")
    assert read(moved, *lines) == [None, None, None, None, "33.3"]


def test_of_two_that_differ_by_their_letters_alone_the_letters_say_which_moves() -> None:
    both = "B89,T89"
    found = taught(both, about=replace(GLOSS, moves=frozenset(("B89",))))
    assert read(found, "33.3 GU B88,T89", "33.3 GU B89,T88") == ["33.3", None]
    refused = taught(both, about=replace(GLOSS, moves=frozenset(("89",))))
    assert (refused.outcome, refused.profile) == (Outcome.NONE, "")
    assert "89 was said to move" in refused.believed[0]


@pytest.mark.parametrize(
    ("beside", "later"),
    [
        (("T21.1", "T22.0", "T22.0"), "T19.7"),
        (("T21.1C", "T21.2C", "T21.4C"), "T22.3C"),
        (("T21", "T22", "T22"), "T24"),
        (("t21C", "t22C", "t22C"), "t24C"),
    ],
)
def test_a_temperature_that_letters_touch_may_be_any_once_it_has_moved(
    beside: tuple[str, ...], later: str
) -> None:
    found = taught(*beside)
    other = later.replace("T", "E").replace("t", "e")
    assert read(found, f"33.3 GU {later}", f"33.3 GU {other}") == ["33.3", None]


def test_a_code_that_letters_touch_is_held_to_those_that_were_seen() -> None:
    about = replace(GLOSS, settled=3)
    assert taught("E21", "E22", "E22").missing == "setting"
    found = taught("E21", "E22", "E22", about=about)
    assert read(found, "33.3 GU E22", "33.3 GU E23") == ["33.3", None]
    # A comma parts fields as often as decimals: the digit behind it may be a status.
    status = taught("T21,1", "T22,1", "T22,1", about=about, form="{v} GU,{b}")
    assert read(status, "33.3 GU,T22,1", "33.3 GU,T22,2") == ["33.3", None]


def test_letters_of_another_number_are_not_the_unit_of_the_value() -> None:
    presses = [Press(f"{v} N{t}\r\n".encode(), Decimal(v)) for v, t in zip(
        SHOWN, ("21.1", "22.0", "22.4"), strict=True)]  # fmt: skip
    found = learn(presses, About(Quantity.FORCE), REGISTRY)
    assert (found.outcome, found.missing) == (Outcome.UNSAID, "unit")


def test_a_geometry_that_letters_name_is_no_number_that_stood_still() -> None:
    assert "the same at every press" not in told(taught("GEO60"))
    assert "'B60'" in told(taught("B60"))


def test_a_wavelength_says_the_band_and_is_none_either() -> None:
    presses = [Press(f"940nm {v} %\r\n".encode(), Decimal(v)) for v in SHOWN]
    found = learn(presses, About(Quantity.TRANSMITTANCE, channel="940"), REGISTRY)
    assert "the same at every press" not in told(found)
    assert found.still == ()


def test_a_number_in_another_line_of_the_press_is_named_too() -> None:
    found = taught("BAT 71", form="{b}\r\n{v} GU")
    assert "the same at every press: '71'" in told(found)
    assert "--moves" not in told(found)


def test_the_command_says_how_a_temperature_is_let_free(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = str(tape(tmp_path / "t", [f"{v} GU 23C\r\n".encode() for v in SHOWN]))
    words = ["learn", "--tape", path, *shown(*SHOWN), "--geometry", "60"]
    assert run(words) == 0
    said = capsys.readouterr().out
    assert "sure of the number" in said
    assert "'23C'" in said
    assert "or say --moves 23C if that is what moves" in said
    assert run([*words, "--moves", "23C"]) == 0
    assert "23C may be any number like it, as you said" in capsys.readouterr().out
