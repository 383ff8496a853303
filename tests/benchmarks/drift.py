"""Ten years of daily checks: the page of all drifts, the warnings of a meter, and a run's start.

The baseline of the page merely reads the same rows from SQLite into tuples. A run is begun in turns
in that store and in an empty one, by the same call over the same kind of socket.
"""

from __future__ import annotations

import os
import sqlite3
import statistics
import time
import tty
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from acquire.control.client import Client
from acquire.daemon import running_daemon
from acquire.drift.early import early_warnings
from acquire.drift.reading import histories
from acquire.model import LinkAddress
from acquire.report.driftpage import write_drift_page
from acquire.store.reader import StoreReader
from tests.benchmarks.decade import DAY_NS, START_NS, write_decade
from tests.benchmarks.lines import press_line
from tests.benchmarks.result import Result
from tests.benchmarks.wide_bench import bench_of, get_going
from tests.yard import TRIAL

DAYS = 3650
TRIES = 5
STARTS = 25
_NOW_NS = START_NS + DAYS * DAY_NS
_ROWS = """SELECT check_id, piece, channel, readings, certificate_id, expanded_uncertainty,
    deviation FROM piece_judgement"""


def measure_drift(folder: Path) -> list[Result]:
    """Seconds of the page and of the warnings, milliseconds of a run's start."""
    store = folder / "decade.sqlite"
    write_decade(store, DAYS)
    page, rows = _in_turns(TRIES, lambda: _page(store, folder / "drift.html"), lambda: _read(store))
    warned = _median(_spent(lambda: _warn(store)) for _ in range(TRIES))
    with (
        _ready(folder / "empty.sqlite") as begin_in_empty,
        _ready(store) as begin_in_decade,
    ):
        decade, empty = _in_turns(STARTS, begin_in_decade, begin_in_empty)
    return [
        Result("drift page of 10 years, 10 meters", "s", page, rows, 2.0, True, False),
        Result("warnings of one of these meters", "s", warned, None, 1.0, True, False),
        Result(
            "a run's start in that store, beside an empty one",
            "ms",
            1000 * decade,
            1000 * empty,
            round(1000 * empty + 10, 1),
            True,
            False,
        ),
    ]


def _page(store: Path, out: Path) -> float:
    def build() -> None:
        with StoreReader(store) as reader, reader.snapshot():
            found = [history.seen(_NOW_NS) for history in histories(reader)]
        write_drift_page(store, found, _NOW_NS, out)

    return _spent(build)


def _read(store: Path) -> float:
    def read() -> None:
        conn = sqlite3.connect(f"{store.as_uri()}?mode=ro", uri=True)
        conn.execute(_ROWS).fetchall()
        conn.close()

    return _spent(read)


def _warn(store: Path) -> None:
    with StoreReader(store) as reader:
        early_warnings(reader, "shore", _NOW_NS)


@contextmanager
def _ready(store: Path) -> Iterator[Callable[[], float]]:
    """A daemon on a store, its meter checked; gives what begins a run and tells how long it took.

    The run is finished again before the next.
    """
    master, slave = os.openpty()
    tty.setraw(master)
    tty.setraw(slave)
    count = 0

    def press(value: str) -> None:
        nonlocal count
        count += 1
        os.write(master, press_line(count, value))

    with ExitStack() as opened:
        for end in (master, slave):
            opened.callback(os.close, end)
        daemon = opened.enter_context(
            running_daemon(bench_of(store, LinkAddress(port=os.ttyname(slave))))
        )
        get_going(daemon, press)
        client = opened.enter_context(Client.of_store(store))

        def begin() -> float:
            client.call("finish_run", why="benchmark")
            return _spent(
                lambda: client.call(
                    "begin_run", text=TRIAL, source="benchmark", stage="bare", instrument="shore"
                )
            )

        yield begin
        client.call("finish_run", why="benchmark")


def _in_turns(
    times: int, one: Callable[[], float], other: Callable[[], float]
) -> tuple[float, float]:
    """The medians of both, measured one after the other: both meet the same machine."""
    pairs = [(one(), other()) for _ in range(times)]
    return _median(a for a, _ in pairs), _median(b for _, b in pairs)


def _median(found: Iterator[float]) -> float:
    return statistics.median(found)


def _spent(act: Callable[[], object]) -> float:
    begun = time.perf_counter()
    act()
    return time.perf_counter() - begun
