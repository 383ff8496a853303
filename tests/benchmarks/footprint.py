"""What the daemon costs while nothing happens, and how long a start takes."""

from __future__ import annotations

import os
import signal
import statistics
import subprocess
import sys
import time
import tty
from pathlib import Path

import psutil

from tests.benchmarks.result import Result
from tests.patience import PATIENCE_S

IDLE_S = 12.0
STARTS = 10
_COATBENCH = str(Path(sys.executable).with_name("coatbench"))

_BENCH = """[bench]
name = "idle"
store = "idle.sqlite"
"""
_PIECES = """
[[piece]]
id = "{id}"
kind = "{kind}"
"""
_CERTIFICATE = """[[piece.certificate]]
quantity = "gloss"
geometry = {geometry}
value = {value}
unit = "gloss_unit"
expanded_uncertainty = 0.1
coverage_factor = 2
issued = 2025-01-31
due = 2099-01-31
issuer = "Invented calibration laboratory"
"""


def write_bench(folder: Path, ports: list[str]) -> Path:
    """A bench of meters on `ports`: half send on their own, half are asked four times a second."""
    text = _BENCH
    for i, port in enumerate(ports):
        asked = i % 2
        text += f"""
[[instrument]]
id = "meter-{i}"
kind = "gloss"
serial = "SN-{i}"
driver = "line"
profile = "{"gloss-asked" if asked else "gloss-press"}"
policy = "{"gloss-60" if asked else "gloss-20"}"
link = {{ port = "{port}" }}
"""
    for piece, kind, value in (
        ("T1", "gloss-tile", 91.4),
        ("T2", "gloss-tile", 52.6),
        ("Z0", "black-trap", 0.0),
    ):
        text += _PIECES.format(id=piece, kind=kind)
        for geometry in (20, 60):
            text += _CERTIFICATE.format(geometry=geometry, value=value)
    file = folder / "bench.toml"
    file.write_text(text, encoding="utf-8")
    return file


def measure_footprint(folder: Path) -> list[Result]:
    """Idle processor share and memory with eight instruments; start of help and of serve."""
    pairs = [os.openpty() for _ in range(8)]
    for master, slave in pairs:
        tty.setraw(master)
        tty.setraw(slave)
    file = write_bench(folder, [os.ttyname(slave) for _, slave in pairs])
    for _, slave in pairs:
        os.close(slave)
    ready = [_start(file)[0] for _ in range(STARTS)]
    share, memory = _idle(file, [master for master, _ in pairs])
    for master, _ in pairs:
        os.close(master)
    helps = []
    for _ in range(STARTS):
        begun = time.perf_counter()
        subprocess.run([_COATBENCH, "--help"], check=True, stdout=subprocess.DEVNULL)
        helps.append(time.perf_counter() - begun)
    bare = []
    for _ in range(STARTS):
        begun = time.perf_counter()
        subprocess.run([sys.executable, "-c", "pass"], check=True)
        bare.append(time.perf_counter() - begun)
    return [
        Result("idle, 8 instruments: processor", "% of a core", share, None, 2.0, True, False),
        Result("idle, 8 instruments: memory", "MB", memory, None, 120.0, True, False),
        Result(
            "coatbench --help (beside python -c pass)",
            "s",
            statistics.median(helps),
            statistics.median(bare),
            0.25,
            True,
            False,
        ),
        Result("serve, until it is ready", "s", statistics.median(ready), None, 1.5, True, False),
    ]


def _spawn(file: Path) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [_COATBENCH, "--bench", str(file), "serve"],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )


def _start(file: Path) -> tuple[float, int]:
    """Seconds from the start of the process to its door standing open."""
    begun = time.perf_counter()
    process = _spawn(file)
    assert process.stdout is not None
    line = process.stdout.readline()
    spent = time.perf_counter() - begun
    assert "serving" in line, line + process.stdout.read()
    process.send_signal(signal.SIGTERM)
    process.communicate(timeout=PATIENCE_S)
    return spent, process.returncode


def _idle(file: Path, masters: list[int]) -> tuple[float, float]:
    process = _spawn(file)
    assert process.stdout is not None
    process.stdout.readline()
    watched = psutil.Process(process.pid)
    _answer(masters, 2.0)
    before = watched.cpu_times()
    begun = time.perf_counter()
    _answer(masters, IDLE_S)
    spent = time.perf_counter() - begun
    after = watched.cpu_times()
    memory = watched.memory_info().rss / 1e6
    process.send_signal(signal.SIGTERM)
    process.communicate(timeout=PATIENCE_S)
    return 100 * (after.user + after.system - before.user - before.system) / spent, memory


def _answer(masters: list[int], seconds: float) -> None:
    """The devices' side: a meter that is asked answers that nothing was measured."""
    import select

    end = time.monotonic() + seconds
    while (left := end - time.monotonic()) > 0:
        for master in select.select(masters, [], [], left)[0]:
            try:
                asked = os.read(master, 4096)
            except OSError:
                # The daemon has not opened this port yet; it is ready before its instruments are.
                time.sleep(0.01)
                continue
            if asked.startswith(b"?"):
                os.write(master, b"NONE\r")
