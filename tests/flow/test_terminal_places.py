"""Places and readings as commands list them: tabs through a pipe, a table on a terminal."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.flow.served import Served
from tests.flow.terminal import OnTerminal, Piped, do, make_ready

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals")


def test_the_numbers_and_places_that_other_commands_take_are_listed(tmp_path: Path) -> None:
    with Served(tmp_path) as served:
        make_ready(served, checked=True)
        trial = str(served.folder / "trial.toml")
        with Piped(served.bench_file, "run", trial, "bare") as command:
            command.expect("next: zone A1")
            served.wire.press("80.5")
            number = command.expect("accepted").rpartition("(reading ")[2].strip(")\n")
            status, out, _ = do(served, "targets")
            assert status == 0
            assert out.splitlines()[0].endswith(": 1 of 4 taken, 3 left")
            assert f"A1\t1\tuntreated\tfilled\t{number}: 80.5 GU at 20°" in out.splitlines()
            do(served, "run", "--finish")
            command.end()
        status, _, err = do(served, "targets")
        assert status == 1
        assert "name a trial and a stage: coatbench targets " in err
        with served.client() as client, client.watch() as items:
            served.wire.press("81.5")
            loose = served.next_reading(items)["id"]
        status, out, _ = do(served, "readings", "--loose")
        assert status == 0
        assert out.splitlines()[-1].split("\t")[0] == str(loose)
        with OnTerminal(served.bench_file, "readings", "--loose") as screen:
            screen.expect(f"{loose}  ")
            assert screen.end() == 0
            assert "\t" not in screen.raw
        status, _, err = do(served, "note", "sun", "--trial", "gelcote")
        assert status == 1
        assert "wanted" in err
