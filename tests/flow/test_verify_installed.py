"""The check values come along: a wheel verifies itself as a checkout does, and is the same."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest

from acquire.verify.record import program_digest
from tests.reference.shipped import CASES, FILES

ROOT = Path(__file__).parents[2]


PARTS = ("acquire", "drivers", "simulators", "config", "tests/captures", "tests/reference",
         "pyproject.toml", "README.md", "LICENSE")  # fmt: skip


@pytest.fixture(scope="module")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of this one, which nobody edits meanwhile."""
    folder = tmp_path_factory.mktemp("checkout")
    for part in PARTS:
        if (ROOT / part).is_dir():
            shutil.copytree(ROOT / part, folder / part, ignore=shutil.ignore_patterns("*.pyc"))
        else:
            shutil.copy(ROOT / part, folder / part)
    return folder


@pytest.fixture(scope="module")
def installed(checkout: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel of the checkout, unpacked as an installer does."""
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)],
        cwd=checkout,
        check=True,
        capture_output=True,
    )
    (wheel,) = folder.glob("*.whl")
    with zipfile.ZipFile(wheel) as packed:
        packed.extractall(folder / "site")
    return folder / "site"


def record_of(path: Path, elsewhere: Path) -> tuple[int, dict[str, Any]]:
    """The status and the record of `coatbench verify` of the packages in `path`."""
    done = subprocess.run(
        [sys.executable, "-m", "acquire.cli", "verify", "--json"],
        cwd=elsewhere,
        env={**os.environ, "PYTHONPATH": str(path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stderr == ""
    return done.returncode, json.loads(done.stdout)


def test_a_wheel_and_a_checkout_verify_themselves_with_the_same_cases(
    installed: Path, checkout: Path, tmp_path: Path
) -> None:
    (status, wheel), (also, beside) = (record_of(p, tmp_path) for p in (installed, checkout))
    assert (status, also) == (0, 0)
    places = {Path(file["path"]).parent for file in wheel["files"]}
    assert places == {installed / "acquire" / "_reference"}
    assert [file["sha256"] for file in wheel["files"]] == [file.sha256 for file in FILES]
    assert sum(len(file["cases"]) for file in wheel["files"]) == len(CASES)
    for ours, theirs in zip(wheel["files"], beside["files"], strict=True):
        assert ours["cases"] == theirs["cases"]


def test_a_wheel_holds_its_drivers_against_the_captures_that_come_along(
    installed: Path, tmp_path: Path
) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "acquire.cli", "driver", "test", "keyed", "--bytes", "400"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(installed)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert "keyed-gloss (4 captures)" in done.stdout, done.stdout + done.stderr
    assert done.returncode == 0


def test_the_wheel_of_a_checkout_is_the_same_program_until_a_line_is_changed(
    installed: Path, checkout: Path
) -> None:
    assert program_digest(installed / "acquire") == program_digest(checkout / "acquire")
    changed = installed / "acquire" / "analysis" / "laws" / "student.py"
    before = changed.read_bytes()
    try:
        changed.write_bytes(before + b"#")
        assert program_digest(installed / "acquire") != program_digest(checkout / "acquire")
    finally:
        changed.write_bytes(before)
