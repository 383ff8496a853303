"""What `coatbench learn` tells to do next fits what was asked of it."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from acquire.cli.entry import run
from tests.unit.learn.test_cli import ANGLE, LINES, SHOWN, shown, tape

Captured = pytest.CaptureFixture[str]


@pytest.mark.skipif(sys.platform == "win32", reason="there is no such file")
def test_a_port_that_is_none_is_mended_on_the_command_line(capsys: Captured) -> None:
    assert run(["learn", "/dev/null", "--shown", "1", "--kind", "gloss", "--wait", "1"]) == 3
    told = capsys.readouterr().err
    assert "/dev/null is no serial port" in told
    assert "name another PORT" in told
    assert "bench.toml" not in told


@pytest.mark.parametrize(("folder", "is_told"), [("profiles", False), ("elsewhere", True)])
def test_a_profile_is_to_be_moved_only_if_it_is_elsewhere(
    folder: str, is_told: bool, tmp_path: Path, capsys: Captured
) -> None:
    out = tmp_path / folder / "mine.toml"
    words = ["learn", "--tape", str(tape(tmp_path / "t", LINES)), *shown(*SHOWN), *ANGLE]
    assert run([*words, "--out", str(out)]) == 0
    told = capsys.readouterr().out
    assert ("move it to the folder profiles" in told) is is_told
    assert 'driver = "line"\n  profile = "mine"' in told
