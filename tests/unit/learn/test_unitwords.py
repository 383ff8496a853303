"""A unit in the bytes is never overridden in silence, wherever it stands and however it is written;
a word that may be one is asked about, and a word that is plainly none keeps nobody."""

from __future__ import annotations

import struct
import tomllib
from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.saidofmeter import Given
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Line, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity
from tests.unit.learn.test_cli import shown, tape
from tests.unit.learn.test_person import Bench, lesson

SHOWN = ("12.41", "3.05", "7.66")
NEWTON = About(Quantity.FORCE, unit="newton", settled=9)
NOBODY = About(Quantity.FORCE)
GLOSS = About(Quantity.GLOSS, channel="60", settled=9)
SHARE = About(Quantity.TRANSMITTANCE, unit="one", channel="315-400", settled=9)
Captured = pytest.CaptureFixture[str]


def lines(form: str) -> list[bytes]:
    made = [form.format(value, n % 2) for n, value in enumerate(SHOWN)]
    return [f"{line}\r\n".encode("latin-1") for line in made]


def taught(presses: Sequence[bytes], about: About) -> Finding:
    made = [Press(data, Decimal(value)) for data, value in zip(presses, SHOWN, strict=True)]
    return learn(made, about, Registry())


def units(found: Finding) -> object:
    assert found.outcome is Outcome.SURE, found
    unit: object = tomllib.loads(found.profile)["unit"]
    return unit


PLACES = (
    "{0}U", "{0} U", "{0},U", "{0};U", "{0}|U", "{0}\tU", "{0}_U", "{0} [U]", "{0}(U)", "{0}\xa0U",
    "{0} U PK", "{0}U{1}", "{0} U{1}", "{0} UPK", "{0} U-PK", "{0} PK U", "{0};PK;U", "{0},1,U",
    "U {0}", "U={0}", "U;{0}", "[U] {0}", "F(U)={0}", "U PK {0}", "U\r\n{0}", "{0}\r\nUNIT=U",
    "<{0}|U|156", "{0} U 23.5 C",
)  # fmt: skip


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("unit", ["kgf", "Lbf", "oz"])
def test_a_known_unit_anywhere_in_a_line_is_not_read_as_another_one(place: str, unit: str) -> None:
    found = taught(lines(place.replace("U", unit)), NEWTON)
    assert found.outcome is not Outcome.SURE
    assert found.against is not None or found.missing == "word"


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("unit", ["cN", "daN", "N/m", "Nm"])
def test_a_unit_that_no_profile_gives_is_not_read_as_one_that_it_does(
    place: str, unit: str
) -> None:
    assert taught(lines(place.replace("U", unit)), NEWTON).outcome is not Outcome.SURE


@pytest.mark.parametrize(
    ("form", "token"),
    [
        ("{0}kgf{1}", "kgf"),
        ("# {0} kgfPK", "kgf"),
        ("{0} Kgf", "Kgf"),
        ("{0} kgs", "kgs"),
        ("{0}KG{1}", "KG"),
    ],
)
def test_a_unit_that_touches_digits_or_a_word_is_read_and_nothing_need_be_said(
    form: str, token: str
) -> None:
    assert units(taught(lines(form), NOBODY)) == {"tokens": {token: "kilogram_force"}}


@pytest.mark.parametrize(
    ("form", "about", "sent"),
    [
        ("{0} um", GLOSS, "um"),
        ("{0} \xb5m", GLOSS, "\xb5m"),
        ("{0} \xc2\xb5m", GLOSS, "\xb5m"),
        ("{0} %RH", About(Quantity.TRANSMITTANCE, channel="940"), "%RH"),
        ("{0} OD", SHARE, "OD"),
        ("{0} psi", NEWTON, "psi"),
        ("{0} N/25mm", NEWTON, "N/25mm"),
        ("{0} N m", NOBODY, "N m"),
        ("{0} kgf/cm2", NOBODY, "kgf/cm2"),
    ],
)
def test_a_unit_of_something_else_is_quoted_and_refused(form: str, about: About, sent: str) -> None:
    found = taught(lines(form), about)
    assert found.against is not None
    assert found.against.part == "strange"
    assert f"beside the number stands {sent!r}" in found.against.sent


FRAMES: tuple[Callable[[float, bytes], bytes], ...] = (
    lambda value, unit: struct.pack("<f", value) + unit,
    lambda value, unit: b"\xaa\x55" + struct.pack(">f", value) + unit + b"\r\n",
    lambda value, unit: b"\xa5\x01" + struct.pack("<i", round(value * 100)) + b"\x02" + unit,
    lambda value, unit: b"\xa5" + unit + struct.pack(">h", round(value * 100)),
    lambda value, unit: b"\xa5\x01" + f"{value:>8}".encode() + b"\xff" + unit + b"\xfe",
)


@pytest.mark.parametrize("frame", FRAMES)
@pytest.mark.parametrize("unit", [b"kgf", b"gf", b"g"])
def test_a_unit_in_a_binary_frame_is_not_read_as_another_one(
    frame: Callable[[float, bytes], bytes], unit: bytes
) -> None:
    found = taught([frame(float(value), unit) for value in SHOWN], NEWTON)
    assert found.against is not None or found.missing == "word", found


