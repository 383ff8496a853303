"""A simulated meter that drifts inside its limit between checks, and a plan that corrects it."""

from __future__ import annotations

import csv
import re
import subprocess
import sys
from pathlib import Path

import pytest

from acquire.testkit.maker import Maker
from acquire.testkit.scenario_bench import ScenarioBench
from tests.flow.served import COATBENCH

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals")

# The wax does nothing: every net change that is found comes from the meter.
BENCH = """
[scenario]
name = "Drifting"
seed = 5
[[zone]]
name = "A1"
gloss = { 60 = 85.0 }
[[zone]]
name = "A2"
treatment = "Tern wax"
gloss = { 60 = 85.0 }
[[piece]]
name = "T1"
gloss = { 60 = 95.2 }
[[device]]
name = "shore"
wire = "gloss-press"
serial = "SH-0417"
angles = [60]
"""


@pytest.fixture
def bench(coatbench: Maker) -> ScenarioBench:
    made = coatbench.scenario(BENCH)
    made.trial = re.sub(r"(quantity = \"gloss\")", r'\1\ndrift_correction = "offset"', made.trial)
    made.trial = re.sub(r"order = .*", 'order = "by-zone"', made.trial)
    return made


def read_zones(bench: ScenarioBench, stage: str, per_press: float) -> None:
    """A whole run, zone by zone, ten seconds a press, while the meter drifts with every press."""
    begun = bench.begin_run("shore", stage=stage)
    bench.do(f"drift shore offset={per_press} per_press=true")
    for _ in range(begun["slots_left"]):
        target = bench.client.call("status")["run"]["next"]
        bench.put("shore", target["zone"])
        bench.advance(10)
        (row,) = bench.press("shore")
        assert row["role"] == "run", row["loose_reason"]
    bench.do("drift shore offset=0 per_press=true")
    bench.client.call("finish_run")


def command(bench: ScenarioBench, *words: str) -> str:
    done = subprocess.run(
        [COATBENCH, *words], cwd=Path(bench.store).parent, capture_output=True, text=True,
        check=False, timeout=100,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_a_drift_inside_the_limit_is_corrected_and_both_results_stand_on_the_page(
    bench: ScenarioBench, tmp_path: Path
) -> None:
    assert bench.check("shore")["outcome"] == "pass"
    read_zones(bench, "bare", 0.05)
    bench.advance(10)
    assert bench.check("shore")["outcome"] == "pass", "the drift stays inside the limit"
    read_zones(bench, "applied", -0.05)
    bench.advance(10)
    assert bench.check("shore")["outcome"] == "pass"
    trial = bench.readings("role = 'run'")[0]["trial"]
    out = tmp_path / "page.html"
    command(bench, "report", trial, "--out", str(out))
    page = re.sub(r"<[^>]+>", " ", out.read_text(encoding="utf-8"))
    page = " ".join(page.replace("\u00a0", " ").split())
    assert "At applied, corrected for drift" in page
    both = re.search(
        r"Tern wax, applied: corrected (\S+) ± (\S+) GU, as read (\S+) ± (\S+) GU; they lie (\S+) "
        r"GU apart",
        page,
    )
    assert both is not None
    corrected, u, read, read_u, apart = (float(t.replace("−", "-")) for t in both.groups())
    # Nothing changed: the drift alone made a net change, and the correction takes it off again.
    assert abs(corrected) < u
    assert abs(read) > 2 * abs(corrected)
    assert abs(corrected - read) == pytest.approx(apart, abs=0.02)
    assert u < read_u
    readings = tmp_path / "readings.csv"
    command(bench, "export", trial, "--out", str(readings))
    with readings.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["closing_check_outcome"] for row in rows} == {"pass"}
    last = [row for row in rows if row["stage"] == "bare"][-1]
    # At the end of the bare stage the meter stood too high by most of its drift.
    assert float(last["corrected_value"]) < float(last["value"]) - 0.2
    assert float(last["corrected_value"]) == pytest.approx(85.0, abs=0.5)


def test_a_check_that_fails_says_at_once_what_it_did_to_the_results(bench: ScenarioBench) -> None:
    assert bench.check("shore")["outcome"] == "pass"
    read_zones(bench, "bare", 0.0)
    bench.do("drift shore offset=4")
    assert bench.check("shore")["outcome"] == "fail"
    told = command(bench, "status")
    assert "SUSPECT: check 2 found the meter outside its limit" in told
    assert "results are reckoned without them from now on (coatbench report" in told
    assert "open again of" in told
