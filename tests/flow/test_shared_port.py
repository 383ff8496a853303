"""Another program reads on the port of a real daemon: it is named, until it ends."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.link.users import has_far_end, is_user, users_of
from acquire.pipeline.sharing import SystemUsers
from tests.flow.reader import reader_of
from tests.flow.served import Served, Wire

if sys.platform != "linux":
    pytest.skip("Linux tells who has a port open", allow_module_level=True)


def test_whoever_has_the_far_end_of_a_pseudo_terminal_is_what_is_plugged_in(tmp_path: Path) -> None:
    wire, own = Wire(tmp_path), os.getpid()
    port = str(wire.port)
    try:
        # This process has both ends open, as a simulated meter may.
        assert list(users_of(port)) == [own]
        assert has_far_end(own, port)
        with reader_of(wire.port) as other:
            assert set(users_of(port)) == {own, other.pid}
            assert not has_far_end(other.pid, port)
            assert list(SystemUsers().found(port)) == [other.pid]
            assert is_user(other.pid, port)
            assert not is_user(os.getppid(), port), "it runs, and has something else open"
        assert SystemUsers().found(port) == {}
        assert not is_user(other.pid, port)
    finally:
        wire.close()


def test_a_reader_that_was_there_first_is_told_by_serve_and_status_until_it_ends(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Served(tmp_path) as served:
        served.stop()
        with reader_of(served.wire.port) as other:
            served.start()
            with served.client() as client, client.watch() as items:
                Served.await_meter(client, items)
                while not (shared := client.call("status")["instruments"][0]["shared"]):
                    next(items)
                assert f"(process {other.pid})" in shared
                assert ". Next: end that program" in shared
            assert run(["--bench", str(served.bench_file), "status"]) == 0
            assert f"  SHARED: {shared}" in capsys.readouterr().out
            assert served.process.stdout is not None
            told = next(line for line in served.process.stdout if " has " in line)
            assert f" ! meter-0: {shared}\n" in told
        with served.client() as client:
            assert client.call("status")["instruments"][0]["shared"] == ""
        assert "open as well" not in served.stop(), "it is told once"


def test_a_meter_that_nobody_else_reads_is_told_of_as_before(tmp_path: Path) -> None:
    with Served(tmp_path) as served:
        served.check()
        with served.client() as client:
            assert client.call("status")["instruments"][0]["shared"] == ""
        served.wire.unplug()
        served.wire.plug()
        with served.client() as client, client.watch() as items:
            Served.await_meter(client, items)
        said = served.stop()
    assert "another program" not in said
