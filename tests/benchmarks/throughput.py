"""Sustained readings a second through the whole path, from a link in memory, on one core.

Whole path: frame, checksum, units, gate, tag, commit, publish; every reading fills a target of an
open run and points to its bytes on the tape. The baseline reads the same lines from memory and
commits each by itself, since that is how it keeps what it has shown.
"""

from __future__ import annotations

import io
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from acquire.daemon import running_daemon
from acquire.link import MemoryOpener
from acquire.model import LinkAddress
from acquire.store.rows import ReadingRow
from tests.benchmarks.lines import press_line
from tests.benchmarks.plain_logger import log_readings
from tests.benchmarks.result import Result
from tests.benchmarks.wide_bench import bench_of, get_going

READINGS = 120_000
READINGS_PLAIN = 4_000
LINES_A_CHUNK = 64


@contextmanager
def one_core() -> Iterator[None]:
    """Keep this process on one processor, where the system can do that."""
    if not hasattr(os, "sched_setaffinity"):
        yield
        return
    before = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(before)})
    try:
        yield
    finally:
        os.sched_setaffinity(0, before)


def measure_throughput(folder: Path) -> list[Result]:
    """Readings a second of both, and what was lost (nothing may be)."""
    with one_core():
        plain = _plain(folder / "plain.sqlite")
        ours, lost = _coatbench(folder / "ours.sqlite")
    return [
        Result("sustained readings", "1/s", ours, plain, 20_000.0, at_most=False, by_ratio=False),
        Result("sustained, against the baseline", "1/s", ours, plain, 1.0, False, True),
        Result("readings lost on the way", "readings", lost, None, 0.0, True, False),
    ]


def _lines(first: int, count: int) -> list[bytes]:
    return [press_line(i, f"{80 + i % 100 / 10:.1f}") for i in range(first, first + count)]


def _plain(path: Path) -> float:
    source = io.BytesIO(b"".join(_lines(1, READINGS_PLAIN)))
    begun = time.perf_counter()
    log_readings(source, path, READINGS_PLAIN, lambda value: None)
    return READINGS_PLAIN / (time.perf_counter() - begun)


def _coatbench(path: Path) -> tuple[float, float]:
    opener = MemoryOpener("memory")
    device = opener.plug()
    count = 0

    def press(value: str) -> None:
        nonlocal count
        count += 1
        device.write(press_line(count, value))

    bench = bench_of(path, LinkAddress(port="memory"))
    with running_daemon(bench, make_opener=lambda address, needs: opener) as daemon:
        get_going(daemon, press)
        lines = _lines(count + 1, READINGS)
        chunks = [b"".join(lines[i : i + LINES_A_CHUNK]) for i in range(0, READINGS, LINES_A_CHUNK)]
        taken = 0
        with daemon.hub.watch(limit=2 * READINGS) as watcher:
            begun = time.perf_counter()
            for chunk in chunks:
                device.write(chunk)
            while taken < READINGS:
                rows, _ = watcher.pull(5.0)
                taken += sum(1 for row in rows if isinstance(row, ReadingRow) and row.role == "run")
                if not rows:
                    break
            spent = time.perf_counter() - begun
    return taken / spent, float(READINGS - taken)
