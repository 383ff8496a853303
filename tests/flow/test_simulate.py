"""`coatbench simulate` as a process: a bench from one file, worked by lines that are piped in."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psutil
import pytest

from acquire.control.client import Client
from acquire.report.package.recompute import recompute
from acquire.report.package.writing import write_package
from acquire.report.proof.washproof import prove_wash
from acquire.settings import load_bench, load_plan
from acquire.testkit.simulated import load_scenario
from simulators.scenario_file import read_scenario
from tests.flow.served import COATBENCH
from tests.patience import PATIENCE_S
from tests.unit.worked_yard import PLAN

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals"),
]

SCENARIO = """
[scenario]
name = "Two on a bench"
seed = 3
[[zone]]
name = "A1"
treatment = "Tern sealant"
gloss = { 20 = 80.0 }
[[zone]]
name = "A2"
gloss = { 20 = 70.0 }
[[piece]]
name = "T1"
gloss = { 20 = 91.4 }
[[piece]]
name = "OPEN"
percent = 100
[[device]]
name = "shore"
wire = "gloss-press"
serial = "SH-0417"
latency_s = 0.15
[[device]]
name = "spectra"
wire = "usbtmc-head"
serial = "LG-0093"
"""


class Simulation:
    """``coatbench simulate`` with its input in the test's hand."""

    def __init__(self, *arguments: str) -> None:
        self.process = subprocess.Popen(
            [COATBENCH, "simulate", *arguments],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        self.said: list[str] = []

    def until(self, words: str) -> str:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.said.append(line.rstrip("\n"))
            if words in line:
                return self.said[-1]
        assert self.process.stderr is not None
        raise AssertionError(f"never said {words!r}: {self.said} {self.process.stderr.read()}")

    def tell(self, line: str) -> str:
        assert self.process.stdin is not None
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()
        return self.until(f"{line}: ")

    def end(self) -> tuple[int, str]:
        _, told = self.process.communicate(timeout=PATIENCE_S)
        return self.process.returncode, told


@pytest.fixture
def scenario(tmp_path: Path) -> Path:
    file = tmp_path / "two.toml"
    file.write_text(SCENARIO, encoding="utf-8")
    return file


@pytest.fixture
def served(scenario: Path, tmp_path: Path) -> Iterator[Simulation]:
    one = Simulation(str(scenario), "--bench", str(tmp_path / "try" / "bench.toml"), "--serve")
    yield one
    one.process.kill()
    one.process.communicate(timeout=PATIENCE_S)


def readings(items: Any, press: Any, role: str, times: int, a_press: int = 1) -> None:
    """Press until so many presses were taken in that role: the first may pass for echoes."""
    taken = 0
    while taken < times:
        press()
        rows = [next(i for i in items if i.get("table") == "reading") for _ in range(a_press)]
        taken += role in [row["role"] for row in rows]


def test_a_bench_of_a_scenario_is_served_checked_and_run_usb_included(
    served: Simulation, tmp_path: Path
) -> None:
    served.until("coatbench status")
    bench = load_bench(tmp_path / "try" / "bench.toml")
    trial = (tmp_path / "try" / "trial.toml").read_text(encoding="utf-8")
    assert [i.id for i in bench.instruments] == ["shore", "spectra"]
    assert "gloss-20" in [m.id for m in load_plan(tmp_path / "try" / "trial.toml").measures]
    with Client.of_store(bench.store) as client, client.watch() as items:
        while not all(i["connected"] for i in client.call("status")["instruments"]):
            next(items)
        for name, piece, a_press in (("shore", "T1", 1), ("spectra", "OPEN", 3)):
            client.call("begin_check", instrument=name)
            served.tell(f"put {name} {piece}")
            readings(items, lambda n=name: served.tell(f"press {n}"), "check", 3, a_press)
            judged = next(i for i in items if i.get("table") == "check_judgement")
            assert judged["outcome"] == "pass"
        client.call(
            "begin_run", text=trial, source="trial.toml", stage="bare", instrument="shore",
            measure="gloss-20",
        )  # fmt: skip
        # Each press had the time to be fetched: none is lost of a head that keeps its last alone.
        served.tell("press spectra 3")
        readings(items, lambda: None, "loose", 3, 3)
        listed = subprocess.run(
            [COATBENCH, "devices", "--bench", str(tmp_path / "try" / "bench.toml")],
            stdout=subprocess.PIPE, text=True, check=True, timeout=PATIENCE_S,
        ).stdout  # fmt: skip
        assert "is        connected as usb ffff:0488, by the daemon of this bench" in listed
        assert "not plugged in" not in listed
        served.tell("zone A1 gloss.20=60")
        served.tell("put shore A1")
        readings(items, lambda: served.tell("press shore"), "run", 1)
        client.call("stop")
    assert served.end() == (0, "")
    assert not (tmp_path / "try" / "shore-port").exists()


def test_ctrl_c_ends_every_device_and_a_line_that_failed_ends_in_status_1(scenario: Path) -> None:
    one = Simulation(str(scenario))
    one.until("USB devices are found by: coatbench serve FILE --simulated-usb 127.0.0.1:")
    children = psutil.Process(one.process.pid).children()
    assert len(children) == 1
    one.tell("put shore A2")
    assert one.process.stdin is not None
    one.process.stdin.write("press shore\nput shore T9\n")
    one.process.stdin.flush()
    assert one.process.stderr is not None
    told = one.process.stderr.readline()
    assert told == 'not done: put shore: got "T9", wanted one of A1, A2, T1\n'
    one.process.send_signal(signal.SIGINT)
    assert one.end()[0] == 1
    assert psutil.wait_procs(children, timeout=PATIENCE_S)[1] == []


def test_one_simulation_at_a_time_has_a_folder_and_ends_with_its_terminal(
    scenario: Path, tmp_path: Path
) -> None:
    bench = tmp_path / "try" / "bench.toml"
    one = Simulation(str(scenario), "--bench", str(bench))
    one.until("coatbench devices")
    there = os.readlink(bench.parent / "shore-port")
    status, told = Simulation(str(scenario), "--bench", str(bench.with_name("b.toml"))).end()
    assert status == 1
    assert f"a bench in {bench.parent} is simulated already" in told
    assert f"got     another coatbench simulate, process {one.process.pid}\n" in told
    assert os.readlink(bench.parent / "shore-port") == there
    one.process.send_signal(signal.SIGHUP)
    assert one.end() == (0, "")
    assert not (bench.parent / "shore-port").is_symlink()
    assert not (bench.parent / "simulated").exists()


def test_a_bad_scenario_is_one_message_with_every_fault_and_nothing_runs(tmp_path: Path) -> None:
    file = tmp_path / "bad.toml"
    text = SCENARIO.replace("usbtmc-head", "usb-head").replace("seed = 3", "seed = 3.5")
    file.write_text(text, encoding="utf-8")
    status, told = Simulation(str(file), "--bench", str(tmp_path / "bench.toml")).end()
    assert status == 1
    assert told.startswith(f"coatbench: {file} has 2 faults\n  scenario.seed\n    got     3.5\n")
    assert "device[1].wire" in told
    assert not (tmp_path / "bench.toml").exists()
    status, told = Simulation("nowhere").end()
    assert status == 1
    assert "boatyard, trouble, wires" in told


def test_a_bench_file_of_somebody_else_is_not_written_over(scenario: Path, tmp_path: Path) -> None:
    bench = tmp_path / "bench.toml"
    bench.write_text("# mine\n", encoding="utf-8")
    status, told = Simulation(str(scenario), "--bench", str(bench)).end()
    assert status == 1
    assert "is not overwritten" in told
    assert bench.read_text(encoding="utf-8") == "# mine\n"
    assert read_scenario(SCENARIO, "two.toml").devices


def test_a_folder_of_its_name_does_not_hide_a_scenario_that_is_shipped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "wires").mkdir()
    monkeypatch.chdir(tmp_path)
    assert load_scenario("wires").devices


