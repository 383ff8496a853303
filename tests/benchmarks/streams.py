"""Eight gauges that stream a thousand samples a second each, into one store.

Every gauge sends a text line a sample over a pseudo-terminal, as real ones do over an adapter.
Measured is what is lost (nothing may be) and what a sample of a trace costs in the file, by
SQLite's own count of pages (dbstat). The bytes on the tape come on top and are told beside.
"""

from __future__ import annotations

import os
import sqlite3
import threading
import time
import tty
from dataclasses import replace
from pathlib import Path

from acquire.daemon import Daemon, running_daemon
from acquire.model import Bench, LinkAddress, Quantity
from acquire.schema import load_text, parse_toml
from acquire.settings import config_dir
from tests.benchmarks.result import Result
from tests.benchmarks.wide_bench import bench_of

GAUGES = 8
RATE_HZ = 1000
SECONDS = 5
EVERY_S = 0.01


def measure_streams(folder: Path) -> list[Result]:
    """Samples lost, and bytes of a trace and of the tape for each sample."""
    pairs = [os.openpty() for _ in range(GAUGES)]
    for master, slave in pairs:
        tty.setraw(master)
        tty.setraw(slave)
    sent = RATE_HZ * SECONDS * GAUGES
    store = folder / "streams.sqlite"
    try:
        with running_daemon(
            bench_of_gauges(store, [os.ttyname(slave) for _, slave in pairs])
        ) as daemon:
            _await_connections(daemon)
            begun = time.process_time()
            _send([master for master, _ in pairs])
            _await_quiet(daemon)
            busy = (time.process_time() - begun) / SECONDS
    finally:
        for master, slave in pairs:
            os.close(slave)
            os.close(master)
    with sqlite3.connect(store) as conn:
        stored = conn.execute("SELECT sum(length(counts) / width) FROM trace_block").fetchone()[0]
        trace, tape = (
            conn.execute("SELECT sum(pgsize) FROM dbstat WHERE name GLOB ?", (pattern,)).fetchone()[
                0
            ]
            for pattern in ("trace*", "tape*")
        )
    conn.close()
    return [
        Result(
            f"{GAUGES} gauges of {RATE_HZ}/s: lost", "samples", sent - stored, None, 0, True, False
        ),
        Result("the same: processor", "% of a core", 100 * busy, None, 100, True, False),
        Result("a sample of a trace in the store", "bytes", trace / stored, None, 6, True, False),
        Result("the same on the tape", "bytes", tape / stored, None, 20, True, False),
    ]


def bench_of_gauges(store: Path, ports: list[str]) -> Bench:
    """A force gauge that streams at each of these ports."""
    text = load_text(config_dir() / "profiles" / "force-stream.toml")
    profile = parse_toml(text, "profile force-stream")
    bench = bench_of(store, LinkAddress(port=ports[0]))
    (shore,) = bench.instruments
    return replace(
        bench,
        instruments=tuple(
            replace(
                shore,
                id=f"gauge-{i}",
                kind=Quantity.FORCE,
                serial=f"PG-{i}",
                profile_name="force-stream",
                profile=profile,
                profile_text=text,
                address=LinkAddress(port=port),
            )
            for i, port in enumerate(ports)
        ),
    )


def _await_connections(daemon: Daemon) -> None:
    deadline = time.monotonic() + 20
    while not all(session.state.connected for session in daemon.sessions.values()):
        assert time.monotonic() < deadline, "a gauge did not connect"
        time.sleep(0.05)


def _send(masters: list[int]) -> None:
    """Every gauge in its own time: one sample after the other, in portions of ten milliseconds."""

    def one(master: int) -> None:
        begun = time.monotonic()
        sent = 0
        while sent < RATE_HZ * SECONDS:
            due = min(int((time.monotonic() - begun) * RATE_HZ), RATE_HZ * SECONDS)
            lines = b"".join(map(sample_line, range(sent, due)))
            while lines:
                lines = lines[os.write(master, lines) :]
            sent = due
            time.sleep(EVERY_S)

    threads = [threading.Thread(target=one, args=(master,)) for master in masters]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def shown_thousandths(number: int) -> int:
    """Anything between 0 and 2 N, so that the counts do not compress by chance."""
    return number * 7919 % 2000


def sample_line(number: int) -> bytes:
    """One sample as the gauge sends it."""
    return b"%+07.3f N\r\n" % (shown_thousandths(number) / 1000)


def _await_quiet(daemon: Daemon) -> None:
    with daemon.hub.watch() as watcher:
        while watcher.pull(0.5)[0]:
            pass
