"""How long the results of a trial with 10,000 readings take, in a fresh process and in a warm one.

Seven treatments and the control at eight stages by three geometries, three zones a treatment of
eighteen readings each: a stage's readings of one geometry are 432. The baseline is the plain
arithmetic of the same readings in the same process, without checks, budgets, decisions or words:
mean and standard deviation of each zone and stage, as numpy has them, with the import of numpy
where ours counts its imports. Each by the clock on the wall, which a shared machine stretches, and
by the time of the processor.

Besides the whole command `coatbench results` as a person types it: five stages of twenty zones with
a hundred readings each, out of a store, held against its seals, with wash life and ratings, tables
and sentences; beside it a program that reads the same values from SQLite and has their means and
standard deviations by numpy.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from acquire.clock import SystemClock
from tests.benchmarks.manytrials import READINGS, write_trials
from tests.benchmarks.result import Result

COLD_GOAL_S, WARM_GOAL_S = 1.0, 0.2
_ROUNDS = 3
_COLD = "import sys; from tests.benchmarks.reckoning import measure; measure()"
_PLAIN = """
import sqlite3, sys
import numpy as np
places = {}
for *place, value in sqlite3.connect(sys.argv[1]).execute(
    "SELECT q.zone, q.stage, q.value_real FROM reading AS q JOIN run AS r ON r.id = q.run_id "
    "JOIN trial AS t ON t.id = r.trial_id WHERE t.trial = 'trial-1'"
):
    places.setdefault(tuple(place), []).append(value)
for values in places.values():
    print(np.mean(values), np.std(values, ddof=1))
"""


def measure_results_part(folder: Path) -> list[Result]:
    """The least of three processes, of both: what the machine does besides is no part of either."""
    found = [_process() for _ in range(_ROUNDS)]
    ours = {key: min(run[key] for run in found) for key in found[0]}
    return _reckoned(ours) + _commanded(folder)


def _reckoned(ours: dict[str, float]) -> list[Result]:
    return [
        Result(
            f"results of 10,368 readings, {what}{said}",
            "s", ours[what + kind], ours[plain + kind], goal, True, False,
        )
        for what, plain, goal in (
            ("cold", "plain_cold", COLD_GOAL_S), ("warm", "plain", WARM_GOAL_S)
        )
        for kind, said in (("", ""), ("_cpu", ", of the processor"))
    ]  # fmt: skip


def _process() -> dict[str, float]:
    found: dict[str, float] = json.loads(_run("-c", _COLD))
    return found


def _commanded(folder: Path) -> list[Result]:
    """Of two trials the first is read to its end; each side the least of its rounds, in turns."""
    store = folder / "bench.sqlite"
    write_trials(store, 2, SystemClock().now().utc_ns)
    bench = folder / "bench.toml"
    bench.write_text('[bench]\nstore = "bench.sqlite"\n')
    command = ("-m", "acquire.cli", "--bench", str(bench), "results", "trial-1")
    sides = (command, ("-c", _PLAIN, str(store)))
    spent = [[_seconds(side) for side in sides] for _ in range(_ROUNDS)]
    return [
        Result(
            f"coatbench results of {READINGS:,} readings{said}", "s",
            min(ours[kind] for ours, _ in spent), min(plain[kind] for _, plain in spent),
            COLD_GOAL_S, True, False,
        )
        for kind, said in enumerate(("", ", of the processor"))
    ]  # fmt: skip


def _seconds(words: Sequence[str]) -> tuple[float, float]:
    """By the clock on the wall and of the processor, of a process of its own."""
    wall, own = time.perf_counter(), _of_children()
    _run(*words)
    return time.perf_counter() - wall, _of_children() - own


def _of_children() -> float:
    used = os.times()
    return used.children_user + used.children_system


def _run(*words: str) -> str:
    # What is installed has been compiled; to compile what was just edited is no part of a start.
    own = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    return subprocess.run(
        [sys.executable, *words], capture_output=True, text=True, check=True, env=own
    ).stdout
