"""What is due, a trial's drawing and its page, in a store of 200 trials and 2 million readings.

Each is asked by a fresh process, as a person asks, in turns with a store of one trial that stands
where the last of the many stands. Of the many trials the first is the one with most behind it; it
is done, and so is the one of the store that it is held against.
At last all are opened again, so that what is due is asked of each of them.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from acquire.clock import SystemClock
from acquire.store import StoreWriter
from acquire.store.work_rows import TrialClosingRow
from tests.benchmarks.manytrials import write_trials
from tests.benchmarks.result import Result

TRIALS = 200
TRIES = 5
MOST = 1.5
"""How many times as long the large store may take."""
MOST_OPEN = 5.0
"""How many times as long 200 open trials may take as one: each has ten thousand readings, which
are counted anew each time, and a line of its own."""

FIRST = "report of the first trial"
ASKED: dict[str, tuple[str, ...]] = {
    "next": ("next",),
    "trial show": ("trial", "show", "{trial}"),
    "report": ("report", "{trial}", "--out", "page.html"),
    FIRST: ("report", "trial-1", "--out", "page.html"),
}


def measure_trials(folder: Path) -> list[Result]:
    """Seconds of each command in both stores; one that is not there is left out."""
    now_ns = SystemClock().now().utc_ns
    benches = {}
    for name, trials in (("many", TRIALS), ("one", 1), ("done", 1)):
        (folder / name).mkdir()
        store = folder / name / "bench.sqlite"
        write_trials(store, trials, now_ns, is_whole=name == "done")
        benches[name] = (_bench(folder / name), f"trial-{trials}")
    results = []
    for what, words in ASKED.items():
        beside = "done" if words == ASKED[FIRST] else "one"
        many, one = _in_turns(*(_asking(*benches[name], words) for name in ("many", beside)))
        results.append(
            Result(f"{what} in a store of {TRIALS} trials", "s", many, one, MOST, True, True)
        )
    bench, _ = benches["many"]
    _reopen(bench.with_name("bench.sqlite"), now_ns)
    every, one = _in_turns(
        _asking(bench, "", ASKED["next"]), _asking(*benches["one"], ASKED["next"])
    )
    results.append(Result(f"next with all {TRIALS} open", "s", every, one, MOST_OPEN, True, True))
    return results


def _reopen(store: Path, now_ns: int) -> None:
    writer = StoreWriter(store)
    try:
        writer.append(
            [
                TrialClosingRow(TRIALS + n, now_ns, f"trial-{n}", 0, "once more")
                for n in range(1, TRIALS)
            ]
        )
    finally:
        writer.close()


def _bench(folder: Path) -> Path:
    """A bench file of a bench without a port, whose store is the one in the folder."""
    here = Path(__file__).resolve().parents[2]
    (folder / "policies").symlink_to(here / "config" / "policies")
    text = (here / "config" / "boatyard" / "bench.toml").read_text()
    lines = [
        'store = "bench.sqlite"' if line.startswith("store =") else line
        for line in text.splitlines()
    ]
    file = folder / "bench.toml"
    file.write_text("\n".join(lines) + "\n")
    return file


def _asking(bench: Path, trial: str, words: Sequence[str]) -> Callable[[], float]:
    line = [sys.executable, "-m", "acquire.cli", *(w.format(trial=trial) for w in words)]

    def ask() -> float:
        begun = time.perf_counter()
        done = subprocess.run(
            line, cwd=bench.parent, capture_output=True, text=True, check=False,
            env={**os.environ, "COATBENCH_BENCH": str(bench)},
        )  # fmt: skip
        if done.returncode:
            raise RuntimeError(f"{' '.join(words)}: {done.stderr[-400:]}")
        return time.perf_counter() - begun

    return ask


def _in_turns(*asked: Callable[[], float]) -> tuple[float, ...]:
    """The median of each, both sides of the ratio in the same minutes."""
    spent: list[list[float]] = [[] for _ in asked]
    for _ in range(TRIES):
        for mine, ask in zip(spent, asked, strict=True):
            mine.append(ask())
    return tuple(map(statistics.median, spent))
