"""`.ci/nightly` has every long run that there is, and lets none hide what another one found."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.arch.test_house import ROOT
from tests.fuzz.__main__ import NIGHTLY_BYTES

SCRIPT = ROOT / ".ci" / "nightly"
LONG_RUNS = {path.parent.name for path in (ROOT / "tests").glob("*/__main__.py")}

OUR_DRIVERS = {path.parent.name for path in (ROOT / "drivers").glob("*/WIRE.md")}


def test_every_long_run_is_in_it() -> None:
    text = SCRIPT.read_text(encoding="utf-8")
    assert set(re.findall(r"-m tests\.(\w+)", text)) == LONG_RUNS
    assert f"--bytes {NIGHTLY_BYTES:_} " in text
    assert NIGHTLY_BYTES >= 50_000_000


@pytest.mark.skipif(shutil.which("bash") is None, reason="needs bash")
@pytest.mark.parametrize(("fails", "code"), [("tests.fuzz", 1), ("nothing of it", 0)])
def test_a_run_that_finds_something_is_named_and_the_others_go_on(
    tmp_path: Path, fails: str, code: int
) -> None:
    python = tmp_path / "python"
    python.write_text(f'#!/bin/sh\necho "$@"\ncase "$*" in *"{fails}"*) exit 1;; esac\n')
    python.chmod(0o755)
    done = subprocess.run(
        ["bash", str(SCRIPT), str(tmp_path / "out")],
        env={**os.environ, "PYTHON": str(python), "SEED": "7"},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == code, done.stderr
    last = done.stdout.splitlines()[-1]
    assert last.startswith("found something: fuzz (" if code else "nothing was found")
    told = {path.stem for path in (tmp_path / "out").glob("*.txt")}
    assert told == LONG_RUNS | {"property", "verify"} | {f"driver-{name}" for name in OUR_DRIVERS}
    assert "--seed 7" in (tmp_path / "out" / "fuzz.txt").read_text()


@pytest.mark.skipif(shutil.which("bash") is None, reason="needs bash")
def test_without_its_environment_it_says_how_to_make_it_and_runs_nothing(tmp_path: Path) -> None:
    done = subprocess.run(
        ["bash", str(SCRIPT), str(tmp_path / "out")],
        env={**os.environ, "PYTHON": str(tmp_path / "nowhere")},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert "Next: .ci/run makes it" in done.stdout
    assert not (tmp_path / "out").exists()
