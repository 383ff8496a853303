"""How long the results of a trial with 10,000 readings take, in a fresh process and in a warm one.

Seven treatments and the control at eight stages by three geometries, three zones a treatment of
eighteen readings each: a stage's readings of one geometry are 432. The baseline is the plain
arithmetic of the same readings in the same process, without checks, budgets, decisions or words:
mean and standard deviation of each zone and stage, as numpy has them, with the import of numpy
where ours counts its imports. Each by the clock on the wall, which a shared machine stretches, and
by the time of the processor.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

from tests.benchmarks.result import Result

COLD_GOAL_S, WARM_GOAL_S = 1.0, 0.2
_ROUNDS = 3
_COLD = "import sys; from tests.benchmarks.reckoning import measure; measure()"


def measure_results_part(_: Path) -> list[Result]:
    """The least of three processes, of both: what the machine does besides is no part of either."""
    found = [_process() for _ in range(_ROUNDS)]
    ours = {key: min(run[key] for run in found) for key in found[0]}
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
    # What is installed has been compiled; to compile what was just edited is no part of a start.
    own = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    done = subprocess.run(
        [sys.executable, "-c", _COLD], capture_output=True, text=True, check=True, env=own
    )
    found: dict[str, float] = json.loads(done.stdout)
    return found
