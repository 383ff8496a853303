"""`coatbench learn`, on tapes and on links in memory, with somebody to ask and with nobody."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.hearing import line_of
from acquire.cli.lesson import Given, Lesson, number
from acquire.clock import ManualClock
from acquire.driverapi import Parity
from acquire.driverapi.registry import Registry
from acquire.errors import LinkLost, Misfortune, Misuse
from acquire.learn import Line, Outcome
from acquire.link.tape import RECEIVED, Passed, Tape
from acquire.link.tape_file import write_tape
from acquire.model import Instant, Quantity
from tests.unit.uart import heard

Captured = pytest.CaptureFixture[str]
SHOWN = ("91.4", "45.2", "12.0")
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


# -- tapes, with nobody to ask ---------------------------------------------------------------------


def test_a_tape_and_its_numbers_give_a_profile(tmp_path: Path, capsys: Captured) -> None:
    out = tmp_path / "mine.toml"
    words = ["learn", "--tape", str(tape(tmp_path / "t", LINES)), *shown(*SHOWN), "--out", str(out)]
    assert run(words) == 0
    told = capsys.readouterr().out
    assert "sure: 1 explanation is left" in told
    assert 'driver = "line" and profile = "mine"' in told
    profile = tomllib.loads(out.read_text(encoding="utf-8"))
    assert profile["kind"] == "gloss"
    assert profile["geometry"] == {"default": 60}
    Registry().family("line").driver(profile, "mine")


def test_bytes_that_were_no_press_are_left_out(tmp_path: Path, capsys: Captured) -> None:
    path = tape(tmp_path / "t", [b"HELLO 1.4\r\n", *LINES])
    assert run(["learn", "--tape", str(path), *shown("-", *SHOWN)]) == 0
    assert "the number on the display stands between" in capsys.readouterr().out


def test_without_a_file_the_profile_is_shown(tmp_path: Path, capsys: Captured) -> None:
    assert run(["learn", "--tape", str(tape(tmp_path / "t", LINES)), *shown(*SHOWN)]) == 0
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
            [b"91.4\r\n", b"45.2\r\n", b"12.0\r\n"],
            [*shown(*SHOWN), "--kind", "gloss"],
            ("the geometry is not in the bytes", "--geometry 60"),
        ),
        (
            [b"\xaa\x00\x78\x91", b"\xaa\x00\xc9\x15", b"\xaa\x00\x5d\x77"],
            [*shown("12.0", "20.1", "9.3"), "--kind", "gloss", "--geometry", "60"],
            ("not sure", "left: byte 2 as uint8", "above 25.6", "--most"),
        ),
        (LINES, [*shown(*SHOWN), "--kind", "force", "--geometry", "60"], ("has no geometry",)),
        (LINES, [*shown(*SHOWN), "--kind", "gloss", "--unit", "newton"], ("no unit of gloss",)),
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


def test_a_profile_that_is_there_is_not_overwritten(tmp_path: Path, capsys: Captured) -> None:
    out = tmp_path / "mine.toml"
    out.write_text("# works", encoding="utf-8")
    words = ["learn", "--tape", str(tape(tmp_path / "t", LINES)), *shown(*SHOWN), "--out", str(out)]
    assert run(words) == 1
    assert "is there already" in capsys.readouterr().err
    assert out.read_text(encoding="utf-8") == "# works"


def test_the_folder_of_a_profile_is_made(tmp_path: Path, capsys: Captured) -> None:
    out = tmp_path / "profiles" / "mine.toml"
    words = ["learn", "--tape", str(tape(tmp_path / "t", LINES)), *shown(*SHOWN), "--out", str(out)]
    assert run(words) == 0
    assert out.is_file()


def test_a_profile_that_cannot_be_written_is_shown_and_not_lost(
    tmp_path: Path, capsys: Captured
) -> None:
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    out = tmp_path / "taken" / "mine.toml"
    words = ["learn", "--tape", str(tape(tmp_path / "t", LINES)), *shown(*SHOWN), "--out", str(out)]
    assert run(words) == 1
    said = capsys.readouterr()
    assert "cannot be written" in said.err
    told = said.out
    profile = tomllib.loads(told[told.index("\n\n") :])
    assert profile["geometry"] == {"default": 60}


def test_a_stream_is_told_as_such(tmp_path: Path, capsys: Captured) -> None:
    path = tape(tmp_path / "t", [b"+01.250 N\r\n"] * 60, 0.1)
    assert run(["learn", "--tape", str(path), *shown("1.25", "1.25", "1.25")]) == 1
    assert "sends all the time" in capsys.readouterr().err


def test_either_a_port_or_a_tape(capsys: Captured) -> None:
    assert run(["learn"]) == 2
    assert "name a PORT, or a --tape" in capsys.readouterr().err


# -- ports, with somebody to ask -------------------------------------------------------------------


class Bench:
    """A meter on a line of its own speed, and the person who presses it and reads its display.

    Implements `acquire.link.base.Link` for the setting it was last opened with; a press comes when
    a press is waited for, and time passes by itself.
    """

    where, adapter = "memory", ""

    def __init__(self, presses: Iterable[bytes], answers: Iterable[str], line: Line) -> None:
        self.clock = ManualClock()
        self.told: list[str] = []
        self.asked: list[str] = []
        self.closed = 0
        self.opened: list[Line] = []
        self._presses: Iterator[bytes] = iter(presses)
        self._answers = iter(answers)
        self._line = line
        self._waiting: list[bytes] = []

    def open(self, line: Line) -> Bench:
        self.opened.append(line)
        return self

    def tell(self, lines: Iterable[str]) -> None:
        for text in lines:
            self.told.append(text)
            if "press the button now" in text:
                data = next(self._presses, b"")
                received = heard(data, self._line, self.opened[-1]) if data else b""
                middle = len(received) // 2
                self._waiting += [part for part in (received[:middle], received[middle:]) if part]

    def ask(self, question: str) -> str:
        self.asked.append(question)
        return next(self._answers)

    def read(self, timeout_s: float) -> bytes:
        if self._waiting:
            self.clock.advance(0.01)
            return self._waiting.pop(0)
        self.clock.advance(timeout_s)
        return b""

    def write(self, data: bytes) -> None:
        raise LinkLost("nothing is ever sent to a meter that is being learned")

    def cancel(self) -> None: ...

    def close(self) -> None:
        self.closed += 1


def lesson(bench: Bench, given: Given | None = None) -> Lesson:
    return Lesson(given or Given(), bench, Registry())


def test_speed_and_format_are_found_while_the_button_is_pressed() -> None:
    sent = Line(19200, 7, Parity.EVEN)
    bench = Bench([LINES[0], *LINES], ["", *SHOWN], sent)
    found, about = lesson(bench).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    assert about.line == sent
    assert bench.opened == [Line(9600), Line(19200), sent]
    assert 'parity = "even"' in found.profile
    assert bench.closed == len(bench.opened)


def test_a_mistyped_number_is_asked_again() -> None:
    given = Given(line=Line(9600))
    bench = Bench(LINES, ["91.4 GU", "91,4", "45.2", "12.0"], Line(9600))
    found, _ = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    assert any("that is no number" in text for text in bench.told)


def test_another_press_is_asked_for_only_where_it_would_tell() -> None:
    presses = [bytes.fromhex(h) for h in ("AA00 78 91", "AA00 C9 15", "AA00 5D 77", "AA03 92 3C")]
    answers = ["12.0", "20.1", "9.3", "-5", "150", "91.4", "n"]
    bench = Bench(presses, answers, Line(9600))
    given = Given(Quantity.GLOSS, channel="60", line=Line(9600))
    found, _ = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    assert any("press that shows a number above 25.6" in text for text in bench.told)
    assert 'type = "int16"' in found.profile


def test_what_the_bytes_do_not_say_is_asked() -> None:
    presses = [f"{value}\r\n".encode() for value in SHOWN]
    bench = Bench(presses, [*SHOWN, "loudness", "force", "pounds", "newton"], Line(9600))
    given = Given(line=Line(9600))
    found, about = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    assert (about.kind, about.unit) == (Quantity.FORCE, "newton")


def test_bytes_that_are_no_text_need_somebody_who_knows_the_speed() -> None:
    presses = [b"\xa5\x5a" + bytes([0, n, 3 * n, 0x9B, 0x17]) for n in range(1, 12)]
    bench = Bench(presses, [""] * 20, Line(9600))
    with pytest.raises(Misuse, match="at which speed") as fault:
        lesson(bench).of_port(bench.open, bench.clock, [], 60)
    assert "--baud" in fault.value.next_step
    assert bench.closed == len(bench.opened)


def test_a_meter_that_stays_silent_is_told() -> None:
    bench = Bench([], [], Line(9600))
    with pytest.raises(Misfortune, match="nothing came"):
        lesson(bench).of_port(bench.open, bench.clock, [], 60)
    assert bench.closed


def test_a_number_is_taken_as_a_display_shows_it() -> None:
    assert number(" -0,5 ") == Decimal("-0.5")
    for text in ("9e1", "1_0", "NaN", "", "1.2.3", "\N{ARABIC-INDIC DIGIT ONE}"):
        with pytest.raises(Misuse):
            number(text)


def test_line_settings_are_read_as_they_are_usually_written() -> None:
    assert line_of(None, None) is None
    assert line_of(4800, "7E1") == Line(4800, 7, Parity.EVEN)
    assert line_of(None, "8N2") == Line(9600, stop_bits=2)
