"""`coatbench learn` as a process at a pseudo-terminal, where a meter is pressed when it says so."""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.flow.reader import reader_of
from tests.patience import PATIENCE_S

SHOWN = ("91.4", "45.2", "12.0")


@pytest.fixture
def line() -> Iterator[tuple[int, str]]:
    """The meter's end of a line, and the port of the bench."""
    meter, port = os.openpty()
    tty.setraw(meter)
    yield meter, os.ttyname(port)
    os.close(meter)
    os.close(port)


def test_a_meter_at_a_port_is_learned_while_it_is_pressed(
    line: tuple[int, str], tmp_path: Path
) -> None:
    meter, port = line
    out = tmp_path / "mine.toml"
    words = [word for value in SHOWN for word in ("--shown", value)]
    program = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "acquire.cli",
            "learn",
            port,
            *words,
            "--geometry",
            "60",
            "--out",
            str(out),
        ],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        text=True,
    )
    presses = iter(f"#{n:03d} 60 {value} GU\r\n" for n, value in enumerate(SHOWN, 1))
    told = ""
    with program, program.stdout as stdout:  # type: ignore[union-attr]
        for text in stdout:
            told += text
            if "press the button now" in text:
                os.write(meter, next(presses).encode())
    assert program.wait(PATIENCE_S) == 0
    assert "text at 9600 8N1" in told
    assert "sure of the number: 1 explanation is left" in told
    assert tomllib.loads(out.read_text(encoding="utf-8"))["geometry"] == {"default": 60}
    assert next(presses, None) is None


def test_a_port_that_is_not_there_is_told_with_the_next_step(tmp_path: Path) -> None:
    found = subprocess.run(
        [sys.executable, "-m", "acquire.cli", "learn", str(tmp_path / "port"), "--shown", "1"],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
        timeout=PATIENCE_S,
    )
    assert found.returncode == 3
    assert "is not there" in found.stderr
    assert "next " in found.stderr


class Plug:
    """A socket of the computer whose cable a hand pulls out and puts in again."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._ends: tuple[int, ...] = ()

    def plug(self) -> None:
        meter, port = os.openpty()
        tty.setraw(meter)
        self._ends = (meter, port)
        self.path.symlink_to(os.ttyname(port))

    def pull(self) -> None:
        self.path.unlink(missing_ok=True)
        for end in self._ends:
            os.close(end)
        self._ends = ()

    def press(self, data: bytes) -> None:
        os.write(self._ends[0], data)


@pytest.fixture
def plug(tmp_path: Path) -> Iterator[Plug]:
    plug = Plug(tmp_path / "ttyUSB0")
    plug.plug()
    yield plug
    plug.pull()


def learning(plug: Plug, folder: Path, *words: str) -> subprocess.Popen[str]:
    shown = [word for value in SHOWN for word in ("--shown", value)]
    command = [sys.executable, "-m", "acquire.cli", "learn", str(plug.path), *shown]
    return subprocess.Popen(
        [*command, "--geometry", "60", "--out", str(folder / "mine.toml"), *words],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )


PRESSES = [f"#{n:03d} 60 {value} GU\r\n".encode() for n, value in enumerate(SHOWN, 1)]


def test_a_meter_that_is_unplugged_in_a_lesson_loses_no_press(plug: Plug, tmp_path: Path) -> None:
    presses = iter(PRESSES)
    told = ""
    with learning(plug, tmp_path) as program, program.stdout as stdout:  # type: ignore[union-attr]
        for text in stdout:
            told += text
            if text.startswith("press 2: press") and "plug the meter in again" not in told:
                plug.pull()
            elif "plug the meter in again within 60 s" in text:
                plug.plug()
            elif "press the button now" in text:
                plug.press(next(presses))
    assert program.wait(PATIENCE_S) == 0, told
    assert told.count("press 2: press the button now") == 2
    assert (tmp_path / "mine.toml").is_file()
    assert "3 presses are kept in" in told
    assert (tmp_path / "mine.tape").is_file()


def test_presses_before_an_unplug_that_lasts_are_kept_in_a_tape(plug: Plug, tmp_path: Path) -> None:
    told = ""
    program = learning(plug, tmp_path, "--wait", "2")
    with program, program.stdout as stdout:  # type: ignore[union-attr]
        for text in stdout:
            told += text
            if text.startswith("press 1: press"):
                plug.press(PRESSES[0])
            elif text.startswith("press 2: press"):
                plug.pull()
    assert program.wait(PATIENCE_S) == 3, told
    assert "1 press is kept in" in told
    assert f"--tape {tmp_path / 'mine.tape'} --baud 9600 --format 8N1 --shown 91.4" in told
    assert "no meter again within 2 s" in told


@pytest.mark.skipif(sys.platform != "linux", reason="Linux tells who has a port open")
def test_another_program_that_reads_the_port_is_named_and_not_the_cable_alone(
    plug: Plug, tmp_path: Path
) -> None:
    told = ""
    with reader_of(plug.path) as other:
        with learning(plug, tmp_path, "--wait", "1") as program:
            assert program.stdout is not None
            told = program.stdout.read()
        named = f"(process {other.pid})"
    assert program.returncode == 3, told
    warned, _, failed = told.partition("press 1: press the button now")
    assert f"{plug.path} open as well" in warned
    assert named in warned
    assert f"{named} with {plug.path} open, too" in failed
    assert "end that program, and learn again; or look at the cable" in " ".join(failed.split())


def test_where_nobody_else_reads_the_port_the_cable_is_named(plug: Plug, tmp_path: Path) -> None:
    with learning(plug, tmp_path, "--wait", "1") as program:
        assert program.stdout is not None
        told = program.stdout.read()
    assert program.returncode == 3, told
    assert "look at the cable" in told
    assert "another program" not in told
    assert "end that program" not in told
