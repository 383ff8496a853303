"""The commands through a pipe: plain lines, exit statuses, one message for every refusal."""

from __future__ import annotations

import csv
import io
import json
import re
import signal
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.store import StoreReader
from tests.flow.served import Served
from tests.flow.terminal import Piped, await_meter, do, make_ready, new_trial
from tests.patience import PATIENCE_S

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals")
READS = {"T1": "91.4", "T2": "52.6", "Z0": "0.0"}


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """One daemon for all tests that do it no harm."""
    with Served(tmp_path_factory.mktemp("bench")) as served:
        yield served


@pytest.fixture
def served(bench: Served) -> Served:
    make_ready(bench, checked=True)
    return bench


@pytest.fixture
def own(tmp_path: Path) -> Iterator[Served]:
    """A daemon of a test's own, to be killed; its meter is checked."""
    with Served(tmp_path) as served:
        make_ready(served, checked=True)
        yield served


def begin_run(served: Served) -> Piped:
    trial = str(served.folder / "trial.toml")
    # The bench has one instrument only, which need not be named.
    return Piped(served.bench_file, "run", trial, "bare")


def follow_check(served: Served, command: Piped, reads: dict[str, str]) -> None:
    """Do what the lines of a check say, as a tester does, until its verdict comes."""
    piece, left = "", 0
    while line := command.line():
        if line.startswith("place meter-0 on "):
            words = line.split()
            piece, left = words[3], int(words[6])
            served.wire.press(reads[piece])
        elif f"accepted: piece {piece}" in line:
            left -= 1
            if left:
                served.wire.press(reads[piece])
        elif line.startswith("check "):
            return


def test_a_check_leads_through_its_pieces_and_a_pass_is_status_0(served: Served) -> None:
    with served.client() as client:
        client.call("close_sitting")
    with Piped(served.bench_file, "check", "meter-0") as command:
        command.expect("BEFORE YOU BEGIN")
        follow_check(served, command, READS)
        status, out, err = command.end()
    assert (status, err) == (0, "")
    assert command.lines[-1].endswith(" of meter-0: PASS")
    assert "T1     20°  91.40       91.4       0.00" in out
    assert out.splitlines()[-1] == "next: coatbench run FILE STAGE --with meter-0"
    # Where a trial is kept, what is due of it.
    text = (served.folder / "trial.toml").read_text()
    with served.client() as client:
        client.call("keep_trial", text=text, source="trial.toml")
    with Piped(served.bench_file, "check", "meter-0") as command:
        follow_check(served, command, READS)
        _, out, _ = command.end()
    # Other tests on this bench may have kept trials of which the same is due.
    assert re.fullmatch(
        r"next: coatbench run gelcoat-\d+ bare --with meter-0", out.splitlines()[-1]
    )


def test_a_meter_that_has_drifted_is_status_1_with_figure_limit_and_next_step(
    served: Served,
) -> None:
    with Piped(served.bench_file, "check", "meter-0") as command:
        follow_check(served, command, {**READS, "T1": "94.6"})
        status, out, _ = command.end()
    assert status == 1
    assert "T1 at 20° read 94.60 GU, +3.20 from its certified 91.4 GU; limit 1.0 GU" in out
    status, out, err = do(
        served, "run", str(served.folder / "trial.toml"), "bare", "--with", "meter-0"
    )
    assert (status, out) == (1, "")
    assert err.startswith(
        "coatbench: meter-0 cannot start a run\n  got     the last check of meter-0"
    )
    assert "  next    clean piece and meter" in err


def test_a_run_tells_each_event_and_finishes_by_itself(served: Served) -> None:
    with begin_run(served) as command:
        for number, zone in enumerate(("A1", "A2", "A1", "A2")):
            assert f"next: zone {zone} " in command.expect("next: ")
            served.wire.press(f"8{number}.5")
            assert f"8{number}.5 GU at 20° accepted: {zone}" in command.expect("accepted")
        status, out, err = command.end()
    assert (status, err) == (0, "")
    assert "is finished; every place is filled" in out
    assert not any("\x1b" in line or "\a" in line for line in [*command.lines, out])
    with StoreReader(served.store) as store:
        (end,) = store.rows("SELECT * FROM run_end ORDER BY id DESC LIMIT 1")
        assert (end["why"], end["open_slots"]) == ("complete", 0)
        where = "run_id = ? AND counts = 1"
        count = store.one(f"SELECT count(*) FROM readings WHERE {where}", (end["run_id"],))
        assert count == 4


def test_a_blocked_run_says_why_and_goes_on_after_a_fresh_check(served: Served) -> None:
    with begin_run(served) as command:
        command.expect("next: zone A1")
        served.wire.unplug()
        assert (
            "switch it on (it is found by itself), then coatbench check meter-0"
            in command.expect("BLOCKED")
        )
        served.wire.plug()
        command.expect("connected as")
        served.check()
        command.expect("pass: 3 of 3")
        served.wire.press("80.5")
        command.expect("accepted: A1 replicate 1")


def test_ctrl_c_leaves_the_run_open_and_resume_comes_back_to_it(served: Served) -> None:
    with begin_run(served) as command:
        command.expect("next: zone A1")
        with Piped(served.bench_file, "check", "meter-0") as check:
            follow_check(served, check, READS)
            assert check.end()[1].splitlines()[-1] == "next: coatbench run --resume"
        command.process.send_signal(signal.SIGINT)
        status, out, err = command.end()
    assert (status, err) == (130, "")
    assert "stays open. Next: coatbench run --resume" in out
    status, _, err = do(
        served, "run", str(served.folder / "trial.toml"), "bare", "--with", "meter-0"
    )
    assert status == 1
    assert "a run is open" in err
    with Piped(served.bench_file, "run", "--resume") as command:
        command.expect("next: zone A1")
        status, out, _ = do(served, "run", "--finish", "--why", "rain")
        assert status == 0
        assert out.splitlines()[0].endswith(" is finished; 4 places are still open")
        assert out.splitlines()[1] == (
            "next: coatbench check meter-0 (the closing check), then coatbench next"
        )
        assert command.end()[0] == 1  # a program must not take it for complete


