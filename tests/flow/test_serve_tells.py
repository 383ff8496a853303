"""The terminal of the daemon, as whoever is new at the bench watches it."""

from __future__ import annotations

import re
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from acquire.cli.serve import attend
from acquire.daemon import Daemon, running_daemon
from acquire.link.memory import MemoryOpener
from acquire.model import LinkAddress
from acquire.store.rows import DisconnectionRow
from tests.benchmarks.wide_bench import bench_of
from tests.flow.served import Served
from tests.flow.terminal import make_ready
from tests.patience import PATIENCE_S

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


def test_whoever_attends_is_there_before_any_session_and_so_an_unplug_names_its_meter(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    begun: list[str] = []

    def watching(daemon: Daemon) -> Callable[[], None]:
        begun.extend(t.name for t in threading.enumerate() if t.name.startswith("session-"))
        return attend(daemon)

    opener = MemoryOpener("shore")
    meter = opener.plug()
    running = running_daemon(
        bench_of(tmp_path / "s.sqlite", LinkAddress(port="shore")),
        make_opener=lambda address, needs: opener,
        attend=watching,
    )
    with running as daemon, daemon.hub.watch() as rows:
        meter.close()
        seen: list[object] = []
        while not any(isinstance(row, DisconnectionRow) for row in seen):
            seen, _ = rows.pull(PATIENCE_S)
            assert seen, "nobody noticed the unplug"
        daemon.attended()
    assert begun == []
    assert "shore: disconnected: " in capsys.readouterr().out
