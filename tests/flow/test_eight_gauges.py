"""Eight gauges that stream into one daemon: every sample of each is in the store, in few bytes.

They send as fast as their lines take it, which is faster than a thousand samples a second; how much
of the processor that takes is measured by ``python -m tests.benchmarks --only streams``.
"""

from __future__ import annotations

import os
import sqlite3
import sys
import threading
import tty
from array import array
from pathlib import Path

import pytest

from acquire.daemon import running_daemon
from tests.benchmarks.streams import bench_of_gauges, sample_line, shown_thousandths

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals"),
]

GAUGES, SAMPLES = 8, 4000
MOST_BYTES = 6
"""A sample of a trace in the store."""
_CODES = {1: "b", 2: "h", 4: "i"}


def send(master: int, gauge: int) -> None:
    for first in range(0, SAMPLES, 50):
        lines = b"".join(sample_line(gauge + i) for i in range(first, first + 50))
        while lines:
            lines = lines[os.write(master, lines) :]


def test_nothing_is_lost_of_eight_streams_and_a_sample_takes_few_bytes(tmp_path: Path) -> None:
    pairs = [os.openpty() for _ in range(GAUGES)]
    for end in (end for pair in pairs for end in pair):
        tty.setraw(end)
    store = tmp_path / "streams.sqlite"
    try:
        bench = bench_of_gauges(store, [os.ttyname(slave) for _, slave in pairs])
        with running_daemon(bench) as daemon, daemon.hub.watch() as watcher:
            while not all(session.state.connected for session in daemon.sessions.values()):
                watcher.pull(0.5)
            senders = [
                threading.Thread(target=send, args=(master, gauge))
                for gauge, (master, _) in enumerate(pairs)
            ]
            for sender in senders:
                sender.start()
            for sender in senders:
                sender.join()
            while sum(map(len, streams(store).values())) < GAUGES * SAMPLES:
                assert watcher.pull(20)[0], "nothing comes any more"
    finally:
        for end in (end for pair in pairs for end in pair):
            os.close(end)
    for name, counts in streams(store).items():
        gauge = int(name.removeprefix("gauge-"))
        assert counts == [shown_thousandths(gauge + i) for i in range(SAMPLES)], name
    with sqlite3.connect(store) as conn:
        size = conn.execute("SELECT sum(pgsize) FROM dbstat WHERE name GLOB 'trace*'").fetchone()
        assert conn.execute("SELECT count(*) FROM gap").fetchone() == (0,)
    conn.close()
    assert size[0] / (GAUGES * SAMPLES) <= MOST_BYTES


def streams(store: Path) -> dict[str, list[int]]:
    """What is in the store of each gauge, sample by sample."""
    found: dict[str, list[int]] = {}
    with sqlite3.connect(store) as conn:
        for name, width, counts in conn.execute(
            "SELECT c.instrument, b.width, b.counts FROM trace_block AS b "
            "JOIN trace AS t ON t.id = b.trace_id JOIN connection AS c ON c.id = t.connection_id "
            "ORDER BY b.id"
        ):
            block = array(_CODES[width])
            block.frombytes(counts)
            if sys.byteorder == "big":
                block.byteswap()
            found.setdefault(name, []).extend(block)
    conn.close()
    return found
