"""The daemon as a process: nothing shown is lost, nothing is there twice, every end is clear."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from acquire.control.client import Client
from acquire.control.door import read_door
from acquire.errors import ControlError, Refused
from acquire.store import StoreReader
from tests.flow.served import COATBENCH, Served
from tests.patience import PATIENCE_S
from tests.yard import TRIAL

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals")
WIDE = TRIAL.replace("replicates = 2", "replicates = 200")


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    with Served(tmp_path) as served:
        yield served


def begin(served: Served, text: str = WIDE) -> None:
    with served.client() as client:
        client.call("begin_run", text=text, source="trial.toml", stage="bare", instrument="meter-0")


@pytest.mark.parametrize("shown_before_kill", [1, 7, 40])
def test_after_a_kill_everything_shown_is_stored_once_and_the_run_goes_on_under_a_fresh_check(
    served: Served, shown_before_kill: int
) -> None:
    served.check()
    begin(served)
    shown = []
    with served.client() as client, client.watch() as items:
        # A burst, so that the kill falls into the middle of the work.
        for i in range(shown_before_kill + 30):
            served.wire.press(f"{80 + i / 10:.1f}")
        for _ in range(shown_before_kill):
            shown.append(served.next_reading(items))
        served.kill()
        for item in items:  # what was still on its way to the screen
            if item.get("table") == "reading":
                shown.append(item)
    with StoreReader(served.store) as reader:
        stored = reader.rows("SELECT * FROM readings WHERE role = 'run' ORDER BY reading_id")
        assert reader.one("PRAGMA integrity_check") == "ok"
    by_id = {row["reading_id"]: row for row in stored}
    for item in shown:
        row = by_id[item["id"]]
        assert (row["value"], row["zone"], row["replicate"]) == (
            item["value"],
            item["zone"],
            item["replicate"],
        )
    presses = [row["press"] for row in stored]
    assert len(presses) == len(set(presses)), "a press is in the store twice"

    served.start()
    with served.client() as client:
        interrupted = client.call("status")["interrupted"]
        assert (interrupted["trial"], interrupted["stage"]) == ("gelcoat", "bare")
        with pytest.raises(Refused, match=r"nobody watched|not connected"):
            client.call("resume_run")
    served.check()
    with served.client() as client, client.watch() as items:
        left = client.call("resume_run")["slots_left"]
        assert left == 2 * 200 - len(stored)
        served.wire.press("99.9")
        assert served.next_reading(items)["role"] == "run"


def test_an_unplugged_meter_ends_its_check_and_is_found_again_at_another_port(
    served: Served,
) -> None:
    served.check()
    begin(served)
    with served.client() as client, client.watch() as items:
        served.wire.press("80.1")
        assert served.next_reading(items)["role"] == "run"
        served.wire.send(b"R,0099,20,8")  # unplugged in mid-frame
        first = next(item for item in items if item.get("table") == "tape")
        assert first["bytes"] == "R,0099,20,8"
        served.wire.unplug()
        seen = {}
        for item in items:
            seen.setdefault(item.get("table"), item)
            if "disconnection" in seen:
                break
        blocked = client.call("status")["run"]["blocked"]
        assert "unplugged" in blocked["message"]
        served.wire.plug()
        next(item for item in items if item.get("table") == "connection")
        served.wire.press("80.2")
        found = served.next_reading(items)
        assert found["role"] == "loose"
    with StoreReader(served.store) as reader:
        (noise,) = reader.rows("SELECT * FROM noise")
        assert noise["raw"] == b"R,0099,20,8"


def test_the_door_is_for_its_user_alone_and_closes_with_the_daemon(served: Served) -> None:
    assert stat.S_IMODE(served.door.stat().st_mode) == 0o600
    door = read_door(served.door)
    with pytest.raises(Refused, match="token"):
        Client(door._replace(token="guess"))
    # The terminal was closed.
    said = served.stop(signal.SIGHUP)
    assert not served.door.exists()
    assert served.process.returncode == 0
    assert "Traceback" not in said
    with pytest.raises(ControlError, match="no daemon runs"):
        read_door(served.door)


def test_a_stale_door_says_that_no_daemon_runs(served: Served) -> None:
    served.kill()
    with pytest.raises(ControlError, match="no daemon runs"):
        served.client()


def run_cli(served: Served, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [COATBENCH, "--bench", str(served.bench_file), *arguments],
        capture_output=True,
        text=True,
        check=False,
        timeout=PATIENCE_S,
    )


def test_a_second_daemon_on_the_same_store_is_refused_in_one_message(served: Served) -> None:
    second = run_cli(served, "serve")
    assert second.returncode == 3
    assert "another daemon recording into it" in second.stderr
    assert "Traceback" not in second.stderr


def test_two_daemons_on_one_port_leave_it_to_the_first(served: Served, tmp_path: Path) -> None:
    with served.client() as client, client.watch() as items:
        served.await_meter(client, items)
        other = tmp_path / "other"
        other.mkdir()
        text = served.bench_file.read_text().replace("idle.sqlite", "other/other.sqlite")
        second_file = tmp_path / "second.toml"
        second_file.write_text(text)
        second = subprocess.Popen(
            [COATBENCH, "--bench", str(second_file), "serve"],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        assert second.stdout is not None
        assert "serving" in second.stdout.readline()
        with Client.of_store(other / "other.sqlite") as their:
            with their.watch() as incidents:
                message = their.call("status")["instruments"][0]["message"]
                while "in use" not in message:
                    next(incidents)
                    message = their.call("status")["instruments"][0]["message"]
            their.call("stop")
        second.communicate(timeout=PATIENCE_S)
        assert f"(process {served.process.pid})" in message
        served.wire.press("80.1")
        assert served.next_reading(items)["value"] == "80.1"


@contextmanager
def small_disk(folder: Path) -> Iterator[Path]:
    """A file system of 800 KB of its own, where the user may mount one."""
    disk = folder / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=800k", "tmpfs", str(disk)]
    if (
        sys.platform != "linux"
        or os.geteuid() != 0
        or subprocess.run(mount, check=False).returncode
    ):
        pytest.skip("needs the right to mount a small disk")
    try:
        yield disk
    finally:
        subprocess.run(["umount", str(disk)], check=False)


def test_a_store_that_becomes_full_stops_the_daemon_with_one_message(tmp_path: Path) -> None:
    with small_disk(tmp_path) as disk, Served(disk) as served:
        with served.client() as client, client.watch() as items:
            served.await_meter(client, items)
            served.wire.press("80.1")
            served.next_reading(items)
            shown = 1
            for item in items:
                shown += item.get("table") == "reading"
                served.wire.send(b"x" * 1000 + b"\r\n")
                served.wire.press("80.1")
        rest, _ = served.process.communicate(timeout=PATIENCE_S)
        assert served.process.returncode == 3
        assert "cannot be written" in rest
        assert "make room on the disk" in rest
        assert "Traceback" not in rest
        with StoreReader(served.store) as reader:
            assert reader.one("SELECT count(*) FROM reading") >= shown > 0


def test_a_read_only_store_is_refused_at_the_start(tmp_path: Path) -> None:
    with small_disk(tmp_path) as disk, Served(disk) as served:
        served.stop()
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
        found = run_cli(served, "serve")
        subprocess.run(["mount", "-o", "remount,rw", str(disk)], check=True)
        assert found.returncode == 3
        assert "cannot be written" in found.stderr
        assert "let your user write" in found.stderr
        assert "Traceback" not in found.stderr
