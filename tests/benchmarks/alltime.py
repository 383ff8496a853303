"""The table over all trials by their points, in a store of 200 trials and 2 million readings.

Asked by a fresh process, as a person asks. Every trial is given the points of the last one, since
what they are does not matter for how long the table takes.
"""

from __future__ import annotations

import hashlib
import statistics
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

from acquire.analysis.scoring.scored import as_text
from acquire.clock import SystemClock
from acquire.report.points.rescoring import scored
from acquire.report.points.resting import Marks, marks, marks_of
from acquire.settings.scorecard import parse_scorecard
from acquire.store import StoreReader, StoreWriter
from acquire.store.work_rows import ScorecardRow, ScoreRow
from tests.benchmarks.manytrials import write_trials
from tests.benchmarks.result import Result
from tests.scorecard import CARD

TRIALS = 200
TRIES = 5
GOAL_S = 2.0


def measure_alltime(folder: Path) -> list[Result]:
    """Seconds of `coatbench alltime`, with its start."""
    now_ns = SystemClock().now().utc_ns
    store = folder / "bench.sqlite"
    write_trials(store, TRIALS, now_ns)
    give_points(store, f"trial-{TRIALS}", now_ns)
    bench = folder / "bench.toml"
    # Whoever asks a store wants no more of the bench file than where it is.
    bench.write_text('[bench]\nstore = "bench.sqlite"\n')
    spent = statistics.median(_asked(bench) for _ in range(TRIES))
    return [
        Result(f"alltime over {TRIALS} trials", "s", spent, None, GOAL_S, at_most=True,
               by_ratio=False)
    ]  # fmt: skip


def _asked(bench: Path) -> float:
    begun = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "acquire.cli", "--bench", str(bench), "alltime"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    if done.returncode:
        raise RuntimeError(f"alltime: {done.stdout[-200:]} {done.stderr[-400:]}")
    return time.perf_counter() - begun


def give_points(store: Path, trial: str, now_ns: int) -> None:
    """The points of one trial, kept for every trial as if it had come to the same."""
    one = scored(store, trial, parse_scorecard(CARD, "card"))
    with StoreReader(store) as reader:
        every = marks(reader)
    last = marks_of(one.rests_on) or Marks()
    digest = hashlib.sha256(CARD.encode()).hexdigest()
    writer = StoreWriter(store)
    try:
        writer.append([ScorecardRow(1, now_ns, "yard", 1, CARD, digest)])
        writer.append(
            [
                ScoreRow(
                    number, now_ns, name, 1, one.score.edition,
                    replace(own, open_=last.open_).text(),
                    as_text(replace(one.score, trial=name)),
                )
                for number, (name, own) in enumerate(every.items(), 1)
            ]
        )  # fmt: skip
    finally:
        writer.close()
