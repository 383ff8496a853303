"""From the press of the button to durable and published, over a real pseudo-terminal.

Both sides get the same bytes through the same kind of terminal on the same disk, one press at a
time, in turns. Published means: for Coatbench, a watcher of the hub has the stored row in its
hands, on a thread of its own; for the baseline, its callback is called on the spot. A meter that
can be asked who it is answers at once, on a thread of its own: on a real line two short messages
come on top.
"""

from __future__ import annotations

import os
import statistics
import threading
import time
import tty
from collections.abc import Callable
from pathlib import Path

import serial

from acquire.daemon import running_daemon
from acquire.model import LinkAddress
from acquire.store.rows import ReadingRow
from tests.benchmarks.lines import Teller, name_line, press_line
from tests.benchmarks.plain_logger import log_readings
from tests.benchmarks.result import Result
from tests.benchmarks.wide_bench import SERIAL, bench_of, get_going

ROUNDS = 4
PRESSES_A_ROUND = 150
BETWEEN_S = 0.004


def measure_latency(folder: Path) -> list[Result]:
    """p50 and p99 of both, from the same run."""
    ours: tuple[list[float], list[float]] = ([], [])
    theirs: list[float] = []
    for number in range(ROUNDS):
        theirs += _plain(folder / f"plain-{number}.sqlite")
        for is_asked in (False, True):
            path = folder / f"ours-{number}-{is_asked}.sqlite"
            ours[is_asked].extend(pressed(path, PRESSES_A_ROUND, is_asked=is_asked)[10:])
    found = []
    for is_asked, name, quantile, goal in (
        (False, "p50", 0.50, 2.0),
        (False, "p99", 0.99, 3.0),
        (True, "asked who it is, p50", 0.50, 3.0),
        (True, "asked who it is, p99", 0.99, 4.0),
    ):
        found.append(
            Result(
                f"button to durable and published, {name}",
                "ms",
                1000 * _quantile(ours[is_asked], quantile),
                1000 * _quantile(theirs, quantile),
                goal,
                at_most=True,
                by_ratio=True,
            )
        )
    return found


def _quantile(values: list[float], q: float) -> float:
    return statistics.quantiles(values, n=1000, method="inclusive")[round(q * 1000) - 1]


def _terminal() -> tuple[int, int, str]:
    master, slave = os.openpty()
    tty.setraw(master)
    tty.setraw(slave)
    return master, slave, os.ttyname(slave)


def _value(i: int) -> str:
    return f"{80 + i % 100 / 10:.1f}"


def _plain(path: Path) -> list[float]:
    master, slave, name = _terminal()
    done = threading.Semaphore(0)
    at: list[float] = []

    def published(value: float) -> None:
        at.append(time.perf_counter())
        done.release()

    with serial.Serial(name, 9600, timeout=5) as port:
        thread = threading.Thread(
            target=log_readings, args=(port, path, PRESSES_A_ROUND, published)
        )
        thread.start()
        spent = []
        for i in range(PRESSES_A_ROUND):
            time.sleep(BETWEEN_S)
            begun = time.perf_counter()
            os.write(master, press_line(i + 1, _value(i)))
            done.acquire(timeout=5)
            spent.append(at[-1] - begun)
        thread.join()
    os.close(master)
    os.close(slave)
    return spent[10:]


def pressed(
    path: Path, presses: int, *, is_asked: bool = False, before: Callable[[int], object] = bool
) -> list[float]:
    """Seconds of each press at Coatbench; `before` is called with its number before each."""
    master, slave, name = _terminal()
    teller = Teller(name_line(SERIAL))
    teller.listen(master)
    count = 0

    def press(value: str) -> None:
        nonlocal count
        count += 1
        os.write(master, press_line(count, value))

    spent = []
    with running_daemon(bench_of(path, LinkAddress(port=name), is_asked=is_asked)) as daemon:
        get_going(daemon, press)
        with daemon.hub.watch() as watcher:
            for i in range(presses):
                time.sleep(BETWEEN_S)
                before(i)
                begun = time.perf_counter()
                press(_value(i))
                while True:
                    rows, _ = watcher.pull(5.0)
                    now = time.perf_counter()
                    found = [row for row in rows if isinstance(row, ReadingRow)]
                    if found:
                        assert found[0].role == "run"
                        spent.append(now - begun)
                        break
    teller.close()
    os.close(master)
    os.close(slave)
    return spent
