"""The pytest plug-in as a stranger's suite uses it: whole benches, the time in the test's hand."""

from __future__ import annotations

import os
import subprocess
import sys
from importlib.metadata import entry_points
from pathlib import Path

import pytest

from acquire.link.tape_file import read_tape
from tests.captures import EVERY
from tests.flow.served import COATBENCH
from tests.unit.tape_bench import record

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals"),
]

SUITE = '''
import multiprocessing, threading
import psutil
import pytest
from acquire.errors import NotFound, Refused, SettingsError

BENCH = """
[scenario]
name = "Small"
seed = 3
[[zone]]
name = "A1"
treatment = "Tern sealant"
gloss = { 20 = 80.0, 60 = 85.0 }
[[zone]]
name = "A2"
gloss = { 20 = 70.0, 60 = 75.0 }
[[piece]]
name = "T1"
gloss = { 20 = 91.4, 60 = 95.2 }
[[device]]
name = "shore"
wire = "gloss-press"
serial = "SH-0417"
angles = [20, 60]
[[device]]
name = "deck"
wire = "gloss-asked"
serial = "DK-2205"
[[script]]
do = "drift deck gain=1.1"
after_s = 3600
"""


@pytest.fixture(autouse=True)
def nothing_is_left_after_a_test(request):
    # Asked for first, so that it ends last.
    before = threading.active_count(), len(psutil.Process().children())
    yield
    assert (threading.active_count(), len(psutil.Process().children())) == before


def test_a_run_is_blocked_once_its_pass_has_expired(coatbench):
    bench = coatbench.scenario(BENCH)
    with pytest.raises(Refused):
        bench.begin_run("shore")
    assert bench.check("shore")["outcome"] == "pass"
    bench.begin_run("shore")
    bench.put("shore", "A1")
    taken = bench.press("shore")
    assert [(row["role"], row["zone"], row["channel"]) for row in taken] == [
        ("run", "A1", "20"), ("run", "A1", "60"),
    ]
    left_s = bench.status("shore")["check"]["left_s"]
    assert bench.advance(left_s - 1)["run"]["blocked"] is None
    assert bench.advance(2)["run"]["blocked"]["reason"] == "expired"
    assert {row["role"] for row in bench.press("shore")} == {"loose"}
    assert len(bench.readings("counts = 1")) == 2


def test_what_the_script_does_it_does_by_the_clock_of_the_test(coatbench):
    bench = coatbench.scenario(BENCH)
    assert bench.check("deck")["outcome"] == "pass"
    bench.put("deck", "A1")
    before = float(bench.press("deck")[0]["value"])
    for none in (-5, float("inf"), 1e12):
        with pytest.raises(ValueError, match="wanted 0 to"):
            bench.advance(none)
    bench.advance(3700)
    assert float(bench.press("deck")[0]["value"]) == pytest.approx(1.1 * before, abs=0.5)
    bench.do("unplug deck")
    bench.await_row("incident", instrument="deck", kind="link lost")
    bench.do("plug deck")
    bench.await_connected()
    assert {row["role"] for row in bench.press("deck")} == {"loose"}
    # It is off by a tenth by now, and says so as soon as old results are out of the way.
    assert bench.check("deck")["outcome"] == "fail"
    with pytest.raises(NotFound, match="wanted shore, deck"):
        bench.press("nobody")


HEAD = """
[scenario]
name = "Dark"
seed = 1
[[piece]]
name = "DARK"
percent = 0
[[piece]]
name = "N50"
percent = 50
[[device]]
name = "light"
wire = "modbus-transmission"
serial = "TH-3310"
"""


def test_a_head_that_is_at_work_for_half_a_second_is_waited_for(coatbench):
    bench = coatbench.scenario(HEAD)
    for piece, least, most in (("N50", 40, 60), ("DARK", -1, 1)):
        bench.put("light", piece)
        (row,) = bench.press("light")
        assert least < float(row["value"]) < most
    told = [row["text"] for row in bench.notices("light")]
    assert not any("at work" in text for text in told), told


def test_a_tape_reads_as_it_did_that_day(coatbench):
    bench = coatbench.tape("press.tape")
    assert bench.readings() == []
    bench.play()
    read = [(row["sent_text"], row["value"], row["channel"]) for row in bench.readings()]
    then = [dict(made.says) for made in bench.tape.made if made.what == "reading"]
    assert read == [(says["text"], says["value"], says["channel"]) for says in then]
    assert [says["text"] for says in then] == SHOWN
    assert bench.status(bench.tape.whose.instrument)["message"]


def test_a_scenario_with_faults_is_told(coatbench):
    with pytest.raises(SettingsError) as told:
        coatbench.scenario("[[device]]\\nname = 'x'\\nwire = 'y'\\n")
    assert [fault.path for fault in told.value.faults] == ["device[0].wire", "device[0].serial"]
'''


@pytest.fixture
def suite(tmp_path: Path) -> Path:
    """A folder with the tape of a capture, as a store keeps it and ``tape cut`` gives it."""
    one = next(one for one in EVERY if one.capture.name == "gloss-press/start")
    record(tmp_path, one)
    cut = subprocess.run(
        [COATBENCH, "tape", "cut", "1", "--out", "press.tape"],
        cwd=tmp_path, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert cut.returncode == 0, cut.stderr
    made = [dict(m.says) for m in read_tape(tmp_path / "press.tape").made if m.what == "reading"]
    shown = [says["text"] for says in made]
    assert shown
    (tmp_path / "test_theirs.py").write_text(SUITE.replace("SHOWN", repr(shown)), "utf-8")
    return tmp_path


def test_a_suite_of_a_stranger_gets_whole_benches_and_nothing_is_left_of_them(suite: Path) -> None:
    installed = [one.name for one in entry_points(group="pytest11")]
    # Where the entry point is not installed anew yet, the plug-in is named.
    named = [] if "coatbench" in installed else ["-p", "acquire.testkit.plugin"]
    found = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-W", "error", *named],
        cwd=suite, capture_output=True, text=True, check=False, timeout=100,
        env={key: value for key, value in os.environ.items() if not key.startswith("PYTEST")},
    )  # fmt: skip
    assert found.returncode == 0, found.stdout[-6000:] + found.stderr
    assert "5 passed" in found.stdout


def test_the_plug_in_imports_nothing_of_coatbench_before_it_is_used() -> None:
    found = subprocess.run(
        [sys.executable, "-c",
         "import sys, acquire.testkit.plugin\n"
         "print(*[m for m in sys.modules if m.split('.')[0] in ('acquire', 'simulators', 'usb')])"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert found.stdout.split() == ["acquire", "acquire.testkit", "acquire.testkit.plugin"]