@pytest.mark.parametrize("frame", FRAMES)
def test_the_unit_in_a_frame_that_was_said_is_taken(
    frame: Callable[[float, bytes], bytes],
) -> None:
    presses = [frame(float(value), b"kgf") for value in SHOWN]
    found = taught(presses, About(Quantity.FORCE, unit="kilogram_force"))
    assert found.outcome in (Outcome.SURE, Outcome.MORE)
    assert found.against is None


@pytest.mark.parametrize(
    "form",
    ["{0} PK", "{0},OK", "{0};HOLD;{1}", "{0}|MAX", "{0} V", "PEAK {0}", "{0} T 107", "{0} T=21.5"],
)
def test_a_word_that_is_plainly_no_unit_is_told_and_keeps_nobody(form: str) -> None:
    found = taught(lines(form), NEWTON)
    assert units(found) == {"default": "newton"}
    assert any("the unit is newton: no unit that is known stands" in one for one in found.believed)


@pytest.mark.parametrize(
    ("form", "about", "word"),
    [
        ("{0} Zrq", NEWTON, "Zrq"),
        ("{0}Zrq{1}", NEWTON, "Zrq"),
        ("{0};n", NOBODY, "n"),
        ("{0} GE", GLOSS, "GE"),
        ("{0} A", SHARE, "A"),
        ("N 7 {0}", About(Quantity.FORCE, unit="kilogram_force"), "N"),
    ],
)
def test_a_word_that_may_be_a_unit_is_asked_about(form: str, about: About, word: str) -> None:
    found = taught(lines(form), about)
    assert (found.outcome, found.missing, found.likely) == (Outcome.UNSAID, "word", word)


def test_a_word_that_a_person_names_with_its_unit_stands_in_the_profile_as_that_unit() -> None:
    about = About(Quantity.FORCE, unit="kilogram_force", word="Zrq", settled=9)
    for form in ("{0} Zrq", "{0}Zrq{1}", "R|{0}|Zrq|OK"):
        found = taught(lines(form), about)
        assert units(found) == {"tokens": {"Zrq": "kilogram_force"}}
        assert "the unit stands in the line: Zrq is kilogram_force, as you said" in found.believed


def test_a_word_that_stands_nowhere_is_refused_and_so_is_a_known_one_for_another_unit() -> None:
    for form, word in (("{0} Zrq", "Xq"), ("{0} lbf", "lbf")):
        found = taught(lines(form), About(Quantity.FORCE, unit="newton", word=word))
        assert found.against is not None, form


def test_the_command_asks_for_word_and_unit_together(tmp_path: Path, capsys: Captured) -> None:
    path = str(tape(tmp_path / "t", lines("{0} Zrq")))
    words = ["learn", "--tape", path, *shown(*SHOWN), "--kind", "force", "--most", "50"]
    assert run([*words, "--unit", "newton"])
    told = capsys.readouterr().err
    assert "'Zrq' stands beside the number at every press, and is no unit that is known" in told
    assert '--unit "Zrq=newton"' in told
    assert run([*words, "--unit", "Zrq=newton"]) == 0
    assert 'tokens = { "Zrq" = "newton" }' in capsys.readouterr().out


@pytest.mark.parametrize(("answer", "outcome"), [("N", Outcome.SURE), ("", Outcome.UNSAID)])
def test_at_the_terminal_one_question_is_asked(answer: str, outcome: Outcome) -> None:
    bench = Bench(lines("{0} Zrq"), [*SHOWN, answer, "50"], Line(9600))
    given = Given(kind=Quantity.FORCE, unit="newton", line=Line(9600), least=Decimal(0))
    found, about = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert (found.outcome, about.word) == (outcome, "Zrq" if answer else "")


@pytest.mark.parametrize("form", ["{0} OUT", "{0}Zrq", "{0} Zrq PK", "{0},n"])
@pytest.mark.parametrize("said", ["newton", None])
def test_a_word_that_a_person_calls_no_unit_is_held_and_the_unit_is_what_was_said(
    form: str, said: str | None
) -> None:
    answers = [*SHOWN, "none", *(() if said else ("N",)), "50"]
    bench = Bench(lines(form), answers, Line(9600))
    given = Given(
        kind=Quantity.FORCE, unit=said, line=Line(9600), least=Decimal(0), is_one_setting=True
    )
    found, _ = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert units(found) == {"default": "newton"}
    sent = [data.replace(b"12.41", b"20.02") for data in lines(form)[:1]]
    word = form.translate(str.maketrans("", "", "{}01 ,")).removesuffix("PK")
    sent.append(sent[0].replace(word.encode(), b"IN"))
    good, other = readings(found.family, found.profile, sent, Registry())
    assert [(one.value, one.unit) for one in good] == [(Decimal("20.02"), "newton")]
    assert not other


