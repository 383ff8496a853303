"""One process of the benchmark of results: times its own imports, a first and a second reckoning.

Readings are made by the standard library alone, so that nothing heavy is there before its time is
taken. Prints seconds as JSON, by the clock on the wall and (`_cpu`) of the processor.
"""

from __future__ import annotations

import json
import random
import sys
from time import perf_counter, process_time

TREATMENTS = ("control", "wax", "seal", "dust", "tar", "oil", "gel", "wipe")
STAGES = ("bare", *(f"wash{n}" for n in range(1, 9)))[:8]
CHANNELS = ("20", "60", "85")
ZONES, READINGS = 3, 18
COUNT = len(TREATMENTS) * len(STAGES) * len(CHANNELS) * ZONES * READINGS
Key = tuple[str, str, str]


def made() -> list[tuple[Key, list[float]]]:
    draw = random.Random(5)
    return [
        (
            (channel, stage, f"{treatment}{zone}"),
            [round(90 + 0.2 * t - 0.1 * i + draw.gauss(0, 0.2), 1) for _ in range(READINGS)],
        )
        for channel in CHANNELS
        for i, stage in enumerate(STAGES)
        for t, treatment in enumerate(TREATMENTS)
        for zone in range(ZONES)
    ]


Spent = tuple[float, float]
"""Seconds by the clock on the wall and of the processor."""


def _now() -> Spent:
    return perf_counter(), process_time()


def _since(begun: Spent) -> Spent:
    wall, own = _now()
    return wall - begun[0], own - begun[1]


def measure() -> None:
    cells = made()
    assert sum(len(values) for _, values in cells) == COUNT
    begun = _now()
    import numpy as np

    imported = _since(begun)
    begun = _now()
    for _, values in cells:
        np.mean(values)
        np.std(values, ddof=1)
    plain = _since(begun)

    begun = _now()
    from acquire.analysis.results import Sample, measure_results

    ours_imported = _since(begun)
    from tests.unit.analysis.bench import plan_of, quiet

    zones = [f"{treatment}{zone}" for treatment in TREATMENTS for zone in range(ZONES)]
    plan, planned = plan_of(zones, STAGES, channels=CHANNELS, replicates=READINGS)
    samples = [
        Sample(
            zone, zone.rstrip("0123456789"), stage, n + 1, channel, value,
            1000.0 * STAGES.index(stage) + 2 * (n * len(zones) + zones.index(zone)) + 1,
            n + 1,
        )
        for (channel, stage, zone), values in cells
        for n, value in enumerate(values)
    ]  # fmt: skip
    brackets = [quiet(stage, 1000.0 * n) for n, stage in enumerate(STAGES)]
    spent = []
    for _ in range(3):
        begun = _now()
        found = measure_results(plan, planned, samples, brackets, 0.1)
        spent.append(_since(begun))
    assert len(found) == len(CHANNELS)
    assert all(len(r.comparisons) == 7 * 7 for r in found)
    told = {}
    for kind, name in enumerate(("", "_cpu")):
        told |= {
            f"cold{name}": imported[kind] + ours_imported[kind] + spent[0][kind],
            f"warm{name}": min(one[kind] for one in spent[1:]),
            f"plain_cold{name}": imported[kind] + plain[kind],
            f"plain{name}": plain[kind],
        }
    sys.stdout.write(json.dumps(told))
