"""A drift is seen coming: a simulated meter creeps by its scenario, and the commands tell it."""

from __future__ import annotations

import json
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from acquire.clock import ManualClock
from acquire.drift.asked import told_of
from acquire.errors import Refused
from acquire.store.reader import StoreReader
from acquire.testkit.scenario_bench import ScenarioBench
from acquire.testkit.simulated import scenario_of
from tests.flow.served import Served
from tests.flow.terminal import Piped, await_meter, do
from tests.flow.test_terminal_plain import READS, follow_check

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals"),
]

# From the fourth check on the gain creeps: at a tile of 91.4 GU by about 0.1 GU a check.
SCENARIO = """
[scenario]
name = "A meter that creeps"
seed = 5
[[zone]]
name = "A1"
gloss = { 20 = 80.0 }
[[piece]]
name = "T1"
gloss = { 20 = 91.4 }
[[piece]]
name = "Z0"
gloss = { 20 = 0.0 }
[[device]]
name = "shore"
wire = "gloss-press"
serial = "SH-0417"
angles = [20]
[[script]]
after_presses = 18
of = "shore"
do = "drift shore gain=1.00018 per_press=true"
"""
DAY_S = 86_400.0


def test_a_meter_that_creeps_by_its_scenario_is_warned_of_before_it_blocks(
    tmp_path: Path,
) -> None:
    warned: list[list[str]] = []
    clock = ManualClock(datetime(2026, 5, 4, 8, 0, tzinfo=UTC))
    with ScenarioBench(scenario_of(SCENARIO, "creep"), tmp_path, clock) as bench:
        outcome = ""
        for _ in range(25):
            outcome = bench.check("shore")["outcome"]
            with StoreReader(bench.store) as store:
                warned.append(told_of(store, "shore", clock.now().utc_ns))
            if outcome != "pass":
                break
            bench.advance(DAY_S)
        assert outcome != "pass"
        with pytest.raises(Refused):
            bench.begin_run("shore")
    first = next(k for k, lines in enumerate(warned) if lines)
    assert first > 3, "nothing is to be told of a meter that stands still"
    assert first <= len(warned) - 3, "the warning came no two checks before the block"
    assert warned[first][0].startswith("warning: T1 at 20° of shore ")
    assert warned[first][0].endswith("; plan a re-adjustment")
    assert all(lines for lines in warned[first:])


def test_check_status_and_drift_tell_it_in_plain_lines(tmp_path: Path) -> None:
    with Served(tmp_path) as served:
        await_meter(served)
        for step in range(5):
            with Piped(served.bench_file, "check", "meter-0") as command:
                follow_check(served, command, {**READS, "T1": f"{91.4 + 0.12 * step:.1f}"})
                status, out, err = command.end()
            assert (status, err) == (0, "")
        told = [line for line in out.splitlines() if line.startswith("warning: ")]
        assert len(told) == 1
        assert told[0].startswith("warning: T1 at 20° of meter-0 ")
        assert out.splitlines()[-1].startswith("next: ")
        status, out, _ = do(served, "status")
        assert status == 0
        assert f"  drift  {told[0].removeprefix('warning: ')}"[:40] in out
        status, out, _ = do(served, "status", "--json")
        assert json.loads(out)["drift"]["meter-0"]
        status, out, err = do(served, "drift")
        assert (status, err) == (0, "")
        head, *rows = out.splitlines()
        assert head.split("\t")[:3] == ["meter", "piece", "checks"]
        assert [row.split("\t")[1] for row in rows if "\t" in row] == [
            "T1 at 20°", "T2 at 20°", "Z0 at 20°",
        ]  # fmt: skip
        status, out, err = do(served, "drift", "nobody")
        assert status == 1
        assert "  wanted  meter-0" in err
        status, out, err = do(served, "drift", "meter-0", "--piece", "T9")
        assert status == 1
        assert "  wanted  T1 20, T2 20, Z0 20" in err
    # Without the daemon as with it.
    status, out, err = do(served, "drift", "meter-0", "--piece", "T1")
    assert (status, err) == (0, "")
    assert out.startswith("meter-0, T1 at 20°: not known")
    assert "\x1b" not in out
    status, out, _ = do(served, "drift", "--json", "--channel", "20")
    assert [item["piece"] for item in json.loads(out)] == ["T1", "T2", "Z0"]
    page = tmp_path / "drift.html"
    status, out, _ = do(served, "drift", "--out", str(page))
    assert (status, out) == (0, f"written: {page}\n")
    assert "T1 at 20° of meter-0" in page.read_text("utf-8")
