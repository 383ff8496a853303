"""Washing and rating on a real terminal, with no daemon but their own, killed in the middle."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest

if sys.platform == "win32":
    pytest.skip("needs pseudo-terminals", allow_module_level=True)

from acquire.cli.reach import acting
from acquire.settings import config_dir
from tests.attack.commands import typed
from tests.flow.terminal import OnTerminal
from tests.unit.worked_yard import PLAN


def test_a_wash_screen_that_is_killed_loses_nothing_that_it_showed(tmp_path: Path) -> None:
    bench = Path(shutil.copy(config_dir() / "boatyard" / "bench.toml", tmp_path))
    with acting(bench) as client:
        client.call("keep_trial", text=PLAN, source="trial.toml")
    with OnTerminal(bench, "wash", "quay-1") as screen:
        screen.expect("BEFORE YOU BEGIN")
        screen.press_keys("x")
        screen.expect("WASHES of A1, A2, A3")
        screen.press_keys(" ")
        screen.expect("THIS WASH IS OUT OF ORDER")
        screen.press_keys("xyes\r")
        screen.expect("1 wash: A1, A2, A3")
        screen.press_keys(" ")
        screen.expect("2 washes: A1, A2, A3")
        screen.process.kill()
        screen.process.wait()
    # The next command finds the store as it was left, and goes on from there.
    code, said = typed(bench, ("wash", "quay-1", "--count", "3"))
    assert code == 0, said
    assert "washes: A1, A2, A3 5 washes" in said
    with OnTerminal(bench, "rate", "quay-1", "wash-5", "--by", "Ada") as screen:
        screen.expect("RATE zone A1")
        screen.press_keys("3")
        screen.expect("RATE zone A2")
        screen.press_keys("q")
        screen.expect("2 ratings left: coatbench rate quay-1 wash-5 --by Ada")
        assert screen.end() == 0
