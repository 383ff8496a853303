"""A gauge that streams is held against the clock that it sends by, on a bench in a test's hand."""

from __future__ import annotations

import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest

from acquire.clock import ManualClock
from acquire.testkit import held_bench
from acquire.testkit.scenario_bench import ScenarioBench
from acquire.testkit.simulated import scenario_of

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals"),
]

BENCH = """
[scenario]
name = "Two gauges"
seed = 5
[[piece]]
name = "W200"
mass_g = 200
[[piece]]
name = "W500"
mass_g = 500
[[device]]
name = "stream"
wire = "force-stream"
serial = "PG-0032"
[[device]]
name = "scale"
wire = "hid-weighing"
serial = "SG-0031"
"""


def told(bench: ScenarioBench) -> list[str]:
    """Notices of the rate of the gauge that streams."""
    return [row["text"] for row in bench.notices("stream") if "samples a second" in row["text"]]


@pytest.fixture
def another_pace(monkeypatch: pytest.MonkeyPatch) -> None:
    """While it waits, the clock of the test goes four times as fast as the computer's."""
    four_times = SimpleNamespace(monotonic=lambda: 4 * time.monotonic())
    monkeypatch.setattr(held_bench, "time", four_times)


@pytest.mark.usefixtures("another_pace")
def test_a_stream_is_sound_though_the_clock_goes_at_another_pace_than_the_computers(
    tmp_path: Path,
) -> None:
    with ScenarioBench(scenario_of(BENCH, "two"), tmp_path, ManualClock()) as bench:
        for name in ("scale", "stream"):
            assert bench.check(name)["outcome"] == "pass", name
        assert told(bench) == []


def test_a_stream_is_sound_however_the_test_moves_the_clock(tmp_path: Path) -> None:
    with ScenarioBench(scenario_of(BENCH, "two"), tmp_path, ManualClock()) as bench:
        for seconds in (0.05,) * 40 + (0.7,) * 10 + (3.0, 40.0, 5000.0) + (0.2,) * 40:
            bench.advance(seconds)
        bench.put("stream", "W200")
        (row,) = bench.press("stream")
        assert row["flags"] == ""
        assert row["loose_reason"].startswith("no run is open")
        assert told(bench) == []
