"""Presses of several geometries, bands or units are never read as those of one that was said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.lessonwords import telling
from acquire.cli.saidofmeter import Given
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Line, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity
from tests.unit.learn.test_cli import shown, tape
from tests.unit.learn.test_person import Bench, lesson

ANGLES = ("20", "60", "85")
SHOWN = ("91.4", "45.2", "12.0", "33.3")
REGISTRY = Registry()
GLOSS = About(Quantity.GLOSS, channel="60")
FORCE = About(Quantity.FORCE, unit="pound_force")
SHARE = About(Quantity.TRANSMITTANCE, unit="percent", channel="315-400")


def taught(form: str, marks: Sequence[object], about: About, end: str = "\r\n") -> Finding:
    sent = [form.format(mark, value) for mark, value in zip(marks, SHOWN, strict=False)]
    made = [
        Press(f"{line}{end}".encode("latin-1"), Decimal(value))
        for line, value in zip(sent, SHOWN, strict=False)
    ]
    return learn(made, about, REGISTRY)


def is_refused(found: Finding, words: str) -> bool:
    """Whether nothing is learned, and it says of what there were several and what to do."""
    said = " ".join(found.believed)
    is_told = words in said and "press three times or more" in found.next_step
    is_told &= found.wanted.startswith("presses of one ")
    return found.outcome is Outcome.MORE and not found.profile and is_told


def told_by(found: Finding, form: str) -> dict[str, str]:
    """As which geometry a press of each is read; empty where it is noise."""
    sent = [f"{form.format(angle, '33.3')}\r\n".encode() for angle in ANGLES]
    here = readings(found.family, found.profile, sent, REGISTRY)
    return {a: one[0].channel if one else "" for a, one in zip(ANGLES, here, strict=True)}


@pytest.mark.parametrize("angles", [(60, 20, 60), (20, 20, 60), (85, 60, 85, 85)])
@pytest.mark.parametrize(
    "form",
    [
        "{1} GU {0}",
        "{1},GU,{0}",
        "{1} GU @{0}",
        "{1} GU G{0}",
        "G{0},GU,{1}",
        "{0}GU {1}",
        "M1G{0}A {1}",
        "0{0} {1} GU",
        "{0}.0 {1} GU",
        '{{"value":{1},"unit":"GU","at":{0}}}',
        "M {0}\r\n{1} GU",
    ],
)
def test_a_geometry_that_changed_is_never_read_as_the_one_that_was_said(
    form: str, angles: Sequence[int]
) -> None:
    assert is_refused(taught(form, angles, GLOSS), "several geometries, by ")


@pytest.mark.parametrize("angles", [(60, 20, 85), (85, 60, 60, 20), (60, 20, 60)])
@pytest.mark.parametrize(
    "form",
    [
        "{0}deg {1} GU",
        "{0}DEG\t{1}\tGU",
        "{1} GU {0}deg",
        "G{0} {1} GU",
        "{0}d {1} GU",
        "GU{0} {1}",
        "<{0}>: [{1}] GU",
        "A={0}=+ {1} GU",
        "{1} GU GEO{0}",
        '{{"value":{1},"unit":"GU","angle":{0},"status":"OK"}}',
    ],
)
def test_one_that_letters_or_a_key_name_is_read_by_its_token_and_no_other_is(
    form: str, angles: Sequence[int]
) -> None:
    found = taught(form, angles, About(Quantity.GLOSS))
    seen = sorted({str(angle) for angle in angles})
    assert told_by(found, form) == {angle: angle if angle in seen else "" for angle in ANGLES}
    words = f"each line says its geometry: {', '.join(seen)} degrees"
    assert any(one.startswith(words) for one in found.believed)
    assert not any(angle in one for one in found.unseen for angle in ("206085", "2060"))


@pytest.mark.parametrize("form", ["{1} GU {0}", "{1},GU,{0}", "G{0},GU,{1}", "{1} GU @{0}"])
def test_a_place_at_which_all_geometries_were_seen_says_them_wherever_it_stands(form: str) -> None:
    found = taught(form, (60, 20, 85), About(Quantity.GLOSS))
    assert told_by(found, form) == {angle: angle for angle in ANGLES}


def test_a_geometry_that_was_said_and_that_no_line_says_is_refused() -> None:
    found = taught("{0}deg {1} GU", (20, 85, 20), GLOSS)
    assert found.against is not None
    assert found.against.sent == "the bytes name 20 and 85 degrees"


@pytest.mark.parametrize("form", ["T{0} {1} GU", "T {0} {1} GU", "BAT{0} {1} GU"])
def test_behind_the_label_of_a_temperature_or_a_charge_it_is_not_read(form: str) -> None:
    assert "(?P<geometry>" not in taught(form, (60, 20, 85), GLOSS).profile


MARKS = [("365nm", "940nm", "550nm"), ("365nm", "940nm", "365nm")]


@pytest.mark.parametrize("marks", MARKS)
@pytest.mark.parametrize("form", ["{0} {1} %", "{1}% {0}", "T({0})={1}%"])
def test_a_band_that_changed_is_never_read_as_the_one_that_was_said(
    form: str, marks: Sequence[str]
) -> None:
    found = taught(form, marks, SHARE)
    assert not found.profile
    assert found.against is not None
    assert found.against.sent.startswith("presses say their band by '365nm' and '940nm'")


@pytest.mark.parametrize("marks", MARKS)
def test_nor_where_a_line_of_its_own_says_it(marks: Sequence[str]) -> None:
    assert is_refused(taught("{0}\r\n{1} %", marks, SHARE), "several bands, by '365nm'")


@pytest.mark.parametrize(
    "marks", [("365", "940", "365"), ("365", "940", "550"), ("315-400", "780-1400", "315-400")]
)
@pytest.mark.parametrize("label", ["", "BAND=", "MODE:", "WL "])
def test_so_it_is_of_such_a_line_in_digits_alone(marks: Sequence[str], label: str) -> None:
    assert is_refused(taught(f"{label}{{0}}\r\n{{1}} %", marks, SHARE), "several bands, by ")


@pytest.mark.parametrize("marks", [("A", "B", "B"), ("A", "C", "A"), ("LOW", "MID", "MID")])
@pytest.mark.parametrize("form", ["{1} {0} %", "{1}{0}%"])
def test_a_word_between_a_share_and_its_sign_is_asked_about(
    form: str, marks: Sequence[str]
) -> None:
    found = taught(form, marks, SHARE)
    assert found.outcome is not Outcome.SURE, found.believed
    assert not found.profile


@pytest.mark.parametrize("marks", [("UVA", "IR", "UVA"), ("UV-A", "UV-B", "UV-A")])
def test_nor_is_one_by_its_name_before_a_person_says_which_it_is(marks: Sequence[str]) -> None:
    found = taught("{0}: {1} %", marks, SHARE)
    assert (found.outcome, found.missing, found.likely) == (Outcome.UNSAID, "band", marks[0])
    assert not found.profile


UNITS = [("lbf", "N", "lbf"), ("kgf", "lbf", "lbf"), ("N", "g", "N"), ("lb", "lbf", "kN", "lb")]


@pytest.mark.parametrize("marks", UNITS)
@pytest.mark.parametrize(
    "form", ["UNIT {0}\r\nVAL {1}", "{1}\r\n{0}", "MODE PEAK {0}\r\n{1}", "{1}\r\nMAX 50 {0} OK"]
)
def test_a_unit_that_changed_in_a_line_of_its_own_is_never_read_as_the_one_that_was_said(
    form: str, marks: Sequence[str]
) -> None:
    found = taught(form, marks, FORCE)
    assert is_refused(found, "the presses were of several units, by ")


def test_so_it_is_of_a_word_there_that_no_table_knows_until_a_person_says_that_it_is_none() -> None:
    found = taught("{1}\r\n{0}", ("lbf", "XX", "lbf"), FORCE)
    assert (found.missing, found.profile) == ("setting", "")


def test_two_words_for_one_unit_are_one() -> None:
    found = taught("{1}\r\n{0}", ("lbf", "lb", "lbf"), FORCE)
    assert found.outcome is Outcome.SURE, found.believed


def test_where_the_number_has_its_own_unit_that_of_another_line_is_no_doubt() -> None:
    found = taught("{1} lbf\r\nMAX 50 {0}", ("N", "kN", "N"), FORCE)
    assert found.missing != "setting"
    assert not is_refused(found, "several units")


@pytest.mark.parametrize("unit", [b"\x00kgf", b" lbf"])
def test_units_that_change_in_a_frame_are_told_as_well(unit: bytes) -> None:
    units = (unit, b"\x00ozf", unit)
    made = [
        Press(b"\xaa" + int(Decimal(v) * 10).to_bytes(2, "big") + one + b"\x07", Decimal(v))
        for v, one in zip(SHOWN, units, strict=False)
    ]
    about = About(Quantity.FORCE, unit="pound_force", most=Decimal(100), least=Decimal(0))
    assert is_refused(learn(made, about, REGISTRY), "several units")


@pytest.mark.parametrize("zero", ["", "0"])
def test_of_several_in_frames_none_is_said_of_all(zero: str) -> None:
    made = [
        Press(f"\x01{zero}{angle}G".encode() + b"\x9e" + f"{value}\x00".encode(), Decimal(value))
        for angle, value in zip((60, 20, 60, 85), SHOWN, strict=True)
    ]
    assert is_refused(learn(made, GLOSS, REGISTRY), "several geometries, by '60', '20' and '85'")
    made = [
        Press(f"\x01{band}nm".encode() + b"\x9e" + f"{value}\x00".encode(), Decimal(value))
        for band, value in zip((365, 940, 365, 550), SHOWN, strict=True)
    ]
    assert is_refused(
        learn(made, SHARE, REGISTRY), "several bands, by '365nm', '940nm' and '550nm'"
    )


@pytest.mark.parametrize("shown", [("17.3", "35.6", "53.6"), ("17.3", "35.2", "52.1")])
@pytest.mark.parametrize("mark", [b"\xaaU", b"\xaaI"])
def test_letters_that_are_bytes_of_a_number_name_no_band(
    shown: tuple[str, ...], mark: bytes
) -> None:
    made = []
    for value in shown:
        digits = bytes.fromhex(f"{int(Decimal(value) * 10):04}")[::-1]
        frame = mark + digits + b"\x00"
        made.append(Press(frame + bytes((sum(frame) & 0xFF,)), Decimal(value)))
    found = learn(made, SHARE, REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed


@pytest.mark.parametrize("names", [(b"UV ", b"VIS", b"UV "), (b"IR\x00", b"UVA", b"UVA")])
def test_names_of_bands_in_frames_are_told_where_every_press_has_text(
    names: tuple[bytes, ...],
) -> None:
    made = [
        Press(b"\xaa" + int(Decimal(v) * 10).to_bytes(2, "big") + name + b"\x07", Decimal(v))
        for v, name in zip(SHOWN, names, strict=False)
    ]
    assert is_refused(learn(made, SHARE, REGISTRY), "several bands")


def test_what_is_no_geometry_is_told_by_one_more_press() -> None:
    few = taught("{1} GU {0}", (60, 20, 60), GLOSS)
    assert "press once more when another number stands there" in few.next_step
    more = taught("{1} GU {0}", (60, 20, 60, 61), GLOSS)
    assert not is_refused(more, "several geometries")


@pytest.mark.parametrize("form", ["BAT {0} V {1}", "{1} GU {0}%"])
def test_a_charge_that_was_85_and_60_is_no_geometry(form: str) -> None:
    assert not is_refused(taught(form, (85, 85, 60), GLOSS), "several geometries")


@pytest.mark.parametrize(("form", "about"), [("{0}d {1} GU", GLOSS), ("{0}nm {1} %", SHARE)])
def test_one_that_every_press_has_is_no_doubt(form: str, about: About) -> None:
    mark = "60" if about is GLOSS else "365"
    assert taught(form, (mark,) * 3, about).outcome is Outcome.SURE


@pytest.mark.parametrize(
    ("form", "about", "marks", "wanted"),
    [
        ("{0}\r\n{1} %", SHARE, ("365nm", "940nm", "940nm"), "presses of one band"),
        ("MODE {0}\r\n{1}", FORCE, ("lbf", "N", "lbf"), "presses of one unit"),
    ],
)
def test_where_no_further_press_tells_none_is_asked_for(
    form: str, about: About, marks: Sequence[str], wanted: str,
    tmp_path: Path, capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    sent = [f"{form.format(m, v)}\r\n".encode() for m, v in zip(marks, SHOWN, strict=False)]
    given = Given(about.kind, about.unit, about.channel, line=Line(9600), least=Decimal(0))
    bench = Bench(sent, SHOWN[:3], Line(9600))
    found, _ = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert (found.outcome, found.is_anew) == (Outcome.MORE, True)
    named = ["--kind", about.kind.value, "--unit", about.unit or ""]
    named += ["--band", about.channel] if about.channel else []
    words = ["learn", "--tape", str(tape(tmp_path / "t", sent)), *shown(*SHOWN[:3]), *named]
    assert run(words) == 1
    told = capsys.readouterr().err
    assert f"wanted  {wanted}\n" in told
    assert "set the meter to one" in told
    assert "once more" not in told


def pressed(form: str, marks: Sequence[object]) -> list[bytes]:
    sent = [form.format(mark, value) for mark, value in zip(marks, SHOWN, strict=False)]
    return [f"{line}\r\n".encode() for line in sent]


ASKED = ["{1},GU,{0}", "{1} GU {0}", "{1} GU G{0}", "T23C;{1};{0};OK"]
TWICE = ["{1} GU {0} {0}", "{1},OK,{0},{0}", "{1} GU {0} x G{0}"]


@pytest.mark.parametrize("form", [*ASKED, *TWICE])
@pytest.mark.parametrize("angles", [(60, 20, 60), (20, 20, 60), (60, 85, 85)])
def test_a_place_that_a_person_says_is_the_geometry_of_each_press_is_read_as_it(
    form: str, angles: Sequence[int]
) -> None:
    bench = Bench(pressed(form, angles), [*SHOWN[:3], "y", ""], Line(9600))
    given = Given(Quantity.GLOSS, line=Line(9600))
    found, about = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE, found.believed
    assert about.has_angles
    assert sum("Is that the geometry of each press?" in one for one in bench.asked) == 1
    seen = sorted({str(angle) for angle in angles})
    assert f"each line says its geometry: {', '.join(seen)} degrees, as you said" in found.believed
    assert told_by(found, form) == {one: one if one in seen else "" for one in ANGLES}


def test_who_does_not_say_so_is_asked_once_and_for_another_press() -> None:
    sent = pressed("{1};GU;{0};OK", (60, 20, 60, 33))
    bench = Bench(sent, [*SHOWN[:3], "", SHOWN[3], "y", "n"], Line(9600))
    given = Given(Quantity.GLOSS, channel="60", line=Line(9600))
    found, about = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert sum("Is that the geometry" in one for one in bench.asked) == 1
    assert not about.has_angles
    assert "geometry>" not in found.profile


@pytest.mark.parametrize("form", ["BAT {0}\r\n{1} GU", "{1} GU {0} {2}", "BAT {0} {1} GU {0}%"])
def test_a_charge_or_two_that_differ_are_no_place_that_a_person_is_asked_about(
    form: str,
) -> None:
    made = [
        Press(f"{form.format(angle, v, other)}\r\n".encode(), Decimal(v))
        for angle, other, v in zip((60, 20, 60), (60, 60, 20), SHOWN, strict=False)
    ]
    assert learn(made, GLOSS, REGISTRY).missing != "angles"


@pytest.mark.parametrize(
    "form", [*TWICE, "{0} {1} GU {0}", "{0},{1},{0},GU", "A{0} {1} GU {0}deg", "{0} {0} {1}"]
)
def test_where_a_line_says_its_geometry_twice_both_have_to_be_the_same(form: str) -> None:
    found = taught(form, (60, 20, 85, 60), replace(GLOSS, channel=None, has_angles=True))
    assert found.outcome is Outcome.SURE, found.believed
    assert told_by(found, form) == {one: one for one in ANGLES}
    line = form.format(60, "55.5")
    for torn in (line.replace("60", "20", 1), "20".join(line.rsplit("60", 1))):
        assert readings("line", found.profile, [f"{torn}\r\n".encode()], REGISTRY) == [[]]


BESIDE = ["{0}\r\n{1} GU", "{1} GU\r\nANGLE {0}", "NEW\r\n{1} GU\r\nG{0}deg\r\nEND"]


@pytest.mark.parametrize("form", BESIDE)
def test_a_line_that_a_person_says_has_the_geometry_of_each_press_gives_it_to_the_number(
    form: str,
) -> None:
    sent = pressed(form, (60, 20, 60))
    bench = Bench(sent, [*SHOWN[:3], "y", ""], Line(9600))
    given = Given(Quantity.GLOSS, line=Line(9600))
    found, about = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE, found.believed
    assert about.has_angles
    assert sum("Is that the geometry of each press?" in one for one in bench.asked) == 1
    assert not any("which was the same at every press" in one for one in found.unseen)
    says = "a line beside that of the number says its geometry: 20, 60 degrees, as you said"
    assert says in found.believed
    assert told_by(found, form) == {"20": "20", "60": "60", "85": ""}
    torn = form.format(60, "55.5").replace("60", "6O").encode()
    alone = b"55.5 GU"
    for line in (torn, alone):
        assert readings("line", found.profile, [line + b"\r\n"], REGISTRY) == [[]]


@pytest.mark.parametrize("form", ["n={0} g=60 {1} GU", "{1} GU;M60A;{0}", "60;{1} GU;{0}"])
def test_where_another_geometry_stood_still_one_that_was_all_three_is_asked_about(
    form: str,
) -> None:
    about = replace(GLOSS, channel=None)
    found = taught(form, ANGLES, about)
    assert (found.missing, found.profile) == ("angles", "")
    alone = form.replace("g=60 ", "").replace(";M60A", "").replace("60;", "")
    assert taught(alone, ANGLES, about).outcome is Outcome.SURE


def test_one_geometry_that_was_said_of_presses_of_several_is_refused_and_not_dropped() -> None:
    about = replace(GLOSS, has_angles=True)
    for form in ("{0} {1}", "{1} GU {0}", "ANGLE={0};{1}", *BESIDE):
        found = taught(form, (60, 20, 60), about)
        assert (found.outcome, found.profile) == (Outcome.NONE, ""), form
        assert found.against is not None
        assert found.against.said == "the geometry is 60 (--geometry 60)"
        assert (
            found.against.sent
            == "the bytes say a geometry of 60 at presses 1 and 3 and 20 at press 2"
        )
        assert found.next_step.startswith(
            "leave --geometry out: each press is read at the geometry"
        )


def test_one_that_was_said_of_a_line_of_all_three_is_that_of_the_number_that_was_shown() -> None:
    form = "20 1{1} 60 {1} 85 2{1}"
    assert taught(form, ANGLES, GLOSS).outcome is Outcome.SURE
    found = taught(form, ANGLES, replace(GLOSS, channel="85"))
    assert found.against is not None
    assert found.against.sent == "the bytes say a geometry of 60 at every press"


def test_a_line_of_a_geometry_that_no_person_speaks_for_is_held_or_refused() -> None:
    for form in BESIDE:
        assert taught(form, (60, 20, 60), GLOSS).missing == "angles"
        found = taught(form, (60, 60, 60), GLOSS)
        assert found.outcome is Outcome.SURE
        assert told_by(found, form) == {"20": "", "60": "60", "85": ""}
    two = "A {0}\r\n{1} GU\r\nB {0}"
    assert taught(two, (60, 20, 60), replace(GLOSS, has_angles=True)).outcome is Outcome.MORE


def test_the_command_says_that_a_person_may_say_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sent = pressed("{1},GU,{0}", (60, 20, 60))
    words = ["learn", "--tape", str(tape(tmp_path / "t", sent)), *shown(*SHOWN[:3])]
    assert run([*words, "--geometry", "60"]) == 1
    assert "learn without --shown, and say when asked" in capsys.readouterr().err


def test_what_may_be_no_geometry_is_told_by_a_press_with_another_number() -> None:
    found = taught("{1} GU @{0}", (60, 20, 60), GLOSS)
    assert found.next_step.endswith(
        "press once more when another number stands there, and learn from all presses together"
    )
    assert not found.is_anew
    assert telling(found)[-1].endswith("or, if these are none, one with another number there")
    assert not is_refused(taught("{1} GU @{0}", (60, 20, 60, 33), GLOSS), "several geometries")