def test_a_daemon_that_dies_ends_every_command_with_status_3(own: Served) -> None:
    with (
        begin_run(own) as run,
        Piped(own.bench_file, "watch") as watch,
        Piped(own.bench_file, "check", "meter-0") as check,
    ):
        run.expect("next: zone A1")
        watch.expect("meter-0: connected")
        check.expect("place meter-0 on T1")
        own.kill()
        for command in (run, watch, check):
            status, _, err = command.end()
            assert status == 3
            assert err.startswith("coatbench: the daemon")
            assert "Traceback" not in err


def test_watch_tells_what_happens_until_ctrl_c(served: Served) -> None:
    with Piped(served.bench_file, "watch") as command:
        command.expect("no run is open")
        served.wire.send(b"garbage\r\n")
        assert "noise on the line" in command.expect("meter-0: noise")
        served.wire.press("80.5")
        assert "kept as loose" in command.expect("80.5 GU at 20° not accepted")
        command.process.send_signal(signal.SIGINT)
        assert command.end()[0] == 0


def test_a_check_can_be_joined_and_abandoned_from_elsewhere(served: Served) -> None:
    with Piped(served.bench_file, "check", "meter-0") as first:
        first.expect("place meter-0 on T1")
        with Piped(served.bench_file, "check", "meter-0") as second:
            second.expect("a check of meter-0 is under way; going on with it")
            second.expect("place meter-0 on T1")
            served.wire.press("61.0")
            second.expect("61.0")
            status, _, err = do(served, "check", "meter-0", "--abandon")
            assert status != 0
            assert "judged by what was read: T1 at 20° read 61.00 GU at its one press" in err
            assert "--abandon --yes, where it is meant" in err
            assert do(served, "check", "meter-0", "--abandon", "--yes")[0] == 0
            for command in (first, second):
                status, out, _ = command.end()
                assert status == 1
                assert "the check was abandoned: by the person at the bench; but T1" in out


def test_commands_of_one_call_do_what_they_say(served: Served) -> None:
    trial = new_trial(served)
    with begin_run(served) as command:
        command.expect("next: zone A1")
        served.wire.press("80.5")
        command.expect("accepted: A1 replicate 1")
        command.expect("next: zone A2")
        status, out, _ = do(served, "void", "--last", "--reason", "meter slipped")
        assert status == 0
        said = out.splitlines()
        assert said[0].startswith("the last reading is ")
        assert said[0].endswith(" (80.5 GU at 20°, A1 replicate 1)")
        assert said[1].endswith(
            " (80.5 GU at 20°, A1 replicate 1, bare) is void; its place is open again"
        )
        status, _, err = do(served, "void", "--last", "--reason", "meter slipped")
        assert status == 1
        assert "coatbench readings lists the numbers" in err
        command.expect("void: meter slipped")
        command.expect("next: zone A1")
        for value in ("80.6", "81.6", "80.7"):
            served.wire.press(value)
            command.expect("accepted")
        do(served, "run", "--finish")
        command.end()
    with served.client() as client, client.watch() as items:
        served.wire.press("81.7")
        loose = served.next_reading(items)["id"]
    line = ["assign", str(loose), "--trial", trial, "--stage", "bare", "--replicate", "2"]
    status, out, _ = do(served, *line, "--zone", "A2", "--reason", "pressed late")
    assert (status, out) == (0, f"reading {loose} now counts for zone A2, bare, replicate 2\n")
    status, _, err = do(served, *line, "--zone", "A1", "--reason", "again")
    assert status == 1
    assert f"reading {loose}" in err
    assert do(served, "note", "sun on the panel", "--trial", trial)[:2] == (0, "note 1 kept\n")
    status, _, err = do(served, "take", "meter-0")
    assert status == 1
    assert "press the button of meter-0" in err
    assert do(served, "take", "nobody")[0] == 1
    status, out, _ = do(served, "close")
    assert (status, out.endswith(" is closed\n")) == (0, True)
    status, out, _ = do(served, "status", "--json")
    assert json.loads(out)["sitting"] is None
    status, out, _ = do(served, "export", trial)
    rows = list(csv.DictReader(io.StringIO(out)))
    assert [r["value"] for r in rows if r["counts"] == "1"] == ["80.6", "81.6", "80.7", "81.7"]
    assert [r["void_reason"] for r in rows if r["counts"] == "0"] == ["meter slipped"]


def test_an_interrupted_run_goes_on_only_under_a_fresh_check(own: Served) -> None:
    with begin_run(own) as command:
        command.expect("next: zone A1")
        own.kill()
        command.end()
    own.start()
    await_meter(own)
    status, _, err = do(own, "run", "--resume")
    assert status == 1
    assert "cannot start a run" in err
    own.check()
    with Piped(own.bench_file, "run", "--resume") as command:
        command.expect("next: zone A1")


def test_stop_ends_the_daemon_and_says_when_it_has(own: Served) -> None:
    status, out, _ = do(own, "stop")
    assert (status, out) == (0, "the daemon has stopped; everything it received is stored\n")
    assert not own.door.exists()
    assert own.process.wait(PATIENCE_S) == 0
    assert do(own, "stop")[0] == 3
