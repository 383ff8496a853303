"""A whole job's tapes played again through drivers and gate, and a play broken off by Ctrl-C."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from acquire.store import StoreReader
from tests.captures import EVERY
from tests.flow.served import COATBENCH
from tests.unit.tape_bench import record

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals")


def coatbench(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [COATBENCH, *words], cwd=folder, capture_output=True, text=True, timeout=100, check=False
    )


@pytest.mark.slow
def test_every_tape_of_the_demo_plays_as_it_was_made_and_the_gate_answers_as_it_did(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "kept"
    made = coatbench(tmp_path, "demo", "--fast", "--keep", str(folder))
    assert made.returncode == 0, made.stderr
    (store,) = folder.glob("*.sqlite")
    with StoreReader(store) as reader:
        tapes = [row["id"] for row in reader.rows("SELECT id FROM connection ORDER BY id")]
        counting = reader.one("SELECT count(*) FROM readings WHERE counts = 1")
    asked = 0
    for number in tapes:
        played = coatbench(folder, "replay", str(number))
        assert played.returncode == 0, played.stdout + played.stderr
        assert "the same as the day it was made" in played.stdout
        told = played.stdout.splitlines()[-1]
        assert told.endswith("the same answers")
        asked += int(told.split("asked again of ")[1].split()[0])
        cut = coatbench(folder, "tape", "cut", str(number), "--out", f"{number}.tape")
        assert cut.returncode == 0, cut.stderr
        assert coatbench(tmp_path, "replay", str(folder / f"{number}.tape")).returncode == 0
    assert asked == counting > 0


def test_a_play_at_recorded_speed_prints_readings_as_they_come_and_ends_well_on_ctrl_c(
    tmp_path: Path,
) -> None:
    one = next(one for one in EVERY if one.capture.name == "gloss-press/start")
    record(tmp_path, one)
    with subprocess.Popen(
        [COATBENCH, "replay", "1", "--speed", "recorded"],
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    ) as playing:
        assert playing.stdout is not None
        for line in playing.stdout:
            if " s  reading " in line:
                break
        playing.send_signal(signal.SIGINT)
        _, err = playing.communicate(timeout=30)
    assert playing.returncode == 130
    assert "broken off after 1 readings" in err
    assert "Traceback" not in err
