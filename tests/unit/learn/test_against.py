"""What was said of a meter never overrides what its bytes say: the contradiction is named."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.saidofmeter import Given
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Line, Outcome, Press, evident_kind, learn
from acquire.model import Quantity
from tests.unit.learn.test_cli import shown, tape
from tests.unit.learn.test_person import Bench, lesson

SHOWN = ("91.40", "45.20", "12.00")
Captured = pytest.CaptureFixture[str]


def lines(form: str) -> list[bytes]:
    return [f"{form.format(value)}\r\n".encode() for value in SHOWN]


def framed(form: str) -> list[bytes]:
    """Between STX and ETX, with the exclusive or behind it."""
    made = []
    for value in SHOWN:
        body = f"{form.format(value)}\x03".encode()
        sum_ = 0
        for byte in body:
            sum_ ^= byte
        made.append(b"\x02" + body + bytes([sum_]))
    return made


def taught(presses: Iterable[bytes], about: About) -> Finding:
    made = [Press(data, Decimal(value)) for data, value in zip(presses, SHOWN, strict=True)]
    return learn(made, about, Registry())


GLOSS_20 = About(Quantity.GLOSS, channel="20")
NEWTON = About(Quantity.FORCE, unit="newton")


@pytest.mark.parametrize(
    ("presses", "about", "sent"),
    [
        (lines("GEO 60  {} GU"), GLOSS_20, "60 degrees"),
        (lines("60deg {} GU"), GLOSS_20, "60 degrees"),
        (lines("60\xb0 {} GU"), GLOSS_20, "60 degrees"),
        (lines("{} lbf"), About(Quantity.GLOSS, channel="60"), "'lbf', a unit of force"),
        (lines("T {} %"), About(Quantity.GLOSS, channel="60"), "'%', a unit of transmittance"),
        (lines("G {} GU"), NEWTON, "'GU', a unit of gloss"),
        (lines("GU: {}"), NEWTON, "'GU', a unit of gloss"),
        (lines("{} lbf"), NEWTON, "'lbf', which is pound_force"),
        (lines("lbf {}"), NEWTON, "'lbf', which is pound_force"),
        (lines("kgf MODE=PEAK;{};OK"), NEWTON, "'kgf', which is kilogram_force"),
        (lines("PK {} AV   0.57 kgf"), NEWTON, "'kgf', which is kilogram_force"),
        (lines("UNIT kgf\r\n{}"), NEWTON, "'kgf', which is kilogram_force"),
        (lines("kgf MODE=PEAK;{};OK"), About(Quantity.GLOSS, channel="60"), "a unit of force"),
        (framed("{}\x01  kgf"), NEWTON, "'kgf', which is kilogram_force"),
        (lines("940nm {} %"), About(Quantity.TRANSMITTANCE, channel="315-400"), "940nm"),
        (framed("{:>8} GU"), NEWTON, "'GU', a unit of gloss"),
        (framed("{:>8} lbf"), NEWTON, "'lbf', which is pound_force"),
        (framed("GEO 60 {:>8} GU"), GLOSS_20, "60 degrees"),
    ],
)
def test_what_was_said_against_the_bytes_is_refused(
    presses: list[bytes], about: About, sent: str
) -> None:
    found = taught(presses, about)
    assert found.outcome is Outcome.NONE
    assert found.against is not None
    assert sent in found.against.sent
    assert not found.profile


@pytest.mark.parametrize(
    ("form", "about"),
    [
        ("GEO 60  {} GU", About(Quantity.GLOSS, channel="60")),
        ("60 {} GU", GLOSS_20),
        ("N {} V", NEWTON),
        ("{} lbf", About(Quantity.FORCE, unit="pound_force")),
        ("380-780nm {} %", About(Quantity.TRANSMITTANCE, channel="380-780")),
        ("550nm {} %", About(Quantity.TRANSMITTANCE, channel="380-780")),
    ],
)
def test_what_was_said_and_goes_with_the_bytes_is_taken(form: str, about: About) -> None:
    assert taught(lines(form), about).outcome is Outcome.SURE


def test_the_message_names_both_sides_and_the_next_step(tmp_path: Path, capsys: Captured) -> None:
    path = str(tape(tmp_path / "t", lines("GEO 60  {} GU")))
    out = tmp_path / "mine.toml"
    assert run(["learn", "--tape", path, *shown(*SHOWN), "--geometry", "20", "--out", str(out)])
    told = capsys.readouterr().err
    assert "said: the geometry is 20 (--geometry 20); sent: the bytes name 60 degrees" in told
    assert "leave --geometry out" in told
    assert not out.exists()


def test_an_answer_at_a_question_against_the_bytes_is_refused_and_asked_for_again() -> None:
    bench = Bench(lines("940nm {} %"), [*SHOWN, "315-400", "940"], Line(9600))
    given = Given(line=Line(9600))
    found, about = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert (found.outcome, about.channel) == (Outcome.SURE, "940")
    assert any(
        "the band is 315-400" in text and "in every press stands '940nm'" in text
        for text in bench.told
    )


def test_an_answer_that_is_given_twice_ends_the_lesson_and_so_does_an_option() -> None:
    for answers, band in (([*SHOWN, "315-400", "315-400"], None), (SHOWN, "315-400")):
        bench = Bench(lines("940nm {} %"), answers, Line(9600))
        given = Given(channel=band, line=Line(9600))
        found, _ = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
        assert found.against is not None
        assert found.against.said == "the band is 315-400 (--band 315-400)"


def test_a_unit_that_stands_in_a_frame_is_not_said_to_be_missing() -> None:
    found = taught(framed("{:>8} GU"), About(Quantity.GLOSS, channel="60"))
    assert "the unit is gloss_unit: 'GU' stands behind the number, held so" in found.believed


@pytest.mark.parametrize("battery", [("71", "71", "71"), ("71", "71", "70")], ids=["still", "less"])
@pytest.mark.parametrize("form", ["ST | {u} {v} | {b}%", "{u}: {v} {b}%", "{u} {v},{b}%"])
def test_a_unit_right_before_its_number_is_its_unit_and_a_percent_is_that_of_its_own(
    form: str, battery: tuple[str, ...]
) -> None:
    sent = [
        f"{form.format(u='gf', v=v, b=b)}\r\n".encode()
        for v, b in zip(SHOWN, battery, strict=False)
    ]
    presses = [Press(data, Decimal(v)) for data, v in zip(sent, SHOWN, strict=False)]
    assert evident_kind(presses) is Quantity.FORCE
    for unit in (None, "gram_force"):
        found = learn(presses, About(Quantity.FORCE, unit=unit), Registry())
        assert found.outcome is Outcome.SURE, found
        assert "the unit is gram_force: 'gf' stands in the bytes, held so" in found.believed
        assert 'default = "gram_force"' in found.profile
    said = learn(presses, NEWTON, Registry())
    assert said.against is not None
    assert "leave --unit out" in said.against.next_step


def test_a_unit_behind_another_number_is_that_ones_and_is_to_be_said() -> None:
    presses = [Press(f"12 gf {v} 71%\r\n".encode(), Decimal(v)) for v in SHOWN]
    assert learn(presses, About(Quantity.FORCE), Registry()).missing == "unit"
    said = learn(presses, NEWTON, Registry())
    assert said.against is not None
    assert "name --unit gram_force" in said.against.next_step
    named = learn(presses, About(Quantity.FORCE, unit="gram_force"), Registry())
    assert named.outcome is Outcome.SURE


@pytest.mark.parametrize(
    "form", ["kgf {};lbf {}", "kgf {}, lbf {}", "kgf:{} lbf:{}", "ST | kgf {} | lbf {}"]
)
def test_of_two_units_before_and_behind_the_number_a_person_says_which_is_its_own(
    form: str,
) -> None:
    others = ("201.50", "99.65", "26.46")
    sent = [f"{form.format(*both)}\r\n".encode() for both in zip(SHOWN, others, strict=True)]
    assert taught(sent, About(Quantity.FORCE)).missing == "unit"
    found = taught(sent, About(Quantity.FORCE, "kilogram_force"))
    assert found.outcome is Outcome.SURE
    assert 'default = "kilogram_force"' in found.profile
    said = taught(sent, About(Quantity.FORCE, "newton")).against
    assert said is not None
    assert "--unit kilogram_force or --unit pound_force" in said.next_step
