"""A letter behind the unit that says which way a force goes; what a unit says of the kind."""

from __future__ import annotations

from decimal import Decimal
from functools import reduce
from operator import xor
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, evident_kind, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity
from tests.unit.learn.test_cli import Captured, shown, tape

REGISTRY = Registry()
FORCE = About(Quantity.FORCE, least=Decimal(-50), most=Decimal(50))
BOTH = ("9.14", "-12.40", "3.31", "-0.77", "5.50")
FORMS = ("{v} N {d}", "{v:>7} N {d}", "F={v} kgf  {d};OK")
PAIRS = ("TC", "CT", "RL", "LR", "PN")


def sent(value: str, form: str = FORMS[0], pair: str = "TC") -> bytes:
    letter = pair[value[0] == "-"]
    return f"{form.format(v=value.lstrip('-'), d=letter)}\r\n".encode()


def taught(form: str, pair: str, *values: str) -> Finding:
    return learn([Press(sent(v, form, pair), Decimal(v)) for v in values], FORCE, REGISTRY)


def read(found: Finding, *frames: bytes) -> list[str]:
    here = readings(found.family, found.profile, list(frames), REGISTRY)
    return [f"{one[0].value} {one[0].unit}" if one else "noise" for one in here]


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("pair", PAIRS)
def test_a_letter_behind_the_unit_says_the_direction(form: str, pair: str) -> None:
    found = taught(form, pair, *BOTH)
    assert found.outcome is Outcome.SURE, found.believed
    assert found.family == "line"
    unit = "kilogram_force" if "kgf" in form else "newton"
    fresh = [sent(v, form, pair) for v in ("8.88", "-8.88", "-2.05")]
    assert read(found, *fresh) == [f"{v} {unit}" for v in ("8.88", "-8.88", "-2.05")]


def test_a_letter_that_no_press_had_or_none_is_noise() -> None:
    found = taught(FORMS[0], "TC", *BOTH)
    strange = (b"8.88 N X\r\n", b"8.88 N  \r\n", b"8.88 N\r\n", b"8.88 NC\r\n", b"-8.88 N C\r\n")
    assert read(found, *strange) == ["noise"] * len(strange)


def test_of_a_single_press_of_one_direction_letters_are_not_believed() -> None:
    found = taught(FORMS[0], "TC", "9.14", "-12.40", "3.31", "5.50")
    assert found.outcome is Outcome.MORE
    assert "letters, 'number unit C' below zero" in found.believed[0]


def test_where_the_display_shows_no_sign_letters_tell_none() -> None:
    values = ("9.14", "12.40", "3.31", "0.77", "5.50")
    letters = "TCTCT"
    presses = [
        Press(f"{v} N {d}\r\n".encode(), Decimal(v)) for v, d in zip(values, letters, strict=True)
    ]
    found = learn(presses, FORCE, REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    assert read(found, b"8.88 N C\r\n") == ["8.88 newton"]


def checked(text: str) -> bytes:
    body = text.encode() + b"\x03"
    return b"\x02" + body + bytes((reduce(xor, body),))


def test_frames_of_text_say_the_kind_by_the_unit_behind_each_number() -> None:
    values = ("91.4", "45.2", "12.0", "3.3")
    presses = [Press(checked(f"{v:>6} GU"), Decimal(v)) for v in values]
    assert evident_kind(presses) is Quantity.GLOSS
    # Behind another number than the one shown it says nothing of that.
    others = [Press(checked(f"{v:>6} 12.3 GU"), Decimal(v)) for v in values]
    assert evident_kind(others) is None
    # Nor does one that is of another kind at one press.
    mixed = [*presses[:3], Press(checked("   3.3 N "), Decimal("3.3"))]
    assert evident_kind(mixed) is None


def test_a_unit_in_a_frame_that_nobody_named_is_told_and_asked_about() -> None:
    presses = [Press(checked(f"{v:>6} N"), Decimal(v)) for v in ("9.14", "12.40", "3.31", "0.77")]
    found = learn(presses, About(Quantity.FORCE), REGISTRY)
    assert (found.outcome, found.missing, found.likely) == (Outcome.UNSAID, "unit", "N")


FINER = [b"   9.1449 N\r\n", b"  12.4051 N\r\n", b"   3.3149 N\r\n", b"   0.7649 N\r\n"]
MILLI = [b"F=9140 mN\r\n", b"F=12410 mN\r\n", b"F=3310 mN\r\n", b"F=760 mN\r\n"]
PLAIN = [b"V 9.14\r\n", b"V 12.41\r\n", b"V 3.31\r\n", b"V 0.76\r\n"]


@pytest.mark.parametrize(
    ("presses", "options"),
    [(FINER, []), (FINER, ["--unit", "N"]), (MILLI, ["--unit", "N"]), (PLAIN, ["--unit", "N"])],
)
def test_a_unit_of_one_kind_says_the_kind(
    tmp_path: Path, presses: list[bytes], options: list[str]
) -> None:
    path, out = tape(tmp_path / "t", presses), tmp_path / "mine.toml"
    words = ["learn", "--tape", str(path), *shown("9.14", "12.41", "3.31", "0.76"), "--most", "50"]
    assert run([*words, *options, "--out", str(out)]) == 0
    assert 'kind = "force"' in out.read_text()


def test_a_word_that_was_said_for_a_unit_says_the_kind_as_well(tmp_path: Path) -> None:
    sent = [f"{v} GE\r\n".encode() for v in ("91.4", "45.2", "12.0")]
    path, out = tape(tmp_path / "t", sent), tmp_path / "mine.toml"
    words = ["learn", "--tape", str(path), *shown("91.4", "45.2", "12.0"), "--geometry", "60"]
    assert run([*words, "--unit", "GE=gloss_unit", "--out", str(out)]) == 0
    assert 'kind = "gloss"' in out.read_text()


def test_a_unit_that_was_said_is_held_against_the_one_that_is_sent(
    tmp_path: Path, capsys: Captured
) -> None:
    path = tape(tmp_path / "t", [f"{v} GU\r\n".encode() for v in ("91.4", "45.2", "12.0")])
    words = ["learn", "--tape", str(path), *shown("91.4", "45.2", "12.0")]
    assert run([*words, "--unit", "N", "--out", str(tmp_path / "o")]) == 1
    assert "said: the unit is newton (--unit newton)" in capsys.readouterr().err


def test_a_press_that_goes_with_no_other_may_have_been_typed_right_and_that_is_said(
    tmp_path: Path, capsys: Captured
) -> None:
    values = ("9.14", "12.40", "-3.31", "0.77", "25.50")
    sent = [f"{v.lstrip('-')} N {'D' if v[0] == '-' else 'U'}\r\n".encode() for v in values]
    words = ["learn", "--tape", str(tape(tmp_path / "t", sent)), *shown(*values), "--most", "50"]
    assert run([*words, "--out", str(tmp_path / "o")]) == 1
    told = capsys.readouterr().err
    assert "press 3 does not go with the others, and -3.31 was typed" in told
    assert "if all is right, it is sent in a form that no way of reading the others has" in told
