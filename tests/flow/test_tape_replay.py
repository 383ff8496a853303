"""A tape played at the speed it was recorded at, and the play broken off by Ctrl-C."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.captures import EVERY
from tests.flow.served import COATBENCH
from tests.patience import PATIENCE_S
from tests.unit.tape_bench import record

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals")


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
        _, err = playing.communicate(timeout=PATIENCE_S)
    assert playing.returncode == 130
    assert "broken off after 1 readings" in err
    assert "Traceback" not in err
