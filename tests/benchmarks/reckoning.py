"""One process of the benchmark of results: times its own imports, a first and a second reckoning.

Readings are made by the standard library alone, so that nothing heavy is there before its time is
taken. Prints seconds as JSON.
"""

from __future__ import annotations

import json
import random
import sys
from time import perf_counter

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


def measure() -> None:
    cells = made()
    assert sum(len(values) for _, values in cells) == COUNT
    begun = perf_counter()
    import numpy as np

    imported = perf_counter() - begun
    begun = perf_counter()
    for _, values in cells:
        np.mean(values)
        np.std(values, ddof=1)
    plain = perf_counter() - begun

    begun = perf_counter()
    from acquire.analysis.results import Sample, measure_results

    ours_imported = perf_counter() - begun
    from tests.unit.analysis_bench import plan_of, quiet

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
        begun = perf_counter()
        found = measure_results(plan, planned, samples, brackets, 0.1)
        spent.append(perf_counter() - begun)
    assert len(found) == len(CHANNELS)
    assert all(len(r.comparisons) == 7 * 7 for r in found)
    sys.stdout.write(
        json.dumps(
            {
                "cold": imported + ours_imported + spent[0],
                "warm": min(spent[1:]),
                "plain_cold": imported + plain,
                "plain": plain,
            }
        )
    )
