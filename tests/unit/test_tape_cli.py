"""`coatbench tape` and `coatbench replay`: what they print, refuse and end with."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.replay import recorded_speed, silence_before
from acquire.clock import ManualClock
from acquire.daemon import running_daemon
from acquire.link.tape import RECEIVED, Passed, Tape
from acquire.model import Instant
from acquire.settings import load_bench
from tests.captures import EVERY
from tests.unit.tape_bench import TapeBench, record, tape_of
from tests.yard import pieces

START = next(one for one in EVERY if one.capture.name == "gloss-press/start")
ASKED = next(one for one in EVERY if one.capture.name == "gloss-asked/start")


class Told:
    """Runs commands on the bench of a folder; what they said."""

    def __init__(self, bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
        self._bench = bench
        self._capsys = capsys
        self.code = 0
        self.out = self.err = ""

    def __call__(self, *words: str) -> str:
        self._capsys.readouterr()
        self.code = run(["--bench", str(self._bench), *words])
        self.out, self.err = self._capsys.readouterr()
        return self.out


@pytest.fixture
def told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Told:
    return Told(record(tmp_path, START), capsys)


def test_the_list_has_a_row_a_connection(told: Told) -> None:
    rows = [line.split("\t") for line in told("tape", "list").splitlines()]
    assert rows[0][:4] == ["number", "meter", "serial", "driver/profile"]
    assert rows[1][:4] == ["1", "meter", "SH-0417", "line/gloss-press"]
    assert rows[1][7] == str(len(START.received))
    assert len(rows) == 2


def test_what_passed_is_shown_with_what_became_of_it(told: Told) -> None:
    shown = told("tape", "show", "1")
    assert told.code == 0
    first = START.received.split(b"\r\n")[0]
    assert f"received         0  {repr(first + bytes([13, 10]))[1:]}" in shown
    assert "became           0  to 12: notice identity: SH-0417" in shown
    assert "ended     the tape gloss-press/start is over" in shown
    assert first.hex(" ")[:20] in told("tape", "show", "1", "--hex")


def test_a_stretch_is_shown_alone(told: Told) -> None:
    whole = told("tape", "show", "1").splitlines()
    none = told("tape", "show", "1", "--from", "100000").splitlines()
    assert none[:2] == whole[:2]
    assert [one[:42] for one in none[2:]] == ["nothing passed between these times; bytes "]
    assert len(whole) > 5


def test_times_between_which_nothing_passed_are_told(told: Told) -> None:
    told("tape", "show", "1", "--from", "5", "--to", "2")
    assert told.code == 2
    assert "--to 2 is before --from 5" in told.err
    shown = told("tape", "show", "1", "--from", "900", "--to", "901")
    assert told.code == 0
    assert "nothing passed between these times; bytes passed from 0." in shown


def test_a_cut_into_a_folder_that_is_not_there_names_the_folder(told: Told, tmp_path: Path) -> None:
    out = tmp_path / "none" / "x.tape"
    told("tape", "cut", "1", "--out", str(out))
    assert told.code == 3
    assert f"coatbench: {out.parent} cannot be used\n" in told.err
    assert "No such file or directory" in told.err


def test_bytes_that_would_steer_a_terminal_are_shown_as_escapes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one = next(o for o in EVERY if o.capture.name == "gloss-press/noise")
    told = Told(record(tmp_path, one), capsys)
    for words in (("tape", "show", "1"), ("tape", "list"), ("replay", "1")):
        assert all(sign.isprintable() or sign in "\n\t" for sign in told(*words))


def test_a_tape_plays_the_same_and_the_gate_is_asked(told: Told) -> None:
    shown = told("replay", "1")
    assert told.code == 0
    readings = sum(fact.what == "reading" for fact in START.capture.facts)
    assert f"the same as the day it was made: {readings} reading" in shown
    assert "the gate was not asked: no reading of this tape counts, none lacked a valid" in shown
    were = "1 reading was" if readings == 1 else f"{readings} readings were"
    assert f"{were} not accepted for another reason: coatbench readings --loose says why" in shown


def test_a_cut_tape_plays_elsewhere(
    told: Told, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "shore.tape"
    assert "the same as the day" in told("tape", "cut", "1", "--out", str(file))
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(elsewhere)
    assert run(["replay", str(file)]) == 0
    assert run(["tape", "show", str(file)]) == 0
    assert run(["tape", "cut", str(file), "--out", "again.tape"]) == 0
    assert (elsewhere / "again.tape").read_bytes() == file.read_bytes()


def test_a_damaged_tape_is_read_up_to_the_damage_and_ends_with_one(
    told: Told, tmp_path: Path
) -> None:
    file = tmp_path / "shore.tape"
    told("tape", "cut", "1", "--out", str(file))
    file.write_bytes(file.read_bytes()[:-200])
    for words in (("replay", str(file)), ("tape", "show", str(file))):
        told(*words)
        assert told.code == 1
        assert "coatbench: the tape is damaged at line" in told.err
        assert "missing:" in told.err
    other = tmp_path / "part.tape"
    told("tape", "cut", str(file), "--out", str(other))
    assert told.code == 1
    assert "the same as the day it was made" in told.out
    assert "the same as the day it was made" in told("replay", str(other))
    assert told.code == 0


def test_a_tape_that_gives_something_else_says_where_and_ends_with_one(
    told: Told, tmp_path: Path
) -> None:
    from acquire.link.tape_file import read_tape, write_tape

    file = tmp_path / "shore.tape"
    told("tape", "cut", "1", "--out", str(file))
    tape = read_tape(file)
    assert tape.whose is not None
    text = tape.whose.profile_text.replace("GU", "UG")
    write_tape(file, tape._replace(whose=tape.whose._replace(profile_text=text)))
    shown = told("replay", str(file))
    assert told.code == 1
    assert "DIFFERS in" in shown
    assert "then  reading" in shown
    assert "now   no reading" in shown
    assert "s after the opening (2026-" in shown


def test_what_cannot_be_had_is_told_in_four_parts(told: Told, tmp_path: Path) -> None:
    file = tmp_path / "shore.tape"
    told("tape", "cut", "1", "--out", str(file))
    for words, code in (
        (("replay", "7"), 1),
        (("tape", "show", "0"), 1),
        (("tape", "show", str(10**40)), 1),
        (("replay", "nowhere.tape"), 3),
        (("replay", str(tmp_path / "bench.toml")), 1),
        (("tape", "cut", "1", "--out", str(file), "--from", "1e8"), 1),
        (("tape", "cut", str(file), "--out", str(file)), 1),
        (("tape", "cut", "1", "--out", str(tmp_path / "no" / "folder.tape")), 3),
    ):
        told(*words)
        assert told.code == code, words
        assert "coatbench: " in told.err
        assert "next" in told.err
    for word in ("nan", "-1", "inf", "soon"):
        told("tape", "show", "1", "--from", word)
        assert told.code == 2
    told("tape", "cut", "1", "--out", "x.tape", "--from", "5", "--to", "5")
    assert told.code == 2


def killed_over_a_press(folder: Path) -> TapeBench:
    """The reading came, and was held until the meter had said whose it is."""
    one = next(o for o in EVERY if o.capture.name == "gloss-press/adjusted")
    bench = TapeBench(folder, one.profile)
    bench.record(*tape_of(one), killed_after=4)
    bench.close()
    return bench


def test_a_press_that_the_daemon_was_killed_over_is_told_and_ends_with_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bench = killed_over_a_press(tmp_path)
    told = Told(bench.file, capsys)
    shown = told("replay", "1")
    assert told.code == 1
    assert "what was stored is the same as the day it was made: " in shown
    assert (
        "NOT STORED: of the last 22 bytes of this tape there is no row, first at byte 14, " in shown
    )
    assert "  byte 14: reading no value at 20°, press 4, over-range, sent as '----'" in shown
    assert "the daemon ended before it knew what they are" in shown
    assert "press anew" in shown
    file = tmp_path / "shore.tape"
    told("tape", "cut", "1", "--out", str(file))
    assert "or had not yet known it when the tape was cut" in told("replay", str(file))
    assert told.code == 1


def test_what_a_running_daemon_has_not_stored_yet_is_no_loss(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bench = killed_over_a_press(tmp_path)
    told = Told(bench.file, capsys)
    own = load_bench(bench.file)
    with running_daemon(replace(own, instruments=(), probes=(), pieces=pieces())):
        assert "still open" in told("tape", "list")
        shown = told("replay", "1")
        assert told.code == 0
    assert "no end was recorded" in told("tape", "list")
    assert "of the last 22 bytes no row is stored yet: the daemon still has this " in shown
    assert "NOT STORED" not in shown


def test_noise_that_has_no_row_is_told_and_is_no_loss(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bench = TapeBench(tmp_path, ASKED.profile)
    tape, _ = tape_of(ASKED)
    whole = next(p for p in tape.passed if p.direction == RECEIVED)
    begun = tape._replace(passed=(whole._replace(data=whole.data[:3]),))
    bench.record(begun, set(), killed_after=2)
    bench.close()
    told = Told(bench.file, capsys)
    shown = told("replay", "1")
    assert told.code == 0
    assert "NOT STORED: of the last 3 bytes of this tape there is no row" in shown
    assert "  byte 0: noise: " in shown
    assert "press anew" not in shown


def test_a_driver_that_is_not_installed_is_named(told: Told, tmp_path: Path) -> None:
    from acquire.link.tape_file import read_tape, write_tape

    file = tmp_path / "shore.tape"
    told("tape", "cut", "1", "--out", str(file))
    tape = read_tape(file)
    assert tape.whose is not None
    write_tape(file, tape._replace(whose=tape.whose._replace(driver="fog")))
    told("replay", str(file))
    assert told.code == 3
    assert "there is no driver 'fog'" in told.err
    write_tape(file, tape._replace(whose=tape.whose._replace(profile_text="[line\n")))
    told("replay", str(file))
    assert told.code == 1
    write_tape(file, tape._replace(whose=None))
    told("replay", str(file))
    assert told.code == 1


def test_at_recorded_speed_every_moment_is_waited_for() -> None:
    clock = ManualClock()
    waited: list[float] = []

    def wait(seconds: float) -> None:
        waited.append(seconds)
        clock.advance(seconds)

    opened = Instant(10**18, 10**12)
    reach = recorded_speed(Tape(opened, "", ()), clock, wait)
    reach(opened)
    for seconds in (1.5, 1.5, 4.0):
        ns = round(seconds * 1e9)
        reach(Instant(opened.utc_ns + ns, opened.mono_ns + ns))
    clock.advance(10)
    reach(Instant(opened.utc_ns, opened.mono_ns + 5 * 10**9))
    assert waited == [1.5, 2.5]


def test_a_cut_overwrites_no_tape(told: Told, tmp_path: Path) -> None:
    file = tmp_path / "shore.tape"
    told("tape", "cut", "1", "--out", str(file))
    before = file.read_bytes()
    told("tape", "cut", "1", "--out", str(file), "--to", "0.5")
    assert told.code != 0
    assert "is there already" in told.err
    assert file.read_bytes() == before


def test_the_silence_before_the_first_byte_of_a_cut_is_passed_over() -> None:
    opened = Instant(10**18, 10**12)

    def at(seconds: float) -> Instant:
        ns = round(seconds * 1e9)
        return Instant(opened.utc_ns + ns, opened.mono_ns + ns)

    def tape(*seconds: float) -> Tape:
        return Tape(
            opened, "", tuple(Passed(RECEIVED, k, at(s), b"1") for k, s in enumerate(seconds))
        )

    assert [silence_before(tape(*s)) for s in ((), (0.5, 90), (1.9,), (285.0, 290.0))] == [
        0, 0, 0, 284.0,
    ]  # fmt: skip
    clock = ManualClock()
    waited: list[float] = []

    def wait(seconds: float) -> None:
        waited.append(seconds)
        clock.advance(seconds)

    reach = recorded_speed(tape(285.0, 290.0), clock, wait, silent_s=284.0)
    reach(at(285.0))
    reach(at(290.0))
    assert waited == [1.0, 5.0]
