"""A number that was mistyped: the press is named, typed again, and never left out by itself."""

from __future__ import annotations

import struct
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.saidofmeter import Given
from acquire.driverapi.registry import Registry
from acquire.learn import About, Line, Odd, Outcome, Press, learn, odd_one
from acquire.learn.numbers.search import numbers
from acquire.model import Quantity
from tests.unit.learn.test_cli import shown, tape
from tests.unit.learn.test_person import Bench, lesson

Captured = pytest.CaptureFixture[str]
SENT = ("91.6", "45.2", "12.0", "33.1")
TYPED = ("91.4", "45.2", "12.0", "33.1")
LINES = [f"{value} GU\r\n".encode() for value in SENT]
FRAMES = [b"\xa5" + int(Decimal(v) * 10).to_bytes(2, "big") + b"\x0d" for v in SENT]
GLOSS = Given(Quantity.GLOSS, channel="60", least=Decimal(0), most=Decimal(200), line=Line(9600))


def pressed(data: list[bytes], typed: tuple[str, ...]) -> list[Press]:
    return [Press(one, Decimal(text)) for one, text in zip(data, typed, strict=True)]


@pytest.mark.parametrize("data", [LINES, FRAMES], ids=["lines", "frames"])
@pytest.mark.parametrize("place", range(4))
def test_the_press_that_does_not_go_with_the_others_is_named(data: list[bytes], place: int) -> None:
    typed = list(SENT)
    typed[place] = "77.7"
    about = About(Quantity.GLOSS, least=Decimal(0), most=Decimal(200))
    odd = odd_one(pressed(data, tuple(typed)), about, Registry())
    assert odd == Odd(place, Decimal(SENT[place]))


def _float_of(value: str) -> bytes:
    return struct.pack(">f", float(value))


ZERO_FOR = {
    "lines": LINES,
    "integers": FRAMES,
    "packed": [b"\xa5" + bytes.fromhex(v.replace(".", "").zfill(4)) + b"\x0d" for v in SENT],
    "floats": [b"\xa5" + _float_of(v) + b"\x0d" for v in SENT],
    "digits": [b"\xa5" + v.replace(".", "").encode() + b"\x02\x0d" for v in SENT],
}


@pytest.mark.parametrize("form", ZERO_FOR)
@pytest.mark.parametrize("place", range(4))
def test_a_zero_typed_for_another_number_is_named_as_any_other_is(form: str, place: int) -> None:
    typed = list(SENT)
    typed[place] = "0"
    about = About(Quantity.GLOSS, channel="60", least=Decimal(0), most=Decimal(200))
    presses = pressed(ZERO_FOR[form], tuple(typed))
    found = learn(presses, about, Registry())
    assert found.is_nowhere
    assert odd_one(presses, about, Registry()) == Odd(place, Decimal(SENT[place]))


def test_a_byte_that_never_changed_does_not_tell_decimals_that_nothing_else_explains() -> None:
    data = [b"\x02" + bytes.fromhex(v.replace(".", "") + "0") + b"\x0d" for v in SENT]
    assert not numbers(data, [Decimal(value) for value in SENT])


# The words of a unit that are asked about make more than one thing to be said of a meter.
UNSAID = {
    Quantity.GLOSS: (" GU", " Gls", ""),
    Quantity.FORCE: (" N", "mN", " Nwt", " x", ""),
    Quantity.TRANSMITTANCE: (" %", " pct", " D", ""),
}


@pytest.mark.parametrize(
    ("kind", "word"), [(kind, word) for kind, words in UNSAID.items() for word in words]
)
def test_it_is_named_for_each_kind_of_meter_whatever_nobody_said_yet(
    kind: Quantity, word: str
) -> None:
    for form in ("V {0}{1}\r\n", "{1} {0}\r\n", "{0}{1}32\r\n"):
        data = [form.format(value, word).encode() for value in SENT]
        odd = odd_one(pressed(data, ("77.7", *SENT[1:])), About(kind), Registry())
        assert odd is not None
        assert odd.place == 0


def test_a_unit_that_only_a_word_of_the_bytes_may_mean_leaves_the_odd_one_named() -> None:
    data = [f"#7  016{digits}mN32\x03".encode() for digits in ("665", "872", "258", "654")]
    typed = ("166.65", "168.72", "162.58", "165.55")
    odd = odd_one(pressed(data, typed), About(Quantity.FORCE), Registry())
    assert odd is not None
    assert odd.place == 3


def test_two_mistyped_numbers_name_no_press() -> None:
    typed = ("77.7", "66.6", *SENT[2:])
    assert odd_one(pressed(LINES, typed), About(Quantity.GLOSS), Registry()) is None


def test_a_person_is_told_the_press_and_types_it_again() -> None:
    bench = Bench(LINES, [*TYPED, "91.6"], Line(9600))
    found, _ = lesson(bench, GLOSS).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    assert any("one of the three numbers may be mistyped" in text for text in bench.told)
    asked = bench.asked[-1]
    assert "press 1 shows 91.6 by its bytes, and 91.4 was typed" in asked


def test_a_person_who_stays_with_a_number_gets_no_profile() -> None:
    bench = Bench(LINES, [*TYPED, ""], Line(9600))
    found, _ = lesson(bench, GLOSS).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.NONE
    assert "press 1 shows 91.6" in found.mistyped


def test_presses_are_counted_with_those_that_were_left_out(
    tmp_path: Path, capsys: Captured
) -> None:
    out = tmp_path / "mine.toml"
    path = tape(tmp_path / "t", [b"HELLO\r\n", *LINES])
    words = ["learn", "--tape", str(path), *shown("-", *TYPED), "--geometry", "60"]
    assert run([*words, "--out", str(out)]) == 1
    told = capsys.readouterr().err
    assert "press 2 shows 91.6 by its bytes, and 91.4 was typed" in told
    assert "--shown 91.6" in told
    assert not out.exists()


def test_of_three_presses_it_is_said_that_one_may_be_mistyped(
    tmp_path: Path, capsys: Captured
) -> None:
    path = tape(tmp_path / "t", LINES[:3])
    words = ["learn", "--tape", str(path), *shown(*TYPED[:3]), "--geometry", "60"]
    assert run(words) == 1
    told = capsys.readouterr().err
    assert "one of the three numbers may be mistyped" in told
    assert "press once more" in told
