"""`coatbench learn` on tapes, with nobody to ask."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.hearing import line_of
from acquire.cli.questions import number
from acquire.driverapi import Parity
from acquire.driverapi.registry import Registry
from acquire.errors import Misuse
from acquire.learn import Line
from acquire.link.tape import RECEIVED, Passed, Tape, Whose
from acquire.link.tape_file import read_tape, write_tape
from acquire.model import MEASURED, Instant
from acquire.settings import config_dir
from acquire.units import symbol, units_of

Captured = pytest.CaptureFixture[str]
SHOWN = ("91.4", "45.2", "12.0")
ANGLE = ("--geometry", "60")
LINES = [f"R,{n:04d},60,{value},GU\r\n".encode() for n, value in enumerate(SHOWN, 1)]


def tape(path: Path, presses: Iterable[bytes], apart_s: float = 5.0) -> Path:
    start = Instant(10**18, 10**12)
    passed, offset = [], 0
    for place, data in enumerate(presses):
        ns = round(place * apart_s * 1e9)
        at = Instant(start.utc_ns + ns, start.mono_ns + ns)
        passed.append(Passed(RECEIVED, offset, at, data))
        offset += len(data)
    write_tape(path, Tape(start, "bench", tuple(passed)))
    return path


def shown(*values: str) -> list[str]:
    return [word for value in values for word in ("--shown", value)]


def taught(folder: Path, out: Path) -> list[str]:
    """The command line of a lesson that goes well."""
    path = str(tape(folder / "t", LINES))
    return ["learn", "--tape", path, *shown(*SHOWN), *ANGLE, "--out", str(out)]


def test_a_tape_and_its_numbers_give_a_profile(tmp_path: Path, capsys: Captured) -> None:
    out = tmp_path / "mine.toml"
    assert run(taught(tmp_path, out)) == 0
    told = capsys.readouterr().out
    assert "sure: 1 explanation is left" in told
    assert 'driver = "line"\n  profile = "mine"' in told
    profile = tomllib.loads(out.read_text(encoding="utf-8"))
    assert profile["kind"] == "gloss"
    assert profile["geometry"] == {"default": 60}
    Registry().family("line").driver(profile, "mine")


def test_bytes_that_were_no_press_are_left_out(tmp_path: Path, capsys: Captured) -> None:
    path = tape(tmp_path / "t", [b"HELLO 1.4\r\n", *LINES])
    assert run(["learn", "--tape", str(path), *shown("-", *SHOWN), *ANGLE]) == 0
    assert "the number on the display stands between" in capsys.readouterr().out


@pytest.mark.parametrize("place", [0, 1])
def test_a_greeting_on_a_tape_needs_no_number_and_is_told(
    tmp_path: Path, capsys: Captured, place: int
) -> None:
    path = tape(tmp_path / "t", [*LINES[:place], b"READY\r\n", *LINES[place:]])
    assert run(["learn", "--tape", str(path), *shown(*SHOWN), *ANGLE]) == 0
    told = capsys.readouterr().out
    assert f"press {place + 1}: 'READY" in told
    assert "a text without a number, which is no press: it is left out" in told


def test_without_a_file_the_profile_is_shown(tmp_path: Path, capsys: Captured) -> None:
    assert run(["learn", "--tape", str(tape(tmp_path / "t", LINES)), *shown(*SHOWN), *ANGLE]) == 0
    assert 'kind = "gloss"' in capsys.readouterr().out


@pytest.mark.parametrize(
    ("presses", "words", "wanted"),
    [
        (LINES, shown("91.4", "45.2"), ("3 presses and 2 numbers", "one --shown for each")),
        (LINES, shown("91.4", "45.3", "12.0"), ("no way to read these bytes", "as it was shown")),
        (LINES, shown("91.4", "45.x", "12.0"), ("that is no number", "45.x", "without its unit")),
        (LINES, [], ("nobody said what the display showed", "--shown 91.4")),
        (LINES[:2], shown("91.4", "45.2"), ("not sure", "press once more")),
        ([b"91.4\r\n", b"45.2\r\n", b"12.0\r\n"], shown(*SHOWN), ("--kind gloss",)),
        (
            [f"PK {value} AV 0.5{n} kgf\r\n".encode() for n, value in enumerate(SHOWN)],
            shown(*SHOWN),
            ("nobody said what the meter measures", "no unit of one kind", "--kind gloss"),
        ),
        (
            [f"PK {value} AV 0.5{n} kgf\r\n".encode() for n, value in enumerate(SHOWN)],
            shown("91.4", "45.3", "12.0"),
            ("a number that was shown does not stand in its bytes as text", "one was mistyped"),
        ),
        (
            [b"91.4\r\n", b"45.2\r\n", b"12.0\r\n"],
            [*shown(*SHOWN), "--kind", "gloss"],
            ("the geometry is not in the bytes", "--geometry 60"),
        ),
        (
            [b"\xaa\x00\x78\x91", b"\xaa\x00\xc9\x15", b"\xaa\x00\x5d\x77"],
            [*shown("12.0", "20.1", "9.3"), "--kind", "gloss", "--geometry", "60"],
            ("not sure", "left: byte 2 as uint8", "of 25.6 or more", "--most"),
        ),
        (LINES, [*shown(*SHOWN), "--kind", "force", "--geometry", "60"], ("has no geometry",)),
        (LINES, [*shown(*SHOWN), "--kind", "gloss", "--unit", "newton"], ("no unit of gloss",)),
        (LINES, [*shown(*SHOWN), "--unit", "stones"], ("no unit of a meter", "kilogram_force")),
        (LINES, shown(*SHOWN), ("60 stands in every line", "if that is what it means")),
        (LINES, [*shown(*SHOWN), "--least", "9", "--most", "1"], ("is not below its largest",)),
    ],
)  # fmt: skip
def test_what_cannot_be_told_is_said_in_four_parts_and_nothing_is_written(
    tmp_path: Path,
    capsys: Captured,
    presses: list[bytes],
    words: list[str],
    wanted: tuple[str, ...],
) -> None:
    out = tmp_path / "mine.toml"
    code = run(["learn", "--tape", str(tape(tmp_path / "t", presses)), *words, "--out", str(out)])
    assert code == 1
    told = capsys.readouterr().err
    for part in (*wanted, "got ", "wanted ", "next "):
        assert part in told
    assert not out.exists()


@pytest.mark.parametrize("band", ["abc", "400-315", "100", "315-400 nm"])
def test_what_is_no_band_is_told_before_any_press(capsys: Captured, band: str) -> None:
    words = ["learn", "/dev/no-such-port", "--kind", "transmittance", "--band", band]
    assert run([*words, *shown(*SHOWN)]) == 1
    told = capsys.readouterr().err
    assert "that is no band" in told
    assert "no-such-port" not in told


@pytest.mark.parametrize("band", ["UVA=abc", "UVA="])
def test_nor_is_what_a_word_is_said_to_mean(capsys: Captured, band: str) -> None:
    words = ["learn", "/dev/no-such-port", "--kind", "transmittance", "--band", band]
    assert run([*words, *shown(*SHOWN)]) == 1
    assert "that is no band" in capsys.readouterr().err


def test_several_bands_without_words_are_told_before_any_press(capsys: Captured) -> None:
    words = ["learn", "/dev/no-such-port", "--kind", "transmittance"]
    assert run([*words, "--band", "940", "--band", "550", *shown(*SHOWN)]) == 1
    assert "--band UVA=315-400 --band VIS=380-780" in capsys.readouterr().err


def test_words_of_its_lines_are_bands_by_their_names(tmp_path: Path, capsys: Captured) -> None:
    pairs = zip(("UVA", "VIS", "UVA"), SHOWN, strict=True)
    lesson = tape(tmp_path / "t", [f"{word} {value} %\r\n".encode() for word, value in pairs])
    out = tmp_path / "head.toml"
    words = ["learn", "--tape", str(lesson), *shown(*SHOWN), "--out", str(out)]
    assert run([*words, "--band", "UVA=315-400"]) == 1
    told = capsys.readouterr().err
    assert "each press says its band, and 'VIS' does not say which it is in nm" in told
    assert not out.exists()
    assert run([*words, "--band", "UVA=315-400", "--band", "VIS=380-780"]) == 0
    profile = tomllib.loads(out.read_text(encoding="utf-8"))
    assert profile["band"] == {"tokens": {"UVA": "315-400", "VIS": "380-780"}}


def test_what_no_press_has_shown_is_told_at_the_end(tmp_path: Path, capsys: Captured) -> None:
    presses = [bytes([0xA5, n, n * 9, 0x0D]) for n in (9, 5, 1) * 2]
    words = ["learn", "--tape", str(tape(tmp_path / "t", presses))]
    words += [*shown("8.1", "4.5", "0.9") * 2, "--one-setting"]
    assert run([*words, "--kind", "force", "--unit", "newton", "--most", "12.7"]) == 0
    told = capsys.readouterr().out
    assert "sure of the number: " in told
    assert "not sure that presses to come are read, for none has shown:" in told
    assert "what no press has shown is never read as a value; and nobody has shown:" in told
    for part in ("a number below zero", "other values of byte 1", "when a press fails"):
        assert part in told


def test_a_profile_that_is_there_is_not_overwritten(tmp_path: Path, capsys: Captured) -> None:
    out = tmp_path / "mine.toml"
    out.write_text("# works", encoding="utf-8")
    assert run(taught(tmp_path, out)) == 1
    assert "is there already" in capsys.readouterr().err
    assert out.read_text(encoding="utf-8") == "# works"


def test_the_folder_of_a_profile_is_made(tmp_path: Path, capsys: Captured) -> None:
    out = tmp_path / "profiles" / "mine.toml"
    assert run(taught(tmp_path, out)) == 0
    assert out.is_file()


def test_a_profile_that_cannot_be_written_is_shown_and_not_lost(
    tmp_path: Path, capsys: Captured
) -> None:
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    out = tmp_path / "taken" / "mine.toml"
    assert run(taught(tmp_path, out)) == 1
    said = capsys.readouterr()
    assert "cannot be written" in said.err
    told = said.out
    profile = tomllib.loads(told[told.index("\n\n") :])
    assert profile["geometry"] == {"default": 60}


def doubled(path: Path, presses: Iterable[bytes], again_s: float) -> Path:
    """Presses ten seconds apart whose bytes come once more, so long after."""
    start = Instant(10**18, 10**12)
    passed, offset = [], 0
    for place, data in enumerate(presses):
        for at_s in (10 * place, 10 * place + again_s):
            ns = round(at_s * 1e9)
            at = Instant(start.utc_ns + ns, start.mono_ns + ns)
            passed.append(Passed(RECEIVED, offset, at, data))
            offset += len(data)
    write_tape(path, Tape(start, "bench", tuple(passed)))
    return path


@pytest.mark.parametrize(
    ("presses", "what", "again_s", "window_s"),
    [
        ([f"{value} GU\r\n".encode() for value in SHOWN], "line", 1.2, 1.8),
        ([f"{value} GU\r\n".encode() for value in SHOWN], "line", 0.1, 0.5),
        ([b"\xaa" + bytes.fromhex(d) + b"\x55" for d in ("0914", "0452", "0120")],
         "frame", 1.2, 1.8),
    ],
)  # fmt: skip
def test_within_which_time_what_comes_again_is_the_same_press_is_told(
    tmp_path: Path, capsys: Captured, presses: list[bytes], what: str, again_s: float,
    window_s: float,
) -> None:  # fmt: skip
    path, out = doubled(tmp_path / "t", presses, again_s), tmp_path / "mine.toml"
    says = ["--kind", "gloss", *ANGLE, "--most", "200", "--least", "0", "--out", str(out)]
    assert run(["learn", "--tape", str(path), *shown(*SHOWN), *says]) == 0
    profile = tomllib.loads(out.read_text(encoding="utf-8"))
    assert profile["press"]["repeat_window_s"] == window_s
    told = " ".join(capsys.readouterr().out.split())
    assert f"the very same {what} again within {window_s:.2f} s is the same press" in told


def test_no_time_is_told_of_a_meter_that_sent_nothing_again(
    tmp_path: Path, capsys: Captured
) -> None:
    assert run(taught(tmp_path, tmp_path / "mine.toml")) == 0
    assert "the very same" not in capsys.readouterr().out


def test_a_stream_is_told_as_such(tmp_path: Path, capsys: Captured) -> None:
    path = tape(tmp_path / "t", [b"+01.250 N\r\n"] * 60, 0.1)
    assert run(["learn", "--tape", str(path), *shown("1.25", "1.25", "1.25")]) == 1
    assert "sends all the time" in capsys.readouterr().err


def test_the_line_of_a_profile_is_that_of_the_tape_where_it_says_whose_it_is(
    tmp_path: Path, capsys: Captured
) -> None:
    path = tape(tmp_path / "t", LINES)
    text = (config_dir() / "profiles" / "gloss-press.toml").read_text("utf-8")
    text = text.replace("baud_rate = 9600", "baud_rate = 38400").replace('"none"  ', '"even"  ')
    whose = Whose("shore", "gloss", "SH-0417", "line", "gloss-press", text)
    write_tape(path, read_tape(path)._replace(whose=whose))
    words = ["learn", "--tape", str(path), *shown(*SHOWN), *ANGLE, "--out"]
    assert run([*words, str(tmp_path / "own.toml")]) == 0
    assert "does not say at which speed" not in capsys.readouterr().out
    line = tomllib.loads((tmp_path / "own.toml").read_text("utf-8"))["line"]
    assert (line["baud_rate"], line["parity"]) == (38_400, "even")
    path = tape(tmp_path / "nobody", LINES)
    words[2] = str(path)
    assert run([*words, str(tmp_path / "other.toml")]) == 0
    assert "the tape does not say at which speed the meter sends" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("limit", "said"),
    [
        ("--most=50", "91.4 was shown; said: 50 is the largest number of its display"),
        ("--least=40", "12.0 was shown; said: 40 is the least number of its display"),
    ],
)
def test_limits_that_the_display_has_passed_are_told(
    tmp_path: Path, capsys: Captured, limit: str, said: str
) -> None:
    words = ["learn", "--tape", str(tape(tmp_path / "t", LINES)), *shown(*SHOWN), *ANGLE, limit]
    assert run(words) == 1
    assert said in capsys.readouterr().err


def test_either_a_port_or_a_tape(capsys: Captured) -> None:
    assert run(["learn"]) == 2
    assert "name a PORT, or a --tape" in capsys.readouterr().err


def test_a_port_that_is_not_there_is_told_before_any_number_is_asked_for(
    tmp_path: Path, capsys: Captured
) -> None:
    port = str(tmp_path / "nosuch")
    assert run(["learn", port]) == 3
    told = capsys.readouterr().err
    assert f"{port} is not there" in told
    assert "what the display showed" not in told


def test_a_number_is_taken_as_a_display_shows_it() -> None:
    assert number(" -0,5 ") == Decimal("-0.5")
    for text in ("9e1", "1_0", "NaN", "", "1.2.3", "\N{ARABIC-INDIC DIGIT ONE}"):
        with pytest.raises(Misuse):
            number(text)


def test_line_settings_are_read_as_they_are_usually_written() -> None:
    assert line_of(None, None) is None
    assert line_of(4800, "7E1") == Line(4800, 7, Parity.EVEN)
    assert line_of(None, "8N2") == Line(9600, stop_bits=2)


@pytest.mark.parametrize(
    ("geometry", "policy"), [("60", "gloss-60"), ("20", "gloss-20"), ("85", "...")]
)
def test_the_lines_for_the_bench_file_are_told_with_the_policy(
    geometry: str, policy: str, tmp_path: Path, capsys: Captured
) -> None:
    path = str(tape(tmp_path / "t", [f"{value} GU\r\n".encode() for value in SHOWN]))
    out = tmp_path / "profiles" / "mine.toml"
    words = ["learn", "--tape", path, *shown(*SHOWN), "--geometry", geometry, "--out", str(out)]
    assert run(words) == 0
    told = capsys.readouterr().out
    lines = told.partition("name it in bench.toml (README, Describe the bench):\n")[2]
    table = tomllib.loads(lines.partition("then: ")[0])["instrument"][0]
    assert (table["driver"], table["profile"], table["policy"]) == ("line", "mine", policy)
    assert table["link"] == {"port": "..."}


@pytest.mark.parametrize("text", ["1,234", "-12,345"])
def test_a_comma_before_three_digits_may_part_thousands_and_is_asked_about(text: str) -> None:
    with pytest.raises(Misuse) as found:
        number(text)
    assert text.replace(",", "") in found.value.next_step
    assert text.replace(",", ".") in found.value.next_step
    assert number("0,234") == Decimal("0.234")
    assert number("1,23") == Decimal("1.23")


def test_a_number_that_was_mistyped_is_not_taken_for_a_unit_that_is_missing(
    tmp_path: Path, capsys: Captured
) -> None:
    path = tape(tmp_path / "t", LINES)
    assert run(["learn", "--tape", str(path), *shown("1.5", "2.5", "3.5")]) != 0
    assert "mistyped" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("kind", "typed", "unit"),
    [("force", "N", "newton"), ("force", "kgf", "kilogram_force"), ("gloss", "GU", "gloss_unit"),
     ("transmittance", "%", "percent"), ("force", "newton", "newton")],
)  # fmt: skip
def test_a_unit_is_named_by_its_sign_or_its_word(
    kind: str, typed: str, unit: str, tmp_path: Path, capsys: Captured
) -> None:
    path = tape(tmp_path / "t", [f"{value}\r\n".encode() for value in SHOWN])
    where = {"gloss": ANGLE, "transmittance": ("--band", "315-400"), "force": ()}[kind]
    words = ["learn", "--tape", str(path), *shown(*SHOWN), "--kind", kind, "--unit", typed, *where]
    assert run(words) == 0
    assert f'default = "{unit}"' in capsys.readouterr().out


def test_the_units_are_listed_in_the_help(capsys: Captured) -> None:
    assert run(["learn", "--help"]) == 0
    words = set(re.findall(r"[\w%]+", capsys.readouterr().out))
    for kind in MEASURED:
        for unit in units_of(kind):
            assert {unit, symbol(unit)} - {""} <= words
