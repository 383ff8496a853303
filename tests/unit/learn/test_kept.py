"""The presses of a lesson are kept in a tape: to learn from again, and together with more."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.cli.kepttape import Taken, again_words, keep, tape_of
from acquire.cli.learn import Socket
from acquire.cli.learned import bench_lines
from acquire.cli.lesson import Lesson
from acquire.cli.saidofmeter import Given
from acquire.clock import ManualClock
from acquire.driverapi import LinkNeeds, Parity
from acquire.driverapi.registry import Registry
from acquire.errors import CoatbenchError, LinkLost, Misuse
from acquire.learn import LINES as SPEEDS
from acquire.learn import Chunk, Finding, Line, Outcome, split
from acquire.link.tape_file import read_tape
from acquire.model import Instant, LinkAddress, Quantity
from tests.unit.learn.test_person import LINES, SHOWN, Bench

NOW = Instant(1_790_000_000 * 10**9, 500 * 10**9)


def press(at_s: float, data: bytes, shown: str) -> Taken:
    at_ns = round(at_s * 1e9)
    return Taken((Chunk(at_ns, data[:4]), Chunk(at_ns + 10_000_000, data[4:])), Decimal(shown))


TAKEN = [press(10.0 * n, LINES[n - 1], SHOWN[n - 1]) for n in (1, 2, 3)]


def test_a_kept_tape_has_the_presses_and_their_times(tmp_path: Path) -> None:
    line = Line(1200, 7, Parity.EVEN)
    path = keep(TAKEN, tmp_path / "new" / "mine.toml", "/dev/ttyUSB0", ManualClock(), line)
    assert path == tmp_path / "new" / "mine.tape"
    tape = read_tape(path)
    chunks = [Chunk(p.at.mono_ns, p.data) for p in tape.passed]
    assert split(chunks, 3).presses == tuple(LINES)
    assert (tape.where, tape.line) == ("/dev/ttyUSB0", "1200 7E1")


def test_moments_are_those_of_the_presses_and_an_older_tape_comes_before() -> None:
    # Taken before the computer was started anew: its clock had gone farther.
    monday = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)
    older = [press(9000 + 10 * n, LINES[n], SHOWN[n])._replace(heard=monday) for n in range(2)]
    tape = tape_of([*older, press(490, LINES[2], SHOWN[2])], "p", NOW)
    times = [p.at.mono_ns for p in tape.passed]
    assert times == sorted(times)
    assert tape.opened.utc() == monday
    assert NOW.utc_ns - tape.passed[-1].at.utc_ns == 10 * 10**9 - 10_000_000
    chunks = [Chunk(p.at.mono_ns, p.data) for p in tape.passed]
    assert split(chunks, 3).presses == tuple(LINES)


def test_a_file_that_is_there_stays_and_no_press_makes_none(tmp_path: Path) -> None:
    out = tmp_path / "mine.toml"
    (tmp_path / "mine.tape").write_text("older", encoding="utf-8")
    assert keep(TAKEN, out, "p", ManualClock()) == tmp_path / "mine-2.tape"
    assert keep([], out, "p", ManualClock()) is None
    assert (tmp_path / "mine.tape").read_text(encoding="utf-8") == "older"


def test_the_command_that_learns_from_a_kept_tape_works_as_it_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = keep(TAKEN, tmp_path / "mine.toml", "PORT", ManualClock())
    assert path is not None
    line = Line(1200, 7, Parity.EVEN)
    (command,) = [w for w in again_words(path, TAKEN, line, "PORT") if "coatbench" in w]
    words = [word for word in command.split()[1:] if word != "PORT"]
    assert run([*words, "--geometry", "60", "--out", str(tmp_path / "again.toml")]) == 0
    assert "baud_rate = 1200" in (tmp_path / "again.toml").read_text(encoding="utf-8")
    assert "at 1200 7E1" in capsys.readouterr().out


def test_a_kept_tape_says_itself_at_which_speed_it_was_heard(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    line = Line(1200, 7, Parity.EVEN)
    path = str(keep(TAKEN, tmp_path / "mine.toml", "PORT", ManualClock(), line))
    shown = [word for value in SHOWN for word in ("--shown", value)]
    out = tmp_path / "again.toml"
    assert run(["learn", "--tape", path, *shown, "--geometry", "60", "--out", str(out)]) == 0
    told = capsys.readouterr().out
    assert "at 1200 7E1" in told
    assert "does not say at which speed" not in told
    assert run(["tape", "show", path]) == 0
    assert "opened as PORT at 1200 7E1" in capsys.readouterr().out
    assert run(["replay", path]) == 1
    assert "coatbench learn --tape" in capsys.readouterr().err


def test_presses_of_a_tape_and_further_ones_at_the_port_are_learned_together() -> None:
    bench = Bench(LINES[2:], [], Line(9600))
    given = Given(Quantity.GLOSS, "gloss_unit", "60", line=Line(9600))
    learner = Lesson(given, None, Registry(), bench.tell)
    chunks = [chunk for taken in TAKEN[:2] for chunk in taken.chunks]
    found, _ = learner.of_tape_and_port(
        chunks, {}, bench.open, bench.clock, [Decimal(text) for text in SHOWN], 60
    )
    assert found.outcome is Outcome.SURE
    assert [text for text in bench.told if text.startswith("press 3: press the button now")]
    assert [one.shown for one in learner.taken] == [Decimal(text) for text in SHOWN]


def test_a_port_without_a_number_of_a_press_to_come_is_told_as_such() -> None:
    learner = Lesson(Given(Quantity.GLOSS, line=Line(9600)), None, Registry())
    bench = Bench([], [], Line(9600))
    chunks = [chunk for taken in TAKEN for chunk in taken.chunks]
    numbers = [Decimal(text) for text in SHOWN]
    with pytest.raises(Misuse, match="no number of a press to come"):
        learner.of_tape_and_port(chunks, {}, bench.open, bench.clock, numbers, 60)
    with pytest.raises(Misuse, match="not as many presses as numbers"):
        learner.of_tape_and_port(chunks, {}, bench.open, bench.clock, numbers[:2], 60)


class Ports:
    """The ports of a computer, of which one has an adapter with a number: what is asked for."""

    def __init__(self) -> None:
        self.asked: list[LinkAddress] = []
        self._line = Bench([], [], Line())
        self._line.adapter = "AD-77"

    def __call__(self, address: LinkAddress, needs: LinkNeeds) -> Ports:
        self.asked.append(address)
        return self

    def open(self) -> Bench:
        return self._line


def test_a_port_is_found_again_by_its_adapter_and_not_by_its_name() -> None:
    ports = Ports()
    socket = Socket("/dev/ttyUSB0", ports)
    for _ in range(2):
        socket(Line()).close()
    assert ports.asked == [
        LinkAddress(port="/dev/ttyUSB0"), LinkAddress(identity={"serial_number": "AD-77"}),
    ]  # fmt: skip


def test_the_lines_for_the_bench_file_name_the_adapter_where_it_has_a_number() -> None:
    profile = 'kind = "force"\n[value]\n'
    found = Finding(Outcome.SURE, family="line", profile=profile)
    assert bench_lines(found, "mine", "/dev/ttyUSB0", "AD-77")[-1] == 'serial_number = "AD-77"'
    assert bench_lines(found, "mine", "/dev/ttyUSB0")[-1] == 'port = "/dev/ttyUSB0"'
    assert bench_lines(found, "mine", "socket://10.0.0.7:4001")[-1].startswith("url = ")


def test_a_port_that_was_named_from_where_one_stood_is_found_from_anywhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "bench").mkdir()
    (tmp_path / "bench" / "port").touch()
    monkeypatch.chdir(tmp_path)
    found = Finding(Outcome.SURE, family="line", profile='kind = "force"\n[value]\n')
    # A bench file takes relative paths from its own folder, which is another one.
    assert bench_lines(found, "mine", "bench/port")[-1] == f'port = "{tmp_path}/bench/port"'
    assert bench_lines(found, "mine", "COM3")[-1] == 'port = "COM3"'


def test_a_network_port_is_opened_by_its_address_each_time() -> None:
    ports = Ports()
    socket = Socket("socket://10.0.0.7:4001", ports)
    for _ in range(2):
        socket(Line()).close()
    assert ports.asked == [LinkAddress(url="socket://10.0.0.7:4001")] * 2


def test_neither_port_nor_tape_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["learn", "--shown", "1"]) == 2
    assert "name a PORT, or a --tape" in capsys.readouterr().err


def heard_of(bench: Bench, line: Line | None = None) -> list[Taken]:
    """What is kept of a lesson that ends in a fault."""
    learner = Lesson(Given(line=line), bench, Registry())
    with pytest.raises((CoatbenchError, KeyboardInterrupt)):
        learner.of_port(bench.open, bench.clock, [], 60)
    return learner.taken


def bytes_of(taken: list[Taken]) -> list[bytes]:
    return [b"".join(chunk.data for chunk in one.chunks) for one in taken]


def test_presses_of_which_nobody_knows_the_number_are_kept_and_can_be_asked_for_later(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bench = Bench(LINES, [], Line(9600))
    learner = Lesson(Given(line=Line(9600)), None, Registry(), bench.tell)
    with pytest.raises(Misuse, match="of no press it was said what the display showed"):
        learner.of_port(bench.open, bench.clock, [None, None, None], 60)
    taken = learner.taken
    assert bytes_of(taken) == LINES
    path = keep(taken, tmp_path / "mine.toml", "PORT", ManualClock())
    assert path is not None
    words = "\n".join(again_words(path, taken, Line(9600), "PORT"))
    assert f"3 presses are kept in {path}, without a number" in words
    numbers = [word for text in SHOWN for word in ("--shown", text)]
    out = str(tmp_path / "again.toml")
    assert run(["learn", "--tape", str(path), *numbers, "--geometry", "60", "--out", out]) == 0
    assert "every press is read as it was shown" in capsys.readouterr().out


def test_a_press_that_was_left_out_is_kept_with_those_that_were_not() -> None:
    bench = Bench([LINES[0], b"#ON\r\n", *LINES[1:]], [SHOWN[0], "-", *SHOWN[1:], "60"], Line(9600))
    learner = Lesson(Given(line=Line(9600)), bench, Registry())
    found, _ = learner.of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    assert bytes_of(learner.taken) == [LINES[0], b"#ON\r\n", *LINES[1:]]
    command = again_words(Path("t"), learner.taken, Line(9600), "PORT")
    assert f"--shown {SHOWN[0]} --shown - --shown {SHOWN[1]}" in command[1]
    assert "of which 1 without a number" in command[0]


class Leaves(Bench):
    """Whoever is asked for the number of a press breaks off."""

    def ask(self, question: str) -> str:
        raise KeyboardInterrupt


def test_the_press_whose_number_was_being_asked_for_is_kept() -> None:
    assert bytes_of(heard_of(Leaves(LINES, [], Line(9600)), Line(9600))) == LINES[:1]


def test_what_came_at_no_speed_that_gives_text_is_kept_too() -> None:
    binary = [bytes.fromhex("AA007891")] * len(SPEEDS)
    taken = heard_of(Bench(binary, [""] * len(SPEEDS), Line(300)))
    assert len(taken) == len(SPEEDS)


class Streams(Bench):
    """Sends without a pause."""

    def read(self, timeout_s: float) -> bytes:
        self.clock.advance(0.1)
        return b"+01.250 N\r\n"


def test_of_a_meter_that_sends_all_the_time_the_bytes_are_kept() -> None:
    (taken,) = heard_of(Streams([], [], Line(9600)), Line(9600))
    assert taken.chunks[0].data == b"+01.250 N\r\n"
    assert len(taken.chunks) > 30


class Breaks(Bench):
    """Its cable is pulled in the middle of a press, and nobody plugs it in again."""

    def read(self, timeout_s: float) -> bytes:
        if len(self._waiting) == 1:
            raise LinkLost("the port went away")
        return super().read(timeout_s)


def test_the_half_of_a_press_is_kept_where_the_cable_was_pulled_in_it() -> None:
    (taken,) = heard_of(Breaks(LINES, ["n"], Line(9600)), Line(9600))
    assert taken.chunks[0].data == LINES[0][: len(LINES[0]) // 2]
    assert taken.shown is None
