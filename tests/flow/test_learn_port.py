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

SHOWN = ("91.4", "45.2", "12.0")
WITHIN_S = 60


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
    assert program.wait(WITHIN_S) == 0
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
        timeout=WITHIN_S,
    )
    assert found.returncode == 3
    assert "is not there" in found.stderr
    assert "next " in found.stderr
