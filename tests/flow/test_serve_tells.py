"""The terminal of the daemon, as whoever is new at the bench watches it."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from tests.flow.served import Served
from tests.flow.terminal import make_ready

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals")


def expect(served: Served, words: str) -> str:
    """The next line that has these words."""
    assert served.process.stdout is not None
    for line in served.process.stdout:
        if words in line:
            return line.rstrip()
    raise AssertionError(f"the daemon ended and said nothing of {words!r}")


def test_it_says_at_once_when_a_meter_goes_and_comes_and_a_run_waits(tmp_path: Path) -> None:
    with Served(tmp_path) as served:
        line = expect(served, "connected as")
        assert re.match(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d - meter-0: connected as ", line)
        make_ready(served, checked=True)
        expect(served, "check 1 pass")
        with served.client() as client:
            client.call(
                "begin_run",
                text=(served.folder / "trial.toml").read_text(),
                source="trial.toml",
                stage="bare",
                instrument="meter-0",
            )
        expect(served, "run 1 began")
        served.wire.unplug()
        expect(served, "meter-0: disconnected: ")
        assert "then coatbench check meter-0" in expect(served, ") waits: ")
        served.wire.plug()
        expect(served, "connected as")
        served.check()
        expect(served, "check 2 pass")
        expect(served, ") goes on")
        with served.client() as client:
            client.call("stop")
        assert expect(served, "stopped") == "stopped; everything that was received is stored"