def test_a_trial_of_ones_own_is_simulated_washed_by_its_counter_and_has_its_climate(
    tmp_path: Path,
) -> None:
    trial = tmp_path / "quay.toml"
    plan = PLAN.replace("title =", "unchecked = true\ntitle =")
    trial.write_text(plan, encoding="utf-8")
    file = tmp_path / "try" / "bench.toml"
    one = Simulation(str(trial), "--bench", str(file), "--serve")
    try:
        one.until("coatbench status")
        bench = load_bench(file)
        assert [i.id for i in (*bench.instruments, *bench.probes)] == ["shore", "hub", "hygro"]
        with Client.of_store(bench.store) as client, client.watch() as items:
            found = client.call("status")
            while not (all(i["connected"] for i in found["probes"]) and found["climate"]):
                next(items)
                found = client.call("status")
            assert found["climate"]["source"] == "hygro"
            client.call("count_washes", trial="quay-1", zones=["A1", "A3"], counter="hub")
            assert one.process.stdin is not None
            one.process.stdin.write("apply A1\nwash A1 A3 2\n")
            one.process.stdin.flush()
            one.until("washed; washes of what is on them: A1 2, A3 2")
            rows = [next(i for i in items if i.get("table") == "wash") for _ in range(2)]
            client.call(
                "begin_run", text=plan, source="quay.toml", stage="wash-5", instrument="shore"
            )
            one.tell("put shore A1")
            readings(items, lambda: one.tell("press shore"), "run", 1)
        assert [(row["zones"], row["counted_by"]) for row in rows] == [("A1,A3", "hub")] * 2
        proof = prove_wash(bench.store, rows[1]["id"])
        assert proof.holds
        assert "b'S0002*51'" in "\n".join(proof.lines)
        # The bytes of the counter go with the washes that it counted, those of the probe with the
        # climate.
        write_package(bench.store, "quay-1", tmp_path / "quay.zip")
        again = recompute(tmp_path / "quay.zip")
        assert (again.is_same, again.again.unlike, again.again.not_told) == (True, (), ())
        assert again.again.came == 3  # one press, and two strokes
        one.process.stdin.write("quit\n")
        assert one.end()[0] == 0
    finally:
        one.process.kill()
        one.process.communicate(timeout=PATIENCE_S)
