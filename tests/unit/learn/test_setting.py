"""Frames of several geometries, bands or units are never read as those of the one that was said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.saidofmeter import Given
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Line, Outcome, Press, learn, odd_one
from acquire.learn.profile.proved import readings
from acquire.model import Quantity
from tests.unit.learn.test_cli import Captured, shown, tape
from tests.unit.learn.test_person import Bench, lesson

SHOWN = ("91.4", "45.2", "12.0", "33.3", "70.1", "51.8")
REGISTRY = Registry()
GLOSS = About(Quantity.GLOSS, channel="60", most=Decimal(120), least=Decimal(0))
FORCE = About(Quantity.FORCE, unit="newton", most=Decimal(100), least=Decimal(0))
SHARE = About(
    Quantity.TRANSMITTANCE, unit="percent", channel="315-400", most=Decimal(100), least=Decimal(0)
)


def sent(codes: Sequence[int], value: str, *, sum_: bool = False) -> bytes:
    steps = int(Decimal(value) * 10)
    body = b"\xaa\x55\x00" + steps.to_bytes(2, "big") + bytes(codes)
    return body + (bytes((sum(body) & 0xFF,)) if sum_ else b"\x03")


def pressed(codes: Sequence[int | Sequence[int]]) -> list[Press]:
    rows = [(one,) if isinstance(one, int) else one for one in codes]
    return [
        Press(sent(row, value), Decimal(value)) for row, value in zip(rows, SHOWN, strict=False)
    ]


def taught(codes: Sequence[int | Sequence[int]], about: About = GLOSS) -> Finding:
    return learn(pressed(codes), about, REGISTRY)


def told_by(found: Finding, codes: Sequence[int], value: str = "33.3") -> list[str]:
    """As which geometry a press with each code is read; empty where it is noise."""
    data = [sent((code,), value) for code in codes]
    here = readings(found.family, found.profile, data, REGISTRY)
    return [one[0].channel if one else "" for one in here]


@pytest.mark.parametrize(
    ("bytes_", "angles"),
    [
        ((0x3C, 0x14, 0x3C), ["20", "60", ""]),
        ((0x55, 0x3C, 0x14), ["20", "60", "85"]),
        ((0x14, 0x14, 0x55, 0x14), ["20", "", "85"]),
    ],
)
def test_a_byte_that_is_a_geometry_at_every_press_is_read_by_its_token(
    bytes_: Sequence[int], angles: list[str]
) -> None:
    found = taught(bytes_, replace(GLOSS, channel=None))
    assert found.outcome is Outcome.SURE
    assert told_by(found, (0x14, 0x3C, 0x55)) == angles
    assert told_by(found, (0x00, 0x15)) == ["", ""]
    assert any("byte 5 says the geometry: " in one for one in found.believed)


def test_so_is_one_in_packed_decimals_of_which_no_status_has_the_bits() -> None:
    found = taught((0x20, 0x85, 0x60), replace(GLOSS, channel=None))
    assert told_by(found, (0x20, 0x60, 0x85, 0x14)) == ["20", "60", "85", ""]
    assert taught((0x20, 0x60, 0x20)).missing == "setting"


def test_where_the_frame_says_the_geometry_nobody_is_asked_for_it() -> None:
    found = taught((0x3C, 0x14, 0x3C), replace(GLOSS, channel=None))
    assert told_by(found, (0x14, 0x3C)) == ["20", "60"]


def test_one_that_was_said_where_presses_were_of_several_is_refused_and_not_dropped() -> None:
    found = taught((0x14, 0x3C, 0x55))
    assert found.outcome is Outcome.NONE
    assert found.against is not None
    assert found.against.said == "the geometry is 60 (--geometry 60)"
    assert (
        found.against.sent
        == "the bytes say a geometry of 20 at press 1, 60 at press 2 and 85 at press 3"
    )
    assert "leave --geometry out" in found.next_step


def test_so_is_that_all_presses_were_of_one_setting() -> None:
    about = replace(GLOSS, channel=None, settled=3)
    found = taught((0x14, 0x3C, 0x14), about)
    assert found.against is not None
    assert found.against.said == "all presses were of one geometry (--one-setting)"
    assert (
        found.against.sent == "the bytes say a geometry of 20 at presses 1 and 3 and 60 at press 2"
    )
    assert "leave --one-setting out" in found.next_step
    # What was said of the first presses holds for them alone.
    assert taught((0x14, 0x14, 0x14, 0x3C), about).outcome is Outcome.SURE
    units = ("91.4 N\r\n", "45.2 lbf\r\n", "12.0 N\r\n")
    made = [Press(one.encode(), Decimal(one.split()[0])) for one in units]
    found = learn(made, About(Quantity.FORCE, settled=3), REGISTRY)
    assert found.against is not None
    assert found.against.said == "all presses were of one unit (--one-setting)"


def test_a_geometry_that_was_said_and_that_no_frame_says_is_refused() -> None:
    found = taught((0x14, 0x55, 0x14))
    assert found.against is not None
    assert found.against.sent == "the bytes name 20 and 85 degrees"


CODES = [
    (0, 1, 0),
    (1, 2, 2, 1),
    (2, 0, 1, 0, 2),
    (1, 2, 4),
    (0x00, 0x80, 0x00),
    (0x20, 0x21, 0x20),
    (0x20, 0x28, 0x21, 0x20),
    (0x31, 0x33, 0x31),
    (0x41, 0x42, 0x41),
    (0x4E, 0x6B, 0x4E),
    (0x11, 0x12, 0x11),
    (0x0A, 0x14, 0x0A),
    (0x0F, 0x10, 0x0F),
    (0x11, 0x22, 0x11),
    (0x24, 0x5E, 0x24),
    (0x55, 0xAA, 0x55, 0x55),
    (0x15, 0x16, 0x15),
    (0x17, 0x17, 0x18, 0x18),
    (0x5E, 0x5D, 0x5D),
]


@pytest.mark.parametrize("codes", CODES)
@pytest.mark.parametrize(("about", "what"), [(GLOSS, "geometry"), (FORCE, "unit"), (SHARE, "band")])
def test_a_code_that_changed_is_asked_about_and_not_taken_for_a_status(
    codes: Sequence[int], about: About, what: str
) -> None:
    found = taught(codes, about)
    assert (found.outcome, found.missing, found.profile) == (Outcome.UNSAID, "setting", "")
    assert found.believed[-1].startswith(f"byte 5 was {codes[0]:02X} at press")
    assert found.believed[-1].endswith(
        f": that may be another {what}, and a profile would say one of all"
    )
    assert f"set the meter to one {what}, press three times or more" in found.next_step


@pytest.mark.parametrize(
    "codes", [(1, 2, 3), (0, 1, 2), (8, 9, 10), (0x31, 0x32, 0x33), (0x41, 0x42, 0x43)]
)
def test_one_setting_after_the_other_is_not_taken_for_a_count(codes: Sequence[int]) -> None:
    assert taught(codes).missing == "setting"


def test_more_presses_than_there_are_settings_show_that_it_counts() -> None:
    assert taught((1, 2, 3, 4, 5)).outcome is Outcome.SURE


@pytest.mark.parametrize("codes", CODES)
def test_whoever_says_that_all_were_of_one_setting_is_believed(codes: Sequence[int]) -> None:
    found = taught(codes, replace(GLOSS, settled=len(codes)))
    # Where most codes came once, another press is wanted all the same.
    assert found.outcome is Outcome.SURE or found.is_meagre
    seen = sorted(set(codes))
    assert told_by(found, seen) == ["60"] * len(seen)
    assert told_by(found, (0x77,)) == [""]


def test_what_changes_after_that_was_said_is_asked_about_anew() -> None:
    assert taught((0, 1, 0, 1, 0), replace(GLOSS, settled=3)).outcome is Outcome.SURE
    assert taught((0, 1, 0, 2, 0), replace(GLOSS, settled=3)).missing == "setting"
    more = [(0, 7), (1, 7), (0, 7), (0, 8)]
    assert taught(more, replace(GLOSS, settled=3)).missing == "setting"


@pytest.mark.parametrize("about", [GLOSS, FORCE, SHARE])
@pytest.mark.parametrize(
    "bytes_",
    [
        (0x17, 0x17, 0x18, 0x19),
        (0x19, 0x18, 0x18, 0x17),
        (0x5E, 0x5D, 0x5D, 0x5C),
        (0xA5, 0x1E, 0x73),
        (120, 121, 122),
        (7, 8, 9),
        (0, 0, 0),
    ],
)
def test_a_temperature_a_charge_or_a_count_is_no_code(bytes_: Sequence[int], about: About) -> None:
    found = taught(bytes_, about)
    # Where most were seen once, another press is wanted all the same.
    assert found.outcome is Outcome.SURE or found.is_meagre


def test_a_digit_of_a_longer_number_is_no_code() -> None:
    rows = [b"\xaa23.4;914\x00", b"\xaa23.5;452\x00", b"\xaa23.3;120\x00", b"\xaa24.0;333\x00"]
    made = [Press(row, Decimal(v)) for row, v in zip(rows, SHOWN, strict=False)]
    assert learn(made, GLOSS, REGISTRY).missing != "setting"


def test_bits_beside_those_that_tell_the_sign_or_the_decimals_are_looked_at_too() -> None:
    rows = [(1, "91.4", 0x01), (1, "45.2", 0x11), (2, "3.33", 0x02), (0, "70", 0x10)]
    made = [
        Press(
            bytes((0xAA, 0x55, 0x00, code))
            + int(Decimal(value).scaleb(decimals)).to_bytes(2, "big")
            + b"\x03",
            Decimal(value),
        )
        for decimals, value, code in rows
    ]
    found = learn(made, GLOSS, REGISTRY)
    assert found.outcome is not Outcome.SURE


def line_taught(form: str, codes: Sequence[object], about: About = GLOSS) -> Finding:
    made = [
        Press(f"{form.format(code, value)}\r\n".encode(), Decimal(value))
        for code, value in zip(codes, SHOWN, strict=False)
    ]
    return learn(made, about, REGISTRY)


@pytest.mark.parametrize(
    "codes",
    [
        (1, 2, 1),
        (2, 3, 2, 1),
        "ABA",
        "NKN",
        (1, 2, 3),
        (57, 55, 57),
        (34, 47, 34),
        (21, 22, 21),
        ("AM", "AL", "AL"),
        ("01", "02", "01"),
        ("0A", "14", "0A"),
        ("SGL", "CONT", "SGL"),
        (58, 55, 56),
    ],
)
@pytest.mark.parametrize(
    "form", ["{0} {1}", "{0}:{1}", "{1};{0}", "M{0}={1}", "0{0},{1}", "{1}\r\nG {0}"]
)
def test_a_code_in_a_line_is_asked_about_as_well(form: str, codes: Sequence[object]) -> None:
    found = line_taught(form, codes)
    assert (found.outcome, found.missing, found.profile) == (Outcome.UNSAID, "setting", "")
    assert found.believed[-1].startswith("beside the number stood '")
    sure = line_taught(form, codes, replace(GLOSS, settled=9))
    assert sure.outcome is Outcome.SURE or sure.is_meagre


@pytest.mark.parametrize(
    ("form", "codes", "about"),
    [
        ("{0} 60deg {1} GU", (1, 2, 1), GLOSS),
        ("{0} 60 {1} GU", (1, 2, 1), GLOSS),
        ("{0};{1};60GU", (1, 2, 1), GLOSS),
        ("{0} {1} N", (1, 2, 1), FORCE),
        ("{0}.5C {1}", (23, 24, 23), GLOSS),
        ("T24.{0} {1}", (1, 2, 1), GLOSS),
        ("{0:04d} {1}", (1, 2, 3), GLOSS),
        ("{0} {1}", (1, 2, 3, 4), GLOSS),
        ("{0}% {1}", (87, 86, 86), GLOSS),
        ("{0} {1}", (24, 23, 23, 22), GLOSS),
        ("T{0} {1}", (24, 23, 24), GLOSS),
        ("{0}C;{1}", (24, 23, 24), GLOSS),
        ("{1}\r\n{0}", ("OK", "LO", "OK"), GLOSS),
        ("{0} {1}", (838, 214, 977), GLOSS),
        ("12:0{0} {1}", (1, 2, 4), GLOSS),
    ],
)
def test_where_the_line_says_it_or_something_else_changed_nobody_is_asked(
    form: str, codes: Sequence[object], about: About
) -> None:
    assert line_taught(form, codes, about).missing != "setting"


@pytest.mark.parametrize("front", ["D{0},0,2,", "{0},", "{0} ", "J12{0}20"])
def test_a_code_of_digits_in_a_frame_with_a_byte_as_its_end_is_asked_about(front: str) -> None:
    rows = [f"\x02{front.format(c)}{v:>5}\x03" for c, v in zip((57, 55, 57), SHOWN, strict=False)]
    sums = [bytes((sum(row.encode()) & 0xFF,)) for row in rows]
    made = [
        Press(row.encode() + sum_, Decimal(v))
        for row, sum_, v in zip(rows, sums, SHOWN, strict=False)
    ]
    assert learn(made, GLOSS, REGISTRY).missing == "setting"


@pytest.mark.parametrize(
    "codes", [("1.0", "2.0", "1.0"), (100, 200, 200), ("57.0", "55.0", "57.0")]
)
def test_a_code_in_a_line_built_as_that_of_the_value_is_asked_about(codes: Sequence[str]) -> None:
    assert line_taught("{1}\r\n{0}", codes).missing == "setting"


def test_a_sign_that_alone_changes_is_asked_about() -> None:
    assert line_taught("{0} {1}", ("-1", "+1", "-1")).missing == "setting"


@pytest.mark.parametrize("codes", [(20, 60, 60), (1, 2, 1), (0, 4, 0), (7, 12, 7)])
def test_a_code_that_a_count_touches_is_asked_about(codes: Sequence[int]) -> None:
    marks = [f"{100 + at:04d}{code}" for at, code in enumerate(codes)]
    assert line_taught("{0} {1}", marks).missing == "setting"


def test_a_geometry_that_a_sum_touches_or_a_sign_parts_is_one_all_the_same() -> None:
    said = "the presses were of several geometries, by "
    for form in ("{1} GU-{0}7F", "{1} GU-{0}", "{1} GU-{0}-OK"):
        assert line_taught(form, (60, 20, 20, 60)).believed[0].startswith(said), form


def test_the_person_is_asked_once_and_the_answer_counts() -> None:
    presses = [one.data for one in pressed((0, 1, 0))]
    given = Given(
        Quantity.GLOSS, channel="60", most=Decimal(120), least=Decimal(0), line=Line(9600)
    )
    bench = Bench(presses, [*SHOWN[:3], "y", "", ""], Line(9600))
    found, _ = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    asked = [one for one in bench.asked if "one and the same geometry at all presses?" in one]
    assert len(asked) == 1
    assert asked[0].startswith("Byte 5 was 00 at presses 1 and 3 and 01 at press 2: ")
    bench = Bench(presses, [*SHOWN[:3], ""], Line(9600))
    found, _ = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert (found.missing, found.profile) == ("setting", "")


def test_without_a_person_it_is_refused_until_the_option_says_so(
    tmp_path: Path, capsys: Captured
) -> None:
    path = str(tape(tmp_path / "t", [one.data for one in pressed((0, 1, 0))]))
    command = ["learn", "--tape", path, *shown(*SHOWN[:3]), "--kind", "gloss", "--geometry", "60"]
    command += ["--least", "0", "--most", "120"]
    assert run(command) != 0
    told = capsys.readouterr()
    words = " ".join((told.out + told.err).split())
    assert "it is not sure that all presses were of one geometry" in words
    assert "byte 5 was 00 at presses 1 and 3 and 01 at press 2" in words
    assert "if all of these were of one geometry, say so: --one-setting" in words
    assert run([*command, "--one-setting"]) == 0
    assert "the geometry is 60, as you said" in capsys.readouterr().out


def test_a_mistyped_number_is_found_where_a_status_toggles() -> None:
    presses = pressed((0, 1, 0, 1, 0, 1))
    presses[2] = replace(presses[2], shown=Decimal("21.0"))
    odd = odd_one(presses, GLOSS, REGISTRY)
    assert odd is not None
    assert (odd.place, odd.says) == (2, Decimal("12.0"))


def test_a_word_that_a_person_called_the_unit_says_nothing_of_a_code_beside_it() -> None:
    """It may be a label, and the code that of the unit."""
    about = About(Quantity.FORCE, unit="newton", word="PK")
    lines = [("12.41", "1"), ("15.20", "2"), ("8.73", "2")]
    presses = [Press(f"{v} PK {code}\r\n".encode(), Decimal(v)) for v, code in lines]
    found = learn(presses, about, REGISTRY)
    assert (found.outcome, found.missing) == (Outcome.UNSAID, "setting")
    assert learn(presses, replace(about, settled=3), REGISTRY).missing != "setting"