def test_what_is_asked_of_a_word_names_the_answer_that_it_is_no_unit() -> None:
    bench = Bench(lines("{0} OUT"), [*SHOWN, "no", "none", "50"], Line(9600))
    given = Given(kind=Quantity.FORCE, unit="newton", line=Line(9600), least=Decimal(0))
    found, _ = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert any("none if 'OUT' is no unit at all" in one for one in bench.asked)
    assert any("got 'no', wanted one of newton" in one for one in bench.told)
    told = "the unit is newton: 'OUT', held so, is no unit, as you said"
    assert told in found.believed
    assert told in found.profile


@pytest.mark.parametrize(
    "form",
    [
        "{0};PK;Zrq", "PK;{0};OK;Zrq", "{0},1,Zrq", "{0} Zrq 23.5 C", "Zrq={0}", "Zrq;{0}",
        "[Zrq] {0}", "PK Zrq {0}", "{0}\r\nZrq", "Zrq MODE=PEAK;{0};OK",
    ],
)  # fmt: skip
def test_a_word_away_from_the_number_that_no_table_knows_is_said_to_be_taken_for_a_label(
    form: str,
) -> None:
    found = taught(lines(form), NEWTON)
    assert found.outcome is Outcome.SURE
    words = "this word was taken for a label, not for a unit: 'Zrq'"
    assert [one for one in found.believed if one.startswith(words)]
    assert words in found.profile


def test_words_taken_for_labels_are_told_together_and_plain_ones_are_not() -> None:
    found = taught(lines("Brk Zrq PK;{0};OK;SN4A7"), NEWTON)
    words = "these words were taken for labels, not for a unit: 'Brk', 'Zrq'; if one means another "
    assert f"{words}unit than newton, the values are wrong" in found.believed
    for form in ("{0} kgf;Zrq", "PEAK {0}"):
        about = About(Quantity.FORCE, unit="kilogram_force")
        assert not any("taken for" in one for one in taught(lines(form), about).believed)


def test_a_word_in_a_binary_frame_that_no_table_knows_is_told_too() -> None:
    presses = [b"\xa5Zrq" + struct.pack(">f", float(value)) for value in SHOWN]
    found = taught(presses, NEWTON)
    assert any("taken for a label, not for a unit: 'Zrq'" in one for one in found.believed)


@pytest.mark.parametrize(
    ("form", "about", "word"),
    [
        ("{0}A{1}", SHARE, "A"),
        ("{0} D{1}", SHARE, "D"),
        ("D {0}", SHARE, "D"),
        ("F(A)={0}", SHARE, "A"),
        ("UNIT E\r\n{0}", SHARE, "E"),
        ("N {0}", GLOSS, "N"),
        ("N:{0}", GLOSS, "N"),
        ("UNIT N\r\n{0}", GLOSS, "N"),
        ("{0} PK g", GLOSS, "g"),
        ("{0}m", NEWTON, "m"),
        ("{0}NPK", NEWTON, "NPK"),
    ],
)
def test_a_letter_that_is_a_unit_is_asked_about_wherever_it_stands(
    form: str, about: About, word: str
) -> None:
    found = taught(lines(form), about)
    assert (found.outcome, found.missing, found.likely) == (Outcome.UNSAID, "word", word)
    assert about.unit or about.kind is Quantity.GLOSS
    said = replace(about, unit=about.unit or "gloss_unit", word=word)
    assert taught(lines(form), said).outcome is Outcome.SURE


def test_letters_that_name_another_number_or_a_power_are_asked_about_by_nobody() -> None:
    for form in ("N 7 {0}", "N=7 {0}", "{0} N{1}"):
        found = taught(lines(form), GLOSS)
        assert found.outcome is Outcome.SURE
        told = "this word was taken for a label, not for a unit: 'N'"
        assert any(one.startswith(told) for one in found.believed)
    for form in ("A1 {0}", "D65 {0}"):
        assert taught(lines(form), SHARE).outcome is Outcome.SURE


def test_a_unit_over_a_width_that_a_digit_touches_is_refused_and_so_is_one_in_a_frame() -> None:
    found = taught(lines("{0} N/25mm{1}"), NEWTON)
    assert found.against is not None
    assert "'N/25mm'" in found.against.sent
    presses = [b"\xa5kgf/cm2" + struct.pack(">f", float(value)) for value in SHOWN]
    found = taught(presses, About(Quantity.FORCE, unit="kilogram_force"))
    assert found.against is not None
    assert "'kgf/cm2'" in found.against.sent


def test_a_letter_behind_the_digits_of_a_frame_is_asked_about_and_taken_by_word() -> None:
    presses = [b"\x02\x00" + f"{value:>6}".encode() + b"m\x7f" for value in SHOWN]
    found = taught(presses, NEWTON)
    assert found.likely == "m"
    assert "'m' stands beside the number at every press: a mark, or a unit" in found.believed[-1]
    said = About(Quantity.FORCE, unit="newton", word="m")
    assert taught(presses, said).against is None


def test_a_degree_sign_is_no_word() -> None:
    for code in ("utf-8", "latin-1"):
        presses = [f"60\xb0 {value}\r\n".encode(code) for value in SHOWN]
        assert not any("taken for" in one for one in taught(presses, GLOSS).believed)
